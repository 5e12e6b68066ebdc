"""Places known by how the scene is built: pockets that admit one pose, corners where the least metal goes."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest

from halfshaft.fitup.model import Bounds, Fixed, Joints, Piece, Placed, Scene, Unit
from halfshaft.fitup.place import placed_at, refine, search
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, moved, union
from halfshaft.geometry.pose import turn
from halfshaft.progress import Stopped

long_search = pytest.mark.skipif(
    not os.environ.get("HALFSHAFT_LONG"), reason="a search of several seconds: `make long` runs it"
)

CLEAR_MM = 6.0
SLACK_MM = 0.25
WALL_MM = 30.0
SHIFT_MM, TURN_DEG = 50.0, 5.0
SCENES = int(os.environ.get("HALFSHAFT_PLANTED", "1"))  # of each kind; 10 before a release


def scene_of(fixed: list[Fixed], solids: list[MeshSolid], begin: Pose) -> Scene:
    unit = Unit(tuple(Piece(f"piece {at}", solid) for at, solid in enumerate(solids)), (), ())
    bounds = Bounds(begin, np.full(3, SHIFT_MM), np.full(3, TURN_DEG))
    return Scene(tuple(fixed), {}, unit, (), Joints(45.0, 45.0, 50.0), bounds, ground_clearance_mm=-1e4)


def planted(rng: np.random.Generator) -> tuple[Pose, Pose]:
    """Where the unit belongs, and a begin pose off it by most of what the bounds allow."""
    best = Pose(
        turn(np.radians(rng.uniform(-20.0, 20.0, 3))), rng.uniform([-200.0, -100.0, 300.0], [200.0, 100.0, 500.0])
    )
    off = Pose(turn(np.radians(rng.uniform(-0.5, 0.5, 3) * TURN_DEG)), np.zeros(3))
    begin = Pose(off.rotation @ best.rotation, best.shift_mm + rng.uniform(-0.8, 0.8, 3) * SHIFT_MM)
    return best, begin


def walls(low: np.ndarray, high: np.ndarray, pose: Pose, sides: tuple[int, ...]) -> list[Fixed]:
    """Plates round a box in a pose's axes, one a side: 0, 1, 2 under it along x, y, z; 3, 4, 5 over it."""
    out = []
    for side in sides:
        axis = side % 3
        one, other = low - WALL_MM, high + WALL_MM
        one, other = one.copy(), other.copy()
        if side < 3:
            other[axis] = low[axis]
        else:
            one[axis] = high[axis]
        out.append(Fixed(f"wall {side}", "keep", moved(box(one, other), pose), CLEAR_MM))
    return out


def pocket(seed: int, stepped: bool = True) -> tuple[Scene, Pose]:
    """A unit, with a step or a plain box, in six walls that stand off it by clearance and a quarter of a millimetre."""
    rng = np.random.default_rng(seed)
    half = rng.uniform([130.0, 110.0, 80.0], [180.0, 150.0, 120.0])
    best, begin = planted(rng)
    step = box([-half[0], -half[1], 0.0], [(rng.uniform(-0.3, 0.3) if stepped else 1.0) * half[0], half[1], half[2]])
    solids = [union([box(-half, [half[0], half[1], 0.0]), step])]
    gap = CLEAR_MM + SLACK_MM
    return scene_of(walls(-half - gap, half + gap, best, (0, 1, 2, 3, 4, 5)), solids, begin), best


def corner(seed: int) -> tuple[Scene, Pose, float]:
    """A box that three pads of metal push into a corner of three walls: the pose, and the metal that goes even there.

    Nothing but the corner itself takes less: any turn or shift away from it moves all pads deeper in.
    """
    rng = np.random.default_rng(seed)
    half = rng.uniform([120.0, 100.0, 80.0], [180.0, 150.0, 120.0])
    best, begin = planted(rng)
    fixed = walls(-half - CLEAR_MM, half + CLEAR_MM + 60.0, best, (0, 1, 2))
    metal = 0.0
    for axis in range(3):
        deep = rng.uniform(8.0, 15.0)
        one, other = -half / 2.0, half / 2.0
        one[axis], other[axis] = half[axis] - deep, half[axis] + 60.0
        fixed.append(Fixed(f"pad {axis}", "member", moved(box(one, other), best), 0.0))
        metal += deep * float(np.prod(np.delete(half, axis)))
    return scene_of(fixed, [box(-half, half)], begin), best, metal


def off(placed: Placed, pose: Pose) -> tuple[float, float]:
    """How far a place is off a pose: its middle in mm, its turn in degrees."""
    turned = placed.pose.rotation @ pose.rotation.T
    angle = np.degrees(np.arccos(np.clip((np.trace(turned) - 1.0) / 2.0, -1.0, 1.0)))
    return float(np.linalg.norm(placed.pose.shift_mm - pose.shift_mm)), float(angle)


@pytest.mark.parametrize("seed", range(SCENES))
def test_the_one_pose_a_pocket_admits_is_found(seed: int) -> None:
    scene, best = pocket(seed)
    found = search(scene, seed=seed, samples=4096)
    assert found.places, found.blocked_by
    for place in found.places:
        shift, angle = off(place, best)
        assert shift <= 1.0
        assert angle <= 0.2
        assert place.clearance_mm >= CLEAR_MM - 1e-3
        assert place.removed_mm3 == 0.0


