"""Ledger and scales put together: two tellings of one car in, the better one and their disagreement out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from halfshaft.weights.moments import Moments, Stance, axle_rows

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Reconciled:
    """`best` weighs both by their spreads. `missing_kg`: scales less ledger, in all, front and rear, each ± its spread.

    `chance` is how often spreads as stated would make them differ so much or more.
    """

    best: Moments
    missing_kg: Array  # (3,)
    missing_spread_kg: Array  # (3,)
    chance: float


def reconcile(ledger: Moments, scales: Moments, seen: Sequence[int], stance: Stance) -> Reconciled:
    """Least squares weighed by both covariances; `seen` are the moments that the scales tell.

    What the scales do not see (the height, without a tilt) is the ledger's, moved along with what they do by its
    correlation. The measurement update of a linear least squares estimate, any textbook of estimation.
    """
    rows = np.asarray(list(seen), dtype=int)
    gap = scales.values[rows] - ledger.values[rows]
    # one scale of each moment, or kilograms and kilogram millimetres would spoil the solving
    size = np.sqrt(np.maximum(np.diag(ledger.covariance + scales.covariance)[rows], 1e-12))
    both = (ledger.covariance + scales.covariance)[np.ix_(rows, rows)] / np.outer(size, size)
    inverse = np.linalg.pinv(both, rcond=1e-12, hermitian=True) / np.outer(size, size)
    gain = ledger.covariance[:, rows] @ inverse
    best = ledger.values + gain @ gap
    keep = np.eye(len(best))
    keep[:, rows] -= gain
    heard = scales.covariance[np.ix_(rows, rows)]
    covariance = keep @ ledger.covariance @ keep.T + gain @ heard @ gain.T
    away = np.array([np.eye(len(best))[0], *axle_rows(stance)])
    missing = away @ (scales.values - ledger.values)
    spread = np.sqrt(np.maximum(np.diag(away @ (ledger.covariance + scales.covariance) @ away.T), 0.0))
    chance = float(chdtrc(len(rows), max(float(gap @ inverse @ gap), 0.0)))  # upper tail of chi-square
    return Reconciled(Moments(best, covariance), missing, spread, chance)
