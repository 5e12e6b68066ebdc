"""Poses screened on a grid against exact distances of the same meshes: how many a second, and whether they agree.

Run: python benchmarks/clearance_speed.py [--poses 1000000] [--exact 1000] [--seed 1]. Both meshes have 5,120 triangles,
the unit 2,000 points on its skin. Prints processor time side by side, its ratio, and how the answers compare; as a
second reference the same tree of balls worked level by level in numpy.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import trimesh
from scipy.spatial.transform import Rotation

from halfshaft.fitup.exact import signed_mm
from halfshaft.fitup.field import Field, field_of, step_for
from halfshaft.fitup.model import Array, Piece
from halfshaft.fitup.screen import Probe, probe, screen
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, solid_of
from halfshaft.geometry.nearest import body, gap

CAP_MM = 30.0


def bumpy(seed: int, half_mm: tuple[float, float, float]) -> MeshSolid:
    """A closed body with hills and hollows."""
    ball = trimesh.creation.icosphere(4, 1.0)
    rng = np.random.default_rng(seed)
    ways, heights = 2.5 * rng.normal(size=(5, 3)), rng.uniform(0.03, 0.12, 5)
    corners = np.array(ball.vertices)
    out = 1.0 + sum(h * np.sin(corners @ w + n) for n, (w, h) in enumerate(zip(ways, heights, strict=True)))
    return solid_of(corners * out[:, None] * np.array(half_mm), np.array(ball.faces))


def by_numpy(field: Field, unit: Probe, turns: Array, shifts: Array) -> Array:
    """The same verdicts, floor nought and cap as told: every pose level by level through the tree, by array gathers."""
    best = np.full(len(turns), CAP_MM)
    # (pose, ball) pairs still open; a ball's children are the balls right after it and after each skip
    pose, ball = np.arange(len(turns)), np.zeros(len(turns), dtype=np.int64)
    while len(pose):
        spot = np.einsum("nij,nj->ni", turns[pose], unit.centre_mm[ball]) + shifts[pose]
        index = np.rint((spot - field.origin_mm) / field.step_mm).astype(np.int64)
        index = np.clip(index, 0, np.array(field.values.shape) - 1)
        value = field.values[tuple(index.T)] - unit.grow_mm[ball]
        leaf = unit.radius_mm[ball] == 0.0
        np.minimum.at(best, pose[leaf], value[leaf])
        open_ = ~leaf & (value - 0.8661 * field.step_mm - unit.radius_mm[ball] < np.maximum(best[pose], 0.0))
        open_ &= best[pose] >= 0.0
        pose, ball = pose[open_], ball[open_]
        next_pose, next_ball = [], []
        child = ball + 1
        end = unit.skip[ball]
        while len(child):
            next_pose.append(pose)
            next_ball.append(child)
            child = unit.skip[child]
            more = child < end
            pose, child, end = pose[more], child[more], end[more]
        if not next_pose:
            break
        pose, ball = np.concatenate(next_pose), np.concatenate(next_ball)
    return best


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--poses", type=int, default=1_000_000)
    parser.add_argument("--exact", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    rng = np.random.default_rng(told.seed)
    unit_solid, fixed_solid = bumpy(2, (200.0, 150.0, 130.0)), bumpy(1, (400.0, 120.0, 100.0))
    low, high = np.full(3, -750.0), np.full(3, 750.0)
    field_of([(fixed_solid, 0.0)], low, high, 50.0)  # the loops are compiled once
    start = time.process_time()
    field = field_of([(fixed_solid, 0.0)], low, high, step_for(low, high))
    filled = time.process_time() - start
    start = time.process_time()
    unit = probe([Piece("unit", unit_solid)])
    sampled = time.process_time() - start
    turns = Rotation.random(told.poses, random_state=told.seed).as_matrix()
    shifts = rng.uniform(-350.0, 350.0, (told.poses, 3))
    screen(field, unit, turns[:100], shifts[:100], 0.0, CAP_MM)
    start, wall = time.process_time(), time.perf_counter()
    verdict = screen(field, unit, turns, shifts, 0.0, CAP_MM)
    screened, wall = time.process_time() - start, time.perf_counter() - wall
    some = slice(0, min(100_000, told.poses))
    start = time.process_time()
    value = screen(field, unit, turns[some], shifts[some])
    valued = (time.process_time() - start) / len(value)
    few = slice(0, min(4000, told.poses))
    start = time.process_time()
    level = np.concatenate(
        [by_numpy(field, unit, turns[a : a + 1000], shifts[a : a + 1000]) for a in range(0, few.stop, 1000)]
    )
    by_level = (time.process_time() - start) / len(level)

    one, other = body(unit_solid), body(fixed_solid)
    some_poses = [Pose(turns[at], shifts[at]) for at in range(told.exact)]
    start = time.process_time()
    for pose in some_poses:
        gap(one, pose, other, Pose.identity())
    each = (time.process_time() - start) / told.exact
    exact = np.array([signed_mm(one, pose, other)[0] for pose in some_poses])

    points, balls = unit.sizes
    print(
        f"meshes: {len(unit_solid.triangles[1])} and {len(fixed_solid.triangles[1])} triangles"
        f"; {points} points, {balls} balls"
    )
    print(
        f"grid:   {field.values.size / 1e6:.1f} million nodes of {field.step_mm:.1f} mm in {filled:.1f} s"
        f", points in {sampled:.1f} s"
    )
    print(
        f"bound:  {field.near_error_mm:.1f} mm near a skin, {field.error_mm:.1f} mm anywhere"
        f", points {unit.cover_mm:.1f} mm apart"
    )
    print()
    print(f"{'':44}{'poses a second':>16}{'microseconds':>14}")
    rows = (
        ("exact distance, python-fcl", each),
        ("tree of balls level by level, numpy", by_level),
        ("screened, hit or clear by 30 mm", screened / told.poses),
        ("screened, every value to the end", valued),
    )
    for words, cost in rows:
        print(f"{words:44}{1.0 / cost:16,.0f}{1e6 * cost:14.2f}")
    print()
    print(
        f"{told.poses:,} poses: {screened:.1f} s of processor, {screened / 2.0:.1f} s on two"
        f"; {wall:.1f} s by the clock here"
    )
    print(f"screened against exact: {each / (screened / told.poses):,.0f} times the poses a second")
    print(f"every value against exact: {each / valued:,.0f} times")
    print(f"compiled against numpy: {by_level / (screened / told.poses):,.0f} times")

    values = value[: told.exact]
    if len(values) < told.exact:
        values = screen(field, unit, turns[: told.exact], shifts[: told.exact])
    bound = field.bound_mm(values)
    hit = exact < 0.0
    sure = (values > bound + unit.cover_mm) | (values < -bound)
    wrong = int(np.sum((values < 0.0)[sure] != hit[sure]))
    near = np.abs(values) < 30.0
    outside = int(np.sum((exact > values + bound) | (exact < values - bound - unit.cover_mm)))
    print()
    print(f"{told.exact} exact poses: {int(hit.sum())} hit; signs sure {int(sure.sum())}, of them wrong {wrong}")
    print(f"values outside the stated bound: {outside}")
    print(
        f"screened less exact within 30 mm: {np.mean((values - exact)[near]):+.2f} mm"
        f", spread {np.std((values - exact)[near]):.2f}"
    )
    print(f"verdicts of the fast run and of every value differ: {int(np.sum((verdict[some] < 0.0) != (value < 0.0)))}")


if __name__ == "__main__":
    main()
