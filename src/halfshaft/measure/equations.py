"""What each kind of reading should show: positions, normals and level axes in, values and gradients out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DEG = 180.0 / np.pi
_TINY = 1e-9


@dataclass(frozen=True, eq=False)
class Sight:
    """k equations of one kind in their working axes (one body's own, or the root's).

    `x` (k, s, 3) points in mm; `n` (k, q, 3) unit normals; `d` (k, q) distances; `axis` (k, 3) unit axis of the frame;
    `origin` (k, 3) of the frame or of the face's body; `factor` (k, 2) of the linear kinds.
    """

    x: Array
    n: Array
    d: Array
    axis: Array
    origin: Array
    factor: Array


@dataclass(frozen=True, eq=False)
class Slopes:
    """Values (k,) in mm or degrees and gradients with respect to each field of `Sight`, same shapes."""

    value: Array
    x: Array
    n: Array
    d: Array
    axis: Array
    origin: Array


def cross(first: Array, second: Array) -> Array:
    """Cross products of rows (..., 3); numpy's own spends most of its time on axes when rows are few."""
    a, b, c = first[..., 0], first[..., 1], first[..., 2]
    u, v, w = second[..., 0], second[..., 1], second[..., 2]
    x = b * w - c * v
    out = np.empty((*x.shape, 3))
    out[..., 0], out[..., 1], out[..., 2] = x, c * u - a * w, a * v - b * u
    return out


def lengths(rows: Array) -> Array:
    """Length of each row (k, 3); as numpy's norm, which takes longer to see that this is all."""
    return np.asarray(np.sqrt(np.add.reduce(rows * rows, axis=1)))


def _across(direction: Array) -> Array:
    """Some unit vector (k, 3) square to each `direction` (k, 3), the same one each time."""
    least = np.argmin(np.abs(direction), axis=1)
    helper = np.zeros(direction.shape)
    helper[np.arange(len(direction)), least] = 1.0
    out = cross(direction, helper)
    size = lengths(out)[:, None]
    return np.asarray(np.where(size > _TINY, out / np.maximum(size, _TINY), helper))


def _unit(vector: Array) -> tuple[Array, Array]:
    """Lengths (k,) and unit vectors (k, 3); where the length is nothing, +x stands in so that no slope is lost."""
    length = lengths(vector)
    ok = length > _TINY
    safe = np.where(ok, length, 1.0)
    return length, np.where(ok[:, None], vector / safe[:, None], np.array([1.0, 0.0, 0.0]))


def _empty(sight: Sight, value: Array) -> Slopes:
    return Slopes(
        value,
        np.zeros(sight.x.shape),
        np.zeros(sight.n.shape),
        np.zeros(sight.d.shape),
        np.zeros(sight.axis.shape),
        np.zeros(sight.origin.shape),
    )


def linear(sight: Sight) -> Slopes:
    """Sum of factor_i * axis . (x_i - origin): height, rise, offset, station, given, mirror."""
    count = sight.x.shape[1]
    factor = sight.factor[:, :count]
    away = sight.x - sight.origin[:, None, :]
    mixed = np.einsum("ks,ksi->ki", factor, away)
    out = _empty(sight, np.einsum("ki,ki->k", mixed, sight.axis))
    out.x[:] = factor[:, :, None] * sight.axis[:, None, :]
    out.axis[:] = mixed
    out.origin[:] = -factor.sum(axis=1)[:, None] * sight.axis
    return out


def distance(sight: Sight) -> Slopes:
    """Tape and caliper: |B - A|."""
    length, along = _unit(sight.x[:, 1] - sight.x[:, 0])
    out = _empty(sight, length)
    out.x[:, 0], out.x[:, 1] = -along, along
    return out


