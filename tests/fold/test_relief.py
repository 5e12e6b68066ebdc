"""Reliefs: what must hold of any cut, and areas from plain geometry of circles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from halfshaft.checks import Severity
from halfshaft.fold.relief import corner_radius_mm, keep_mm, relieve, shortened
from halfshaft.fold.slab import figure, slab
from halfshaft.geometry import mesh
from tests.fold.builders import brake, hole, hung, meeting_volume_mm3, plate, slit


def corner(kind=slit, angle=90.0, holes=()):
    """A square base with flanges on two sides that share its corner (100, 100)."""
    base = plate("base", [(0, 0), (100, 0), (100, 100), (0, 100)], holes=holes)
    right = plate("right", [(0, 0), (100, 0), (100, 50), (0, 50)])
    back = plate("back", [(0, 0), (100, 0), (100, 50), (0, 50)])
    folds = (
        kind("base", "right", [(100, 0), (100, 100)], [(100, 0), (0, 0)], angle),
        kind("base", "back", [(100, 100), (0, 100)], [(100, 0), (0, 0)], angle),
    )
    return {"base": base, "right": hung(right, folds[0], base), "back": hung(back, folds[1], base)}, folds


@pytest.mark.parametrize("kind", [slit, brake])
def test_a_corner_where_two_folds_meet_gets_one_round_relief_through_all_three_panels(kind) -> None:
    panels, folds = corner(kind)
    out, checks = relieve(panels, folds)
    for name, lost in (("base", (100, 100)), ("right", (0, 0)), ("back", (100, 0))):
        assert not figure(out[name]).covers(Point(lost))
        assert np.count_nonzero(out[name].outline.bulge) >= 1
    radius = corner_radius_mm(5.0, 1.5)
    bitten = figure(panels["base"]).area - figure(out["base"]).area
    if kind is slit:
        # a quarter of a disc about the corner where both lines end
        assert bitten == pytest.approx(np.pi * radius**2 / 4, abs=0.05)
    assert all(check.ok for check in checks)


def test_a_fold_that_ends_at_straight_edges_gets_no_relief() -> None:
    base = plate("base", [(0, 0), (100, 0), (100, 60), (0, 60)])
    fold = slit("base", "flange", [(0, 60), (100, 60)], [(0, 0), (100, 0)], 90.0)
    panels = {"base": base, "flange": hung(plate("flange", [(0, 0), (100, 0), (100, 40), (0, 40)]), fold, base)}
    out, checks = relieve(panels, [fold])
    assert checks == ()
    assert all(out[name] is panels[name] for name in panels)


def test_a_fold_shorter_than_its_edge_gets_a_relief_at_each_end() -> None:
    base = plate("base", [(0, 0), (100, 0), (100, 60), (0, 60)])
    fold = slit("base", "flange", [(80, 60), (20, 60)], [(60, 0), (0, 0)], 90.0)
    panels = {"base": base, "flange": hung(plate("flange", [(0, 0), (60, 0), (60, 40), (0, 40)]), fold, base)}
    out, checks = relieve(panels, [fold])
    radius = corner_radius_mm(5.0, 1.5)
    # half a disc at each end out of the base, a quarter out of each foot of the flange
    assert 6000 - figure(out["base"]).area == pytest.approx(np.pi * radius**2, abs=0.1)
    assert 2400 - figure(out["flange"]).area == pytest.approx(np.pi * radius**2 / 2, abs=0.1)
    assert "at 2 ends of folds" in checks[0].do
    (short,) = shortened(out, [fold])
    assert short.length_mm == pytest.approx(60 - 2 * radius, abs=0.05)


@settings(max_examples=30, deadline=None)
@given(st.floats(100, 140))
def test_flanges_that_would_meet_past_a_square_corner_are_cut_apart(angle: float) -> None:
    panels, folds = corner(angle=angle)
    assert meeting_volume_mm3(panels, folds)
    out, checks = relieve(panels, folds)
    assert meeting_volume_mm3(out, folds) == {}
    assert all(check.ok for check in checks)
    assert any(check.title == "Panel cut back" for check in checks)


def under_a_roof(relief_hole_offset: float = 30.0, roof_holes=(), length=90.0):
    """A base, a wall at its end, a roof back over the base: the socket on the base's hole must pass the roof."""
    base = plate(
        "base", [(0, 0), (100, 0), (100, 60), (0, 60)],
        holes=[hole("RL3", 50, relief_hole_offset, washer_mm=24.0, socket_mm=25.0)],
    )  # fmt: skip
    wall = plate("wall", [(0, 0), (100, 0), (100, 50), (0, 50)])
    roof = plate("roof", [(0, 0), (100, 0), (100, length), (0, length)], holes=roof_holes, contact="upper")
    folds = (
        slit("base", "wall", [(100, 60), (0, 60)], [(100, 0), (0, 0)], 90.0),
        slit("wall", "roof", [(100, 50), (0, 50)], [(100, 0), (0, 0)], 90.0),
    )
    wall = hung(wall, folds[0], base)
    return {"base": base, "wall": wall, "roof": hung(roof, folds[1], wall)}, folds


