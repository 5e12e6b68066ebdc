"""The marking pass. Marks of the parts and centres of holes to drill in; runs of the marker, in a short order, out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.cut.layers import Path
from halfshaft.cut.path.curve import Curve
from halfshaft.cut.path.model import Cut, OnSheet, Setup
from halfshaft.cut.path.order import ordered

Array = NDArray[np.float64]

_JOIN_MM = 1e-3
_ARM_MM = 2.0  # of the cross at a hole's centre


def marks_of(
    parts: Sequence[OnSheet], drill_mm: Sequence[tuple[float, float]], setup: Setup, home_mm: Array
) -> tuple[Cut, ...]:
    """Strokes that meet are run in one; a hole to drill gets a small cross."""
    found: list[Cut] = []
    for part in parts:
        strokes = [f.shape.points_mm for f in part.figures if f.layer == "mark" and isinstance(f.shape, Path)]
        found += [Cut("mark", part.name, Curve.of_points(line), setup.mark_feed_mm_min) for line in _chained(strokes)]
    for spot in drill_mm:
        middle = np.asarray(spot)
        for arm in (np.array([_ARM_MM, 0.0]), np.array([0.0, _ARM_MM])):
            line = Curve.of_points([middle - arm, middle + arm])
            found.append(Cut("spot", "", line, setup.mark_feed_mm_min))
    begins = np.array([cut.path.start_mm for cut in found]).reshape(-1, 2)
    ends = np.array([cut.path.end_mm for cut in found]).reshape(-1, 2)
    order = ordered(begins, ends, [[] for _ in found], 0.0, home_mm)
    return tuple(found[number] for number in order)


def _chained(strokes: Sequence[Array]) -> list[Array]:
    """Strokes joined end to end, either way round, for as long as an end meets the end of another."""
    left = [line for line in (_without_doubles(np.asarray(s, dtype=float)) for s in strokes) if len(line) > 1]
    out: list[Array] = []
    while left:
        line = left.pop(0)
        while (found := _next(line, left)) is not None:
            number, at_end, turned = found
            other = left.pop(number)
            other = other[::-1] if turned else other
            line = np.vstack([line, other[1:]]) if at_end else np.vstack([other[:-1], line])
        out.append(line)
    return out


def _next(line: Array, others: Sequence[Array]) -> tuple[int, bool, bool] | None:
    """A stroke that goes on from the line's end or leads to its start: which, at the end, to be turned about."""
    for number, other in enumerate(others):
        for at_end, spot in ((True, line[-1]), (False, line[0])):
            for turned in (False, True):
                meets = other[0] if at_end != turned else other[-1]
                if np.linalg.norm(spot - meets) < _JOIN_MM:
                    return number, at_end, turned
    return None


def _without_doubles(line: Array) -> Array:
    keep = np.concatenate([[True], np.linalg.norm(np.diff(line, axis=0), axis=1) > _JOIN_MM])
    return np.asarray(line[keep])