def _between(u: Array, v: Array) -> tuple[Array, Array, Array]:
    """Angle (k,) in radians between unit vectors and the unit directions in which each end opens it.

    Straight and folded-back angles have no slope of their own; a fixed sideways direction stands in.
    """
    cos = np.einsum("ki,ki->k", u, v)
    sin = lengths(cross(u, v))
    angle = np.arctan2(sin, cos)
    flat = sin < 1e-7
    safe = np.where(flat, 1.0, sin)[:, None]
    sideways = _across(u)
    open_u = np.where(flat[:, None], sideways, (u * cos[:, None] - v) / safe)
    open_v = np.where(flat[:, None], -np.sign(cos)[:, None] * sideways, (v * cos[:, None] - u) / safe)
    return angle, open_u, open_v


def angle(sight: Sight) -> Slopes:
    """Angle at the middle point between the ways to the first and the last, degrees."""
    length_u, u = _unit(sight.x[:, 0] - sight.x[:, 1])
    length_v, v = _unit(sight.x[:, 2] - sight.x[:, 1])
    turn, open_u, open_v = _between(u, v)
    out = _empty(sight, DEG * turn)
    out.x[:, 0] = DEG * open_u / np.maximum(length_u, 1e-3)[:, None]
    out.x[:, 2] = DEG * open_v / np.maximum(length_v, 1e-3)[:, None]
    out.x[:, 1] = -out.x[:, 0] - out.x[:, 2]
    return out


def slope(sight: Sight) -> Slopes:
    """Slope of the line A to B against level, degrees, positive when B is higher: atan2(rise, run)."""
    way = sight.x[:, 1] - sight.x[:, 0]
    rise = np.einsum("ki,ki->k", way, sight.axis)
    level = way - rise[:, None] * sight.axis
    run = lengths(level)
    upright = run < _TINY * np.maximum(1.0, np.abs(rise))
    level_unit = np.where(upright[:, None], _across(sight.axis), level / np.where(upright, 1.0, run)[:, None])
    square = np.maximum(rise**2 + run**2, 1e-6)
    out = _empty(sight, DEG * np.arctan2(rise, run))
    gradient = DEG * (run[:, None] * sight.axis - rise[:, None] * level_unit) / square[:, None]
    out.x[:, 0], out.x[:, 1] = -gradient, gradient
    out.axis[:] = DEG * level_unit
    return out


def bevel(sight: Sight) -> Slopes:
    """Included angle a bevel gauge shows between two faces: 180 - angle of the outward normals, degrees."""
    turn, open_u, open_v = _between(sight.n[:, 0], sight.n[:, 1])
    out = _empty(sight, 180.0 - DEG * turn)
    out.n[:, 0], out.n[:, 1] = -DEG * open_u, -DEG * open_v
    return out


def onface(sight: Sight) -> Slopes:
    """Stand-off of a point over a face: n . (x - origin of the face's body) - d."""
    away = sight.x[:, 0] - sight.origin
    normal = sight.n[:, 0]
    out = _empty(sight, np.einsum("ki,ki->k", normal, away) - sight.d[:, 0])
    out.x[:, 0] = normal
    out.n[:, 0] = away
    out.d[:, 0] = -1.0
    out.origin[:] = -normal
    return out


# Axis of the frame and factors of the first and second point, by kind and part.
LINEAR: dict[tuple[str, int], tuple[int, float, float]] = {
    ("height", 0): (2, 1.0, 0.0),
    ("rise", 0): (2, -1.0, 1.0),
    ("offset", 0): (1, 1.0, 0.0),
    ("station", 0): (0, 1.0, 0.0),
    ("given", 0): (0, 1.0, 0.0),
    ("given", 1): (1, 1.0, 0.0),
    ("given", 2): (2, 1.0, 0.0),
    ("mirror", 0): (0, 1.0, -1.0),
    ("mirror", 1): (1, 1.0, 1.0),
    ("mirror", 2): (2, 1.0, -1.0),
}

FORMULAS: dict[str, Callable[[Sight], Slopes]] = {
    "linear": linear,
    "distance": distance,
    "angle": angle,
    "slope": slope,
    "bevel": bevel,
    "onface": onface,
}
