"""Closed outlines of straight runs and true arcs, in a plane, in mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Contour:
    """Closed outline, counter-clockwise for outer edges and clockwise for openings.

    `points_mm` (n, 2); `bulge` (n,) belongs to the run from point i to point i + 1: tan(sweep / 4), zero for a straight
    run, positive when the arc turns counter-clockwise (the DXF convention, ezdxf 'bulge').
    """

    points_mm: Array
    bulge: Array

    @staticmethod
    def of_points(points_mm: ArrayLike) -> Contour:
        points = np.asarray(points_mm, dtype=float)
        return Contour(points, np.zeros(len(points)))

    @staticmethod
    def circle(centre_mm: ArrayLike, radius_mm: float) -> Contour:
        x, y = np.asarray(centre_mm, dtype=float)
        return Contour(np.array([[x + radius_mm, y], [x - radius_mm, y]]), np.array([1.0, 1.0]))

    @property
    def area_mm2(self) -> float:
        """Signed area, arcs exact; positive when counter-clockwise."""
        a, b = self.points_mm, np.roll(self.points_mm, -1, axis=0)
        straight = 0.5 * float(np.sum(a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]))
        sweep = 4.0 * np.arctan(self.bulge)
        chord = np.linalg.norm(b - a, axis=1)
        curved = np.abs(self.bulge) > 1e-12
        radius = chord[curved] / (2.0 * np.sin(np.abs(sweep[curved]) / 2.0))
        segment = 0.5 * radius**2 * (np.abs(sweep[curved]) - np.sin(np.abs(sweep[curved])))
        return straight + float(np.sum(np.sign(self.bulge[curved]) * segment))

    @property
    def length_mm(self) -> float:
        """Length around, arcs exact."""
        chord = np.linalg.norm(np.roll(self.points_mm, -1, axis=0) - self.points_mm, axis=1)
        half = 2.0 * np.arctan(np.abs(self.bulge))
        factor = np.where(half > 1e-9, half / np.sin(np.maximum(half, 1e-9)), 1.0)
        return float(np.sum(chord * factor))

    def flattened_mm(self, deviation_mm: float = 0.01) -> Array:
        """Vertices (m, 2) of straight runs that stay within `deviation_mm` of the arcs; ends of runs are kept exactly."""
        out: list[Array] = []
        for start, end, bulge in zip(self.points_mm, np.roll(self.points_mm, -1, axis=0), self.bulge, strict=True):
            out.append(start[None, :])
            if abs(bulge) < 1e-12:
                continue
            centre, radius, first, sweep = arc_of(start, end, float(bulge))
            step = 2.0 * np.arccos(max(0.0, 1.0 - deviation_mm / radius))
            count = max(2, int(np.ceil(abs(sweep) / max(step, 1e-3))))
            at = first + sweep * np.arange(1, count) / count
            out.append(centre + radius * np.column_stack([np.cos(at), np.sin(at)]))
        return np.vstack(out)

    def polygon(self, deviation_mm: float = 0.01) -> Polygon:
        return Polygon(self.flattened_mm(deviation_mm))

    def moved(self, rotation: ArrayLike, shift_mm: ArrayLike) -> Contour:
        """Turned by `rotation` (2, 2) then shifted (2,); a mirroring matrix also flips the arcs and keeps the sense round."""
        matrix = np.asarray(rotation, dtype=float)
        points = self.points_mm @ matrix.T + np.asarray(shift_mm, dtype=float)
        if np.linalg.det(matrix) > 0.0:
            return Contour(points, self.bulge)
        return Contour(points[::-1].copy(), np.roll(self.bulge[::-1], -1).copy())


def arc_of(start_mm: Array, end_mm: Array, bulge: float) -> tuple[Array, float, float, float]:
    """Centre (2,), radius, start angle and signed sweep (radians) of the arc from start to end."""
    chord = end_mm - start_mm
    sweep = 4.0 * np.arctan(bulge)
    left = np.array([-chord[1], chord[0]])
    centre = (start_mm + end_mm) / 2.0 + left * (1.0 - bulge**2) / (4.0 * bulge)
    away = start_mm - centre
    return centre, float(np.linalg.norm(away)), float(np.arctan2(away[1], away[0])), float(sweep)
