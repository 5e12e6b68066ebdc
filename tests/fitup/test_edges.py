"""Metal left beside a cut: distances and integrals by hand, and places that move off edges and welds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfshaft.fitup.edges import beside, crowding
from halfshaft.fitup.member import member_of
from halfshaft.fitup.metal import estimate
from halfshaft.fitup.model import Bounds, Fixed, Joints, Member, Piece, Placed, Scene, Section, Unit
from halfshaft.fitup.place import placed_at, refine, search
from halfshaft.fitup.ready import ready
from halfshaft.fitup.walls import walls_of
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box, overlap

CLEAR_MM = 5.0
WANTED_MM, WELD_MM = 20.0, 25.0  # catalogue: fitup.window_edge, fitup.window_weld


def rail(*welds: np.ndarray) -> Member:
    """A box section 60 across, 120 tall, 4 thick, along x: v is up, its left wall at y = 30."""
    section = Section("box", 60.0, 120.0, 4.0)
    made = member_of("rail", section, [[-400.0, 0.0, 0.0], [400.0, 0.0, 0.0]], [0.0, 0.0, 1.0])
    return replace(made, welds_mm=welds)


def scene_of(member: Member, ear_tall_mm: float, shift_mm: tuple[float, float, float], up_mm: float) -> Scene:
    """An ear through both walls of the rail, 40 long, begun `up_mm` over the rail's middle."""
    ear = box([-20.0, -80.0, -ear_tall_mm / 2.0], [20.0, 80.0, ear_tall_mm / 2.0])
    unit = Unit((Piece("ear", ear),), (), ())
    bounds = Bounds(Pose(np.eye(3), np.array([0.0, 0.0, up_mm])), np.array(shift_mm), np.zeros(3))
    fixed = (Fixed("rail", "member", member.solid, CLEAR_MM),)
    return Scene(fixed, {"rail": member}, unit, (), Joints(45.0, 45.0, 50.0), bounds, ground_clearance_mm=-1e4)


def test_what_stays_beside_a_cut_is_told_of_the_nearest_edge_of_any_wall() -> None:
    made = rail()
    through = overlap(made.solid, box([-50.0, -99.0, -13.0], [70.0, 99.0, 41.0]))
    found = beside(through, walls_of(made))
    assert found.edge_mm == pytest.approx(60.0 - 41.0, abs=1e-6)
    assert found.edge.startswith("upper edge of the ")
    near_end = overlap(made.solid, box([390.0, 0.0, -5.0], [395.0, 99.0, 5.0]))
    assert beside(near_end, walls_of(made)).edge_mm == pytest.approx(5.0, abs=1e-6)
    assert beside(near_end, walls_of(made)).edge == "last end of the left wall of rail"
    notch = overlap(made.solid, box([-50.0, 0.0, 20.0], [50.0, 99.0, 99.0]))
    assert beside(notch, walls_of(made)).edge_mm == 0.0


def test_a_weld_between_two_cuts_keeps_its_distance_to_each() -> None:
    weld = np.array([[10.0, 30.0, -60.0], [10.0, 30.0, 60.0]])
    made = rail(weld)
    two = [box([-60.0, 0.0, -10.0], [-20.0, 99.0, 10.0]), box([32.0, 0.0, -10.0], [60.0, 99.0, 10.0])]
    gone = overlap(made.solid, two[0]).kernel + overlap(made.solid, two[1]).kernel
    found = beside(type(made.solid)(gone), walls_of(made), made.welds_mm)
    assert found.weld_mm == pytest.approx(22.0, abs=1e-6)
    # on the other wall nothing is welded
    right = overlap(made.solid, box([-60.0, -99.0, -10.0], [60.0, 0.0, 10.0]))
    assert beside(right, walls_of(made), made.welds_mm).weld_mm == np.inf


