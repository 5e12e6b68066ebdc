"""Clearances on a grid against exact distances of meshes, and exact ones against shapes with a formula."""

from __future__ import annotations

import fcl
import numpy as np
import pytest
import trimesh

from halfshaft.fitup.exact import Part, Thing, clearances, signed_mm
from halfshaft.fitup.field import Field, field_of
from halfshaft.fitup.model import Array, Piece
from halfshaft.fitup.screen import Probe, probe, screen
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, cylinder, moved, solid_of, union
from halfshaft.geometry.nearest import body, inside, skin_feet
from halfshaft.geometry.pose import turn

POSES = 100


def bumpy(seed: int, half_mm: tuple[float, float, float]) -> tuple[Array, Array]:
    """Corners and triangles of a closed body with hills and hollows, 5,120 triangles."""
    ball = trimesh.creation.icosphere(4, 1.0)
    rng = np.random.default_rng(seed)
    ways, heights = 2.5 * rng.normal(size=(5, 3)), rng.uniform(0.03, 0.12, 5)
    corners = np.array(ball.vertices)
    out = 1.0 + sum(h * np.sin(corners @ w + n) for n, (w, h) in enumerate(zip(ways, heights, strict=True)))
    return corners * out[:, None] * np.array(half_mm), np.array(ball.faces)


def library_object(corners: Array, faces: Array) -> fcl.CollisionObject:
    tree = fcl.BVHModel()
    tree.beginModel(len(corners), len(faces))
    tree.addSubModel(corners, faces)
    tree.endModel()
    return fcl.CollisionObject(tree, fcl.Transform())


def library_distance_mm(unit: tuple[Array, Array], fixed: tuple[Array, Array], pose: Pose) -> float:
    """By the library alone: the distance of the skins, nought where they meet."""
    one, other = library_object(*unit), library_object(*fixed)
    one.setTransform(fcl.Transform(pose.rotation, pose.shift_mm))
    return max(float(fcl.distance(one, other, fcl.DistanceRequest(), fcl.DistanceResult())), 0.0)


def library_depth_mm(unit: tuple[Array, Array], fixed: tuple[Array, Array], pose: Pose) -> float:
    """How deep the deepest corner of the unit lies under the other's skin; corners inside are told by own rays."""
    other = library_object(*fixed)
    spots = pose.apply(unit[0])
    dot = library_object(np.zeros((1, 3)), np.zeros((1, 3), dtype=int))
    worst = 0.0
    for spot in spots[filled(fixed, spots)]:
        dot.setTransform(fcl.Transform(spot))
        worst = max(worst, float(fcl.distance(dot, other, fcl.DistanceRequest(), fcl.DistanceResult())))
    return worst


def filled(mesh: tuple[Array, Array], spots: Array) -> np.ndarray:
    """Which spots a mesh fills, by how often a ray straight up leaves it."""
    a, b, c = np.moveaxis(mesh[0][mesh[1]], 1, 0)
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    low, high = mesh[0].min(axis=0), mesh[0].max(axis=0)
    out = np.zeros(len(spots), dtype=bool)
    for at in np.flatnonzero(np.all((spots > low) & (spots < high), axis=1)):
        x, y, z = spots[at]
        u = ((b[:, 0] - x) * (c[:, 1] - y) - (b[:, 1] - y) * (c[:, 0] - x)) / area
        v = ((c[:, 0] - x) * (a[:, 1] - y) - (c[:, 1] - y) * (a[:, 0] - x)) / area
        hit = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
        above = u * a[:, 2] + v * b[:, 2] + (1.0 - u - v) * c[:, 2] > z
        out[at] = int(np.sum(hit & above)) % 2 == 1
    return out


UNIT, FIXED = bumpy(2, (200.0, 150.0, 130.0)), bumpy(1, (400.0, 120.0, 100.0))


@pytest.fixture(scope="module")
def grid() -> Field:
    return field_of([(solid_of(*FIXED), 0.0)], np.full(3, -900.0), np.full(3, 900.0), 10.0)


@pytest.fixture(scope="module")
def unit() -> Probe:
    return probe([Piece("unit", solid_of(*UNIT))])


def poses(seed: int, count: int) -> list[Pose]:
    rng = np.random.default_rng(seed)
    return [Pose(turn(rng.normal(size=3) * 2.0), rng.uniform(-380.0, 380.0, 3)) for _ in range(count)]


def test_screened_clearances_hold_to_their_stated_bound(grid: Field, unit: Probe) -> None:
    tried = poses(0, POSES)
    told = screen(grid, unit, np.array([p.rotation for p in tried]), np.array([p.shift_mm for p in tried]))
    apart = np.array([library_distance_mm(UNIT, FIXED, pose) for pose in tried])
    inside_at = np.array([filled(FIXED, pose.apply(UNIT[0][:1]))[0] for pose in tried])
    hit = (apart <= 0.0) | inside_at
    bound = grid.bound_mm(told)
    assert np.all((told - unit.cover_mm - bound <= apart)[~hit])
    assert np.all((apart <= told + bound)[~hit])
    sure = (told > bound + unit.cover_mm) | (told < -bound)
    np.testing.assert_array_equal(told[sure] < 0.0, hit[sure])
    assert sure.sum() > 0.8 * POSES
    assert 0.2 * POSES < hit.sum() < 0.8 * POSES


