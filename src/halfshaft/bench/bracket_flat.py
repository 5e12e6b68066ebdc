"""The flat pattern as a picture that can be tapped: a part in, SVG text out. Every name in it is escaped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any

import numpy as np
from nicegui import ui

from halfshaft.cut.flat_drawing import hole_letters
from halfshaft.cut.layers import LAYERS, bounds_mm
from halfshaft.cut.svg import svg_text
from halfshaft.fold.model import Bracket, FlatPart, Hole

_SLIT = LAYERS["slit"].web_colour
_BORE = LAYERS["bore"].web_colour
_FINGER = 5.2  # half a target, in hundredths of the drawing: 44 px where it is drawn as large as the page does
_EMIT = """(event) => {
  if (event.type === "keydown" && event.key !== "Enter" && event.key !== " ") return;
  const hit = event.target.closest("[data-tap]");
  if (hit) { event.preventDefault(); emit(hit.dataset.tap); }
}"""


def draw_flat(
    bracket: Bracket, part: FlatPart, kerf_mm: float, at: str, tapped: Callable[[str, str], None]
) -> Callable[[str], None]:
    """The picture on white, as paper. `at` is 'hole:NAME' or 'fold:NAME'; `tapped` is told kind and name.

    Gives what lights another thing, to be called with its `at`.
    """
    keys = [*(f"hole:{hole.name}" for hole in part.bores), *(f"fold:{name}" for name in part.fold_lines_mm)]

    def hit(event: Any) -> None:
        number = event.args if isinstance(event.args, int) else int(str(event.args))
        if 0 <= number < len(keys):
            kind, _, name = keys[number].partition(":")
            tapped(kind, name)

    made = ui.html(flat_svg(bracket, part, kerf_mm, at), sanitize=False).classes("hb-flat")
    made.on("click", hit, js_handler=_EMIT)
    made.on("keydown", hit, js_handler=_EMIT)

    def light(other: str) -> None:
        made.set_content(flat_svg(bracket, part, kerf_mm, other))

    return light


def flat_svg(bracket: Bracket, part: FlatPart, kerf_mm: float, at: str = "") -> str:
    """The cut drawing with numbers on folds, letters on holes and room round each for a finger."""
    text = svg_text(part, kerf_mm)
    text = text[text.index("<svg") : text.rindex("</svg>")]
    x0, y0, x1, y1 = bounds_mm(part)
    unit = max(x1 - x0, y1 - y0) / 100.0  # a hundredth of the drawing
    letters = hole_letters(part.bores)
    order = {name: number for number, name in enumerate(bracket.fold_order, 1)}
    ways = {fold.name: "▲" if fold.up != part.mirrored else "▼" for fold in bracket.folds}
    out = [text, '<g font-family="sans-serif" font-weight="700" text-anchor="middle">']
    number = 0
    holes: list[str] = []  # drawn over the folds: where both could be meant, the smaller one is
    for hole in part.bores:
        x, y = float(hole.centre_mm[0]), -float(hole.centre_mm[1])
        reach = (hole.diameter_mm + hole.slot_mm) / 2.0
        room_mm = max(reach + 0.5 * unit, min(_FINGER * unit, _room_mm(hole, part.bores)))
        lit = at == f"hole:{hole.name}"
        letter = min(3.4 * unit, 0.8 * hole.diameter_mm)  # in the hole, where nothing else is drawn
        holes.append(
            f'<g data-tap="{number}" tabindex="0" role="button" aria-label="hole {escape(hole.name, quote=True)}">'
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{room_mm:.2f}" '
            f'fill="{"#e69f00" if lit else "#ffffff"}" fill-opacity="{0.45 if lit else 0.01}"/>'
            f'<text x="{x:.2f}" y="{y + 0.35 * letter:.2f}" font-size="{letter:.2f}" fill="{_BORE}">'
            f"{escape(letters[hole.name])}</text></g>"
        )
        number += 1
    for name, told in part.fold_lines_mm.items():
        line = np.asarray(told, dtype=float)
        if len(line) == 4:
            line = (line[:2] + line[2:]) / 2.0
        (ax, ay), (bx, by) = line[0], line[1]
        along = (line[1] - line[0]) / max(float(np.hypot(*(line[1] - line[0]))), 1e-9)
        side = _FINGER * unit * np.array([-along[1], along[0]])
        corners = (line[0] + side, line[1] + side, line[1] - side, line[0] - side)
        room = " ".join(f"{x:.2f},{-y:.2f}" for x, y in corners)
        mx, my = (ax + bx) / 2.0, -(ay + by) / 2.0
        lit = at == f"fold:{name}"
        ends = f'x1="{ax:.2f}" y1="{-ay:.2f}" x2="{bx:.2f}" y2="{-by:.2f}"'
        out.append(
            f'<g data-tap="{number}" tabindex="0" role="button" aria-label="fold {escape(name, quote=True)}">'
            f'<polygon points="{room}" fill="#ffffff" fill-opacity="0.01"/>'
            f'<line {ends} stroke="#e69f00" stroke-width="{5 * unit:.2f}" stroke-opacity="{0.45 if lit else 0.01}"/>'
            f'<line {ends} stroke="{_SLIT}" stroke-width="{0.25 * unit:.2f}" '
            f'stroke-dasharray="{2 * unit:.2f} {unit:.2f}"/>'
            f'<rect x="{mx - 4 * unit:.2f}" y="{my - 2.4 * unit:.2f}" width="{8 * unit:.2f}" height="{4.8 * unit:.2f}" '
            f'rx="{2.4 * unit:.2f}" fill="#ffffff" stroke="{_SLIT}" stroke-width="{0.4 * unit:.2f}"/>'
            f'<text x="{mx:.2f}" y="{my + 1.2 * unit:.2f}" font-size="{3.4 * unit:.2f}" fill="#101010">'
            f"{order.get(name, '')}{ways.get(name, '')}</text></g>"
        )
        number += 1
    out += [*holes, "</g></svg>"]
    return "\n".join(out)


def _room_mm(hole: Hole, among: Sequence[Hole]) -> float:
    """Half the way to the next hole, so that no two rooms overlap; endless for a hole by itself."""
    ways = (float(np.hypot(*(other.centre_mm - hole.centre_mm))) for other in among if other.name != hole.name)
    return min(ways, default=float("inf")) / 2.0
