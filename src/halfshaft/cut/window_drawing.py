"""A window in its wall, seen from outside the metal: a window and a room on paper in, a drawing with its sizes out."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from halfshaft.build.units import format_length
from halfshaft.cut.dimension import dimension
from halfshaft.cut.drawing import GREY, HIDDEN, Drawing, Label, Mark, Stroke, line
from halfshaft.geometry import Contour

if TYPE_CHECKING:
    from halfshaft.fitup.window import Window

Array = NDArray[np.float64]

_AROUND_MM = 60.0  # of the wall, drawn beyond the opening
_OVER_MM = 8.0  # drawn beyond a wall whose edge the opening runs over
_RIGHT_MM, _BELOW_MM, _TOP_MM = 26.0, 15.0, 5.0
_LEAST_MM = 5.0  # on the paper: a shorter dimension cannot be read


def window_drawing(window: Window, units: str, room_mm: tuple[float, float]) -> Drawing:
    """As large as the room lets it, no larger than the metal. Sizes over all, and to the wall's two edges."""
    hole = window.contour.polygon(0.05)
    x0, y0, x1, y1 = hole.bounds
    _, low, _, high = window.wall.outline.bounds
    shown = box(x0 - _AROUND_MM, min(low, y0) - _OVER_MM, x1 + _AROUND_MM, max(high, y1) + _OVER_MM)
    metal = window.wall.outline.intersection(shown)
    u0, v0, u1, v1 = metal.union(hole).bounds
    ratio = min((room_mm[0] - _RIGHT_MM) / (u1 - u0), (room_mm[1] - _BELOW_MM - _TOP_MM) / (v1 - v0), 1.0)
    matrix, shift = np.diag([ratio, -ratio]), np.array([2.0 - u0 * ratio, _TOP_MM + v1 * ratio])

    def at(x: float, y: float) -> Array:
        return np.asarray(np.array([x, y]) @ matrix.T + shift)

    marks: list[Mark] = []
    for piece in getattr(metal, "geoms", [metal]):
        if isinstance(piece, Polygon) and not piece.is_empty:
            ring = Contour.of_points(np.asarray(piece.exterior.coords)[:-1])
            marks.append(Stroke((ring,), "", 0.0, "#e3e1db", (), matrix, shift))
    marks += _edges(window.wall.outline.bounds, (u0, v0, u1, v1), at)
    marks.append(Stroke((window.contour,), "#000000", 0.4, "#ffffff", (), matrix, shift))
    a, b = at(x0, y0), at(x1, y1)
    paper_low, paper_right = at(u0, v0)[1], at(u1, v1)[0]
    marks += dimension(a[0], b[0], paper_low + 9.0, _told(x1 - x0, units), True, feet=9.0 + paper_low - a[1])
    for first, last, off in ((y0, y1, 8.0), (y1, high, 17.0), (low, y0, 17.0)):
        if (last - first) * ratio >= _LEAST_MM:
            there = paper_right + off
            marks += dimension(
                at(0.0, first)[1], at(0.0, last)[1], there, _told(last - first, units), False, feet=there - b[0]
            )
    middle = at((x0 + x1) / 2.0, (y0 + y1) / 2.0)
    wide = (x1 - x0) * ratio
    if wide > 22.0 and (y1 - y0) * ratio > 8.0:
        marks.append(Label(middle, "cut out", italic=True, colour=GREY))
    size = ((u1 - u0) * ratio + _RIGHT_MM, (v1 - v0) * ratio + _BELOW_MM + _TOP_MM)
    return Drawing((float(size[0]), float(size[1])), tuple(marks), float(ratio))


def _told(length_mm: float, units: str) -> str:
    """The bare number: the sheet's foot names the unit."""
    return format_length(length_mm, units).removesuffix(" mm").removesuffix(" in")


def _edges(wall: tuple[float, ...], shown: tuple[float, ...], at: Callable[[float, float], Array]) -> list[Mark]:
    """The wall's own edges full, where it goes on past the drawing dashed."""
    left, low, right, high = wall
    u0, _, u1, _ = shown
    begin, end = max(left, u0), min(right, u1)
    out: list[Mark] = [line(at(begin, y), at(end, y), thick_mm=0.4) for y in (low, high)]
    for x, edge in ((begin, left), (end, right)):
        own = abs(x - edge) < 1e-6
        out.append(line(at(x, low), at(x, high), thick_mm=0.4 if own else 0.2, dash_mm=() if own else HIDDEN))
    return out
