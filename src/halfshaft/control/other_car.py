"""How another car of a kind differs from the first: points in, the covariance of theirs out; and how a tape sees it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def other_car(xyz_mm: Array, between_mm: float, local_mm: float, together_mm: float) -> Array:
    """Covariance (3n, 3n) of what cars of a kind differ by at points (n, 3).

    Near points lie off together, by one spread `between_mm` within `together_mm`; each a little by itself, `local_mm`.
    """
    apart = np.linalg.norm(xyz_mm[:, None] - xyz_mm[None, :], axis=2)
    alike = between_mm**2 * np.exp(-0.5 * (apart / together_mm) ** 2) + local_mm**2 * np.eye(len(xyz_mm))
    return np.asarray(np.kron(alike, np.eye(3)))


def tape_row(xyz_mm: Array, pair: tuple[int, int]) -> Array:
    """How a tape between two of the points grows with all of them (3n,)."""
    way = xyz_mm[pair[1]] - xyz_mm[pair[0]]
    way = way / np.linalg.norm(way)
    row = np.zeros(3 * len(xyz_mm))
    row[3 * pair[0] : 3 * pair[0] + 3] = -way
    row[3 * pair[1] : 3 * pair[1] + 3] = way
    return row


def among(xyz_mm: Array) -> Array:
    """Projector (3n, 3n) onto what is no rigid move of all the points together."""
    arms = xyz_mm - xyz_mm.mean(axis=0)
    moves = np.zeros((3 * len(xyz_mm), 6))
    for at, (x, y, z) in enumerate(arms):
        moves[3 * at : 3 * at + 3, :3] = np.eye(3)
        moves[3 * at : 3 * at + 3, 3:] = [[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]]
    u, s, _ = np.linalg.svd(moves, full_matrices=False)
    basis = u[:, s > 1e-9 * s[0]]
    return np.asarray(np.eye(3 * len(xyz_mm)) - basis @ basis.T)
