"""A view square onto solids: solids and a way to look in; edges seen and edges hidden out, in mm of the view.

An edge is sharp, or parts what looks at the eye from what looks away. What hides it is asked of a depth buffer (Catmull
1974), so that an end of a run is true to one cell of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter

from halfshaft.geometry.mesh import MeshSolid

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_SHARP = float(np.cos(np.radians(20.0)))
_CELLS = 900  # along the longer side
_SLACK_MM = 2.0  # an edge lies on its own faces
_LEAST_RUN = 2  # steps: shorter gaps are noise of the cells


@dataclass(frozen=True, eq=False)
class Look:
    """`right` and `up` (3,) of the view in root axes; the eye is where right x up points."""

    name: str
    right: Array
    up: Array

    @cached_property
    def toward(self) -> Array:
        return np.cross(self.right, self.up)

    @cached_property
    def axes(self) -> Array:
        """Right, up and toward the eye as columns (3, 3)."""
        return np.column_stack([self.right, self.up, self.toward])

    def flat(self, points_mm: Array) -> Array:
        """Points (n, 3) as (n, 2) of the view."""
        return np.asarray(np.asarray(points_mm) @ self.axes[:, :2])


# front lies to the left, as of a car seen from its own left; left is y, see the axes of the house
FROM_LEFT = Look("seen from the left", np.array([-1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]))
FROM_ABOVE = Look("seen from above", np.array([-1.0, 0.0, 0.0]), np.array([0.0, -1.0, 0.0]))
FROM_FRONT = Look("seen from the front", np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]))


@dataclass(frozen=True, eq=False)
class Seen:
    """Runs (2, 2) of one thing that are seen, and that something hides."""

    name: str
    seen: tuple[Array, ...]
    hidden: tuple[Array, ...]


def seen(things: Sequence[tuple[str, Sequence[MeshSolid]]], look: Look, low: Array, high: Array) -> tuple[Seen, ...]:
    """Each thing's edges within the window from `low` to `high` (2,) of the view."""
    meshes = [(name, [solid.triangles for solid in solids if not solid.empty]) for name, solids in things]
    cell = float(max(high - low)) / _CELLS
    depth = _depths((m for _, group in meshes for m in group), look, low, high, cell)
    out = []
    for name, group in meshes:
        shown: list[Array] = []
        covered: list[Array] = []
        for vertices, triangles in group:
            for a, b in _edges(vertices, triangles, look):
                _part(a, b, look, low, high, cell, depth, shown, covered)
        out.append(Seen(name, tuple(shown), tuple(covered)))
    return tuple(out)


def _normals(vertices: Array, triangles: Ints) -> Array:
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    return np.asarray(normal / np.maximum(size, 1e-12)[:, None])


def _edges(vertices: Array, triangles: Ints, look: Look) -> Iterable[tuple[Array, Array]]:
    """Ends (3,) of each edge that is drawn."""
    normals = _normals(vertices, triangles)
    pairs = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    owner = np.tile(np.arange(len(triangles)), 3)
    keys, inverse = np.unique(np.sort(pairs, axis=1), axis=0, return_inverse=True)
    order = np.argsort(inverse.ravel(), kind="stable")
    starts = np.searchsorted(inverse.ravel()[order], np.arange(len(keys)))
    counts = np.diff(np.append(starts, len(order)))
    first = owner[order[starts]]
    second = np.where(counts > 1, owner[order[np.minimum(starts + 1, len(order) - 1)]], first)
    facing = normals @ look.toward
    sharp = np.einsum("ij,ij->i", normals[first], normals[second]) < _SHARP
    turns = (facing[first] > 1e-6) != (facing[second] > 1e-6)
    drawn = (counts == 1) | sharp | turns
    # an edge whose faces both look away is never seen, and says nothing hidden that its neighbours do not
    for one in keys[drawn]:
        yield vertices[one[0]], vertices[one[1]]


def _depths(meshes: Iterable[tuple[Array, Ints]], look: Look, low: Array, high: Array, cell: float) -> Array:
    """Height toward the eye of what is nearest, the least of a cell and those about it; minus infinity for nothing."""
    wide, tall = (int(np.ceil(v / cell)) + 1 for v in (high - low))
    depth = np.full((tall, wide), -np.inf)
    for vertices, triangles in meshes:
        flat = (look.flat(vertices) - low) / cell
        far = vertices @ look.toward
        front = _normals(vertices, triangles) @ look.toward > 1e-9
        for one in triangles[front]:
            _fill(depth, flat[one], far[one])
    # an edge on the rim of a face falls in a cell beside it as often as in one of it
    return np.asarray(minimum_filter(depth, size=3, mode="nearest"))