def test_metal_is_dear_upon_an_edge_and_free_from_the_wanted_distance_on() -> None:
    made = rail(np.array([[0.0, 30.0, -5.0], [0.0, 30.0, 5.0]]))
    spots = np.array([[100.0, 29.0, 60.0 - d] for d in (0.0, 5.0, 15.0, 20.0, 40.0)] + [[10.0, 29.0, 0.0]])
    found = crowding(spots, walls_of(made), made.welds_mm, WANTED_MM, WELD_MM)
    np.testing.assert_allclose(found, [1.0, 0.75, 0.25, 0.0, 0.0, 1.0 - 10.0 / WELD_MM], atol=1e-9)


def test_the_estimate_of_dear_metal_stands_by_its_integral() -> None:
    # of a wall t thick cut over a length L up to d from its edge: t L (20 - d)^2 / (2 x 20)
    scene = scene_of(rail(), 60.0, (0.0, 0.0, 40.0), 0.0)
    made = ready(scene)
    up_mm = np.array([0.0, 10.0, 15.0, 18.0])
    shifts = np.column_stack([np.zeros((4, 2)), up_mm])
    _, _, dear = estimate(made.metal, made.probe, np.tile(np.eye(3), (4, 1, 1)), shifts)
    left_mm = 60.0 - (30.0 + CLEAR_MM + up_mm)
    hand = 2.0 * 4.0 * (40.0 + 2.0 * CLEAR_MM) * np.maximum(WANTED_MM - left_mm, 0.0) ** 2 / (2.0 * WANTED_MM)
    # cells of 8 mm, and corners that the clearance rounds
    assert np.abs(dear[:, 0] - hand).max() < 0.2 * hand.max()
    assert dear[0, 0] < 0.02 * hand.max()


def told(place: Placed) -> str:
    return "; ".join(place.limits)


def test_a_place_by_hand_slides_until_its_window_keeps_off_the_edge() -> None:
    scene = scene_of(rail(), 60.0, (0.0, 0.0, 40.0), 18.0)
    before = placed_at(scene, scene.bounds.begin)
    assert before.edge_mm == pytest.approx(60.0 - 18.0 - 30.0 - CLEAR_MM, abs=0.05)
    assert "cut leaves 7 mm to the upper edge" in told(before)
    after = refine(scene, scene.bounds.begin)
    assert after.edge_mm >= WANTED_MM - 1.0
    assert "upper edge" not in told(after) or after.edge_mm < WANTED_MM


def test_a_place_by_hand_slides_until_its_window_keeps_off_a_weld() -> None:
    weld = np.array([[38.0, 30.0, -60.0], [38.0, 30.0, 60.0]])
    scene = scene_of(rail(weld), 60.0, (40.0, 0.0, 0.0), 0.0)
    before = placed_at(scene, scene.bounds.begin)
    assert before.cuts[0].weld_mm == pytest.approx(38.0 - 20.0 - CLEAR_MM, abs=0.05)
    assert "cut 13 mm from a weld of rail, 25 mm wanted" in told(before)
    assert refine(scene, scene.bounds.begin).cuts[0].weld_mm >= WELD_MM - 1.0


def test_a_notch_over_the_edge_is_no_place_where_a_whole_window_is_to_be_had() -> None:
    # the notch takes less metal: by that alone it would win
    scene = scene_of(rail(), 60.0, (0.0, 0.0, 45.0), 20.0)
    notch = placed_at(scene, Pose(np.eye(3), np.array([0.0, 0.0, 65.0])))
    assert notch.over_edge
    assert "runs over the upper edge" in told(notch)
    found = search(scene, samples=64)
    assert found.places
    for place in found.places:
        assert not place.over_edge
        assert place.removed_mm3 > notch.removed_mm3
    # and where it is all there is, it is shown and told
    only = scene_of(rail(), 60.0, (0.0, 0.0, 5.0), 60.0)
    assert all(place.over_edge for place in search(only, samples=64).places)
