"""Outlines as the packing library wants them: one ring, grown by half the gap, never smaller than the true shape."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.ops import nearest_points

from halfshaft.cut.part import SheetPart

Array = NDArray[np.float64]
Area: TypeAlias = Polygon | shapely.MultiPolygon

FLAT_MM = 0.01  # of arcs as runs
_SIMPLER_MM = 0.01
_SINGLE_MM = 0.005  # the library counts in single precision
_BUFFER = 1.012  # GEOS evens out the inner sides of corners by a hundredth of the distance before it grows a shape
_QUARTER = 6  # runs in a quarter round
_SLIT_MM = 0.02
_USEFUL = 0.02  # share of a part's hull that its opening must have to be worth a way in


def true_shape(part: SheetPart, deviation_mm: float = FLAT_MM) -> Polygon:
    """Outline with openings, without bores and slits."""
    return Polygon(part.outline.flattened_mm(deviation_mm), [o.flattened_mm(deviation_mm) for o in part.openings])


def grown(shape: Polygon, by_mm: float) -> Polygon:
    """The shape grown by at least `by_mm` everywhere, with few corners; openings shrink or go."""
    more = (_BUFFER * by_mm + FLAT_MM + _SIMPLER_MM + _SINGLE_MM) / np.cos(np.pi / (4 * _QUARTER))
    out = shape.buffer(more, quad_segs=_QUARTER).simplify(_SIMPLER_MM)
    if isinstance(out, shapely.MultiPolygon):  # cannot be of a connected shape that grows, but say so plainly
        raise ValueError("an outline falls apart as it grows")
    return out


def without_small_openings(shape: Polygon) -> Polygon:
    least = _USEFUL * shape.convex_hull.area
    return Polygon(shape.exterior, [ring for ring in shape.interiors if Polygon(ring).area > least])


def one_ring(shape: Polygon) -> Polygon:
    """The shape with a hair-thin way from outside into each opening: one ring, for a library that knows no holes."""
    while len(shape.interiors):
        ring = min(shape.interiors, key=lambda r: shape.exterior.distance(r))
        a, b = nearest_points(shape.exterior, LineString(ring.coords))
        way = np.array([b.x - a.x, b.y - a.y])
        reach = way / max(float(np.linalg.norm(way)), 1e-9) * 0.05
        line = LineString([(a.x - reach[0], a.y - reach[1]), (b.x + reach[0], b.y + reach[1])])
        parted = shape.difference(line.buffer(_SLIT_MM / 2.0, cap_style="flat"))
        pieces = parted.geoms if isinstance(parted, shapely.MultiPolygon) else [parted]
        after = max(pieces, key=lambda piece: piece.area)
        if len(after.interiors) >= len(shape.interiors):
            return Polygon(shape.exterior)
        shape = after
    return shape


def joined(pieces: Sequence[Polygon]) -> Polygon:
    """Separate pieces as one, by the shortest strips between them."""
    whole: Area = shapely.union_all(list(pieces))
    while isinstance(whole, shapely.MultiPolygon):
        own = sorted(whole.geoms, key=lambda piece: -piece.area)
        first = own[0]
        near = min(own[1:], key=lambda piece: first.distance(piece))
        a, b = nearest_points(first, near)
        way = np.array([b.x - a.x, b.y - a.y])
        length = float(np.linalg.norm(way))
        reach = way / length * 0.05 if length > 1e-9 else np.array([0.05, 0.0])
        line = LineString([(a.x - reach[0], a.y - reach[1]), (b.x + reach[0], b.y + reach[1])])
        whole = shapely.union_all([whole, line.buffer(0.05, cap_style="square")])
    return whole


def corners(shape: Polygon) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in shape.exterior.coords][:-1]