def _fill(depth: Array, corners: Array, far: Array) -> None:
    x0, y0 = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    x1 = min(int(np.ceil(corners[:, 0].max())), depth.shape[1] - 1)
    y1 = min(int(np.ceil(corners[:, 1].max())), depth.shape[0] - 1)
    if x1 < x0 or y1 < y0:
        return
    a, b, c = corners
    area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    if abs(area) < 1e-9:
        return
    x, y = np.arange(x0, x1 + 1)[None, :], np.arange(y0, y1 + 1)[:, None]
    u = ((x - a[0]) * (c[1] - a[1]) - (y - a[1]) * (c[0] - a[0])) / area
    v = ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) / area
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    here = far[0] + u * (far[1] - far[0]) + v * (far[2] - far[0])
    window = depth[y0 : y1 + 1, x0 : x1 + 1]
    np.maximum(window, np.where(inside, here, -np.inf), out=window)


def _part(
    a: Array, b: Array, look: Look, low: Array, high: Array, cell: float, depth: Array,
    shown: list[Array], covered: list[Array],
) -> None:  # fmt: skip
    """One edge cut at the window, then into runs seen and runs hidden."""
    ends = np.array([a, b]) @ look.axes
    flat, far = ends[:, :2], ends[:, 2]
    span = _clipped(flat[0], flat[1], low, high)
    if span is None:
        return
    first, last = span
    length = float(np.linalg.norm(flat[1] - flat[0])) * (last - first)
    if length < 0.3 * cell:
        return
    steps = max(2, int(np.ceil(length / cell)))
    at = first + (np.arange(steps) + 0.5) / steps * (last - first)
    spots = (flat[0] + at[:, None] * (flat[1] - flat[0]) - low) / cell
    x, y = np.minimum(np.rint(spots).astype(int), np.array(depth.shape)[::-1] - 1).T
    free = far[0] + at * (far[1] - far[0]) >= depth[np.maximum(y, 0), np.maximum(x, 0)] - _SLACK_MM
    cuts = [0, *(np.flatnonzero(free[1:] != free[:-1]) + 1).tolist(), steps]
    kept = [0]
    for cut in cuts[1:-1]:
        if cut - kept[-1] >= _LEAST_RUN:
            kept.append(cut)
    kept.append(steps)
    for i, j in pairwise(kept):
        part = first + np.array([i, j]) / steps * (last - first)
        run = flat[0] + part[:, None] * (flat[1] - flat[0])
        (shown if 2 * int(free[i:j].sum()) >= j - i else covered).append(run)


def _clipped(a: Array, b: Array, low: Array, high: Array) -> tuple[float, float] | None:
    """Share of the way from a to b at which it enters and leaves the window; None where it passes by."""
    first, last = 0.0, 1.0
    for axis in (0, 1):
        step = float(b[axis] - a[axis])
        if abs(step) < 1e-12:
            if not low[axis] <= a[axis] <= high[axis]:
                return None
            continue
        t0, t1 = sorted(((low[axis] - a[axis]) / step, (high[axis] - a[axis]) / step))
        first, last = max(first, float(t0)), min(last, float(t1))
    return (first, last) if last > first else None


def fewer(runs: Sequence[Array], join_mm: float = 0.05) -> list[Array]:
    """Runs without those that lie on another: many edges of a solid fall on one line of a view."""
    if not runs:
        return []
    kept: list[Array] = []
    lines: dict[tuple[int, ...], list[tuple[float, float, Array, Array]]] = {}
    for run in runs:
        way = run[1] - run[0]
        size = float(np.linalg.norm(way))
        if size < join_mm:
            continue
        way = way / size
        if way[0] < -1e-9 or (abs(way[0]) <= 1e-9 and way[1] < 0.0):
            way, run = -way, run[::-1]
        off = float(way[0] * run[0][1] - way[1] * run[0][0])
        key = (round(float(np.arctan2(way[1], way[0])) * 2000.0), round(off / 0.5))
        lines.setdefault(key, []).append((float(run[0] @ way), float(run[1] @ way), run[0] - way * (run[0] @ way), way))
    for group in lines.values():
        group.sort(key=lambda row: row[0])
        start, end, foot, way = group[0]
        for low, high, other_foot, other_way in group[1:]:
            if low <= end + join_mm:
                end = max(end, high)
                continue
            kept.append(np.array([foot + way * start, foot + way * end]))
            start, end, foot, way = low, high, other_foot, other_way
        kept.append(np.array([foot + way * start, foot + way * end]))
    return kept
