"""Metal left beside a cut: a member's walls, its welds and what it loses in; the least that stays to an edge out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely.geometry import LineString

from halfshaft.fitup.model import Array
from halfshaft.fitup.walls import Wall
from halfshaft.geometry.mesh import MeshSolid

_ON_WALL_MM = 0.05
_WELD_NEAR_MM = 15.0  # a weld this far off the wall's outside lies on the wall


@dataclass(frozen=True, slots=True)
class Beside:
    """Least metal left from a cut to an edge, end or joint of its wall, and to a weld; endless where there is none."""

    edge_mm: float = np.inf
    edge: str = ""
    weld_mm: float = np.inf


def welds_on(wall: Wall, welds_mm: Sequence[ArrayLike]) -> list[LineString]:
    """Welds, lines (n, 3) in root axes, that lie on or close over a wall: in its x, y."""
    out = []
    for weld in welds_mm:
        seen = wall.pose.inverse().apply(np.asarray(weld, dtype=float).reshape(-1, 3))
        if len(seen) > 1 and float(np.abs(seen[:, 2]).min()) < _WELD_NEAR_MM:
            line = LineString(seen[:, :2])
            if line.length > 0.0 and line.distance(wall.outline) < _WELD_NEAR_MM:
                out.append(line)
    return out


def beside(gone: MeshSolid, walls: Sequence[Wall], welds_mm: Sequence[ArrayLike] = ()) -> Beside:
    """What stays beside metal that goes, the least over all walls that it is taken from: nought where it runs over.

    The corners of each part of what goes are looked at in the axes of each wall they lie in, so a window's corners
    that are rounded later may stand a little nearer. Source: derived here, docs/placing.md, metal.
    """
    edge_mm, edge, weld_mm = np.inf, "", np.inf
    parts = [MeshSolid(part).triangles[0] for part in gone.kernel.decompose()]
    for wall in walls:
        lines = welds_on(wall, welds_mm)
        for corners in parts:
            flat = _within(wall, corners)
            if not len(flat):
                continue
            for name, axis, sign, limit in wall.edges:
                left = max(float(limit - (sign * flat[:, axis]).max()), 0.0)
                if left < edge_mm:
                    edge_mm, edge = left, f"{name} of the {wall.called}"
            if lines:
                figure = shapely.MultiPoint(flat).convex_hull
                weld_mm = min(weld_mm, *(float(line.distance(figure)) for line in lines))
    return Beside(edge_mm, edge, weld_mm)


def crowding(
    spots_mm: Array, walls: Sequence[Wall], welds_mm: Sequence[ArrayLike], edge_mm: float, weld_mm: float
) -> Array:
    """How dear metal at spots (n, 3) is for its nearness to an edge or weld: 1 upon it, nought from the asked on."""
    out = np.zeros(len(spots_mm))
    for wall in walls:
        seen = wall.pose.inverse().apply(spots_mm)
        inside = _inside(wall, seen)
        if not inside.any():
            continue
        flat = seen[inside, :2]
        away = np.min([limit - sign * flat[:, axis] for _, axis, sign, limit in wall.edges], axis=0)
        near = np.clip(1.0 - away / edge_mm, 0.0, 1.0) if edge_mm > 0.0 else np.zeros(len(flat))
        for line in welds_on(wall, welds_mm) if weld_mm > 0.0 else ():
            to_weld = shapely.distance(shapely.points(flat), line)
            near = np.maximum(near, np.clip(1.0 - to_weld / weld_mm, 0.0, 1.0))
        out[inside] = np.maximum(out[inside], near)
    return out


def _within(wall: Wall, spots_mm: Array) -> Array:
    seen = wall.pose.inverse().apply(spots_mm)
    return np.asarray(seen[_inside(wall, seen), :2])


def _inside(wall: Wall, seen: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    x0, y0, x1, y1 = wall.outline.bounds
    low = np.array([x0, y0, -wall.thickness_mm]) - _ON_WALL_MM
    return np.asarray(np.all((seen >= low) & (seen <= np.array([x1, y1, 0.0]) + _ON_WALL_MM), axis=1))
