"""A plane by its unit normal and its distance from the origin along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Plane:
    """Points x with normal . x = distance_mm; the normal (3,) points away from the metal."""

    normal: Array
    distance_mm: float

    @staticmethod
    def through(points_mm: ArrayLike, toward: ArrayLike | None = None) -> Plane:
        """Best plane through points (n >= 3, 3), least squares; `toward` (3,) picks the side of the normal.

        Raises ValueError where the points lie on one line.
        """
        points = np.asarray(points_mm, dtype=float)
        middle = points.mean(axis=0)
        _, spread, axes = np.linalg.svd(points - middle)
        if points.shape[0] < 3 or spread[1] <= 1e-9 * max(spread[0], 1.0):
            raise ValueError("a plane wants three points that are not in one line")
        normal = axes[2]
        if toward is not None and float(normal @ np.asarray(toward, dtype=float)) < 0.0:
            normal = -normal
        return Plane(normal, float(normal @ middle))

    def height_mm(self, points_mm: ArrayLike) -> Array:
        """Signed distance of points (..., 3) over the plane."""
        return np.asarray(points_mm, dtype=float) @ self.normal - self.distance_mm

    def foot_mm(self, points_mm: ArrayLike) -> Array:
        """Points (..., 3) dropped square onto the plane."""
        points = np.asarray(points_mm, dtype=float)
        return np.asarray(points - self.height_mm(points)[..., None] * self.normal)

    def moved(self, by_mm: float) -> Plane:
        """The parallel plane `by_mm` along the normal."""
        return Plane(self.normal, self.distance_mm + by_mm)

    def flipped(self) -> Plane:
        return Plane(-self.normal, -self.distance_mm)

    def meet(self, other: Plane) -> tuple[Array, Array]:
        """A point (3,) and unit direction (3,) of the common line; the point is the nearest to the origin.

        Raises ValueError where the planes are parallel.
        """
        along = np.cross(self.normal, other.normal)
        size = float(np.linalg.norm(along))
        if size < 1e-9:
            raise ValueError("the planes are parallel")
        rows = np.vstack([self.normal, other.normal, along / size])
        point = np.linalg.solve(rows, np.array([self.distance_mm, other.distance_mm, 0.0]))
        return point, along / size
