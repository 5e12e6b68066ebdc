"""How spreads of readings go through a formula, to first order. A function and readings in, its slope out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def slope(formula: Callable[[Array], Array], at: Array) -> Array:
    """Jacobian (m, n) of `formula` (n,) -> (m,) by central differences of a hundred-thousandth of each reading."""
    columns = []
    for number, value in enumerate(at):
        step = 1e-5 * max(abs(float(value)), 1.0)
        over, under = at.copy(), at.copy()
        over[number] += step
        under[number] -= step
        columns.append((np.atleast_1d(formula(over)) - np.atleast_1d(formula(under))) / (2.0 * step))
    return np.stack(columns, axis=1)


def through(formula: Callable[[Array], Array], at: Array, spreads: Array) -> Array:
    """Covariance (m, m) of what the formula gives, for independent readings of these spreads."""
    rows = slope(formula, at) * spreads
    return np.asarray(rows @ rows.T)
