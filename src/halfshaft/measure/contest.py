"""One equation set aside, taken back in thought: an adjustment and the equation in, how all the others then stand out.

Of two readings that contradict each other, snooping sets one aside; with it taken back, w and redundancy of both tell
which of them had better gone. Formulas: an observation added to a least squares estimate, as in next_best.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.measure.adjust import Adjustment
from halfshaft.measure.evidence import log_evidence

Array = NDArray[np.float64]

_LEAST_REDUNDANCY = 1e-6  # below it nothing checks the reading


@dataclass(frozen=True, eq=False)
class Contest:
    """The adjustment with the equation `aside` in it, to first order.

    `moved` (n,) is Q j of the one set aside, `variance` s^2 + j Q j', `slip` its value less what the others say. `felt`
    (m,) is J Q j in spreads of each equation. `left` (m,) are residuals in spreads, `redundancy` (m,) and `w` (m,) are
    as they stand with it in, nought for equations that are not in use or stay unchecked; `own_w` and `own_redundancy`
    are those of the one set aside.
    """

    aside: int
    moved: Array
    variance: float
    slip: float
    felt: Array
    left: Array
    redundancy: Array
    w: Array
    own_w: float
    own_redundancy: float

    def log_odds(self) -> Array:
        """Log of the odds (m,) that each of the others slipped and not the one set aside; -inf where w is nought."""
        out = np.full(len(self.w), -np.inf)
        at = np.flatnonzero(self.w)
        own = log_evidence(np.array([self.own_w]), np.array([self.own_redundancy]))[0]
        out[at] = log_evidence(self.w[at], self.redundancy[at]) - own
        return out


def contest_of(adjustment: Adjustment, aside: int) -> Contest:
    """How the equations in use would stand with `aside`, not in use, among them. Its unknowns must have taken part."""
    jacobian, sigma = adjustment.jacobian, adjustment.network.sigmas
    moved = np.asarray(adjustment.covariance @ jacobian[aside].toarray().ravel())
    touched = np.asarray(jacobian @ moved)
    variance = float(sigma[aside] ** 2 + touched[aside])
    slip = float(adjustment.residuals[aside])
    felt = touched / sigma
    redundancy = np.where(adjustment.use, adjustment.redundancy + felt**2 / variance, 0.0)
    left = np.where(adjustment.use, adjustment.residuals / sigma - felt * slip / variance, 0.0)
    checked = redundancy > _LEAST_REDUNDANCY
    w = np.where(checked, left / np.sqrt(np.where(checked, redundancy, 1.0)), 0.0)
    own = float(sigma[aside] ** 2 / variance)
    return Contest(aside, moved, variance, slip, felt, left, redundancy, w, slip / float(np.sqrt(variance)), own)