@pytest.mark.parametrize("seed", range(SCENES))
def test_the_place_with_the_least_metal_is_found_in_its_corner(seed: int) -> None:
    scene, best, metal = corner(seed)
    found = search(scene, seed=seed, samples=4096)
    place = min(found.places, key=lambda p: p.removed_mm3)
    shift, angle = off(place, best)
    assert shift <= 1.0
    assert angle <= 0.2
    assert place.removed_mm3 == pytest.approx(metal, rel=0.02)


@pytest.mark.parametrize("seed", range((SCENES + 1) // 2))
def test_a_bar_across_the_pocket_is_named_as_what_blocks_it(seed: int) -> None:
    scene, best = pocket(seed, stepped=False)
    # half the unit is more than a shift: no wall that goes lets the unit past the bar
    bar = Fixed("bar", "keep", moved(box([-20.0, -400.0, -20.0], [20.0, 400.0, 20.0]), best), CLEAR_MM)
    found = search(replace(scene, fixed=(*scene.fixed, bar)), seed=seed, samples=1024)
    assert not found.places
    assert found.blocked_by[0] == "bar"
    assert any(not check.ok and "bar" in check.do for check in found.checks)


@long_search
def test_ground_clearance_that_nothing_can_give_is_named() -> None:
    scene, best = pocket(0)
    found = search(replace(scene, ground_clearance_mm=float(best.shift_mm[2])), samples=1024)
    assert not found.places
    assert found.blocked_by[0] == "the ground"


@long_search
def test_half_shafts_out_of_their_limits_everywhere_are_named() -> None:
    scene, _, _ = corner(1)
    found = search(scene, lambda pose: (50.0, 10.0, False), samples=1024)
    assert not found.places
    assert found.blocked_by == ("half-shaft joints",)


def test_a_limit_of_the_half_shafts_is_kept_though_metal_would_be_saved_past_it() -> None:
    scene, best, metal = corner(2)
    way = best.rotation[:, 0]  # out of the corner along the first pad

    def joints(pose: Pose) -> tuple[float, float, bool]:
        out = float((pose.shift_mm - best.shift_mm) @ way)
        return abs(out), 0.0, out >= 7.0

    found = search(scene, joints, samples=2048)
    assert found.places
    for place in found.places:
        assert (place.pose.shift_mm - best.shift_mm) @ way >= 7.0 - 1e-6
        assert place.removed_mm3 > metal


@long_search
def test_the_same_seed_gives_the_same_list() -> None:
    scene, _, _ = corner(3)
    one, other = (search(replace(scene), seed=5, samples=1024) for _ in range(2))
    assert [p.label for p in one.places] == [p.label for p in other.places]
    for a, b in zip(one.places, other.places, strict=True):
        np.testing.assert_allclose(a.pose.shift_mm, b.pose.shift_mm, atol=1e-9)
        np.testing.assert_allclose(a.pose.rotation, b.pose.rotation, atol=1e-12)


def test_a_place_by_hand_is_bettered_into_the_corner_and_never_made_worse() -> None:
    scene, best, metal = corner(4)
    hand = Pose(turn(np.radians([0.5, -0.5, 0.4])) @ best.rotation, best.shift_mm + best.rotation @ [6.0, 8.0, 7.0])
    before, after = placed_at(scene, hand), refine(scene, hand)
    assert before.removed_mm3 > metal * 1.2
    assert after.removed_mm3 == pytest.approx(metal, rel=0.02)
    again = refine(scene, after.pose)
    assert again.removed_mm3 <= after.removed_mm3 * 1.001


def test_a_place_by_hand_that_hits_is_pushed_clear() -> None:
    scene, best = pocket(5)
    hand = Pose(turn(np.radians([1.0, 1.0, -1.0])) @ best.rotation, best.shift_mm + np.array([5.0, -6.0, 4.0]))
    assert placed_at(scene, hand).clearance_mm < CLEAR_MM - 3.0
    assert refine(scene, hand).clearance_mm >= CLEAR_MM - 1e-3


def test_sway_takes_room_from_what_is_kept() -> None:
    scene, best, _ = corner(6)
    swaying = replace(scene, unit=replace(scene.unit, pieces=(replace(scene.unit.pieces[0], sway_mm=4.0),)))
    still, sways = placed_at(scene, best), placed_at(swaying, best)
    assert still.clearance_mm == pytest.approx(CLEAR_MM, abs=1e-6)
    assert sways.clearance_mm == pytest.approx(CLEAR_MM - 4.0, abs=1e-6)
    assert still.ground_mm - sways.ground_mm == pytest.approx(4.0, abs=1e-9)


def test_work_stops_when_asked() -> None:
    scene, _, _ = corner(7)

    def stop(share: float, words: str) -> None:
        if share > 0.1:
            raise Stopped

    with pytest.raises(Stopped):
        search(scene, progress=stop, samples=1024)


def test_a_scene_without_a_unit_is_refused_in_words() -> None:
    scene, _, _ = corner(8)
    with pytest.raises(ValueError, match="the unit has no piece"):
        placed_at(replace(scene, unit=Unit((), (), ())), Pose.identity())
