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
            _part(vertices[_edges(vertices, triangles, look)], look, low, high, cell, depth, shown, covered)
        out.append(Seen(name, tuple(shown), tuple(covered)))
    return tuple(out)


def _normals(vertices: Array, triangles: Ints) -> Array:
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    return np.asarray(normal / np.maximum(size, 1e-12)[:, None])


def _edges(vertices: Array, triangles: Ints, look: Look) -> Ints:
    """Both corners (n, 2) of each edge that is drawn."""
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
    return np.asarray(keys[drawn])


def _depths(meshes: Iterable[tuple[Array, Ints]], look: Look, low: Array, high: Array, cell: float) -> Array:
    """Height toward the eye of what is nearest, the least of a cell and those about it; minus infinity for nothing."""
    wide, tall = (int(np.ceil(v / cell)) + 1 for v in (high - low))
    depth = np.full((tall, wide), -np.inf)
    for vertices, triangles in meshes:
        flat = (look.flat(vertices) - low) / cell
        far = vertices @ look.toward
        front = _normals(vertices, triangles) @ look.toward > 1e-9
        _fill(depth, flat[triangles[front]], far[triangles[front]])
    # an edge on the rim of a face falls in a cell beside it as often as in one of it
    return np.asarray(minimum_filter(depth, size=3, mode="nearest"))


def _fill(depth: Array, corners: Array, far: Array) -> None:
    """Triangles (n, 3, 2) of heights (n, 3) into the depths, by what each crosses of every row of cells."""
    tall, wide = depth.shape
    a, b, c = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    low = np.maximum(np.floor(corners.min(axis=1)).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=1)).astype(int), (wide - 1, tall - 1))
    kept = np.flatnonzero((high >= low).all(axis=1) & (np.abs(area) >= 1e-9))
    rows, number = _counted((high - low + 1)[kept, 1])
    one = kept[rows]
    y = low[one, 1] + number
    # along a row both shares u, v and what they leave change evenly: u = (x p - q) / area, v = (r - x s) / area
    p, q = c[one, 1], (y - a[one, 1]) * c[one, 0]
    s, r = b[one, 1], b[one, 0] * (y - a[one, 1])
    least, most = low[one, 0] - a[one, 0], high[one, 0] - a[one, 0]
    sign = np.sign(area[one])
    for slope, off in ((p * sign, -q * sign), (-s * sign, r * sign), ((s - p) * sign, (area[one] - r + q) * sign)):
        with np.errstate(divide="ignore", invalid="ignore"):
            root = -off / slope
        least = np.where(slope > 0.0, np.fmax(least, root), least)
        most = np.where(slope < 0.0, np.fmin(most, root), most)
    first = np.maximum(np.floor(least + a[one, 0]).astype(int) - 1, low[one, 0])
    count = np.maximum(np.minimum(np.ceil(most + a[one, 0]).astype(int) + 1, high[one, 0]) - first + 1, 0)
    cells, number = _counted(count)
    one = one[cells]
    column = first[cells] + number
    x = column - a[one, 0]
    u, v = (x * p[cells] - q[cells]) / area[one], (r[cells] - x * s[cells]) / area[one]
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    here = far[one, 0] + u * (far[one, 1] - far[one, 0]) + v * (far[one, 2] - far[one, 0])
    np.maximum.at(depth.reshape(-1), (y[cells] * wide + column)[inside], here[inside])


def _counted(counts: Ints) -> tuple[Ints, Ints]:
    """Rows 0, 0, 1, 1, 1.. by how many each has, and the place of each within its own."""
    rows = np.repeat(np.arange(len(counts)), counts)
    return rows, np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)


def _part(
    edges: Array, look: Look, low: Array, high: Array, cell: float, depth: Array,
    shown: list[Array], covered: list[Array],
) -> None:  # fmt: skip
    """Edges (n, 2, 3) cut at the window, then into runs seen and runs hidden."""
    ends = edges @ look.axes
    flat, far = ends[:, :, :2], ends[:, :, 2]
    span = _clipped(flat[:, 0], flat[:, 1], low, high)
    length = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1) * (span[:, 1] - span[:, 0])
    kept = (span[:, 1] > span[:, 0]) & (length >= 0.3 * cell)
    flat, far, span, length = flat[kept], far[kept], span[kept], length[kept]
    steps = np.maximum(2, np.ceil(length / cell).astype(int))
    one, number = _counted(steps)
    at = span[one, 0] + (number + 0.5) / steps[one] * (span[one, 1] - span[one, 0])
    spots = (flat[one, 0] + at[:, None] * (flat[one, 1] - flat[one, 0]) - low) / cell
    x, y = np.clip(np.rint(spots).astype(int), 0, np.array(depth.shape)[::-1] - 1).T
    free = far[one, 0] + at * (far[one, 1] - far[one, 0]) >= depth[y, x] - _SLACK_MM
    starts = np.cumsum(steps) - steps
    turned = np.zeros(len(steps), bool)
    turned[one[1:][(one[1:] == one[:-1]) & (free[1:] != free[:-1])]] = True
    whole = flat[:, :1] + span[:, :, None] * (flat[:, 1:] - flat[:, :1])
    for row, start in enumerate(starts.tolist()):
        if not turned[row]:
            (shown if free[start] else covered).append(whole[row])
            continue
        count, (first, last) = int(steps[row]), span[row]
        own = free[start : start + count]
        kept_cuts = [0]
        for cut in (np.flatnonzero(own[1:] != own[:-1]) + 1).tolist():
            if cut - kept_cuts[-1] >= _LEAST_RUN:
                kept_cuts.append(cut)
        for i, j in pairwise((*kept_cuts, count)):
            part = first + np.array([i, j]) / count * (last - first)
            run = flat[row, 0] + part[:, None] * (flat[row, 1] - flat[row, 0])
            (shown if 2 * int(own[i:j].sum()) >= j - i else covered).append(run)


def _clipped(a: Array, b: Array, low: Array, high: Array) -> Array:
    """Shares (n, 2) of the way from a to b (n, 2) at which it enters and leaves the window; 1, 0 where it passes by."""
    step = b - a
    level = np.abs(step) < 1e-12
    safe = np.where(level, 1.0, step)
    t0, t1 = (low - a) / safe, (high - a) / safe
    first = np.where(level, 0.0, np.minimum(t0, t1)).max(axis=1)
    last = np.where(level, 1.0, np.maximum(t0, t1)).min(axis=1)
    past = np.any(level & ((a < low) | (a > high)), axis=1, keepdims=True)
    return np.where(past, [1.0, 0.0], np.column_stack([np.maximum(first, 0.0), np.minimum(last, 1.0)]))


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
