"""An open or closed line of straight runs and true arcs, run one way, as a torch runs it. In mm."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString

from halfshaft.geometry import Contour
from halfshaft.geometry.contour import arc_of

Array = NDArray[np.float64]

STRAIGHT = 1e-12  # bulges below are straight runs
_SAME_MM = 1e-4


@dataclass(frozen=True, eq=False)
class Curve:
    """`points_mm` (n + 1, 2); `bulge` (n,) of the run from point i to i + 1, as `Contour` has it.

    Closed where the last point lies on the first.
    """

    points_mm: Array
    bulge: Array

    @staticmethod
    def of_points(points_mm: ArrayLike) -> Curve:
        points = np.asarray(points_mm, dtype=float)
        return Curve(points, np.zeros(len(points) - 1))

    @staticmethod
    def of_contour(contour: Contour) -> Curve:
        return Curve(np.vstack([contour.points_mm, contour.points_mm[:1]]), np.asarray(contour.bulge, dtype=float))

    @staticmethod
    def joined(pieces: Iterable[Curve]) -> Curve:
        """Pieces one after the other; each begins where the one before ends, to a tenth of a micrometre or so."""
        own = [piece for piece in pieces if len(piece.bulge)]
        points = [own[0].points_mm[:1], *(piece.points_mm[1:] for piece in own)]
        return Curve(np.vstack(points), np.concatenate([piece.bulge for piece in own]))

    @property
    def start_mm(self) -> Array:
        return np.asarray(self.points_mm[0])

    @property
    def end_mm(self) -> Array:
        return np.asarray(self.points_mm[-1])

    @property
    def closed(self) -> bool:
        return float(np.linalg.norm(self.points_mm[0] - self.points_mm[-1])) < _SAME_MM

    @cached_property
    def lengths_mm(self) -> Array:
        """Length of each run (n,), arcs exact."""
        chord = np.linalg.norm(np.diff(self.points_mm, axis=0), axis=1)
        half = 2.0 * np.arctan(np.abs(self.bulge))
        return np.asarray(chord * np.where(half > 1e-9, half / np.sin(np.maximum(half, 1e-9)), 1.0))

    @property
    def length_mm(self) -> float:
        return float(self.lengths_mm.sum())

    @property
    def contour(self) -> Contour:
        """The closed curve as an outline."""
        return Contour(self.points_mm[:-1], self.bulge)

    @property
    def area_mm2(self) -> float:
        """Signed area within a closed curve, arcs exact."""
        return self.contour.area_mm2

    def reversed(self) -> Curve:
        return Curve(self.points_mm[::-1].copy(), -self.bulge[::-1].copy())

    def flattened_mm(self, deviation_mm: float = 0.01) -> Array:
        """Vertices (m, 2) within `deviation_mm` of the arcs, first and last point among them."""
        # an outline of one run more, closing straight, has the same vertices
        around = Contour(self.points_mm, np.append(self.bulge, 0.0))
        return around.flattened_mm(deviation_mm)

    def line(self, deviation_mm: float = 0.01) -> LineString:
        return LineString(self.flattened_mm(deviation_mm))

    def at(self, along_mm: float) -> tuple[Array, Array]:
        """Point (2,) and forward direction (2,) so far along, within the curve's length."""
        ends = np.cumsum(self.lengths_mm)
        run = min(int(np.searchsorted(ends, along_mm, side="right")), len(ends) - 1)
        begun = float(ends[run] - self.lengths_mm[run])
        return self._on_run(run, min(max(along_mm - begun, 0.0), float(self.lengths_mm[run])))

    def _on_run(self, run: int, along_mm: float) -> tuple[Array, Array]:
        start, end, bulge = self.points_mm[run], self.points_mm[run + 1], float(self.bulge[run])
        if abs(bulge) < STRAIGHT:
            way = (end - start) / np.linalg.norm(end - start)
            return start + way * along_mm, way
        centre, radius, first, sweep = arc_of(start, end, bulge)
        angle = first + np.sign(sweep) * along_mm / radius
        out = np.array([np.cos(angle), np.sin(angle)])
        return centre + radius * out, np.sign(sweep) * np.array([-out[1], out[0]])

    def part(self, from_mm: float, to_mm: float) -> Curve:
        """The stretch between two lengths along, 0 <= from < to <= length."""
        ends = np.cumsum(self.lengths_mm)
        points, bulges = [self.at(from_mm)[0]], []
        for run, end in enumerate(ends):
            begin = float(end - self.lengths_mm[run])
            low, high = max(begin, from_mm), min(float(end), to_mm)
            if high - low <= 1e-9:
                continue
            whole = float(self.lengths_mm[run])
            sweep = 4.0 * np.arctan(self.bulge[run]) * (high - low) / whole
            last = self.points_mm[run + 1] if high >= end - 1e-9 else self._on_run(run, high - begin)[0]
            points.append(last)
            bulges.append(float(self.bulge[run]) if high - low >= whole - 1e-9 else float(np.tan(sweep / 4.0)))
        return Curve(np.array(points), np.array(bulges))

    def begun_at(self, along_mm: float) -> Curve:
        """The closed curve run from another place round to it again."""
        if along_mm <= 1e-9 or along_mm >= self.length_mm - 1e-9:
            return self
        return Curve.joined([self.part(along_mm, self.length_mm), self.part(0.0, along_mm)])

    def corners_mm(self, least_deg: float = 8.0) -> Array:
        """Lengths along (k,) at which a closed curve turns by more than `least_deg` at once, 0 for its start."""
        ends = np.cumsum(self.lengths_mm)
        found = []
        for run in range(len(self.bulge)):
            last = (run - 1) % len(self.bulge)
            before = self._on_run(last, float(self.lengths_mm[last]))[1]
            after = self._on_run(run, 0.0)[1]
            turn = np.degrees(np.arctan2(before[0] * after[1] - before[1] * after[0], float(before @ after)))
            if abs(turn) > least_deg:
                found.append(float(ends[run - 1]) if run else 0.0)
        return np.array(found)
