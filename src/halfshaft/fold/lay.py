"""A flat part as it lies on the table: against a fence and a stop. Part in, the same part turned and shifted out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.fold.model import FlatPart, Hole, Mark

Array = NDArray[np.float64]


def turned(part: FlatPart, rotation: Array, shift_mm: Array) -> FlatPart:
    """The part rigidly moved in its plane by `rotation` (2, 2), then `shift_mm` (2,).

    Raises ValueError for a matrix that mirrors or stretches.
    """
    matrix, shift = np.asarray(rotation, dtype=float), np.asarray(shift_mm, dtype=float)
    if not np.allclose(matrix @ matrix.T, np.eye(2), atol=1e-9) or np.linalg.det(matrix) < 0.0:
        raise ValueError("a part is laid by turning and shifting only")

    def move(points: Array) -> Array:
        return np.asarray(np.asarray(points, dtype=float) @ matrix.T + shift)

    def bore(hole: Hole) -> Hole:
        return replace(hole, centre_mm=move(hole.centre_mm), slot_way=matrix @ np.asarray(hole.slot_way, dtype=float))

    return replace(
        part,
        outline=part.outline.moved(matrix, shift),
        openings=tuple(opening.moved(matrix, shift) for opening in part.openings),
        bores=tuple(bore(hole) for hole in part.bores),
        slits_mm=tuple(move(line) for line in part.slits_mm),
        fold_lines_mm={name: move(line) for name, line in part.fold_lines_mm.items()},
        marks=tuple(Mark(tuple(move(stroke) for stroke in mark.strokes_mm), mark.text) for mark in part.marks),
        placed={name: (matrix @ turn, move(at)) for name, (turn, at) in part.placed.items()},
    )


def laid(part: FlatPart) -> FlatPart:
    """The part on its longest resting edge: that edge along y = 0, the metal above it, the leftmost metal at x = 0.

    The resting edge is the longest side of the convex hull, so that x and y of a hole can be taken with a square
    from a fence and a stop, on paper, on the table or on the finished blank.
    """
    hull = part.outline.polygon(1e-3).convex_hull
    if not isinstance(hull, Polygon):
        raise ValueError(f"part '{part.name}' has an outline that encloses nothing")
    ring = np.asarray(hull.exterior.coords)
    if not hull.exterior.is_ccw:
        ring = ring[::-1]
    sides = np.diff(ring, axis=0)
    lengths = np.round(np.hypot(sides[:, 0], sides[:, 1]), 6)
    longest = sides[int(np.argmax(lengths))]
    x, y = longest / np.linalg.norm(longest)
    matrix = np.array([[x, y], [-y, x]])
    points = ring @ matrix.T
    return turned(part, matrix, -points.min(axis=0))
