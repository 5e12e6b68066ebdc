"""Distances of holes by their load, and whole feet checked bolt by bolt."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from halfshaft.build.catalogue import mounts as rows
from halfshaft.mounts.bolt_group import bolt_loads, pattern
from halfshaft.mounts.bolts import Plate, bolt_of
from halfshaft.mounts.group_checks import Ply, group_checks
from halfshaft.mounts.spots import spots_along

FOOT = box(0.0, 0.0, 100.0, 80.0)
HOLES = [(20.0, 25.0), (70.0, 25.0), (70.0, 60.0), (20.0, 60.0)]
ORIGIN = (0.0, 0.0, 0.0)


def test_ends_edges_and_pitches_are_seen_along_the_push() -> None:
    right = spots_along(FOOT, HOLES, 0, (1.0, 0.0), 13.5)
    assert (right.end_mm, right.edge_mm, right.pitch_mm, right.gauge_mm) == pytest.approx((80.0, 25.0, 50.0, 35.0))
    left = spots_along(FOOT, HOLES, 0, (-2.0, 0.0), 13.5)
    assert left.end_mm == pytest.approx(20.0)
    down = spots_along(FOOT, HOLES, 0, (0.0, -1.0), 13.5)
    assert (down.end_mm, down.edge_mm, down.pitch_mm, down.gauge_mm) == pytest.approx((25.0, 20.0, 35.0, 50.0))


def test_a_window_in_the_plate_is_an_edge() -> None:
    windowed = Polygon(FOOT.exterior.coords, [box(30.0, 10.0, 60.0, 40.0).exterior.coords])
    assert spots_along(windowed, HOLES, 0, (1.0, 0.0), 13.5).end_mm == pytest.approx(10.0)


@given(turn=st.floats(0.0, 360.0), way=st.floats(0.0, 360.0), index=st.integers(0, 3))
def test_turning_plate_and_push_together_changes_nothing(turn: float, way: float, index: int) -> None:
    push = np.array([math.cos(math.radians(way)), math.sin(math.radians(way))])
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    spin = np.array([[c, -s], [s, c]])
    one = spots_along(FOOT, HOLES, index, push, 13.5)
    other = spots_along(affinity.rotate(FOOT, turn, origin=(0, 0)), np.array(HOLES) @ spin.T, index, spin @ push, 13.5)
    assert (one.end_mm, one.edge_mm) == pytest.approx((other.end_mm, other.edge_mm), rel=1e-6)
    assert one.end_mm is not None
    # never farther than the edge straight ahead, by a ray
    ray = LineString([HOLES[index], np.array(HOLES[index]) + 500.0 * push]).intersection(FOOT.boundary)
    assert one.end_mm <= ray.distance(Point(*HOLES[index])) + 1e-9


def test_a_hole_off_the_plate_is_refused() -> None:
    with pytest.raises(ValueError, match="not in the plate"):
        spots_along(FOOT, [(120.0, 10.0)], 0, (1.0, 0.0), 13.5)


def checked(shear: float, thick: float, **more: object) -> dict[str, bool]:
    bolts = pattern(HOLES, 84.3, FOOT)
    loads = bolt_loads(bolts, (shear, 0.0, 4e3), ORIGIN, (45.0, 42.0, 60.0))
    plies = [Ply(Plate(thick, 235.0, 360.0, "foot"), FOOT), Ply(Plate(4.0, 235.0, 360.0, "rail"), None, loaded=False)]
    found = group_checks("left foot", ["a", "b", "c", "d"], bolts, loads, bolt_of("M12", "8.8"), plies, **more)  # type: ignore[arg-type]
    return {f"{c.about}: {c.title}": c.ok for c in found}


def test_a_sound_foot_passes_and_names_each_bolt() -> None:
    found = checked(6e3, 8.0)
    assert all(found.values())
    assert {key.split(",")[1].split(":")[0].strip() for key in found if "bolt " in key} == {
        "bolt a", "bolt b", "bolt c", "bolt d"
    }  # fmt: skip


def test_a_foot_too_thin_fails_in_bearing_at_the_hole_near_its_end() -> None:
    # the load goes forward, so each bolt pushes the foot back: holes a and d have 20 mm behind, b and c 70 mm and the
    # next hole at 50 mm
    found = checked(60e3, 3.0)
    failed = {key for key, ok in found.items() if not ok and "foot: bearing" in key}
    assert {"left foot, bolt a, foot: bearing of the hole", "left foot, bolt d, foot: bearing of the hole"} <= failed


def test_friction_is_asked_for_where_told() -> None:
    assert not any("slip" in key for key in checked(6e3, 8.0))
    tight = checked(6e3, 8.0, surface="C", preload_low_n=30e3)
    loose = checked(6e3, 8.0, surface="painted", preload_low_n=10e3)
    assert all(ok for key, ok in tight.items() if "slip" in key)
    assert not all(ok for key, ok in loose.items() if "slip" in key)


def test_names_must_fit_the_bolts() -> None:
    bolts = pattern(HOLES, 84.3, FOOT)
    loads = bolt_loads(bolts, (1.0, 0.0, 0.0), ORIGIN, ORIGIN)
    with pytest.raises(ValueError, match="4 bolts want 4 names"):
        group_checks("left foot", ["a"], bolts, loads, bolt_of("M12", "8.8"), [Ply(Plate(6.0, 235.0, 360.0))])


def test_every_row_for_bolts_and_welds_has_words_on_its_source() -> None:
    found = [rows.grade(name) for name in rows.grades()]
    found += [rows.detail(name) for name in rows.details()]  # type: ignore[arg-type]
    found += list(rows.duty())  # type: ignore[arg-type]
    found += [rows.torque_factor(n) for n in ("dry, plain", "oiled", "zinc, dry", "copper paste")]  # type: ignore[misc]
    for row in found:
        assert len(row.source.text) > 10, row


@pytest.mark.parametrize("name", rows.grades())
def test_grades_are_orderly(name: str) -> None:
    row = rows.grade(name)
    assert row.proof_mpa <= row.yield_mpa < row.ultimate_mpa
    assert row.threads_in_shear in (0.5, 0.6)
