"""Straight pieces of lines: ends in, how near two come, out."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def apart_mm(one: ArrayLike, other: ArrayLike) -> Array:
    """Least distance (...) between straight pieces told by their ends, (..., 2, 3) each; the two are broadcast.

    The distance squared is convex in the two spots' shares: its least lies within both pieces, else at an end of one.
    """
    a, b = np.broadcast_arrays(np.asarray(one, dtype=float), np.asarray(other, dtype=float))
    found = [
        _to_piece(a[..., 0, :], b), _to_piece(a[..., 1, :], b), _to_piece(b[..., 0, :], a), _to_piece(b[..., 1, :], a),
    ]  # fmt: skip
    u, v, w = a[..., 1, :] - a[..., 0, :], b[..., 1, :] - b[..., 0, :], a[..., 0, :] - b[..., 0, :]
    uu, vv, uv = (np.sum(p * q, axis=-1) for p, q in ((u, u), (v, v), (u, v)))
    uw, vw = np.sum(u * w, axis=-1), np.sum(v * w, axis=-1)
    square = uu * vv - uv**2
    crossing = square > 1e-12 * np.maximum(uu * vv, 1e-300)
    safe = np.where(crossing, square, 1.0)
    s, t = (uv * vw - vv * uw) / safe, (uu * vw - uv * uw) / safe
    within = crossing & (s >= 0.0) & (s <= 1.0) & (t >= 0.0) & (t <= 1.0)
    between = np.linalg.norm(w + s[..., None] * u - t[..., None] * v, axis=-1)
    return np.asarray(np.minimum.reduce([*found, np.where(within, between, np.inf)]))


def _to_piece(spot: Array, piece: Array) -> Array:
    way = piece[..., 1, :] - piece[..., 0, :]
    off = spot - piece[..., 0, :]
    size = np.sum(way * way, axis=-1)
    share = np.clip(np.sum(off * way, axis=-1) / np.where(size > 0.0, size, 1.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(off - share[..., None] * way, axis=-1))
