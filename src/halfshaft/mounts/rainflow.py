"""Counting the swings of a history: a row of values in; ranges, means and how often out."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def turning_points(history: ArrayLike) -> Array:
    """First value, peaks and valleys, last value; (k,) of (n,). Level stretches count once.

    Raises ValueError for values that are not numbers.
    """
    values: Array = np.asarray(history, dtype=float).ravel()
    if not np.isfinite(values).all():
        raise ValueError("a history of loads holds numbers only")
    if not len(values):
        return values
    values = values[np.concatenate([[True], np.diff(values) != 0.0])]
    if len(values) < 3:
        return values
    slope = np.sign(np.diff(values))
    keep = np.concatenate([[True], slope[1:] != slope[:-1], [True]])
    out: Array = values[keep]
    return out


def rainflow(history: ArrayLike) -> Array:
    """Swings of a history: rows (range, mean, count), count 1 or 0.5, in the order they close; (k, 3).

    Raises ValueError for values that are not numbers. Source: ASTM E1049-85, 5.4.4, rainflow counting.
    """
    out: list[tuple[float, float, float]] = []
    stack: list[float] = []
    for point in turning_points(history):
        stack.append(float(point))
        while len(stack) >= 3:
            newest, before = abs(stack[-1] - stack[-2]), abs(stack[-2] - stack[-3])
            if newest < before:
                break
            middle = (stack[-2] + stack[-3]) / 2.0
            if len(stack) == 3:
                out.append((before, middle, 0.5))
                del stack[0]
            else:
                out.append((before, middle, 1.0))
                del stack[-3:-1]
    out += [(abs(b - a), (a + b) / 2.0, 0.5) for a, b in pairwise(stack)]
    return np.array(out, dtype=float).reshape(-1, 3)


def rainflow_repeated(history: ArrayLike) -> Array:
    """Swings of a history that comes round again and again: full counts only, the largest swing whole; (k, 3).

    Source: ASTM E1049-85, 5.4.5, simplified rainflow counting for repeating histories.
    """
    points = turning_points(history)
    if len(points) < 2:
        return np.empty((0, 3))
    start = int(np.argmax(points))
    # begun and ended at the highest point, every swing closes but the largest, counted as two halves
    counted = rainflow(np.concatenate([points[start:], points[: start + 1]]))
    halves = counted[counted[:, 2] == 0.5]
    whole = counted[counted[:, 2] == 1.0]
    if not len(halves):
        return np.array(whole)
    joined = np.column_stack([halves[::2, 0], halves[::2, 1], np.ones(len(halves[::2]))])
    out: Array = np.vstack([whole, joined])
    return out


def spectrum(swings: Iterable[ArrayLike], digits: int = 6) -> tuple[tuple[float, float], ...]:
    """Swings gathered into (range, count), the largest first; ranges are alike when they agree to `digits`."""
    total: dict[float, float] = {}
    for size, _, count in (np.asarray(row, dtype=float) for row in swings):
        key = round(float(size), digits)
        total[key] = total.get(key, 0.0) + float(count)
    return tuple(sorted(total.items(), reverse=True))
