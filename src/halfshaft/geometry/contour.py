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
        """Vertices (m, 2) of straight runs within `deviation_mm` of the arcs; ends of runs are kept exactly."""
        start, end, bulge = self.points_mm, np.roll(self.points_mm, -1, axis=0), self.bulge
        curved = np.flatnonzero(np.abs(bulge) >= 1e-12)
        if not len(curved):
            return start.copy()
        chord, bent = end[curved] - start[curved], bulge[curved, None]
        left = np.column_stack([-chord[:, 1], chord[:, 0]])
        centre = (start[curved] + end[curved]) / 2.0 + left * (1.0 - bent**2) / (4.0 * bent)
        away = start[curved] - centre
        radius, sweep = np.hypot(away[:, 0], away[:, 1]), 4.0 * np.arctan(bulge[curved])
        step = 2.0 * np.arccos(np.maximum(0.0, 1.0 - deviation_mm / radius))
        count = np.maximum(2, np.ceil(np.abs(sweep) / np.maximum(step, 1e-3))).astype(int)
        within = np.repeat(np.arange(len(curved)), count - 1)
        place = np.arange(len(within)) - np.repeat(np.cumsum(count - 1) - (count - 1), count - 1) + 1
        at = np.arctan2(away[:, 1], away[:, 0])[within] + sweep[within] * place / count[within]
        between = centre[within] + radius[within, None] * np.column_stack([np.cos(at), np.sin(at)])
        order = np.argsort(np.concatenate([np.arange(len(start)), curved[within]]), kind="stable")
        return np.asarray(np.vstack([start, between])[order])

    def polygon(self, deviation_mm: float = 0.01) -> Polygon:
        return Polygon(self.flattened_mm(deviation_mm))

    def moved(self, rotation: ArrayLike, shift_mm: ArrayLike) -> Contour:
        """Turned by `rotation` (2, 2) then shifted (2,); a mirroring matrix keeps the sense round."""
        matrix = np.asarray(rotation, dtype=float)
        points = self.points_mm @ matrix.T + np.asarray(shift_mm, dtype=float)
        if np.linalg.det(matrix) > 0.0:
            return Contour(points, self.bulge)
        return Contour(points[::-1].copy(), np.roll(self.bulge[::-1], -1).copy())

    def reversed(self) -> Contour:
        """The same outline run the other way."""
        return Contour(self.points_mm[::-1].copy(), -np.roll(self.bulge[::-1], -1))


def arc_of(start_mm: Array, end_mm: Array, bulge: float) -> tuple[Array, float, float, float]:
    """Centre (2,), radius, start angle and signed sweep (radians) of the arc from start to end."""
    chord = end_mm - start_mm
    sweep = 4.0 * np.arctan(bulge)
    left = np.array([-chord[1], chord[0]])
    centre = (start_mm + end_mm) / 2.0 + left * (1.0 - bulge**2) / (4.0 * bulge)
    away = start_mm - centre
    return centre, float(np.linalg.norm(away)), float(np.arctan2(away[1], away[0])), float(sweep)
