"""Slips that the readings may hide: an adjustment and what was set aside in, how likely each is and what it moves out.

A reading that hardly any other checks may be wrong by far more than its spread and show nothing. For each reading in
use, two stories are weighed by how well they explain the residuals: it is honest, or it slipped by an unknown amount.
The odds of the second are share / (1 - share) times its evidence (evidence.py). With the redundancy r and the
standardised residual w the slip is then normal about w / sqrt(r) spreads of the reading with the spread 1 / sqrt(r),
cut off at the reach of a small slip.

A reading that was set aside may be the honest one of two that contradict each other: then the other is wrong instead.
The odds are those of the two slips in the adjustment of both.
Source of the mean shift model, from memory: W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968; of
weighing slips as hypotheses, from memory: G. E. P. Box and G. C. Tiao, A Bayesian approach to some outlier problems,
Biometrika 55 (1968) 119.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from halfshaft.build import catalogue
from halfshaft.measure.adjust import Adjustment
from halfshaft.measure.contest import contest_of
from halfshaft.measure.evidence import log_evidence
from halfshaft.measure.snoop import Snooped

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

_LEAST_CHANCE = 1e-4  # less is not told
_LEAST_REDUNDANCY = 1e-6  # below it nothing checks the reading
_NOT_CHECKED = 1e-12  # stands for nought
_MOST_EXPONENT = 600.0


@dataclass(frozen=True, eq=False)
class HiddenSlips:
    """k slips that may be there, each with its chance.

    `mean` and `way` (k, n) are of the unknowns: truth less estimate when it is there.

    `mean` is what is expected, `way` one spread of it. `instead` (k,) is the equation set aside that would be honest
    then, or -1. `size` (k,) is the slip expected, in spreads of its reading.
    """

    equations: Ints
    instead: Ints
    chance: Array
    size: Array
    mean: Array
    way: Array


def hidden_slips(snooped: Snooped) -> HiddenSlips:
    """What the readings in use may hide, each reading by itself, and what those set aside may be honest against."""
    adjustment = snooped.adjustment
    parts = [_unseen(adjustment), *(_instead(adjustment, aside.equation) for aside in snooped.aside)]
    return HiddenSlips(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("equations", "instead", "chance", "size", "mean", "way")
        )
    )


def _read(adjustment: Adjustment) -> NDArray[np.bool_]:
    """Equations that a reading taken by hand gives."""
    kinds = [eq.row >= 0 and eq.kind not in ("given", "mirror") for eq in adjustment.network.equations]
    return np.array(kinds, dtype=bool)


def _density(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of the standard normal distribution."""
    return np.asarray(np.exp(-0.5 * x**2) / np.sqrt(2.0 * np.pi))


def _unseen(adjustment: Adjustment) -> HiddenSlips:
    share = float(catalogue.default("measure.slip_share").value)
    reach = float(catalogue.default("measure.slip_reach").value)
    at = np.flatnonzero(adjustment.use & _read(adjustment))
    sigma = adjustment.network.sigmas[at]
    checked = adjustment.redundancy[at] > _LEAST_REDUNDANCY
    redundancy = np.where(checked, adjustment.redundancy[at], _NOT_CHECKED)
    w = np.where(checked, adjustment.w[at], 0.0)
    about, spread = w / np.sqrt(redundancy), 1.0 / np.sqrt(redundancy)
    low, high = (-reach - about) / spread, (reach - about) / spread
    inside = np.maximum(ndtr(high) - ndtr(low), 1e-12)
    odds = share / (1.0 - share) * np.exp(np.minimum(log_evidence(w, redundancy), _MOST_EXPONENT))
    # mean and spread of a normal cut off on both sides; source: N. L. Johnson and S. Kotz, 1970, 13.7, from memory
    edge = (_density(low) - _density(high)) / inside
    lean = (low * _density(low) - high * _density(high)) / inside
    mean = np.clip(about + spread * edge, -reach, reach)
    size = spread * np.sqrt(np.maximum(1.0 + lean - edge**2, 1e-12))
    chance = odds / (1.0 + odds)
    keep = chance > _LEAST_CHANCE
    at, sigma, chance, mean, size = at[keep], sigma[keep], chance[keep], mean[keep], size[keep]
    # one spread of slip in a reading moves the unknowns by Q J' / sigma
    moves = np.asarray(adjustment.jacobian[at] @ adjustment.covariance) / sigma[:, None]
    return HiddenSlips(
        at, np.full(len(at), -1, dtype=np.intp), chance, mean, -moves * mean[:, None], moves * size[:, None]
    )


def _instead(adjustment: Adjustment, aside: int) -> HiddenSlips:
    """Readings in use that may be wrong instead of the one set aside; the spread stays that without either."""
    network, sigma = adjustment.network, adjustment.network.sigmas
    none = np.zeros(0, dtype=np.intp)
    empty = HiddenSlips(none, none, np.zeros(0), np.zeros(0), *np.zeros((2, 0, network.size)))
    if not adjustment.known[aside] or not _read(adjustment)[aside]:
        return empty
    found = contest_of(adjustment, aside)
    at = np.flatnonzero(adjustment.use & _read(adjustment) & (found.w != 0.0) & (np.abs(found.felt) > 0.0))
    odds = np.exp(np.clip(found.log_odds()[at], -_MOST_EXPONENT, _MOST_EXPONENT))
    chance = odds / (1.0 + float(odds.sum()))
    keep = chance > _LEAST_CHANCE
    at, chance = at[keep], chance[keep]
    if len(at) == 0:
        return empty
    size = found.left[at] / found.redundancy[at]
    rows = np.asarray(adjustment.jacobian[at] @ adjustment.covariance)
    rows = rows - np.outer(found.felt[at] * sigma[at] / found.variance, found.moved)
    mean = found.moved * (found.slip / found.variance) - rows * (size / sigma[at])[:, None]
    return HiddenSlips(at, np.full(len(at), aside, dtype=np.intp), chance, size, mean, np.zeros_like(mean))
