"""Covers lie where plates stack; lips sit on edges and in holes: elementary geometry."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point

from halfshaft.build.schema import HoleInput, JoinInput
from halfshaft.checks import Severity
from halfshaft.fold.join import cover_names, join_covers, seat_of
from halfshaft.fold.lip import lip_checks, lip_outline
from halfshaft.fold.slab import figure
from halfshaft.fold.station import shaped
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from tests.fold.builders import brake, meeting_volume_mm3, plate
from tests.fold.frames import bolts, build_of, measured_of

POSE = Pose(turn([0.3, -0.2, 0.9]), np.array([400.0, -120.0, 330.0]))
BASE = plate("base", [(0, 0), (160, 0), (160, 80), (0, 80)], pose=POSE)
SPOTS = {"J1": POSE.apply([30, 40, 7]), "J2": POSE.apply([130, 40, -3]), "J3": POSE.apply([80, 95, 0])}


def wished(*names: str, cover: str = "cover"):
    bolts = tuple(HoleInput.model_validate({"at": n, "bolt": "M10"}) for n in names)
    return SimpleNamespace(join=(JoinInput(on="base", cover=cover, bolts=bolts),), panel={})


def test_bosses_that_leave_no_plate_are_told_by_name() -> None:
    bolt = HoleInput.model_validate({"at": "J1", "bolt": "M10", "boss": 1e-200})
    wish = SimpleNamespace(join=(JoinInput(on="base", cover="cover", bolts=(bolt,)),), panel={})
    with pytest.raises(ValueError, match=r"cover cover: bosses of cover\.J1 1e-200 mm leave no plate"):
        join_covers({"base": BASE}, wish, SPOTS, 0.5)


def test_a_cover_without_a_plane_lies_on_the_panel_and_its_bolts_go_through_both() -> None:
    out, checks = join_covers({"base": BASE}, wished("J1", "J2"), SPOTS, 0.5)
    cover = out["cover"]
    assert all(check.ok for check in checks)
    assert meeting_volume_mm3(out, ()) == {}
    for one, other in zip(out["base"].holes, cover.holes, strict=True):
        # ISO 273:1979 medium series: 11 mm for M10
        assert one.diameter_mm == other.diameter_mm == 11.0
        line = cover.pose.apply([*other.centre_mm, 0]) - BASE.pose.apply([*one.centre_mm, 0])
        assert np.cross(line, POSE.rotation[:, 2]) == pytest.approx(np.zeros(3), abs=1e-9)
        assert np.linalg.norm(line) == pytest.approx(5.0)
        assert figure(cover).covers(Point(other.centre_mm).buffer(1.2 * 11.0))
    assert cover_names(wished("J1")) == ("cover",)


def test_a_bolt_off_the_panel_brings_its_own_metal() -> None:
    out, _ = join_covers({"base": BASE}, wished("J1", "J3"), SPOTS, 0.5)
    hole = out["base"].holes[-1]
    assert figure(out["base"]).covers(Point(hole.centre_mm).buffer(hole.boss_mm - 0.05))
    assert figure(out["base"]).geom_type == "Polygon"


@given(st.floats(-4, 12), st.floats(0, 4))
def test_gap_and_lean_of_a_cover_are_told(gap: float, lean: float) -> None:
    hinge = Pose(turn([0, np.radians(lean), 0]), np.array([0, 0, 5.0 + gap]))
    cover = plate("cover", [(0, 0), (160, 0), (160, 80), (0, 80)], pose=POSE.after(hinge))
    seat = seat_of(BASE, cover, [POSE.apply([0, 40, 0])])
    assert seat.tilt_deg == pytest.approx(lean, abs=1e-5)
    assert seat.gap_mm == pytest.approx(gap, abs=1e-6)
    assert seat.over


def test_a_cover_sunk_into_its_panel_stops_with_the_standoff_to_write() -> None:
    sunk = plate(
        "cover", [(0, 0), (160, 0), (160, 80), (0, 80)], pose=POSE.after(Pose(np.eye(3), np.array([0, 0, 2.0])))
    )
    _, checks = join_covers({"base": BASE, "cover": sunk}, wished("J1", "J2"), SPOTS, 0.5)
    (bad,) = [check for check in checks if not check.ok]
    assert bad.severity is Severity.STOP
    assert bad.found == pytest.approx(-3.0)
    assert "3.0 mm" in bad.do


def test_faults_of_joins_are_named_all_at_once() -> None:
    wishes = wished("J1", "J9")
    wishes.join += (JoinInput(on="nowhere", cover="lid", bolts=wishes.join[0].bolts),)
    with pytest.raises(ValueError, match=r"J9.*nowhere"):
        join_covers({"base": BASE}, wishes, SPOTS, 0.5)


@given(st.floats(0, 6.28), st.sampled_from([1.0, -1.0]), st.floats(8, 40))
def test_a_lip_is_a_strip_on_the_side_of_its_edge(angle: float, side: float, depth: float) -> None:
    way = np.array([np.cos(angle), np.sin(angle)])
    left = np.array([-way[1], way[0]])
    line = np.array([10.0, 20.0]) + np.outer([0, 60], way)
    outline = lip_outline(line, side * left + 0.3 * way, depth)
    r = min(depth / 2, 30.0)
    assert outline.area_mm2 == pytest.approx(60 * depth - 2 * (1 - np.pi / 4) * r**2)
    reach = (outline.points_mm - line[0]) @ left * side
    assert reach.min() == pytest.approx(0.0, abs=1e-9)
    assert reach.max() == pytest.approx(depth)


def lip(gap: float):
    return plate("lip", [(0, 0), (60, 0), (60, 15), (0, 15)], pose=Pose(np.eye(3), np.array([0, 0, gap])))


def test_a_lip_that_sits_is_quiet_and_one_that_does_not_says_by_how_much() -> None:
    spots = {"E1": np.array([10.0, 5, 0]), "E2": np.array([50.0, 5, 0])}
    assert lip_checks(lip(0.5), None, spots) == ()
    loose = lip_checks(lip(3.0), None, spots)
    assert [c.title for c in loose] == ["Lip sits loose"] * 2
    assert loose[0].found == pytest.approx(3.0)
    deep = lip_checks(lip(-2.0), None, spots)
    assert all(c.severity is Severity.STOP and c.found == pytest.approx(-2.0) for c in deep)
    (short,) = lip_checks(lip(0.5), None, {"E3": np.array([30.0, 19.0, 0])})
    assert short.found == pytest.approx(4.0)


def test_spots_far_up_the_face_or_beside_the_lip_are_no_fault_where_the_lip_comes_over_the_face() -> None:
    # the lip covers 0..60 x 0..15; the face is told by two spots beside its ends and one far above
    face = {"E1": np.array([-20.0, 4, 0]), "E2": np.array([80.0, 4, 0]), "E3": np.array([30.0, 90.0, 0])}
    assert lip_checks(lip(0.5), None, face) == ()
    assert [c.title for c in lip_checks(lip(3.0), None, face)] == ["Lip sits loose"]
    # the whole face lies past the lip's end at y = 15: it locates on nothing
    past = {name: spot + np.array([0.0, 18.0, 0.0]) for name, spot in face.items()}
    (check,) = lip_checks(lip(0.5), None, past)
    assert check.title == "Lip misses its edge"
    assert check.found == pytest.approx(22.0 - 15.0)


@pytest.mark.parametrize(("left", "right"), [(-52.0, 52.0), (-40.0, 60.0), (-20.0, 20.0), (-90.0, 90.0)])
def test_a_lip_runs_out_over_spots_of_its_edge_just_past_its_ends(left: float, right: float) -> None:
    # foot on a floor with bosses of 16.5 about y = -30 and 30; the lip folds up the wall at x = 0
    points = {"car.A": (-60, -30, 0), "car.B": (-60, 30, 0)}
    edge = {"car.E1": (0, left, 8), "car.E2": (0, right, 8), "car.E3": (0, 0, 90)}
    faces = {"car.floor": ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), "car.wall": ((0.0, 0.0, 40.0), (-1.0, 0.0, 0.0))}
    panels = {
        "foot": {"face": "car.floor", "holes": bolts("car.A", "car.B")},
        "lip": {"face": "car.wall", "lip": True, "lip_depth": "20 mm", "holes": []},
    }
    build = build_of({"panel": panels, "folds": [{"between": ["foot", "lip"]}]}, {"thickness": 4.0})
    measured = measured_of({**points, **edge}, faces)  # type: ignore[arg-type]
    wall = replace(measured.faces["car.wall"], points=tuple(edge))
    bracket = shaped(build, replace(measured, faces={**measured.faces, "car.wall": wall}), "piece")
    (fold,) = bracket.folds
    ends = bracket.panels["lip"].pose.apply(np.column_stack([fold.line_b_mm, np.zeros(2)]))[:, 1]
    # bosses reach 46.5 to each side; a spot more than the lip's 20 mm past that is somebody else's
    reach = (left if -66.5 <= left < -46.5 else -46.5, right if 46.5 < right <= 66.5 else 46.5)
    assert sorted(ends) == pytest.approx(reach, abs=0.05)
    assert not [c for c in bracket.checks if "Lip" in c.title and not c.ok]


def test_a_brake_bend_rides_on_a_sharp_edge() -> None:
    fold = brake("base", "lip", [(0, 0), (60, 0)], [(0, 0), (60, 0)], 90.0, radius=6.0)
    (check,) = lip_checks(lip(0.5), fold, {})
    assert check.found == pytest.approx(6.0 * (np.sqrt(2) - 1))
    assert not check.ok
