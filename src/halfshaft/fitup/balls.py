"""Points in a tree of balls: points in, balls in the order they are worked out, each with where to skip to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.fitup.model import Array

_FEW = 6


@dataclass(frozen=True, eq=False)
class Balls:
    """centre (m, 3); radius (m,), nought for a point; skip (m,) past what the ball holds; point (m,), -1 for a ball."""

    centre_mm: Array
    radius_mm: Array
    skip: NDArray[np.int64]
    point: NDArray[np.int64]


def balls(points_mm: Array) -> Balls:
    """Halved along the longest side until few points are left."""
    centre: list[Array] = []
    radius: list[float] = []
    skip: list[int] = []
    point: list[int] = []

    def add(members: NDArray[np.int64]) -> None:
        spots = points_mm[members]
        if len(members) > 1:
            low, high = spots.min(axis=0), spots.max(axis=0)
            middle = (low + high) / 2.0
            at = len(centre)
            centre.append(middle)
            radius.append(float(np.linalg.norm(spots - middle, axis=1).max()) + 1e-6)
            skip.append(0)
            point.append(-1)
            if len(members) > _FEW:
                order = np.argsort(spots[:, int(np.argmax(high - low))], kind="stable")
                half = len(members) // 2
                add(members[order[:half]])
                add(members[order[half:]])
            else:
                for one in members:
                    leaf(int(one))
            skip[at] = len(centre)
        elif len(members):
            leaf(int(members[0]))

    def leaf(one: int) -> None:
        centre.append(points_mm[one])
        radius.append(0.0)
        skip.append(len(centre))
        point.append(one)

    add(np.arange(len(points_mm)))
    return Balls(
        np.array(centre).reshape(-1, 3),
        np.array(radius),
        np.array(skip, dtype=np.int64),
        np.array(point, dtype=np.int64),
    )
