"""Pages. Text of the typesetting language in, bytes of a PDF out. Only door to typst.

Only the fonts that come with the library are used and the date is fixed: equal pages are equal bytes on any machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import typst
from numpy.typing import NDArray

from halfshaft.cut.layers import Disc, Path, Shape
from halfshaft.geometry import Contour
from halfshaft.geometry.contour import arc_of

Array = NDArray[np.float64]

SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1

_KAPPA_SWEEP = np.pi / 4.0  # a Bezier run for each eighth of a turn errs by less than 5e-6 of the radius


class Unprintable(Exception):
    """Pages that the typesetter refuses; the text tells what it said."""


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False)


def pdf(source: str) -> bytes:
    """Pages of a document as a PDF. Raises Unprintable with the typesetter's words."""
    try:
        return bytes(
            typst.compile(source.encode("utf-8"), font_paths=_fonts(), format="pdf", timestamp=0, pdf_tags=False)
        )
    except typst.TypstError as error:
        raise Unprintable(str(error)) from error


def text(words: str) -> str:
    """Words as they stand, safe anywhere in the source: a string in code, whatever signs they hold."""
    clean = "".join(c if c.isprintable() else " " for c in words)
    return '#"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


def mm(value: float) -> str:
    return f"{value:.4f}mm"


def spot(point: Array) -> str:
    return f"({mm(float(point[0]))}, {mm(float(point[1]))})"


def run_parts(shape: Shape) -> list[tuple[str, Array]]:
    """The shape as 'move', 'line' and 'cubic' runs with their points (k, 2), arcs as Bezier curves, in its own axes."""
    if isinstance(shape, Disc):
        shape = Contour.circle(shape.centre_mm, shape.radius_mm)
    if isinstance(shape, Path):
        return [("move", shape.points_mm[:1]), *(("line", p[None, :]) for p in shape.points_mm[1:])]
    parts: list[tuple[str, Array]] = [("move", shape.points_mm[:1])]
    for start, end, bulge in zip(shape.points_mm, np.roll(shape.points_mm, -1, axis=0), shape.bulge, strict=True):
        if abs(bulge) < 1e-12:
            parts.append(("line", end[None, :]))
            continue
        centre, radius, first, sweep = arc_of(start, end, float(bulge))
        count = max(1, int(np.ceil(abs(sweep) / _KAPPA_SWEEP - 1e-9)))
        step = sweep / count
        reach = radius * 4.0 / 3.0 * np.tan(step / 4.0)
        at = first + step * np.arange(count + 1)
        rim = centre + radius * np.column_stack([np.cos(at), np.sin(at)])
        rim[0], rim[-1] = start, end
        way = np.column_stack([-np.sin(at), np.cos(at)]) * reach
        for i in range(count):
            parts.append(("cubic", np.array([rim[i] + way[i], rim[i + 1] - way[i + 1], rim[i + 1]])))
    parts.append(("close", np.zeros((0, 2))))
    return parts


def curve(shapes: Sequence[Shape], matrix: Array, shift_mm: Array, style: str) -> str:
    """One curve through all shapes, each moved by `matrix` (2, 2) and `shift_mm` (2,) into the page, y down."""
    runs = []
    for shape in shapes:
        for kind, points in run_parts(shape):
            if kind == "close":
                runs.append('curve.close(mode: "straight")')
                continue
            placed = points @ matrix.T + shift_mm
            runs.append(f"curve.{kind}({', '.join(spot(p) for p in placed)})")
    return f"#place(top + left, curve({style}, {', '.join(runs)}))"
