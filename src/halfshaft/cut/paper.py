"""A flat part at 1:1 on sheets of paper or a roll. Part and paper in, bytes of a PDF out: the whole, then the tiles.

Every tile carries check lengths both ways (100 mm and 4 in, longer ones on a roll), the crosses it shares with its
neighbours, and its place.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.units import format_length, format_sheet
from halfshaft.cut import cautions
from halfshaft.cut.layers import LAYERS, Disc, Figure, Path, Shape, figures_of
from halfshaft.cut.tiles import HEAD_MM, MARGIN_MM, OVERLAP_MM, RULER_MM, Paper, Tile, Tiling, tiling
from halfshaft.cut.typeset import curve, mm, pdf, text
from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour

Array = NDArray[np.float64]

_GREY = 'rgb("#6d6d6d")'
_ON_EVERY_TILE = "Print at 100 %. Both check lengths must be right before you cut."
_OFF = {"metric": "100 mm is off by over 0.3 mm", "inch": "4 in is off by over 1/64 in"}
_CROSS_MM = 4.0
_CROSS_AT = (0.15, 0.5, 0.85)  # of the window's side
_CROSS_APART_MM = 400.0  # at most, on a roll
_STROKE_MM = {"cut": 0.35, "bore": 0.3, "slit": 0.35, "mark": 0.25, "foldline": 0.2, "centre": 0.15, "witness": 0.15}


def paper_pdf(
    part: FlatPart,
    kerf_mm: float,
    paper: Paper | str = "A4",
    scale: tuple[float, float] = (1.0, 1.0),
    notes: Sequence[str] = (),
    units: str = "metric",
) -> bytes:
    """All pages, lengths told in the build's `units`.

    `scale`: measured over nominal of a check length from a print made before, along the sheet's short side or across
    the roll, and along the other.
    Raises KeyError for an unknown paper, ValueError for a scale that no printer has or a part without area.
    """
    spread = tiling(part, paper, scale)
    return pdf(paper_source(part, spread, kerf_mm, notes, units))


def paper_source(
    part: FlatPart, spread: Tiling, kerf_mm: float, notes: Sequence[str] = (), units: str = "metric"
) -> str:
    drawn = _drawn(part, kerf_mm, np.radians(spread.turn_deg))
    pages = [_page(spread.cover_mm, _first_page(part, spread, drawn, notes, units))]
    pages += [_page(spread.page_mm, _tile_page(part, spread, tile, drawn, units)) for tile in spread.tiles]
    return "\n".join(
        [
            f"#set document(title: {text('1:1 ' + part.name)[1:]})",
            '#set text(font: "DejaVu Sans Mono", size: 8pt, lang: "en")',
            "#set par(leading: 0.5em)",
            *pages,
        ]
    )


def _page(size_mm: tuple[float, float], body: str) -> str:
    return f"#page(width: {mm(size_mm[0])}, height: {mm(size_mm[1])}, margin: 0mm)[\n{body}\n]"


def _drawn(part: FlatPart, kerf_mm: float, turn_rad: float) -> list[tuple[str, Shape, Array]]:
    """Kind, shape in turned axes, and corners (2, 2) of the box about it."""
    extra: list[Figure] = []
    for hole in part.bores:
        arm = hole.diameter_mm / 2.0 + 3.0
        centre = np.asarray(hole.centre_mm, dtype=float)
        for way in (np.array([arm, 0.0]), np.array([0.0, arm])):
            extra.append(Figure("centre", Path(np.array([centre - way, centre + way]))))
    for line in part.fold_lines_mm.values():
        if len(line) == 2:
            extra.append(Figure("witness", Path(np.asarray(line, dtype=float))))
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    matrix = np.array([[c, -s], [s, c]])
    out = []
    for figure in (*figures_of(part, kerf_mm), *extra):
        shape = figure.shape
        if isinstance(shape, Disc):
            moved: Shape = Disc(matrix @ shape.centre_mm, shape.radius_mm)
        elif isinstance(shape, Path):
            moved = Path(shape.points_mm @ matrix.T)
        else:
            moved = shape.moved(matrix, np.zeros(2))
        out.append((figure.layer, moved, _reach(moved)))
    return out


def _reach(shape: Shape) -> Array:
    if isinstance(shape, Disc):
        return np.array([shape.centre_mm - shape.radius_mm, shape.centre_mm + shape.radius_mm])
    points = shape.flattened_mm() if isinstance(shape, Contour) else shape.points_mm
    return np.array([points.min(axis=0), points.max(axis=0)])


def _style(kind: str) -> str:
    colour = LAYERS[kind].web_colour if kind in LAYERS else "#7a7a7a"
    dash = ", dash: (3mm, 1mm, 0.6mm, 1mm)" if kind in ("foldline", "witness") else ""
    return f'stroke: (paint: rgb("{colour}"), thickness: {_STROKE_MM[kind]}mm, cap: "round"{dash})'


def _tile_page(
    part: FlatPart,
    spread: Tiling,
    tile: Tile,
    drawn: Sequence[tuple[str, Shape, Array]],
    units: str,
) -> str:
    width, height = spread.page_mm
    fx, fy = spread.scale
    across, up = spread.window_mm[0] / fx, spread.window_mm[1] / fy  # of the window on the page
    left, top = MARGIN_MM + RULER_MM, MARGIN_MM + HEAD_MM
    matrix = np.array([[1.0 / fx, 0.0], [0.0, -1.0 / fy]])
    shift = np.array([-tile.x_mm / fx, up + tile.y_mm / fy])
    low, high = np.array([tile.x_mm, tile.y_mm]), np.array([tile.x_mm, tile.y_mm]) + spread.window_mm
    inside = []
    for kind in _STROKE_MM:
        shapes = [s for k, s, reach in drawn if k == kind and np.all(reach[1] >= low) and np.all(reach[0] <= high)]
        if shapes:
            inside.append(curve(shapes, matrix, shift, _style(kind)))
    inside += _seams(spread, tile, across, up)
    body = "\n".join(inside)
    return "\n".join(
        [
            f"#place(top + left, dx: {mm(left)}, dy: {mm(top)}, box(width: {mm(across)}, height: {mm(up)}, "
            f"clip: true, stroke: 0.1mm + {_GREY})[{body}])",
            _head(part, spread, tile, width, units),
            *_neighbours(spread, tile, left, top, across, up),
            _ruler(left, height - MARGIN_MM - 5.0, fx, spread.check_mm[0], upright=False),
            _ruler(MARGIN_MM + 5.0, top + up, fy, spread.check_mm[1], upright=True),
            _foot(left, spread, units),
        ]
    )


def _head(part: FlatPart, spread: Tiling, tile: Tile, width: float, units: str) -> str:
    place = f"row {tile.row + 1} of {spread.rows}, column {tile.column + 1} of {spread.columns}"
    turn = f", drawing turned {spread.turn_deg:.0f}°" if spread.turn_deg else ""
    plate = f"{part.sheet}, {format_sheet(part.thickness_mm, units)}, upper side toward you{turn}"
    cell = 11.0 / max(spread.rows, spread.columns * 0.8, 1.0)
    plan = []
    for row in range(spread.rows):
        for column in range(spread.columns):
            there = spread.at(row, column)
            fill = "black" if there == tile else "none"
            stroke = f"0.2mm + {_GREY}" if there else "none"
            plan.append(
                f"#place(top + left, dx: {mm(column * cell * 0.8)}, dy: {mm(row * cell)}, "
                f"rect(width: {mm(cell * 0.8)}, height: {mm(cell)}, fill: {fill}, stroke: {stroke}))"
            )
    right = width - MARGIN_MM - spread.columns * cell * 0.8
    return "\n".join(
        [
            f"#place(top + left, dx: {mm(MARGIN_MM)}, dy: {mm(MARGIN_MM)}, "
            f'text(size: 22pt, weight: "bold")[{text(tile.name)}])',
            f"#place(top + left, dx: {mm(MARGIN_MM + 20)}, dy: {mm(MARGIN_MM)}, "
            f"block(width: {mm(right - MARGIN_MM - 23)})["
            f'#text(size: 10pt, weight: "bold")[{text(part.name)}] #h(2mm) {text(place)} #linebreak() {text(plate)} '
            f"#linebreak() #text(fill: {_GREY})[{text(_ON_EVERY_TILE)}]])",
            f"#place(top + left, dx: {mm(right)}, dy: {mm(MARGIN_MM)}, box(width: 30mm, height: 12mm)["
            + "\n".join(plan)
            + "])",
        ]
    )


def _seams(spread: Tiling, tile: Tile, across: float, up: float) -> list[str]:
    """Crosses in the middle of the bands shared with neighbours, and the trimming line on the right and lower band."""
    out = []
    fx, fy = spread.window_mm[0] / across, spread.window_mm[1] / up
    half_x, half_y = OVERLAP_MM / 2.0 / fx, OVERLAP_MM / 2.0 / fy
    for step, at in (((0, -1), half_x), ((0, 1), across - half_x)):
        if spread.at(tile.row, tile.column + step[1]):
            if step[1] > 0:
                out.append(_trim((at, 0.0), (at, up)))
            out += [_cross(at, up * share) for share in _shares(up)]
    for step, at in (((-1, 0), half_y), ((1, 0), up - half_y)):
        if spread.at(tile.row + step[0], tile.column):
            if step[0] > 0:
                out.append(_trim((0.0, at), (across, at)))
            out += [_cross(across * share, at) for share in _shares(across)]
    return out


def _shares(side_mm: float) -> tuple[float, ...]:
    """Where crosses stand along a side."""
    if side_mm <= 2.0 * _CROSS_APART_MM:
        return _CROSS_AT
    return tuple(float(share) for share in np.linspace(0.05, 0.95, int(np.ceil(side_mm / _CROSS_APART_MM)) + 1))


def _trim(start: tuple[float, float], end: tuple[float, float]) -> str:
    return (
        f"#place(top + left, line(start: ({mm(start[0])}, {mm(start[1])}), end: ({mm(end[0])}, {mm(end[1])}), "
        f"stroke: (paint: {_GREY}, thickness: 0.15mm, dash: (1mm, 1.5mm))))"
    )


def _cross(x: float, y: float) -> str:
    arm, ring = _CROSS_MM, _CROSS_MM / 2.0
    return "\n".join(
        [
            f"#place(top + left, dx: {mm(x - ring)}, dy: {mm(y - ring)}, circle(radius: {mm(ring)}, stroke: 0.2mm))",
            f"#place(top + left, line(start: ({mm(x - arm)}, {mm(y)}), end: ({mm(x + arm)}, {mm(y)}), stroke: 0.2mm))",
            f"#place(top + left, line(start: ({mm(x)}, {mm(y - arm)}), end: ({mm(x)}, {mm(y + arm)}), stroke: 0.2mm))",
        ]
    )


def _neighbours(spread: Tiling, tile: Tile, left: float, top: float, across: float, up: float) -> list[str]:
    """Names of the tiles beyond each side, just outside the window."""
    out = []
    beyond = {
        "left": spread.at(tile.row, tile.column - 1),
        "right": spread.at(tile.row, tile.column + 1),
        "up": spread.at(tile.row - 1, tile.column),
        "down": spread.at(tile.row + 1, tile.column),
    }
    for side, there in beyond.items():
        if there is None:
            continue
        x, y, arrow = {
            "left": (left + 1.5, top + up * 0.3, "←"),
            "right": (left + across - 8.5, top + up * 0.3, "→"),
            "up": (left + across * 0.3, top + 1.5, "↑"),
            "down": (left + across * 0.3, top + up - 5.0, "↓"),
        }[side]
        words = f"{arrow}{there.name}"
        out.append(
            f"#place(top + left, dx: {mm(x)}, dy: {mm(y)}, box(fill: white, inset: 0.5mm)"
            f'[#text(size: 8pt, weight: "bold", fill: {_GREY})[{text(words)}]])'
        )
    return out


def _ruler(x: float, y: float, factor: float, longest_mm: float, upright: bool) -> str:
    """Check lengths from a corner: hundreds of mm with ticks on one side, 4 in and feet with ticks on the other."""

    def at(along: float, off: float) -> str:
        run = along / factor
        return f"({mm(x + off)}, {mm(y - run)})" if upright else f"({mm(x + run)}, {mm(y - off)})"

    def tick(along: float, off: float, thick: float) -> str:
        return f"#place(top + left, line(start: {at(along, 0)}, end: {at(along, off)}, stroke: {thick}mm))"

    sign = -1.0 if upright else 1.0
    out = [f"#place(top + left, line(start: {at(0, 0)}, end: {at(max(longest_mm, 101.6), 0)}, stroke: 0.2mm))"]
    for number in range(round(longest_mm / 10.0) + 1):
        out.append(tick(10.0 * number, sign * (4.5 if number % 10 == 0 else 2.0), 0.2))
    for number in range(17):
        out.append(tick(6.35 * number, -sign * (4.5 if number in (0, 16) else 2.0), 0.2))
    feet = range(1, int(longest_mm / 304.8) + 1)
    out += [tick(304.8 * number, -sign * 4.5, 0.2) for number in feet]
    labels = [(f"{100 * n} mm", 100.0 * n - 20.0, sign * 2.4) for n in range(1, round(longest_mm / 100.0) + 1)]
    labels += [("4 in", 80.0, -sign * 2.2), *((f"{12 * n} in", 304.8 * n - 20.0, -sign * 2.2) for n in feet)]
    for words, along, off in labels:
        run = along / factor
        label = f"text(size: 7pt)[{text(words)}]"
        if upright:
            corner = (x + off - (2.6 if off < 0 else 0.0), y - run - 10.0)
            label = f"rotate(-90deg, reflow: true, {label})"
        else:
            corner = (x + run, y - off - (2.6 if off > 0 else 0.0))
        out.append(f"#place(top + left, dx: {mm(corner[0])}, dy: {mm(corner[1])}, {label})")
    return "\n".join(out)


def _foot(left: float, spread: Tiling, units: str) -> str:
    words = "Check lengths: 4 in and 100 mm." if units == "inch" else "Check lengths: 100 mm and 4 in."
    if spread.paper.length_mm is None:
        words = f"Check lengths: {spread.check_mm[0]:.0f} mm across, {spread.check_mm[1]:.0f} mm along."
    if spread.scale != (1.0, 1.0):
        words += f" Corrected for a printer that prints {spread.scale[0]:.4f} across and {spread.scale[1]:.4f} up."
    # on a roll the check length takes the foot of the page
    dx, dy, wide = left + 108, spread.page_mm[1] - MARGIN_MM - 8, 62.0
    if spread.paper.length_mm is None:
        dx, dy, wide = left + 0.55 * (spread.page_mm[0] - left), MARGIN_MM, 0.3 * spread.page_mm[0]
    return (
        f"#place(top + left, dx: {mm(dx)}, dy: {mm(dy)}, "
        f"block(width: {mm(wide)})[#text(size: 7pt, fill: {_GREY})[{text(words)} {text(cautions.PAPER_SHORT)}]])"
    )


def _first_page(
    part: FlatPart, spread: Tiling, drawn: Sequence[tuple[str, Shape, Array]], notes: Sequence[str], units: str
) -> str:
    width, height = spread.cover_mm
    x0, y0 = (min(t.x_mm for t in spread.tiles), min(t.y_mm for t in spread.tiles))
    x1 = max(t.x_mm for t in spread.tiles) + spread.window_mm[0]
    y1 = max(t.y_mm for t in spread.tiles) + spread.window_mm[1]
    room = (width - 2 * MARGIN_MM, height * 0.5 - MARGIN_MM)
    factor = min(room[0] / (x1 - x0), room[1] / (y1 - y0))
    matrix = np.array([[factor, 0.0], [0.0, -factor]])
    shift = np.array([-x0 * factor, y1 * factor])
    picture = [
        curve([s for k, s, _ in drawn if k == kind], matrix, shift, _style(kind))
        for kind in _STROKE_MM
        if kind not in ("centre", "witness") and any(k == kind for k, _, _ in drawn)
    ]
    for tile in spread.tiles:
        x, y = (np.array([tile.x_mm, tile.y_mm + spread.window_mm[1]]) * np.array([factor, -factor])) + shift
        across, up = spread.window_mm[0] * factor, spread.window_mm[1] * factor
        picture.append(
            f"#place(top + left, dx: {mm(x)}, dy: {mm(y)}, rect(width: {mm(across)}, height: {mm(up)}, "
            f'stroke: 0.15mm + {_GREY}, inset: 1.5mm)[#text(fill: {_GREY}, weight: "bold")[{text(tile.name)}]])'
        )
    count = len(spread.tiles)
    sheet = f"{part.sheet}, {format_sheet(part.thickness_mm, units)}. Upper side toward you."
    title = f"paper template 1:1, {'one sheet' if count == 1 else f'{count} sheets'} {spread.paper.name}"
    if spread.paper.length_mm is None:
        lay = "one piece" if count == 1 else f"{count} pieces"
        title = f"paper template 1:1, {lay} of {format_length(spread.page_mm[1], units)} off the roll"
    how = [
        "Print every page at 100 % on one printer, paper flat and of one kind.",
        f"Measure the check lengths both ways on each sheet; throw away sheets where {_OFF[units]}.",
        "Off by as much on every sheet? Write what you measured in [shop] paper_check and print again.",
        *(
            [
                "Trim on the dotted line at the right and lower side, lay over the neighbour till crosses meet, tape.",
                "Measure one long distance over the joined sheets against the shop sheet before you stick them down.",
            ]
            if count > 1
            else []
        ),
        "Prick hole centres through the crosses; cut lines are black, slits orange, holes blue, marks green.",
    ]
    dull = [*notes, *cautions.PAPER, *cautions.CUTTING]
    return "\n".join(
        [
            f"#place(top + left, dx: {mm(MARGIN_MM)}, dy: {mm(MARGIN_MM)}, block(width: {mm(room[0])})["
            f'#text(size: 16pt, weight: "bold")[{text(part.name)}] #h(3mm) {text(title)}'
            f" #linebreak() {text(sheet)}])",
            f"#place(top + left, dx: {mm(MARGIN_MM)}, dy: {mm(MARGIN_MM + 17)}, box(width: {mm(room[0])}, "
            f"height: {mm((y1 - y0) * factor)})[" + "\n".join(picture) + "])",
            f"#place(top + left, dx: {mm(MARGIN_MM)}, dy: {mm(MARGIN_MM + 22 + (y1 - y0) * factor)}, "
            f"block(width: {mm(room[0])})[",
            '#text(font: "Libertinus Serif", size: 10pt)[',
            *(f"+ {text(line)}" for line in how),
            "#v(2mm)",
            *(f"- {text(line)}" for line in dull),
            "]])",
        ]
    )
