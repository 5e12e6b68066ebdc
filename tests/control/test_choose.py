"""Which tapes tell most of another car: against the information form of least squares, and laws of covariances."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.control.choose import chosen
from halfshaft.control.other_car import among, other_car, tape_row

SPOTS = np.array(
    [[0, 400, 500], [310, 420, 480], [15, -400, 505], [600, -410, 470], [-300, 80, 540], [250, 30, 300]], dtype=float
)
PAIRS = list(combinations(range(len(SPOTS)), 2))
SPREADS = {pair: 0.7 + 0.1 * number for number, pair in enumerate(PAIRS)}


def left_by(pairs: list[tuple[int, int]], covariance: np.ndarray) -> float:
    """What tapes leave of the spread among the points: information adds, (S^-1 + J' R^-1 J)^-1."""
    free = among(SPOTS)
    information = np.linalg.inv(covariance)
    for pair in pairs:
        row = tape_row(SPOTS, pair)
        information = information + np.outer(row, row) / SPREADS[pair] ** 2
    return float(np.trace(free @ np.linalg.inv(information) @ free))


def test_each_tape_is_the_one_that_leaves_least() -> None:
    covariance = other_car(SPOTS, 3.0, 0.8, 400.0)
    taken: list[tuple[int, int]] = []
    for most in (1, 2, 3):
        best = min((p for p in PAIRS if p not in taken), key=lambda p: left_by([*taken, p], covariance))
        taken.append(best)
        picked, share = chosen(SPOTS, covariance, SPREADS, 0.999, most)
        assert picked == sorted(taken)
        assert share == pytest.approx(1.0 - left_by(taken, covariance) / left_by([], covariance), abs=1e-9)


def test_no_more_is_asked_than_is_wanted() -> None:
    covariance = other_car(SPOTS, 3.0, 0.8, 400.0)
    few, share = chosen(SPOTS, covariance, SPREADS, 0.5, 15)
    assert share >= 0.5
    assert chosen(SPOTS, covariance, SPREADS, 0.5, len(few) - 1)[1] < 0.5


@settings(max_examples=25, deadline=None)
@given(st.floats(0.5, 9.0), st.floats(0.1, 3.0), st.floats(50.0, 2000.0))
def test_cars_of_a_kind_differ_by_a_covariance(between: float, local: float, together: float) -> None:
    covariance = other_car(SPOTS, between, local, together)
    assert np.allclose(covariance, covariance.T)
    assert np.linalg.eigvalsh(covariance)[0] >= 0.99 * local**2
    assert np.allclose(np.diag(covariance), between**2 + local**2)
    # of two points, what they lie off together takes nothing from their distance as they come close
    near = other_car(np.array([[0.0, 0.0, 0.0], [1e-6 * together, 0.0, 0.0]]), between, local, together)
    row = np.array([-1.0, 0.0, 0.0, 1.0, 0.0, 0.0])
    assert row @ near @ row == pytest.approx(2.0 * local**2, rel=1e-6)


def test_a_tape_grows_with_its_points_as_pythagoras_says() -> None:
    step = np.random.default_rng(3).normal(0.0, 1e-4, SPOTS.shape)
    for pair in PAIRS:
        i, j = pair
        before, after = (np.linalg.norm(spots[j] - spots[i]) for spots in (SPOTS, SPOTS + step))
        assert tape_row(SPOTS, pair) @ step.ravel() == pytest.approx(after - before, abs=1e-9)
