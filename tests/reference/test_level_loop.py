"""A level loop run both ways, adjusted and printed by GNU Gama 1.5.09.

Source: "Sample 1D vertical least square adjustment", http://www.vrmapper.com/gama/1doutput.html (read in 2026): all
eight readings, adjusted heights to a hundredth of a millimetre, their spreads and confidence intervals to a tenth,
adjusted readings, the sum of squares and the a posteriori unit weight. Every printed digit is met.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.measure.adjust import Adjustment, adjust
from halfshaft.measure.system import Equation, State, assemble

NAMES = ["1a", "2", "3", "4"]
# from, to, read (m), adjusted (m)
READ = [
    ("1a", "4", -1.22500, -1.22488),
    ("4", "3", -0.84800, -0.84187),
    ("3", "2", 1.34200, 1.34163),
    ("2", "1a", 0.72000, 0.72513),
    ("1a", "2", -0.72400, -0.72513),
    ("2", "3", -1.33500, -1.34163),
    ("3", "4", 0.84200, 0.84187),
    ("4", "1a", 1.23100, 1.22488),
]
FIXED_M = 1000.000
HEIGHTS_M = {"4": 998.77513, "3": 997.93325, "2": 999.27487}
SPREADS_MM = {"4": 3.1, "3": 3.5, "2": 3.1}
UNIT_MM, UNIT_AFTER_MM, SQUARES_MM2, FREEDOM = 5.00, 5.42, 146.625, 5


@pytest.fixture(scope="module")
def loop() -> Adjustment:
    at = {name: i for i, name in enumerate(NAMES)}
    equations = [
        Equation(row, 0, "rise", (at[a], at[b]), (), 0, 1000.0 * value, UNIT_MM, "mm")
        for row, (a, b, value, _) in enumerate(READ)
    ]
    equations.append(Equation(len(equations), 0, "height", (0,), (), 0, 1000.0 * FIXED_M, 1e-6, "mm"))
    # a level loop knows no plan: every point is told where it stands
    for i in range(len(NAMES)):
        for kind, value in (("station", 1e4 * i), ("offset", 1e4 * i * i)):
            equations.append(Equation(len(equations), 0, kind, (i,), (), 0, value, 1.0, "mm"))
    network = assemble(["car"], 0, NAMES, [0] * 4, [], [], equations)
    spots = np.array([[1e4 * i, 1e4 * i * i, 1000.0 * FIXED_M] for i in range(4)])
    state = State(spots, np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)))
    return adjust(network, state, None, np.ones(len(equations), dtype=bool))


def test_heights_are_the_printed_ones(loop: Adjustment) -> None:
    found = {name: round(float(loop.state.points_mm[NAMES.index(name), 2]) / 1000.0, 5) for name in HEIGHTS_M}
    assert found == HEIGHTS_M


def test_adjusted_readings_are_the_printed_ones(loop: Adjustment) -> None:
    for (_, _, value, printed), off in zip(READ, loop.residuals, strict=False):
        # half a last digit, and a hair: two of them end in a five
        assert (1000.0 * value - off) / 1000.0 == pytest.approx(printed, abs=5.01e-6)


def test_sum_of_squares_freedom_and_unit_weight_are_the_printed_ones(loop: Adjustment) -> None:
    assert loop.degrees_of_freedom == FREEDOM
    assert loop.chi2 * UNIT_MM**2 == pytest.approx(SQUARES_MM2, abs=5e-4)
    assert round(loop.sigma0 * UNIT_MM, 2) == UNIT_AFTER_MM


def test_spreads_are_the_printed_ones(loop: Adjustment) -> None:
    spread = np.sqrt(np.diag(loop.covariance))
    found = {name: round(float(spread[loop.network.point_at[NAMES.index(name)] + 2]), 1) for name in SPREADS_MM}
    assert found == SPREADS_MM


def test_the_largest_standardised_residual_is_the_printed_one(loop: Adjustment) -> None:
    # "Maximal normalized residual 1.68 ... for observation #6"
    w = np.abs(loop.w[: len(READ)])
    assert int(np.argmax(w)) == 5
    assert round(float(w[5]), 2) == 1.68
