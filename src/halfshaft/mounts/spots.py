"""Where a hole lies to its load: a plate's outline, its holes and a direction in; end, edge, pitch and gauge out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from halfshaft.mounts.bolts import Spots

Array = NDArray[np.float64]

_STILL = 1e-9


def spots_along(outline: Polygon, holes_mm: ArrayLike, index: int, push: ArrayLike, hole_mm: float) -> Spots:
    """Distances of hole `index` of holes (n, 2) in a plate pushed by its bolt along `push` (2,).

    End and edge are the distances to the nearest piece of edge in a strip along the push, and square to it, as wide
    as two holes of `hole_mm`: a slanted edge counts where it is nearest, a round end by its radius. The nearest hole
    more along than across gives the pitch, that more across the gauge. Windows in the outline have edges too. Without
    a push the nearest edge and hole count both ways.
    Raises ValueError where the hole is not in the plate.
    Source: EN 1993-1-8:2005 figure 3.1; strip: derived here, on the safe side.
    """
    holes = np.asarray(holes_mm, dtype=float).reshape(-1, 2)
    centre, way = holes[index], np.asarray(push, dtype=float)
    if not outline.contains(Point(*centre)):
        raise ValueError(f"the hole at {centre[0]:.1f}, {centre[1]:.1f} mm is not in the plate")
    others = np.delete(holes, index, axis=0) - centre
    size = float(np.hypot(*way))
    if size < _STILL:
        near = float(outline.boundary.distance(Point(*centre)))
        apart = float(np.linalg.norm(others, axis=1).min()) if len(others) else None
        return Spots(near, near, apart, apart)
    along = way / size
    side = np.array([-along[1], along[0]])
    edges = [_nearest(outline.boundary, centre, turn, hole_mm) for turn in (side, -side)]
    end = _nearest(outline.boundary, centre, along, hole_mm)
    ahead = np.abs(others @ along) >= np.abs(others @ side)
    lengths = np.linalg.norm(others, axis=1)
    return Spots(
        end,
        min((edge for edge in edges if edge is not None), default=None),
        float(lengths[ahead].min()) if ahead.any() else None,
        float(lengths[~ahead].min()) if (~ahead).any() else None,
    )


def _nearest(boundary: BaseGeometry, centre: Array, way: Array, half: float) -> float | None:
    """Least distance to the boundary in a strip that way; None where there is none."""
    low_x, low_y, high_x, high_y = boundary.bounds
    far = 2.0 * math.hypot(high_x - low_x, high_y - low_y)
    side = half * np.array([-way[1], way[0]])
    strip = Polygon([centre - side, centre + side, centre + side + far * way, centre - side + far * way])
    piece = boundary.intersection(strip)
    if piece.is_empty:
        return None
    return float(piece.distance(Point(*centre)))
