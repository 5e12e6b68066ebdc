"""Outlines of panels. Bosses, drawn corners and fold lines in a panel's own axes in; figures with round corners out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

from halfshaft.fold.slab import DEVIATION_MM

Array = NDArray[np.float64]

_FAR_MM = 1e5


@dataclass(frozen=True, eq=False)
class Edge:
    """A fold line in a panel's axes: a point on it, its unit direction, and the unit direction into the metal."""

    point_mm: Array
    way: Array
    into: Array

    def along_mm(self, spots_mm: Array) -> Array:
        return np.asarray((np.asarray(spots_mm) - self.point_mm) @ self.way)

    def depth_mm(self, spots_mm: Array) -> Array:
        return np.asarray((np.asarray(spots_mm) - self.point_mm) @ self.into)

    def at_mm(self, along_mm: float) -> Array:
        return np.asarray(self.point_mm + self.way * along_mm)

    @property
    def metal_side(self) -> Polygon:
        """The half of the plane on the metal's side, as far as anything reaches."""
        a, b = self.at_mm(-_FAR_MM), self.at_mm(_FAR_MM)
        return Polygon([a, b, b + self.into * _FAR_MM, a + self.into * _FAR_MM])


def disc(centre_mm: Array, radius_mm: float) -> Polygon:
    """A disc as a polygon whose corners lie on the circle, chords within the flattening deviation."""
    turn = np.arccos(max(0.0, 1.0 - DEVIATION_MM / max(radius_mm, 2.0 * DEVIATION_MM)))
    return Point(centre_mm).buffer(radius_mm, quad_segs=max(16, int(np.ceil(np.pi / 4.0 / turn))))


def reach_of_bosses(edge: Edge, centres_mm: Array, radii_mm: Array) -> tuple[float, float] | None:
    """Stretch of the fold line that the bosses cover when dropped square on it; None without bosses."""
    if not len(centres_mm):
        return None
    along = edge.along_mm(centres_mm)
    return float((along - radii_mm).min()), float((along + radii_mm).max())


def reach_of_drawn(edge: Edge, figure: Polygon) -> tuple[float, float]:
    """Stretch of the fold line that a drawn outline has, or would have when its nearest side is run out to the line."""
    cut = figure.intersection(LineString([edge.at_mm(-_FAR_MM), edge.at_mm(_FAR_MM)]))
    if not cut.is_empty and cut.length > 1.0:
        along = edge.along_mm(shapely.get_coordinates(cut))
        return float(along.min()), float(along.max())
    start, end = _nearest_side(edge, figure)
    along = edge.along_mm(np.array([start, end]))
    return float(along.min()), float(along.max())


def _nearest_side(edge: Edge, figure: Polygon) -> tuple[Array, Array]:
    ring = np.asarray(figure.exterior.coords)
    after = ring[1:]
    before = ring[:-1]
    lean = np.abs((after - before) @ edge.way)
    depth = (edge.depth_mm(before) + edge.depth_mm(after)) / 2.0
    # a short chamfer at the line must not be taken for the side that faces it
    depth = np.where(lean < 0.2 * lean.max(), np.inf, depth)
    nearest = int(np.argmin(depth))
    return before[nearest], after[nearest]


def run_out(edge: Edge, figure: Polygon, start_mm: float, end_mm: float) -> Polygon:
    """The drawn figure run out past a fold line it does not reach, over the stretch given."""
    start, end = _nearest_side(edge, figure)
    if float(edge.along_mm(start)) > float(edge.along_mm(end)):
        start, end = end, start
    back = -edge.into * 50.0
    quad = Polygon(
        [start, end, edge.at_mm(end_mm), edge.at_mm(end_mm) + back, edge.at_mm(start_mm) + back, edge.at_mm(start_mm)]
    )
    return shapely.union_all([figure, shapely.make_valid(quad)])