def test_screened_depths_hold_to_their_stated_bound(grid: Field, unit: Probe) -> None:
    tried = [pose for pose in poses(0, 40) if library_distance_mm(UNIT, FIXED, pose) <= 0.0][:10]
    told = screen(grid, unit, np.array([p.rotation for p in tried]), np.array([p.shift_mm for p in tried]))
    depth = np.array([library_depth_mm(UNIT, FIXED, pose) for pose in tried])
    bound = grid.bound_mm(told)
    sides = np.linalg.norm(np.diff(UNIT[0][UNIT[1]], axis=1), axis=2)
    # the library's depths stand at corners: the deepest spot is less than a side of a triangle from one
    assert np.all(told >= -depth - bound - sides.max())
    assert np.all(told - unit.cover_mm - bound <= -depth)


def test_a_floor_and_a_cap_change_no_verdict(grid: Field, unit: Probe) -> None:
    tried = poses(1, 400)
    turns, shifts = np.array([p.rotation for p in tried]), np.array([p.shift_mm for p in tried])
    whole = screen(grid, unit, turns, shifts)
    short = screen(grid, unit, turns, shifts, floor_mm=2.0, cap_mm=30.0)
    np.testing.assert_array_equal(short < 2.0, whole < 2.0)
    np.testing.assert_allclose(short[whole >= 2.0], np.minimum(whole[whole >= 2.0], 30.0))


def test_a_field_of_a_box_holds_to_its_bound_against_the_formula() -> None:
    # distance from a box, the formula of elementary geometry
    half = np.array([60.0, 40.0, 25.0])
    field = field_of([(box(-half, half), 7.0)], np.full(3, -150.0), np.full(3, 150.0), 5.0)
    spots = np.random.default_rng(3).uniform(-148.0, 148.0, (20_000, 3))
    out = np.abs(spots) - half
    true = np.linalg.norm(np.maximum(out, 0.0), axis=1) + np.minimum(out.max(axis=1), 0.0) - 7.0
    told = field.at(spots)
    assert np.all(np.abs(told - true) <= field.bound_mm(told))


def test_a_thick_block_is_deep_inside() -> None:
    half = np.full(3, 140.0)
    field = field_of([(box(-half, half), 0.0)], np.full(3, -180.0), np.full(3, 180.0), 5.0)
    spots = np.random.default_rng(4).uniform(-139.0, 139.0, (5000, 3))
    true = -(140.0 - np.abs(spots).max(axis=1))
    told = field.at(spots)
    assert np.all(np.abs(told - true) <= field.bound_mm(told))
    assert told.min() < -120.0


def test_things_past_the_edge_of_the_grid_never_make_a_value_larger_than_the_truth() -> None:
    # one block wholly past the grid, one slab through it and thicker than it: the formula of a box again
    boxes = [(np.array([0.0, 0.0, 0.0]), np.array([30.0, 30.0, 30.0])), (np.array([330.0, 0.0, 0.0]), np.full(3, 40.0))]
    boxes.append((np.array([0.0, 0.0, -500.0]), np.array([900.0, 900.0, 400.0])))
    solids = [(box(middle - half, middle + half), 3.0) for middle, half in boxes]
    field = field_of(solids, np.full(3, -160.0), np.full(3, 160.0), 5.0)
    spots = np.random.default_rng(6).uniform(-159.0, 159.0, (20_000, 3))
    true = np.full(len(spots), np.inf)
    for middle, half in boxes:
        out = np.abs(spots - middle) - half
        away = np.linalg.norm(np.maximum(out, 0.0), axis=1) + np.minimum(out.max(axis=1), 0.0)
        true = np.minimum(true, away - 3.0)
    told = field.at(spots)
    assert np.all(np.abs(told) <= np.abs(true) + field.bound_mm(told))
    near = np.abs(true) < 25.0
    assert np.all(np.abs(told - true)[near] <= field.bound_mm(told)[near])


def test_the_first_points_of_a_unit_stand_for_every_piece() -> None:
    big, ear = Piece("big", box([0, 0, 0], [300, 300, 300]), sway_mm=1.0), Piece("ear", box([400, 0, 0], [450, 50, 50]))
    unit = probe([big, ear], points=600)
    first = unit.points_mm[:60]
    assert np.any(first[:, 0] > 399.0)
    assert np.ptp(first[first[:, 0] < 301.0], axis=0).min() > 299.0
    np.testing.assert_array_equal(unit.sway_mm == 1.0, unit.points_mm[:, 0] < 301.0)


