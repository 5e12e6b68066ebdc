"""Rough places of all points of one body, from distances, axis readings and hints. No starting places are needed.

Points start in five dimensions, where one that lies on the wrong side of others can go round them; the two dimensions
too many are pressed flat while the misfit that counts as a slip shrinks.
Source: G. M. Crippen and T. F. Havel, Distance Geometry and Molecular Conformation, 1988 (more dimensions);
A. Blake and A. Zisserman, Visual Reconstruction, 1987 (graduated non-convexity). From memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

_DIMENSIONS = 5
_PRESS = ((400.0, 0.0), (200.0, 0.02), (120.0, 0.1), (60.0, 0.4), (30.0, 2.0), (12.0, 10.0), (6.0, 100.0))
_STEPS = 7


@dataclass(frozen=True, eq=False)
class Rough:
    """Lengths between points, and sums of coordinates along one axis, all in mm.

    `pair` (k, 2) with `length` (k,); linear: factor_a * x[a, axis] + factor_b * x[b, axis] = value, all (q,).
    `hint_point`, `hint_axis`, `hint_sign`, `hint_from`, `hint_soft` (h,): sign * (x - from) should not be negative.
    """

    count: int
    pair: Ints
    length: Array
    lin_point: Ints  # (q, 2)
    lin_factor: Array  # (q, 2)
    lin_axis: Ints
    lin_value: Array
    hint_point: Ints
    hint_axis: Ints
    hint_sign: Array
    hint_from: Array
    hint_soft: Array


def rough_places(rough: Rough, rng: np.random.Generator, layouts: int = 1) -> Array:
    """Places (layouts, count, 3) in mm, each from a random start of its own."""
    x = np.array([_start(rough, rng) for _ in range(layouts)])
    entries = _entries(rough)
    for scale, press in _PRESS:
        for step in range(_STEPS):
            if not _improve(rough, entries, x, scale, press, 0.02 if step else 0.1):
                break
    return x[:, :, :3].copy()


def _start(rough: Rough, rng: np.random.Generator) -> Array:
    size = float(np.median(rough.length)) if len(rough.length) else 500.0
    x = rng.normal(size=(rough.count, _DIMENSIONS)) * (0.5 * size)
    single = rough.lin_factor[:, 1] == 0.0
    for axis in range(3):
        known = single & (rough.lin_axis == axis)
        if known.any():
            x[:, axis] = np.median(rough.lin_value[known]) + 0.3 * x[:, axis]
    far = rough.hint_from + rough.hint_sign * 0.5 * size
    x[rough.hint_point, rough.hint_axis] = far + 0.1 * size * rng.normal(size=len(far))
    at = rough.lin_point[single, 0]
    x[at, rough.lin_axis[single]] = rough.lin_value[single]
    return x


@dataclass(frozen=True, eq=False)
class _Entries:
    """Where each computed value goes in the flat matrix (n d, n d) and gradient (n d,) of one layout."""

    matrix: Ints
    gradient: Ints


def _entries(rough: Rough) -> _Entries:
    n, dims = rough.count, _DIMENSIONS
    axes = np.arange(dims)
    a, b = rough.pair[:, 0], rough.pair[:, 1]

    def block(first: Ints, second: Ints) -> Ints:
        row = (first[:, None] * dims + axes)[:, :, None]
        column = (second[:, None] * dims + axes)[:, None, :]
        return np.asarray((row * (n * dims) + column).ravel(), dtype=np.intp)

    matrix = [block(a, a), block(b, b), block(a, b), block(b, a)]
    gradient = [(a[:, None] * dims + axes).ravel(), (b[:, None] * dims + axes).ravel()]
    spot = rough.lin_point * dims + rough.lin_axis[:, None]
    for i in range(2):
        gradient.append(spot[:, i])
        matrix.extend(spot[:, i] * (n * dims) + spot[:, j] for j in range(2))
    hint = rough.hint_point * dims + rough.hint_axis
    gradient.append(hint)
    matrix.append(hint * (n * dims + 1))
    return _Entries(np.concatenate(matrix), np.concatenate(gradient))


def _summed(where: Ints, values: list[Array], layouts: int, size: int) -> Array:
    """Sums (layouts, size) of values, each (layouts, ...), that go to the same entry."""
    flat = np.concatenate([v.reshape(layouts, -1) for v in values], axis=1)
    at = (np.arange(layouts)[:, None] * size + where).ravel()
    summed = np.bincount(at, flat.ravel(), minlength=layouts * size)
    return np.asarray(summed, dtype=float).reshape(layouts, size)


def _improve(rough: Rough, entries: _Entries, x: Array, scale: float, press: float, damping: float) -> bool:
    """One damped step of every layout (k, n, d) in place; False when they hardly move."""
    k, n, dims = x.shape
    size_of = n * dims
    a, b = rough.pair[:, 0], rough.pair[:, 1]
    way = x[:, b] - x[:, a]
    size = np.maximum(np.linalg.norm(way, axis=2), 1e-6)
    unit = way / size[..., None]
    off = size - rough.length
    weight = 1.0 / (1.0 + (off / scale) ** 2) ** 2
    # a length that is too long also resists sideways moves: that keeps the step honest far from the answer
    side = np.maximum(off, 0.0) / size * weight
    block = (weight - side)[..., None, None] * unit[..., :, None] * unit[..., None, :]
    block[..., np.arange(dims), np.arange(dims)] += side[..., None]
    pull = (weight * off)[..., None] * unit
    in_matrix, in_gradient = [block, block, -block, -block], [-pull, pull]

    p, f, axis = rough.lin_point, rough.lin_factor, rough.lin_axis
    off = f[:, 0] * x[:, p[:, 0], axis] + f[:, 1] * x[:, p[:, 1], axis] - rough.lin_value
    weight = 4.0 / (1.0 + (off / scale) ** 2) ** 2
    for i in range(2):
        in_gradient.append(weight * off * f[:, i])
        in_matrix.extend(weight * f[:, i] * f[:, j] for j in range(2))

    short = rough.hint_sign * (x[:, rough.hint_point, rough.hint_axis] - rough.hint_from) - 5.0
    short = np.minimum(short, 0.0)
    weight = np.where(short < 0.0, rough.hint_soft, 0.0) / (1.0 + (short / (3.0 * scale)) ** 2)
    in_gradient.append(weight * rough.hint_sign * short)
    in_matrix.append(weight)

    hessian = _summed(entries.matrix, in_matrix, k, size_of**2).reshape(k, size_of, size_of)
    gradient = _summed(entries.gradient, in_gradient, k, size_of)
    extra = np.flatnonzero(np.tile(np.arange(dims) >= 3, n))
    hessian[:, extra, extra] += press
    gradient[:, extra] += press * x.reshape(k, size_of)[:, extra]
    every = np.arange(size_of)
    hessian[:, every, every] += damping
    move = np.array([_step(h, g) for h, g in zip(hessian, gradient, strict=True)])
    largest = np.max(np.abs(move), axis=1, initial=0.0)
    x += (move * np.minimum(1.0, 1500.0 / np.maximum(largest, 1e-9))[:, None]).reshape(k, n, dims)
    return bool(np.max(largest, initial=0.0) > 0.05 * scale)


def _step(hessian: Array, gradient: Array) -> Array:
    try:
        factor = cho_factor(hessian, lower=True, check_finite=False)
        return np.asarray(-cho_solve(factor, gradient, check_finite=False))
    except np.linalg.LinAlgError:
        hessian = hessian + np.eye(len(hessian))
        return np.asarray(np.linalg.lstsq(hessian, -gradient, rcond=None)[0])
