"""Chance of fit of a bracket of four panels and eight holes: ours against a scipy programme solved for each sample.

Run: python benchmarks/fit_speed.py [--seed 1] [--samples 10000] [--reference 200]. Prints the time of the whole call
with and without remedies, the time a sample of both ways and their ratio, and on how many samples the two disagree.
The reference is scipy's linprog (HiGHS) with each disc as a polygon of 64 sides round it. Times are
processor times; set OMP_NUM_THREADS=1 for one core.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from scipy.optimize import linprog

from halfshaft.build import Build
from halfshaft.fold.fit import chance_of_fit
from halfshaft.fold.fit_samples import misfit_of
from halfshaft.fold.model import Bracket, Fold, Hole, Panel
from halfshaft.fold.placement import Play, placeable
from halfshaft.fold.slab import figure, fold_pose
from halfshaft.geometry import Contour, Plane, Pose
from halfshaft.measure.model import FaceEstimate, GlobalTest, Measured, PointEstimate


def chain() -> Bracket:
    """Four plates in a row, folded up 80, down 55 and up 70 degrees, two M12 holes each, on car and unit."""
    panels: dict[str, Panel] = {}
    folds: list[Fold] = []
    for i, (angle, up) in enumerate(((0.0, True), (80.0, True), (55.0, False), (70.0, True))):
        body = ("car", "unit")[i // 2]
        holes = tuple(
            Hole(f"p{i}.{k}", f"{body}.P{i}{k}", np.array([40.0, y]), 14.5, "M12", 12.0, 13.5, washer_mm=24.0)
            for k, y in enumerate((-35.0, 35.0))
        )
        outline = Contour.of_points([(0, -60), (80, -60), (80, 60), (0, 60)])
        plate = Panel(f"p{i}", Pose.identity(), 5.0, outline, (), holes, "under", f"{body}.F{i}")
        if i:
            above = panels[f"p{i - 1}"]
            ends = (np.array([[80.0, -60.0], [80.0, 60.0]]), np.array([[0.0, -60.0], [0.0, 60.0]]))
            fold = Fold(f"f{i}", above.name, plate.name, "slit", angle, up, *ends, 0.0, -1.0, 1.0, 0.0, 1.5)
            folds.append(fold)
            pose = above.pose.after(fold_pose(fold, 5.0, figure(above)))
            plate = Panel(plate.name, pose, 5.0, outline, (), holes, "under", plate.face)
        panels[plate.name] = plate
    return Bracket("chain", "plate", 5.0, panels, tuple(folds), (), 1.0)


def measured_with(bracket: Bracket, point_mm: float, tilt_rad: float) -> Measured:
    points, faces, where, vector, blocks = {}, {}, {}, [], []
    for panel in bracket.panels.values():
        for hole in panel.holes:
            at = panel.pose.apply(np.append(hole.centre_mm, 0.0))
            where[hole.point] = slice(len(vector), len(vector) + 3)
            vector += list(at)
            blocks.append(point_mm**2 * np.eye(3))
            points[hole.point] = PointEstimate(hole.point, hole.point.split(".")[0], at, blocks[-1])
        normal, middle = panel.pose.rotation[:, 2], panel.pose.apply(np.array([40.0, 0.0, 0.0]))
        where[panel.face] = slice(len(vector), len(vector) + 4)
        vector += [*normal, float(normal @ middle)]
        across = [np.append(tilt_rad * w, tilt_rad * float(w @ middle)) for w in panel.pose.rotation[:, :2].T]
        block = sum(np.outer(c, c) for c in across) + np.diag([0.0, 0.0, 0.0, 0.2**2])
        blocks.append(block)
        faces[panel.face] = FaceEstimate(
            panel.face, panel.face.split(".")[0], Plane(normal, vector[-1]), middle, block, ()
        )
    covariance = np.zeros((len(vector), len(vector)))
    for part, block in zip(where.values(), blocks, strict=True):
        covariance[part, part] = block
    test = GlobalTest(0, 0.0, 0.0, 0.0, 1.0)
    return Measured(points, faces, {}, np.array(vector), covariance, where, (), (), (), test)


def by_programme(play: Play, misfit: np.ndarray, sides: int = 64) -> float:
    """Least worst violation in mm, a little low since the polygons lie round the discs."""
    h, m = play.holes, play.rows.shape[1]
    angles = 2.0 * np.pi * np.arange(sides) / sides
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    limits, values = [], []
    for i in range(h):
        limits.append(np.column_stack([ways @ play.rows[2 * i : 2 * i + 2], -np.ones(sides)]))
        values.append(play.clear_mm[i] + play.half_slot_mm[i] * np.abs(ways[:, 0]) - ways @ misfit[2 * i : 2 * i + 2])
    gaps, off = play.rows[2 * h :], misfit[2 * h :]
    for sign in (1.0, -1.0):
        limits.append(np.column_stack([sign * gaps, -np.ones(len(gaps))]))
        values.append(play.half_gap_mm - sign * off)
    free = [(None, None)] * (m + 1)
    return float(linprog(np.eye(m + 1)[m], np.vstack(limits), np.concatenate(values), bounds=free).fun)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--samples", type=int, default=10_000)
    ask.add_argument("--reference", type=int, default=200)
    given = ask.parse_args()
    bracket = chain()
    print(f"{given.samples} samples, {len(bracket.panels)} panels, 8 holes, seed {given.seed}")
    print("point mm  chance   call s  with remedies s  ours us  linprog us  ratio  disagree")
    for spread in (0.2, 0.4, 0.6, 0.9):
        measured = measured_with(bracket, spread, 0.004)
        build = Build.model_validate(
            {
                "build": {"name": "speed"},
                "shop": {"pull_up": "0.8 mm", "fold_spread": "0.4 deg", "cut_spread": "0.2 mm"},
                "sheet": {"plate": {"thickness": "5 mm"}},
                "bracket": {"chain": {"sheet": "plate", "panel": {name: {} for name in bracket.panels}}},
            }
        )
        start = time.process_time()
        chance = chance_of_fit(build, measured, bracket, given.samples, given.seed, propose=False)
        plain = time.process_time() - start
        start = time.process_time()
        chance_of_fit(build, measured, bracket, given.samples, given.seed)
        proposed = time.process_time() - start
        misfit = misfit_of(build, measured, bracket)
        draws = misfit.draw(np.random.default_rng(given.seed), given.samples)
        start = time.process_time()
        verdict = placeable(misfit.play, draws)
        ours = (time.process_time() - start) / given.samples
        start = time.process_time()
        worst = np.array([by_programme(misfit.play, one) for one in draws[: given.reference]])
        theirs = (time.process_time() - start) / given.reference
        wrong = int(np.sum((worst < 0.0) != verdict.fits[: given.reference]))
        print(
            f"{spread:8.1f}  {chance.passes:6.3f}  {plain:7.3f}  {proposed:15.3f}  {1e6 * ours:7.1f}"
            f"  {1e6 * theirs:10.0f}  {theirs / ours:5.0f}  {wrong}/{given.reference}"
        )


if __name__ == "__main__":
    main()
