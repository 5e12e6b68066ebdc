"""Bottom-left placement, as simple as textbooks tell it: the yardstick that nesting must beat.

Parts in order of falling area; each goes where its bounds' lower left corner can lie farthest left, then lowest, among
the corners and bounds of what lies there, tried at each allowed turn, and is then slid left and down until it touches.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

_TOUCH = 1e-6


def bottom_left(shapes: list[Polygon], turns_deg: list[float], height: float) -> tuple[float, list[Polygon]]:
    """Length of the strip and the shapes in it."""
    placed: list[Polygon] = []
    for shape in sorted(shapes, key=lambda s: -s.area):
        best: tuple[float, float, float, Polygon] | None = None
        for turn in turns_deg:
            there = affinity.rotate(shape, turn, origin=(0.0, 0.0))
            x0, y0, _, y1 = there.bounds
            there = affinity.translate(there, -x0, -y0)
            tall = y1 - y0
            if tall > height + _TOUCH:
                continue
            for x, y in _spots(placed, tall, height):
                own = affinity.translate(there, x, y)
                if _free(own, placed, height):
                    own = _slid(own, placed, height)
                    a, b, c, _ = own.bounds
                    if best is None or (c, a, b) < best[:3]:
                        best = (c, a, b, own)
                    break
        assert best is not None, "a shape higher than the strip"
        placed.append(best[3])
    return max(s.bounds[2] for s in placed), placed


def _spots(placed: list[Polygon], tall: float, height: float) -> list[tuple[float, float]]:
    xs, ys = {0.0}, {0.0, height - tall}
    for shape in placed:
        x0, y0, x1, y1 = shape.bounds
        corners = shape.exterior.simplify(1.0).coords
        xs |= {x0, x1} | {float(x) for x, _ in corners}
        ys |= {y0, y1, y0 - tall} | {float(y) for _, y in corners}
    fits = sorted(y for y in ys if -_TOUCH <= y <= height - tall + _TOUCH)
    return [(x, y) for x in sorted(xs) for y in fits]


def _free(own: Polygon, placed: list[Polygon], height: float) -> bool:
    x0, y0, _, y1 = own.bounds
    if x0 < -_TOUCH or y0 < -_TOUCH or y1 > height + _TOUCH:
        return False
    if not placed:
        return True
    inner = own.buffer(-1e-7)
    return not bool(np.any(shapely.intersects(inner, np.array(placed, dtype=object))))


def _slid(own: Polygon, placed: list[Polygon], height: float) -> Polygon:
    """Left, then down, in halving steps, until neither moves it."""
    for _ in range(3):
        for way in ((-1.0, 0.0), (0.0, -1.0)):
            step = height / 4.0
            while step > 1e-3:
                moved = affinity.translate(own, way[0] * step, way[1] * step)
                if _free(moved, placed, height):
                    own = moved
                else:
                    step /= 2.0
    return own
