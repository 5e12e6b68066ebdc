"""Triangles in a plane figure: a figure with lines and spots to keep in; corners and triangles out.

Only door to the mesher of plane figures (cytriangle, which sectionproperties brings with it).
"""

from __future__ import annotations

from collections.abc import Sequence

import cytriangle
import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_SAME_MM = 1e-7


def triangulated(
    figure: Polygon,
    most_mm2: float,
    lines: Sequence[ArrayLike] = (),
    spots: ArrayLike = (),
    least_angle_deg: float = 26.0,
    *,
    keep_edge: bool = True,
) -> tuple[Array, Ints]:
    """Corners (n, 2) and triangles (t, 3), counter-clockwise, none larger than `most_mm2`.

    `lines` are rings (k, 2), closed, to have edges along; `spots` (m, 2) to have corners at. With `keep_edge` no corner
    is added on the figure's own edge. Raises ValueError for a figure without area.
    Source: Delaunay refinement, J. R. Shewchuk, Triangle, 1996.
    """
    if figure.is_empty or figure.area <= 0.0:
        raise ValueError("a figure without area cannot be meshed")
    corners: list[tuple[float, float]] = []
    number: dict[tuple[int, int], int] = {}

    def at(point: ArrayLike) -> int:
        x, y = (float(v) for v in np.asarray(point))
        key = (round(x / _SAME_MM), round(y / _SAME_MM))
        if key not in number:
            number[key] = len(corners)
            corners.append((x, y))
        return number[key]

    segments: list[tuple[int, int]] = []
    for ring in (figure.exterior.coords, *(hole.coords for hole in figure.interiors), *lines):
        ids = [at(point) for point in np.asarray(ring)[:, :2]]
        ids = ids if ids[0] != ids[-1] else ids[:-1]
        segments += [(a, b) for a, b in zip(ids, ids[1:] + ids[:1], strict=True) if a != b]
    for spot in np.asarray(spots, dtype=float).reshape(-1, 2):
        at(spot)
    told: dict[str, object] = {"vertices": corners, "segments": segments}
    if figure.interiors:
        told["holes"] = [_inside(Polygon(hole)) for hole in figure.interiors]
    mesh = cytriangle.triangulate(told, f"pq{least_angle_deg:.1f}a{most_mm2:.6f}{'Y' if keep_edge else ''}")
    points = np.asarray(mesh["vertices"], dtype=float).reshape(-1, 2)
    triangles = np.asarray(mesh["triangles"], dtype=np.int64).reshape(-1, 3)
    used, flat = np.unique(triangles, return_inverse=True)
    points, triangles = points[used], flat.reshape(-1, 3).astype(np.int64)
    a, b, c = (points[triangles[:, i]] for i in range(3))
    turned = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0] < 0.0
    triangles[turned] = triangles[turned][:, ::-1]
    return points, triangles


def _inside(figure: Polygon) -> tuple[float, float]:
    spot = figure.centroid if figure.contains(figure.centroid) else shapely.point_on_surface(figure)
    return float(spot.x), float(spot.y)
