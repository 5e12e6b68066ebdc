"""A rigid move: rotation then shift."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def skew(vector: ArrayLike) -> Array:
    """The matrix (3, 3) that turns a cross product into a product."""
    x, y, z = np.asarray(vector, dtype=float)
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


def turn(rotvec_rad: ArrayLike) -> Array:
    """Rotation matrix (3, 3) from a rotation vector, Rodrigues' formula."""
    vector = np.asarray(rotvec_rad, dtype=float)
    angle = float(np.linalg.norm(vector))
    k = skew(vector)
    if angle < 1e-8:
        return np.eye(3) + k + 0.5 * k @ k
    return np.asarray(np.eye(3) + np.sin(angle) / angle * k + (1.0 - np.cos(angle)) / angle**2 * k @ k)


@dataclass(frozen=True, eq=False)
class Pose:
    """Maps local points (..., 3) to `rotation @ point + shift_mm`."""

    rotation: Array
    shift_mm: Array

    @staticmethod
    def identity() -> Pose:
        return Pose(np.eye(3), np.zeros(3))

    def apply(self, points_mm: ArrayLike) -> Array:
        return np.asarray(np.asarray(points_mm, dtype=float) @ self.rotation.T + self.shift_mm)

    def after(self, first: Pose) -> Pose:
        """This move done after `first`."""
        return Pose(self.rotation @ first.rotation, self.rotation @ first.shift_mm + self.shift_mm)

    def inverse(self) -> Pose:
        return Pose(self.rotation.T, -self.rotation.T @ self.shift_mm)

    @property
    def turned_deg(self) -> float:
        """Angle of the turn, 0 to 180."""
        r = self.rotation
        axis = np.array([r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]])
        # the arc cosine of the trace alone loses a small turn in its last digits
        return float(np.degrees(np.arctan2(np.linalg.norm(axis), np.trace(r) - 1.0)))