def shared_stretch(
    one: tuple[float, float] | None, other: tuple[float, float] | None, drawn: tuple[bool, bool], least_mm: float
) -> tuple[float, float]:
    """Stretch of line that a fold takes, from what its two panels cover of it.

    Drawn outlines decide: both drawn, what they have in common; else the narrower of the two, so that the wider panel
    tapers to it, never shorter than `least_mm`. Panels that cover different stretches are spanned.
    Raises ValueError where two drawn outlines have nothing in common.
    """
    if one is None or other is None:
        only = one or other
        if only is None:
            raise ValueError("neither panel tells how long the fold is: give one of them holes or an outline")
        return _widened(only, least_mm)
    low, high = max(one[0], other[0]), min(one[1], other[1])
    if all(drawn):
        if high - low < 1.0:
            raise ValueError("the drawn outlines of the two panels do not meet along their fold line")
        return low, high
    if any(drawn):
        return one if drawn[0] else other
    if high <= low:
        return min(one[0], other[0]), max(one[1], other[1])
    return _widened(min((one, other), key=lambda s: s[1] - s[0]), least_mm)


def _widened(stretch: tuple[float, float], least_mm: float) -> tuple[float, float]:
    short = max(0.0, least_mm - (stretch[1] - stretch[0])) / 2.0
    return stretch[0] - short, stretch[1] + short


def clipped(edge: Edge, start_mm: float, end_mm: float, others: Sequence[Edge]) -> tuple[float, float]:
    """The stretch less what lies past other fold lines of the same panel.

    Raises ValueError where nothing is left.
    """
    lost = (
        "it lies past another fold of the same panel, so in the flat the two panels would lie on each other: "
        "fold one of them from another panel, or make it a bolted plate"
    )
    low, high = start_mm, end_mm
    for other in others:
        rate = float(edge.way @ other.into)
        depth = float(other.depth_mm(edge.point_mm))
        if abs(rate) < 1e-9:
            if depth <= 0.0:
                raise ValueError(lost)
            continue
        root = -depth / rate
        low, high = (max(low, root), high) if rate > 0.0 else (low, min(high, root))
    if high - low < 1.0:
        raise ValueError(lost)
    return low, high


def hull_figure(
    centres_mm: Array, radii_mm: Array, stretches: Sequence[tuple[Edge, float, float]], round_mm: float
) -> Polygon:
    """Hull of the bosses and the fold edges, kept on the metal's side of every fold line, free corners rounded."""
    pieces = [disc(c, float(r)) for c, r in zip(centres_mm, radii_mm, strict=True)]
    pieces += [LineString([edge.at_mm(low), edge.at_mm(high)]) for edge, low, high in stretches]
    return kept(shapely.convex_hull(shapely.union_all(pieces)), stretches, round_mm)


def drawn_figure(corners_mm: Array, stretches: Sequence[tuple[Edge, float, float]], round_mm: float) -> Polygon:
    """The builder's outline, run out to its fold lines, kept on the metal's side of them, free corners rounded.

    Raises ValueError where the corners cross over.
    """
    figure = Polygon(corners_mm)
    if not figure.is_valid:
        raise ValueError("the drawn outline crosses itself: write its corners in order round it")
    for edge, low, high in stretches:
        figure = run_out(edge, figure, low, high)
    return kept(figure, stretches, round_mm)


def kept(figure: Polygon, stretches: Sequence[tuple[Edge, float, float]], round_mm: float) -> Polygon:
    """Rounds free corners by opening and closing, leaves the ends of fold lines sharp, cuts at the fold lines.

    Raises ValueError where nothing is left, or where the fold lines cut it in two.
    """
    if round_mm > 0.0:
        tabs = []
        for edge, low, high in stretches:
            a, b, back = edge.at_mm(low), edge.at_mm(high), -edge.into * (3.0 * round_mm + 1.0)
            tabs.append(Polygon([a, b, b + back, a + back]))
        # metal past the fold lines keeps the rounding away from their ends
        grown = shapely.union_all([figure, *tabs], grid_size=1e-7)
        segments = max(16, int(np.ceil(np.pi / 4.0 / np.arccos(1.0 - DEVIATION_MM / round_mm))))
        figure = grown.buffer(-round_mm, quad_segs=segments).buffer(2 * round_mm, quad_segs=segments)
        figure = figure.buffer(-round_mm, quad_segs=segments)
    for edge, _, _ in stretches:
        figure = figure.intersection(edge.metal_side)
    pieces = [p for p in shapely.get_parts(figure) if p.geom_type == "Polygon" and p.area > 1.0]
    if not pieces:
        raise ValueError("nothing of it lies on the metal's side of its fold lines")
    if len(pieces) > 1:
        raise ValueError("its fold lines cut it in two")
    return pieces[0]