def test_separate_layers_tell_members_and_kept_things_apart() -> None:
    low, high = np.full(3, -200.0), np.full(3, 200.0)
    member = field_of([(box([50.0, -50.0, -50.0], [80.0, 50.0, 50.0]), 0.0)], low, high, 4.0)
    kept = field_of([(box([-80.0, -50.0, -50.0], [-60.0, 50.0, 50.0]), 0.0)], low, high, 4.0)
    small = probe([Piece("unit", box([-10.0, -10.0, -10.0], [10.0, 10.0, 10.0]))], points=200)
    turns, shifts = np.array([np.eye(3)] * 2), np.array([[45.0, 0.0, 0.0], [-45.0, 0.0, 0.0]])
    assert list(screen(member, small, turns, shifts) < 0.0) == [True, False]
    assert list(screen(kept, small, turns, shifts) < 0.0) == [False, False]
    assert screen(kept, small, turns, shifts)[1] == pytest.approx(5.0, abs=kept.near_error_mm)


def test_a_thing_wholly_inside_the_unit_is_a_hit() -> None:
    pin = field_of(
        [(cylinder([0.0, 0.0, -5.0], [0.0, 0.0, 1.0], 4.0, 10.0), 0.0)],
        *([np.full(3, s * 150.0) for s in (-1, 1)]),
        3.0,
    )
    around = box([-100.0, -100.0, -100.0], [100.0, 100.0, 100.0])
    whole = probe([Piece("unit", around)], points=500)
    assert screen(pin, whole, np.eye(3)[None], np.zeros((1, 3)), floor_mm=0.0)[0] < 0.0
    depth, _, _ = signed_mm(body(around), Pose.identity(), body(cylinder([0, 0, -5], [0, 0, 1], 4.0, 10.0)))
    assert depth < 0.0


def test_exact_clearance_of_boxes_follows_the_formula_and_names_the_nearest() -> None:
    unit = Part("case", body(box([0.0, 0.0, 0.0], [100.0, 80.0, 60.0])), sway_mm=2.0)
    floor = Thing("floor", body(box([-300.0, -300.0, 100.0], [300.0, 300.0, 110.0])), clearance_mm=5.0)
    tank = Thing("tank", body(box([130.0, -300.0, -300.0], [300.0, 300.0, 300.0])), clearance_mm=25.0)
    least = clearances([unit], Pose.identity(), [floor, tank], every=True)
    assert [(c.thing, c.part) for c in least] == [("tank", "case"), ("floor", "case")]
    assert least[0].distance_mm == pytest.approx(28.0)
    assert least[0].room_mm == pytest.approx(3.0)
    assert least[1].distance_mm == pytest.approx(38.0)


@pytest.mark.parametrize(("height_mm", "deep_mm"), [(-5.0, 5.0), (-30.0, 30.0), (-150.0, 100.0)])
def test_exact_depth_of_an_overlap(height_mm: float, deep_mm: float) -> None:
    # a block let into a slab 200 mm thick: as deep as its lowest face, at most half the slab
    slab = body(box([-300.0, -300.0, -200.0], [300.0, 300.0, 0.0]))
    block = body(box([-50.0, -40.0, 0.0], [50.0, 40.0, 60.0]))
    depth, _, _ = signed_mm(block, Pose(np.eye(3), np.array([0.0, 0.0, height_mm])), slab)
    assert depth == pytest.approx(-deep_mm, abs=1e-6)


def test_two_balls_are_apart_by_the_formula() -> None:
    corners, faces = np.array(trimesh.creation.icosphere(4, 100.0).vertices), trimesh.creation.icosphere(4, 100.0).faces
    ball = body(solid_of(corners, faces))
    for pose in poses(5, 10):
        way = pose.shift_mm / np.linalg.norm(pose.shift_mm)
        apart, spot, other = signed_mm(ball, Pose(pose.rotation, way * 260.0), ball)
        # triangles with corners on a ball of 100 mm lie within 0.2 mm under it
        assert 60.0 - 1e-9 <= apart <= 60.4
        assert np.linalg.norm(spot - other) == pytest.approx(apart)


def test_feet_and_insides_of_a_body_in_two_pieces() -> None:
    two: MeshSolid = union(
        [box([0, 0, 0], [10, 10, 10]), moved(box([0, 0, 0], [10, 10, 10]), Pose(np.eye(3), np.array([50.0, 0, 0])))]
    )
    thing = body(two)
    assert len(thing.seeds_mm) == 2
    distance, feet = skin_feet(thing, [[5.0, 5.0, 4.0], [30.0, 5.0, 5.0], [70.0, 5.0, 5.0]])
    np.testing.assert_allclose(distance, [4.0, 20.0, 10.0])
    np.testing.assert_allclose(feet[2], [60.0, 5.0, 5.0])
    assert list(inside(thing, [[5.0, 5.0, 4.0], [30.0, 5.0, 5.0], [55.0, 5.0, 5.0]])) == [True, False, True]
