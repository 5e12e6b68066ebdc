"""Plain plates as meshes for tests: a figure stacked in layers, with rings under washers and named sides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

from halfshaft.geometry.triangles import triangulated
from halfshaft.mounts.tet_mesh import TetMesh, extruded, skin_of

Array = NDArray[np.float64]


def disc(centre: ArrayLike, radius_mm: float, sides: int = 16) -> Polygon:
    """A circle by a polygon of the same area."""
    angle = 2.0 * np.pi * np.arange(sides) / sides
    out = radius_mm * np.sqrt(2.0 * np.pi / (sides * np.sin(2.0 * np.pi / sides)))
    return Polygon(np.asarray(centre) + out * np.column_stack([np.cos(angle), np.sin(angle)]))


def plate(
    figure: Polygon,
    heights_mm: Sequence[float],
    size_mm: float,
    rings: Mapping[str, Polygon] | None = None,
    sides: Mapping[str, tuple[ArrayLike, ArrayLike]] | None = None,
    keep_edge: bool = True,
) -> TetMesh:
    """A plate; 'ring <name>' are both its flats within a figure, other groups lie in planes told by a spot and normal.

    'under' and 'upper' are what is left of the flats.
    """
    rings, sides = rings or {}, sides or {}
    lines = [np.asarray(shape.exterior.coords)[:, :2] for shape in rings.values()]
    flat, triangles = triangulated(
        shapely.segmentize(figure, size_mm) if keep_edge else figure, 0.45 * size_mm**2, lines, keep_edge=keep_edge
    )
    corners, tets = extruded(flat, triangles, np.asarray(heights_mm, dtype=float))
    skin = skin_of(tets)
    middle = corners[skin].mean(axis=1)
    low, high = (np.abs(corners[skin][:, :, 2] - z).max(axis=1) < 1e-9 for z in (heights_mm[0], heights_mm[-1]))
    taken = np.zeros(len(skin), dtype=bool)
    groups = {}
    for name, shape in rings.items():
        inside = shapely.contains_xy(shape, middle[:, 0], middle[:, 1]) & (low | high)
        groups[f"ring {name}"] = np.flatnonzero(inside)
        taken |= inside
    for name, (spot, normal) in sides.items():
        off = np.abs((corners[skin] - np.asarray(spot, dtype=float)) @ np.asarray(normal, dtype=float)).max(axis=1)
        groups[name] = np.flatnonzero((off < 1e-9) & ~taken)
        taken |= off < 1e-9
    for name, which in (("under", low), ("upper", high)):
        groups[name] = np.flatnonzero(which & ~taken)
        taken |= which
    groups["free"] = np.flatnonzero(~taken)
    return TetMesh(corners, tets, skin, {name: rows for name, rows in groups.items() if len(rows)})
