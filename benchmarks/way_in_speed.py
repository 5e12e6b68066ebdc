"""Clearances along a way in: a grid asked first, pairs told apart by boxes, exact distances of all meshes at once.

Run: python benchmarks/way_in_speed.py [--poses 2000] [--seed 1]. The demonstration's unit about its place and under it.
Prints processor time a pose side by side and its ratio, how often the grid's word is enough, and whether any way ever
says more than the exact distance.
"""

from __future__ import annotations

import argparse
import time
from importlib.resources import files
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from halfshaft.build import load
from halfshaft.fitup.collide import around
from halfshaft.fitup.model import middle_of
from halfshaft.fitup.roughly import field_about, roughly
from halfshaft.fitup.scene import scene_of
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import moved
from halfshaft.geometry.nearest import gap
from halfshaft.measure import measure

TRUST_MM = 6.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--poses", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    demo = Path(str(files("halfshaft.demo")))
    build = load(demo)
    scene, _, _ = scene_of(build, measure(build), demo)
    assert scene is not None
    middle = middle_of(scene.unit.pieces)
    solids = [moved(p.solid, Pose(np.eye(3), -middle)) for p in scene.unit.pieces if not p.comes_off]
    about = around(solids, [fixed.solid for fixed in scene.fixed])
    assert about.fixed is not None
    home = scene.bounds.begin.apply(middle)
    rng = np.random.default_rng(told.seed)
    # turned a little, from the place down to under the frame: where a way in looks most
    turns = Rotation.from_rotvec(rng.normal(0.0, 0.15, (told.poses, 3))).as_matrix() @ scene.bounds.begin.rotation
    shifts = home + rng.normal(0.0, 25.0, (told.poses, 3)) - np.outer(rng.uniform(0.0, 500.0, told.poses), [0, 0, 1])
    poses = [Pose(r, t) for r, t in zip(turns, shifts, strict=True)]

    start = time.process_time()
    reach = 1.5 * about.radius_mm
    first = roughly(about.body.solid, field_about([f.solid for f in scene.fixed], home - reach, home + reach))
    ready = time.process_time() - start
    first.least_mm(poses[:5])
    start = time.process_time()
    grid = np.concatenate([first.least_mm([pose]) for pose in poses])
    by_grid = (time.process_time() - start) / told.poses
    start = time.process_time()
    pairs = np.array([about.gap(pose).distance_mm for pose in poses])
    by_pairs = (time.process_time() - start) / told.poses
    start = time.process_time()
    exact = np.array([gap(about.body, pose, about.fixed, Pose.identity()).distance_mm for pose in poses])
    by_all = (time.process_time() - start) / told.poses

    enough = float(np.mean(grid > TRUST_MM))
    both = by_grid + (1.0 - enough) * by_pairs
    print(
        f"{len(about.body.triangles)} triangles against {len(about.fixed.triangles)}; grid and points in {ready:.1f} s"
    )
    rows = (
        ("all meshes at once, python-fcl", by_all),
        ("pairs told apart by boxes", by_pairs),
        ("the grid alone", by_grid),
        (f"the grid first, enough at {100 * enough:.0f} % of poses", both),
    )
    print(f"{'':44}{'microseconds':>14}{'times':>8}")
    for words, cost in rows:
        print(f"{words:44}{1e6 * cost:14.0f}{by_all / cost:8.1f}")
    print(f"poses where the grid says more than is clear: {int(np.sum(grid > exact + 1e-6))}")
    print(f"greatest difference between pairs and all at once: {np.abs(pairs - exact).max():.1e} mm")


if __name__ == "__main__":
    main()
