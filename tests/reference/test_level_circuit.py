"""Level circuits worked by hand in print.

First source: J. Mahun, Open Access Surveying Library, Least Squares Lite (jerrymahun.com): chapter B section 2
(differences and residuals of the plain means), chapter E section 4 (set-ups, and both adjustments with their spreads).
Four bench marks A to D, new points Q and R, differences in feet, printed to a thousandth.

The heights of the bench marks stand in a figure; here they come from the printed residuals of chapter B: the height
that each line brings to Q is the mean less its residual, and a bench mark is that height less the difference. The mean
height of Q, 815.415 ft, is the value that makes every bench mark a whole hundredth. The source rounds on the way, so
its last digit is met within one.

Second source: C. D. Ghilani and P. R. Wolf, Adjustment Computations, 4th edition, 2006, sections 12.3 and 12.4: one
circuit with equal weights and with weights by length. Numbers from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.measure.adjust import Adjustment, adjust
from halfshaft.measure.system import Equation, Network, State, assemble

# Chapter B: lines to Q and R, and the residuals (mean less height by that line) printed beside them.
TO_Q = {"A": 8.91, "B": -2.92, "C": -4.67, "D": -8.66}
TO_R = {"A": -3.56, "C": -17.12, "D": -21.10}
OFF_Q = {"A": -0.015, "B": 0.015, "C": -0.035, "D": 0.035}
OFF_R = {"A": 0.007, "C": -0.033, "D": 0.027}
Q_TO_R = -12.47
# Chapter E: set-ups of each line; weight is one over the set-ups.
SETUPS = {"AQ": 3, "BQ": 2, "CQ": 1, "DQ": 3, "AR": 3, "CR": 4, "DR": 2, "QR": 3}
MEAN_Q = 815.415
MARKS = {k: MEAN_Q - OFF_Q[k] - TO_Q[k] for k in TO_Q}
FOOT = 304.8


def _levels(
    marks: dict[str, float], new: list[str], lines: list[tuple[str, str, float, float]]
) -> tuple[Network, State]:
    """A level circuit in feet as a network: `lines` are from, to, rise and spread."""
    names = [*marks, *new]
    at = {n: i for i, n in enumerate(names)}
    equations = [
        Equation(row, 0, "rise", (at[a], at[b]), (), 0, value * FOOT, sigma * FOOT, "mm")
        for row, (a, b, value, sigma) in enumerate(lines)
    ]
    for name, height in marks.items():
        equations.append(Equation(len(equations), 0, "height", (at[name],), (), 0, height * FOOT, 1e-6 * FOOT, "mm"))
    # Level circuits know no plan: every point is told where it stands.
    plan = np.array([[1e4 * (i + 1), 1e4 * (i + 1) * (1 + i)] for i in range(len(names))])
    for i in range(len(names)):
        for kind, spot in zip(("station", "offset"), plan[i], strict=True):
            equations.append(Equation(len(equations), 0, kind, (i,), (), 0, float(spot), 1.0, "mm"))
    network = assemble(["car"], 0, names, [0] * len(names), [], [], equations)
    spots = np.column_stack([plan, np.full(len(names), 100.0 * FOOT)])
    return network, State(spots, np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)))


def _circuit(weighted: bool) -> tuple[Network, State]:
    lines = [(k, "Q", v) for k, v in TO_Q.items()] + [(k, "R", v) for k, v in TO_R.items()] + [("Q", "R", Q_TO_R)]
    spread = [float(np.sqrt(SETUPS[a + b])) if weighted else 1.0 for a, b, _ in lines]
    return _levels(MARKS, ["Q", "R"], [(*line, s) for line, s in zip(lines, spread, strict=True)])


def _heights(adjustment: Adjustment) -> tuple[dict[str, float], dict[str, float], float]:
    """Heights, spreads (scaled by the a posteriori unit weight, as the source does) and that unit weight, in feet."""
    network = adjustment.network
    unit = float(np.sqrt(adjustment.chi2 / adjustment.degrees_of_freedom))
    high = {n: float(adjustment.state.points_mm[i, 2]) / FOOT for i, n in enumerate(network.point_names)}
    spread = np.sqrt(np.diag(adjustment.covariance)) / FOOT * unit
    return high, {n: float(spread[3 * i + 2]) for i, n in enumerate(network.point_names)}, unit


def test_the_bench_marks_agree_with_the_printed_residuals_at_r() -> None:
    """Heights drawn from the lines to Q give the residuals printed for R: the reading of the source is sound."""
    by_line = {k: MARKS[k] + TO_R[k] for k in TO_R}
    mean = sum(by_line.values()) / 3.0
    for k, off in OFF_R.items():
        assert mean - by_line[k] == pytest.approx(off, abs=5.1e-4)
    for height in MARKS.values():
        assert round(100.0 * height, 6) == pytest.approx(round(100.0 * height))


# Chapter E, 'Comparison of Unweighted and Weighted Adjustment': heights, their spreads, and So.
@pytest.mark.parametrize(
    ("weighted", "q", "q_spread", "r", "r_spread", "unit"),
    [(False, 815.418, 0.013, 802.962, 0.014, 0.028), (True, 815.424, 0.012, 802.958, 0.016, 0.067)],
)
def test_heights_and_spreads_are_the_printed_ones(
    weighted: bool, q: float, q_spread: float, r: float, r_spread: float, unit: float
) -> None:
    network, state = _circuit(weighted)
    high, spread, found = _heights(adjust(network, state, None, np.ones(len(network.equations), dtype=bool)))
    assert high["Q"] == pytest.approx(q, abs=0.0015)
    assert high["R"] == pytest.approx(r, abs=0.0015)
    assert spread["Q"] == pytest.approx(q_spread, abs=0.0015)
    assert spread["R"] == pytest.approx(r_spread, abs=0.0015)
    # The source scales its weights by twelve, the least whole numbers.
    assert found * (np.sqrt(12.0) if weighted else 1.0) == pytest.approx(unit, abs=0.0015)


# Lines of the second circuit in feet, with their lengths in miles; bench marks X 100.00 and Y 107.50.
LINES = [
    ("X", "A", 5.10, 4),
    ("A", "Y", 2.34, 3),
    ("Y", "C", -1.25, 2),
    ("C", "X", -6.13, 3),
    ("A", "B", -0.68, 2),
    ("Y", "B", -3.00, 2),
    ("B", "C", 1.70, 2),
]


@pytest.mark.parametrize(
    ("weighted", "heights", "unit"),
    [
        (False, {"A": 105.141, "B": 104.483, "C": 106.188}, 0.050),
        (True, {"A": 105.150, "B": 104.489, "C": 106.197}, 0.107),
    ],
)
def test_a_textbook_circuit_comes_out_to_the_printed_digits(
    weighted: bool, heights: dict[str, float], unit: float
) -> None:
    marks = {"X": 100.00, "Y": 107.50}
    # Weights are 12 over the miles.
    lines = [(a, b, v, np.sqrt(miles / 12.0) if weighted else 1.0) for a, b, v, miles in LINES]
    network, state = _levels(marks, ["A", "B", "C"], lines)
    high, _, found = _heights(adjust(network, state, None, np.ones(len(network.equations), dtype=bool)))
    assert {n: round(high[n], 3) for n in heights} == heights
    assert round(found, 3) == unit
