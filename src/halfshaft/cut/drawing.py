"""A drawing on paper as strokes and words. Shapes in, source for the typesetter or an SVG out: both show the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape

import numpy as np
from numpy.typing import NDArray

from halfshaft.cut.layers import Path, Shape
from halfshaft.cut.typeset import curve, mm, run_parts, text
from halfshaft.geometry import Contour

Array = NDArray[np.float64]

INK, GREY = "#161616", "#5a5a5a"
THIN_MM = 0.18  # thinner lines break up on an office printer: common practice, no source
SMALL_PT = 8.0
_ROOM_MM = 80.0  # each way from a label's middle: no words are so long that they break
MM_PER_PT = 25.4 / 72.0

CHAIN = (2.4, 0.8, 0.5, 0.8)
HIDDEN = (1.2, 0.8)


@dataclass(frozen=True, eq=False)
class Stroke:
    """Shapes in one style, moved by `matrix` (2, 2) and `shift_mm` (2,) onto the paper, y down."""

    shapes: tuple[Shape, ...]
    colour: str = INK  # no line where it is empty
    thick_mm: float = THIN_MM
    fill: str = ""
    dash_mm: tuple[float, ...] = ()
    matrix: Array = field(default_factory=lambda: np.eye(2))
    shift_mm: Array = field(default_factory=lambda: np.zeros(2))


@dataclass(frozen=True, eq=False)
class Label:
    """Words with their middle at a spot of the paper; `patch` lays white under them; `turn_deg` clockwise."""

    at_mm: Array
    words: str
    size_pt: float = SMALL_PT
    bold: bool = False
    italic: bool = False
    colour: str = INK
    patch: bool = False
    turn_deg: float = 0.0


Mark = Stroke | Label


@dataclass(frozen=True, eq=False)
class Drawing:
    """Marks in the order they are laid down, on paper of `size_mm`; `ratio` is drawn over true, nought where none."""

    size_mm: tuple[float, float]
    marks: tuple[Mark, ...]
    ratio: float = 0.0

    @property
    def words(self) -> tuple[str, ...]:
        """Everything that is written on it."""
        return tuple(mark.words for mark in self.marks if isinstance(mark, Label))


def line(start: Sequence[float] | Array, end: Sequence[float] | Array, **style: object) -> Stroke:
    """A straight line between two spots of the paper."""
    return Stroke((Path(np.array([start, end], dtype=float)),), **style)  # type: ignore[arg-type]


def ring(points_mm: Iterable[Sequence[float]] | Array, **style: object) -> Stroke:
    """A closed outline of straight runs through spots of the paper."""
    return Stroke((Contour.of_points(np.asarray(list(points_mm), dtype=float)),), **style)  # type: ignore[arg-type]


def block(corner: Sequence[float] | Array, wide_mm: float, high_mm: float, **style: object) -> Stroke:
    """A rectangle from its upper left corner."""
    x, y = float(corner[0]), float(corner[1])
    return ring([(x, y), (x + wide_mm, y), (x + wide_mm, y + high_mm), (x, y + high_mm)], **style)


def typeset(drawing: Drawing) -> str:
    """Source of the drawing, for a place as large as it is."""
    return "\n".join(_typeset_mark(mark) for mark in drawing.marks)


def boxed(drawing: Drawing) -> str:
    """Source of the drawing in a box of its size."""
    wide, high = drawing.size_mm
    return f"#box(width: {mm(wide)}, height: {mm(high)})[{typeset(drawing)}]"


def _typeset_mark(mark: Mark) -> str:
    if isinstance(mark, Label):
        style = [f"size: {mark.size_pt:g}pt", f'fill: rgb("{mark.colour}")']
        style += ['weight: "bold"'] if mark.bold else []
        style += ['style: "italic"'] if mark.italic else []
        body = f"box[#text({', '.join(style)})[{text(mark.words)}]]"
        if mark.patch:
            body = f"box(fill: white, inset: 0.6mm)[#{body}]"
        if mark.turn_deg:
            body = f"rotate({mark.turn_deg:g}deg, reflow: true, {body})"
        x, y = mark.at_mm
        return (
            f"#place(top + left, dx: {mm(x - _ROOM_MM)}, dy: {mm(y - _ROOM_MM)}, box(width: {mm(2 * _ROOM_MM)}, "
            f"height: {mm(2 * _ROOM_MM)})[#align(center + horizon, {body})])"
        )
    parts = []
    if mark.fill:
        parts.append(f'fill: rgb("{mark.fill}"), fill-rule: "even-odd"')
    if mark.colour:
        dash = f", dash: ({', '.join(f'{d:g}mm' for d in mark.dash_mm)})" if mark.dash_mm else ""
        parts.append(
            f'stroke: (paint: rgb("{mark.colour}"), thickness: {mark.thick_mm:g}mm, cap: "round", join: "round"{dash})'
        )
    else:
        parts.append("stroke: none")
    return curve(mark.shapes, mark.matrix, mark.shift_mm, ", ".join(parts))


def svg(drawing: Drawing, title: str) -> str:
    """The drawing as an SVG element to stand in a page: the view box counts mm of the paper (SVG 2, 8.2)."""
    wide, high = drawing.size_mm
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(wide)} {_n(high)}" width="{_n(wide)}mm" '
        f'height="{_n(high)}mm" role="img" aria-label="{escape(title)}">'
    ]
    out += [_svg_mark(mark) for mark in drawing.marks]
    return "\n".join([*out, "</svg>"])


def _svg_mark(mark: Mark) -> str:
    if isinstance(mark, Label):
        x, y = mark.at_mm
        style = f'font-size="{_n(mark.size_pt * MM_PER_PT)}" fill="{mark.colour}"'
        style += ' font-weight="bold"' if mark.bold else ""
        style += ' font-style="italic"' if mark.italic else ""
        style += ' stroke="#fff" stroke-width="1.2" paint-order="stroke"' if mark.patch else ""
        style += f' transform="rotate({mark.turn_deg:g} {_n(x)} {_n(y)})"' if mark.turn_deg else ""
        return (
            f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="middle" dominant-baseline="central" {style}>'
            f"{escape(mark.words)}</text>"
        )
    runs = []
    for shape in mark.shapes:
        for kind, points in run_parts(shape):
            placed = points @ mark.matrix.T + mark.shift_mm
            letter = {"move": "M", "line": "L", "cubic": "C", "close": "Z"}[kind]
            runs.append(letter + " ".join(f"{_n(x)},{_n(y)}" for x, y in placed))
    style = f'fill="{mark.fill}" fill-rule="evenodd"' if mark.fill else 'fill="none"'
    if mark.colour:
        style += f' stroke="{mark.colour}" stroke-width="{_n(mark.thick_mm)}" stroke-linecap="round"'
        style += ' stroke-linejoin="round"'
        style += f' stroke-dasharray="{" ".join(_n(d) for d in mark.dash_mm)}"' if mark.dash_mm else ""
    return f'<path d="{"".join(runs)}" {style}/>'


def _n(value: float) -> str:
    told = f"{float(value):.3f}".rstrip("0").rstrip(".")
    return "0" if told in ("-0", "") else told
