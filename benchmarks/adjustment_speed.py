"""Adjustment of 200 points by 2,000 readings: ours, with covariance and tests, against a dense scipy least_squares.

Run: python benchmarks/adjustment_speed.py [--seed 1] [--points 200] [--readings 2000]. Prints the times side by side
and their ratio, and how far the two answers are apart. Both start from the same values, a few millimetres off.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from scipy.optimize import least_squares

from halfshaft.measure.adjust import adjust
from halfshaft.measure.system import Equation, Network, State, assemble, jacobian, predict, stepped


def shop(seed: int, points: int, readings: int) -> tuple[Network, State, State]:
    """A ladder frame of `points` with mixed readings at honest spreads: network, truth and a start that is off."""
    rng = np.random.default_rng(seed)
    spots = rng.uniform([-800.0, -500.0, 250.0], [3200.0, 500.0, 900.0], (points, 3))
    truth = State(spots, np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)))
    blank: list[Equation] = []

    def add(kind: str, at: tuple[int, ...], sigma: float) -> None:
        frame = -1 if kind in {"distance", "angle"} else 0
        blank.append(Equation(len(blank), 0, kind, at, (), frame, 0.0, sigma, "deg" if kind == "angle" else "mm"))

    for point in range(points):
        near = rng.permutation(np.argsort(np.linalg.norm(spots - spots[point], axis=1))[1:13])
        for other in near[:5]:
            add("distance", (point, int(other)), 1.0)
        if point % 2:
            add("height", (point,), 1.0)
        if point % 3 == 0:
            add("offset", (point,), 1.5)
        if point % 4 == 0:
            add("station", (point,), 1.5)
    while len(blank) < readings:
        a, b, c = (int(i) for i in rng.choice(points, 3, replace=False))
        add(*(("angle", (a, b, c), 0.3) if rng.random() < 0.1 else ("distance", (a, b), 1.0)))
    blank = blank[:readings]
    names = [f"car.P{i}" for i in range(points)]
    empty = assemble(["car"], 0, names, [0] * points, [], [], blank)
    read = predict(empty, truth) + rng.normal(size=readings) * empty.sigmas
    told = [
        Equation(e.row, 0, e.kind, e.points, (), e.frame, float(v), e.sigma, e.unit)
        for e, v in zip(blank, read, strict=True)
    ]
    network = assemble(["car"], 0, names, [0] * points, [], [], told)
    return network, truth, stepped(network, truth, rng.normal(size=network.size) * 5.0)


def clocks() -> tuple[float, float]:
    """Wall clock and processor time in s: on a busy machine only the second compares."""
    return time.perf_counter(), time.process_time()


def since(begin: tuple[float, float]) -> tuple[float, float]:
    wall, cpu = clocks()
    return wall - begin[0], cpu - begin[1]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--points", type=int, default=200)
    parser.add_argument("--readings", type=int, default=2000)
    told = parser.parse_args()
    network, _, start = shop(told.seed, told.points, told.readings)
    use = np.ones(told.readings, dtype=bool)

    times = []
    for _ in range(3):
        begin = clocks()
        ours = adjust(network, start, None, use)
        times.append(since(begin))
    our_time = min(times)

    def off(delta: np.ndarray) -> np.ndarray:
        return (predict(network, stepped(network, start, delta)) - network.values) / network.sigmas

    def slopes(delta: np.ndarray) -> np.ndarray:
        return np.asarray(jacobian(network, stepped(network, start, delta)).toarray() / network.sigmas[:, None])

    def dense(given: bool) -> tuple[tuple[float, float], np.ndarray, np.ndarray]:
        """Times, spots and spreads: with our analytic slopes handed to it, or with its own differences."""
        begin = clocks()
        found = least_squares(
            off, np.zeros(network.size), jac=slopes if given else "2-point", method="trf", xtol=1e-12, ftol=1e-12
        )
        covariance = np.linalg.inv(found.jac.T @ found.jac)
        spots = stepped(network, start, found.x).points_mm
        return since(begin), spots, np.sqrt(np.diag(covariance))

    given_time, given_spots, given_spread = dense(True)
    plain_time, plain_spots, _ = dense(False)
    spread = np.sqrt(np.diag(ours.covariance))
    print(f"{told.points} points, {told.readings} readings, seed {told.seed}; full covariance in each")
    print(f"{'':44}{'wall s':>10}{'cpu s':>10}{'cpu ratio':>11}")
    for what, (wall, cpu) in (
        ("ours: sparse slopes, redundancy and tests", our_time),
        ("dense scipy least_squares, slopes given", given_time),
        ("dense scipy least_squares, differences", plain_time),
    ):
        print(f"{what:44}{wall:10.3f}{cpu:10.3f}{cpu / our_time[1]:11.1f}")
    print(
        f"apart: {np.max(np.abs(ours.state.points_mm - given_spots)):.2e} mm from the first, "
        f"{np.max(np.abs(ours.state.points_mm - plain_spots)):.2e} mm from the second; "
        f"spreads {np.max(np.abs(spread / given_spread - 1.0)):.1e} of themselves"
    )


if __name__ == "__main__":
    main()
