"""Distances on a grid: solids with a clearance each in, the signed distance less that clearance at every node out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.ndimage import distance_transform_edt

from halfshaft.fitup.loops import band, values_at, winding
from halfshaft.fitup.model import Array
from halfshaft.geometry.mesh import MeshSolid
from halfshaft.progress import Progress, silent

_NEAR_STEPS = 6  # so many steps off a skin distances are exact at the nodes
_COARSE = 4  # a coarse grid of every fourth node stays in the processor's nearest memory
_HALF = np.sqrt(3.0) / 2.0
_NOTHING_MM = 1e6
_LEAST_STEP_MM, _MOST_STEP_MM = 2.0, 10.0


@dataclass(frozen=True, eq=False)
class Field:
    """Signed distance from the nearest of several solids, less its clearance: negative inside the grown solid.

    `values` (nx, ny, nz) at `origin_mm` + index * `step_mm`; `coarse` has every fourth node of them. Where a solid
    reaches past the grid no value, of either sign, is larger than is known from inside: six steps and the way out.
    """

    origin_mm: Array
    step_mm: float
    values: NDArray[np.float32]
    coarse: NDArray[np.float32]
    ratio: int = _COARSE

    @property
    def near_mm(self) -> float:
        """Values smaller than this, either sign, hold to the near bound."""
        return (_NEAR_STEPS - 3) * self.step_mm

    @property
    def near_error_mm(self) -> float:
        """Half a cell's diagonal: between exact nodes the distance changes by no more than a mm a mm."""
        return float((_HALF + 0.01) * self.step_mm)

    @property
    def error_mm(self) -> float:
        """Bound anywhere on the grid: farther off the nodes themselves are known to a quarter of the diagonal."""
        return float((1.5 * _HALF + 0.02) * self.step_mm)

    @property
    def bounds_mm(self) -> tuple[Array, Array]:
        return self.origin_mm, self.origin_mm + self.step_mm * (np.array(self.values.shape) - 1)

    def bound_mm(self, values_mm: ArrayLike) -> Array:
        """How far off values read from the field may be."""
        near = np.abs(np.asarray(values_mm, dtype=float)) < self.near_mm
        return np.where(near, self.near_error_mm, self.error_mm)

    def at(self, spots_mm: ArrayLike) -> Array:
        """Values (n,) at spots (n, 3); off the grid the edge's value less the way there, which is never too much."""
        return values_at(self.values, self.origin_mm, self.step_mm, np.atleast_2d(np.asarray(spots_mm, dtype=float)))


def step_for(low_mm: Array, high_mm: Array, nodes: float = 2.5e6) -> float:
    """The step, 2 to 10 mm, at which a box holds about so many nodes."""
    return float(np.clip(np.cbrt(np.prod(high_mm - low_mm) / nodes), _LEAST_STEP_MM, _MOST_STEP_MM))


def field_of(
    solids: Sequence[tuple[MeshSolid, float]],
    low_mm: Array,
    high_mm: Array,
    step_mm: float,
    progress: Progress = silent,
) -> Field:
    """The field of (solid, clearance in mm) pairs over the box from low to high corner (3,)."""
    origin = np.asarray(low_mm, dtype=float)
    shape = np.maximum(np.ceil((np.asarray(high_mm) - origin) / step_mm).astype(int) + 1, 2)
    near = _NEAR_STEPS * step_mm
    out = np.full(tuple(shape), _NOTHING_MM, dtype=np.float32)
    to_edge = _to_edge(shape) * step_mm
    past_edge = False
    for at, (solid, clearance) in enumerate(solids):
        progress(0.8 * at / max(len(solids), 1), "distances")
        if solid.empty:
            continue
        reach = near + clearance
        low, high = solid.bounds_mm
        past = bool(np.any(low < origin) or np.any(high > origin + step_mm * (shape - 1)))
        past_edge |= past
        first = np.clip(np.floor((low - reach - origin) / step_mm).astype(int), 0, shape - 1)
        last = np.clip(np.ceil((high + reach - origin) / step_mm).astype(int), 0, shape - 1)
        if np.any(low - reach > origin + step_mm * (shape - 1)) or np.any(high + reach < origin):
            continue
        corners, triangles = solid.triangles
        faces = np.ascontiguousarray(corners[triangles])
        start = origin + first * step_mm
        distance = np.full(tuple(last - first + 1), _NOTHING_MM, dtype=np.float32)
        band(faces, start, step_mm, reach, distance)
        turns = np.zeros(distance.shape, dtype=np.int16)
        winding(faces, start, step_mm, turns)
        filled = turns > 0
        deep = filled & (distance > reach)
        if deep.any():
            way = _way(deep, step_mm)
            way = np.maximum(way - 0.5 * _HALF * step_mm, 0.0)
            if past:
                way = np.minimum(way, to_edge[tuple(slice(a, b + 1) for a, b in zip(first, last, strict=True))])
            distance = np.where(deep, reach + way, distance)
        signed = np.where(filled, -distance, distance) - np.float32(clearance)
        signed[~filled & (distance > reach)] = _NOTHING_MM
        part = out[tuple(slice(a, b + 1) for a, b in zip(first, last, strict=True))]
        np.minimum(part, signed, out=part)
    progress(0.8, "distances farther off")
    far = out > near
    if far.any():
        way = np.maximum(_way(far, step_mm) - 0.5 * _HALF * step_mm, 0.0)
        if past_edge:
            way = np.minimum(way, to_edge)
        out[far] = near + way[far]
    progress(1.0, "distances")
    return Field(origin, step_mm, out, np.ascontiguousarray(out[::_COARSE, ::_COARSE, ::_COARSE]))


def _way(unknown: NDArray[np.bool_], step_mm: float) -> Array:
    """From each unknown node to the nearest known one, mm."""
    if unknown.all():
        return np.full(unknown.shape, _NOTHING_MM)
    return np.asarray(distance_transform_edt(unknown, sampling=step_mm))


def _to_edge(shape: NDArray[np.int64]) -> NDArray[np.float32]:
    """Steps from each node to the nearest side of the grid."""
    ways = [np.minimum(np.arange(n), np.arange(n)[::-1]).astype(np.float32) for n in shape]
    return np.minimum(np.minimum(ways[0][:, None, None], ways[1][None, :, None]), ways[2][None, None, :])
