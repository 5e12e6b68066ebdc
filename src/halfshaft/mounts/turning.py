"""Rotation vectors of large turns: how they change as a body turns on, and the second derivatives that follow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from halfshaft.geometry.pose import skew

Array = NDArray[np.float64]

_SMALL_RAD = 1e-2  # below it the series are exact to rounding


def rotation_vector(rotation: Array) -> Array:
    """Rotation vector (3,) in radians of a rotation matrix (3, 3), no longer than a half turn."""
    return np.asarray(Rotation.from_matrix(rotation).as_rotvec(), dtype=float)


def _weights(angle: float) -> tuple[float, float]:
    """`b = 1/a^2 - cot(a/2)/(2a)` and `b'/a`."""
    if angle < _SMALL_RAD:
        s = angle * angle
        return 1.0 / 12.0 + s / 720.0 + s * s / 30240.0, 1.0 / 360.0 + s / 7560.0 + s * s / 201600.0
    half = angle / 2.0
    cot = 1.0 / np.tan(half)
    b = 1.0 / angle**2 - cot / (2.0 * angle)
    slope = -2.0 / angle**3 + cot / (2.0 * angle**2) + 1.0 / (4.0 * angle * np.sin(half) ** 2)
    return float(b), float(slope / angle)


def vector_rate(vector_rad: Array) -> Array:
    """Matrix (3, 3) from a small further turn about root axes to the change of the rotation vector.

    `I - skew(w)/2 + b skew(w)^2`, the inverse of the left Jacobian of rotations.
    Source: from memory, F. Bullo and R. M. Murray, Proportional derivative control on the Euclidean group (1995).
    """
    k = skew(vector_rad)
    b, _ = _weights(float(np.linalg.norm(vector_rad)))
    return np.asarray(np.eye(3) - 0.5 * k + b * k @ k)


def moment_and_rate(vector_rad: Array, gradient: Array) -> tuple[Array, Array]:
    """Moment (3,) of a potential whose gradient by the rotation vector is `gradient` (3,), and its derivative (3, 3)
    by the rotation vector while the gradient stays as it is.

    Source: derived here from the matrix in `vector_rate`, transposed.
    """
    w, t = vector_rad, gradient
    b, slope = _weights(float(np.linalg.norm(w)))
    twice = np.cross(w, np.cross(w, t))
    moment = t + 0.5 * np.cross(w, t) + b * twice
    by_vector = (
        -0.5 * skew(t)
        + slope * np.outer(twice, w)
        + b * (float(w @ t) * np.eye(3) + np.outer(w, t) - 2.0 * np.outer(t, w))
    )
    return np.asarray(moment), np.asarray(by_vector)
