"""Least misfit that slips cannot pull: a network and a state in, the state where most readings agree out.

Each reading costs r^2 / (r^2 + c^2) with r in spreads, so that a slip costs at most one.
Source: S. Geman and D. E. McClure, Statistical methods for tomographic image reconstruction, 1987; reweighted least
squares after P. W. Holland and R. E. Welsch, Communications in Statistics A6, 1977. From memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse import diags

from halfshaft.measure.system import Network, State, predict, predict_and_jacobian, stepped

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

LIMIT = 4.0  # spreads at which a reading costs half of what a slip does


def misfits(network: Network, state: State) -> Array:
    """Residuals (m,) in spreads."""
    return np.asarray((network.values - predict(network, state)) / network.sigmas)


def costs(off: Array, limit: float = LIMIT) -> Array:
    """Cost of each misfit, 0 to 1."""
    square = off**2
    return np.asarray(square / (square + limit**2))


def cost_of(network: Network, state: State, use: Bools, limit: float = LIMIT) -> float:
    off = (network.values - predict(network, state, use)) / network.sigmas
    return float(costs(off[use], limit).sum())


def settled(
    network: Network,
    state: State,
    use: Bools,
    columns: Bools,
    limits: tuple[float, ...] = (60.0, 25.0, 10.0, LIMIT),
    most: int = 12,
) -> State:
    """The state of least robust cost near the given one; only unknowns in `columns` (n,) move."""
    moving = np.flatnonzero(columns)
    rows = np.flatnonzero(use)
    if len(moving) == 0 or len(rows) == 0:
        return state
    sigma = network.sigmas[rows]
    damping = 1e-3
    for limit in limits:
        cost = cost_of(network, state, use, limit)
        for _ in range(most):
            read, slopes = predict_and_jacobian(network, state, use)
            off = (network.values - read)[rows] / sigma
            root = limit**2 / (limit**2 + off**2)
            weighted = diags(root / sigma) @ slopes[rows][:, moving]
            matrix = (weighted.T @ weighted).toarray()
            gradient = weighted.T @ (root * off)
            scale = np.diag(matrix).copy()
            floor = 1e-9 * max(float(scale.max(initial=0.0)), 1e-12)
            better = False
            for _ in range(8):
                damped = matrix.copy()
                damped[np.diag_indices_from(damped)] += damping * scale + floor
                try:
                    short = cho_solve(cho_factor(damped, lower=True, check_finite=False), gradient, check_finite=False)
                except np.linalg.LinAlgError:
                    damping = max(10.0 * damping, 1e-6)
                    continue
                delta = np.zeros(network.size)
                delta[moving] = short
                trial = stepped(network, state, delta)
                trial_cost = cost_of(network, trial, use, limit)
                if np.isfinite(trial_cost) and trial_cost < cost:
                    better = True
                    break
                damping = 8.0 * damping + 1e-9
            if not better:
                damping = 1e-3
                break
            gained = cost - trial_cost
            state, cost = trial, trial_cost
            damping = max(damping / 10.0, 1e-12)
            if gained < 1e-4 * max(cost, 0.1):
                break
    return state
