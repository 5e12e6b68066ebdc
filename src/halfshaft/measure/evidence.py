"""How much better a slip explains a reading than its spread does: w and redundancy in, the log of the evidence out.

A reading of redundancy r whose standardised residual is w is best explained by a slip of w / sqrt(r) of its spreads,
and then only as well as that size was to be expected: with sizes up to W alike likely the evidence is

    E(W) = exp(w^2 / 2) / (2 W) * integral over -W .. W of exp(-(s - w / sqrt(r))^2 r / 2) ds.

It is one where nothing checks the reading. Half the slips are thought small, half large (measure.slip_reach, slip_far).
Source of weighing hypotheses by such integrals, from memory: H. Jeffreys, Theory of Probability, 1961, chapter V.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from halfshaft.build import catalogue

Array = NDArray[np.float64]


def log_evidence(w: Array, redundancy: Array) -> Array:
    """Log of the evidence of a slip in readings of these w and redundancies, which must be above nought."""
    near, far = (float(catalogue.default(f"measure.slip_{key}").value) for key in ("reach", "far"))
    return np.asarray(np.logaddexp(_uniform(w, redundancy, near), _uniform(w, redundancy, far)) - np.log(2.0))


def _uniform(w: Array, redundancy: Array, reach: float) -> Array:
    root = np.sqrt(redundancy)
    about = np.abs(w)
    # both tails on the side where they are small, so that nothing is lost far out
    high, low = log_ndtr(reach * root - about), log_ndtr(-reach * root - about)
    inside = high + np.log1p(-np.exp(np.minimum(low - high, -1e-12)))
    return np.asarray(w**2 / 2.0 + 0.5 * np.log(2.0 * np.pi) - np.log(2.0 * reach * root) + inside)