def test_the_socket_goes_through_the_roof_after_relief() -> None:
    panels, folds = under_a_roof()
    out, checks = relieve(panels, folds)
    assert any(check.title == "Notch cut for the socket" for check in checks)
    socket = mesh.cylinder([50, 30, 5], [0, 0, 1], 12.5, 90.0)
    assert not mesh.overlap(socket, slab(panels["roof"])).empty
    assert mesh.overlap(socket, slab(out["roof"])).empty
    assert mesh.gap_mm(socket, slab(out["roof"]), 50) >= 1.9  # room of 2 mm, common practice


def test_a_notch_never_eats_the_metal_of_another_hole() -> None:
    panels, folds = under_a_roof(roof_holes=[hole("RL9", 50, 45, socket_mm=25.0)])
    out, checks = relieve(panels, folds)
    refused = [check for check in checks if check.severity is Severity.STOP and not check.ok]
    assert refused
    assert any("RL9" in check.do for check in refused)
    for name, panel in out.items():
        for h in panel.holes:
            assert figure(out[name]).covers(Point(h.centre_mm).buffer(keep_mm(h) - 0.01))


def test_without_relief_the_room_missing_is_told() -> None:
    class Wish:
        at, relief = "car.RL3", False

    class Flat:
        holes = (Wish,)

    class Wanted:
        panel = {"base": Flat}  # noqa: RUF012
        join = ()

    # The roof's rim reaches over the socket but not as far as the bolt's middle.
    panels, folds = under_a_roof(relief_hole_offset=20.0, length=34.0)
    out, checks = relieve(panels, folds, Wanted)  # type: ignore[arg-type]
    (check,) = [check for check in checks if check.title == "No room for the socket"]
    assert check.severity is Severity.CAUTION
    assert check.limit == pytest.approx(12.5 + 2.0)
    edge = slab(panels["roof"]).bounds_mm[0][1]
    assert check.found == pytest.approx(edge - 20.0, abs=0.01)
    assert out["roof"] is panels["roof"]


def test_a_washer_on_the_fold_stops_and_one_over_the_edge_cautions() -> None:
    base = plate("base", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("RL3", 50, 46), hole("RL4", 8, 20)])
    fold = slit("base", "flange", [(0, 60), (100, 60)], [(0, 0), (100, 0)], 90.0)
    panels = {"base": base, "flange": hung(plate("flange", [(0, 0), (100, 0), (100, 40), (0, 40)]), fold, base)}
    _, checks = relieve(panels, [fold])
    bad = {check.about: check for check in checks if not check.ok}
    # washer radius 12, weld leg 0.7 x 5: the fold must be 15.5 away and is 14
    assert bad["hole RL3"].severity is Severity.STOP
    assert bad["hole RL3"].margin == pytest.approx(14 - 15.5)
    assert bad["hole RL4"].severity is Severity.CAUTION
    assert bad["hole RL4"].margin == pytest.approx(8 - 12)
