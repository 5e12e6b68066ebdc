"""Pressures of seats against a solver of least squares with bounds that knows nothing of them (scipy's NNLS)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import nnls

from halfshaft.mounts.contact import Give, pressed, settled, spread


def problem(seed: int, spots: int = 40, shapes: int = 9) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    draw = np.random.default_rng(seed)
    return draw.normal(size=spots), draw.normal(size=(spots, shapes)), draw.uniform(0.2, 2.0, spots)


def by_least_squares(gap: np.ndarray, whole: np.ndarray) -> np.ndarray:
    root = np.linalg.cholesky(whole)
    return nnls(root.T, np.linalg.solve(root, -gap), maxiter=10_000)[0]


@given(st.integers(0, 10_000))
def test_pressures_are_those_of_bounded_least_squares(seed: int) -> None:
    gap, shapes, give = problem(seed)
    expected = by_least_squares(gap, shapes @ shapes.T + np.diag(give))
    np.testing.assert_allclose(pressed(gap, shapes, give), expected, atol=1e-7)


@given(st.integers(0, 10_000))
def test_a_give_known_at_few_spots_still_leads_to_the_same_pressures(seed: int) -> None:
    draw = np.random.default_rng(seed)
    whole = draw.normal(size=(40, 40))
    whole = whole @ whole.T / 40.0 + 0.1 * np.eye(40)
    gap, give = draw.normal(size=40), draw.uniform(0.5, 2.0, 40)
    picked = np.arange(0, 40, 5)
    pattern = np.eye(40)[:, picked]
    known = Give.of(pattern, whole @ pattern)
    found, _ = settled(gap, known, give, lambda p: whole @ p, 1e-9)
    np.testing.assert_allclose(found, by_least_squares(gap, whole + np.diag(give)), atol=1e-6)


def test_what_lifts_off_everywhere_presses_nowhere() -> None:
    gap, shapes, give = problem(1)
    assert not pressed(np.abs(gap), shapes, give).any()


def test_a_give_learns_from_what_was_worked() -> None:
    _, shapes, _ = problem(2, shapes=40)
    whole = shapes @ shapes.T
    pattern = np.eye(40)[:, :3]
    known = Give.of(pattern, whole @ pattern)
    new = np.linspace(0.0, 1.0, 40)
    known.more(new, whole @ new)
    np.testing.assert_allclose(known.shapes @ (known.shapes.T @ new), whole @ new, atol=1e-8)


def test_spots_are_spread() -> None:
    line = np.column_stack([np.arange(101.0), np.zeros(101), np.zeros(101)])
    assert sorted(line[spread(line, 3), 0]) == pytest.approx([0.0, 50.0, 100.0])
