"""Picture of a sheet with the parts on it, as SVG. A laid-out sheet in, text of the file out.

The whole sheet to scale; where the parts take up little of it, also the part of it that they lie on, enlarged. Every
part bears a number that the list beside the picture explains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.build.units import format_length, format_mass, format_sheet
from halfshaft.build.value import UnitSystem
from halfshaft.cut.layers import LAYERS, Disc, Path
from halfshaft.cut.nest.clear import label, lies
from halfshaft.cut.nest.model import CutSheet
from halfshaft.cut.svg import contour_data, path_data
from halfshaft.geometry import Contour

Array = NDArray[np.float64]
Bounds = tuple[float, float, float, float]

WIDTH = 1000.0  # of the picture, in its own units
_LIST = 300.0  # room for the list of parts
_PAD = 26.0
_TALL = 620.0
_LINE = 21.0
_LONGEST = 44  # letters in a line of the list
_ENLARGE = 0.3  # share of the sheet under which its busy part is shown enlarged
_INK, _SOFT, _SHEET, _PART, _KEPT = "#1d2733", "#5d6b7a", "#f2f0ea", "#c9d8e6", "#dfeadb"


@dataclass(frozen=True, slots=True)
class View:
    """A window of the sheet on the picture: mm times `scale`, y turned over."""

    bounds: Bounds
    x: float
    y: float
    scale: float

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        return self.x + (x_mm - self.bounds[0]) * self.scale, self.y + (self.bounds[3] - y_mm) * self.scale

    @property
    def size(self) -> tuple[float, float]:
        return (self.bounds[2] - self.bounds[0]) * self.scale, (self.bounds[3] - self.bounds[1]) * self.scale


def whole_view(sheet: CutSheet, wide: float, tall: float, x: float = 0.0, y: float = 0.0) -> View:
    length, width = sheet.blank.size_mm
    return View((0.0, 0.0, length, width), x, y, min(wide / length, tall / width))


def sheet_svg(sheet: CutSheet, units: UnitSystem = "metric") -> str:
    """The whole picture, with title, list of parts and what is left."""
    wide = WIDTH - _LIST - 2.0 * _PAD
    top = 74.0
    view = whole_view(sheet, wide, _TALL, _PAD, top)
    body = [*drawn(sheet, view), *_rolling(sheet, view)]
    bottom = top + view.size[1] + 22.0
    words = _size_words(sheet, units)
    body.append(_text(_PAD, bottom, words, 13.0, _SOFT))
    close = _busy(sheet)
    if close is not None:
        scale = min(wide / (close[2] - close[0]), 0.8 * _TALL / (close[3] - close[1]))
        bottom += 34.0
        body.append(_text(_PAD, bottom, "enlarged", 13.0, _SOFT))
        inner = View(close, _PAD, bottom + 10.0, scale)
        body += _clipped(drawn(sheet, inner), inner)
        bottom = inner.y + inner.size[1] + 16.0
    rows = _listed(sheet, units)
    tall = max(bottom, top + _LINE * len(rows)) + _PAD
    x = WIDTH - _LIST
    listed = [
        _text(x, top + 12.0 + _LINE * k, row, 13.5, _SOFT if soft else _INK, bold=bold)
        for k, (row, bold, soft) in enumerate(rows)
    ]
    name = sheet.blank.name
    material = f"{sheet.blank.key.material}, {format_sheet(sheet.blank.key.thickness_mm, units)}"
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {tall:.0f}" '
            f'width="{WIDTH:.0f}" height="{tall:.0f}" font-family="Arial, Helvetica, sans-serif">',
            f"<title>{escape(name)}</title>",
            f'<rect width="{WIDTH:.0f}" height="{tall:.0f}" fill="white"/>',
            _text(_PAD, 34.0, name, 22.0, _INK, bold=True),
            _text(_PAD, 57.0, material, 14.0, _SOFT),
            *body,
            *listed,
            "</svg>\n",
        ]
    )


def drawn(sheet: CutSheet, view: View, numbers: bool = True) -> list[str]:
    """Sheet, margin, clamps, leftovers and parts with their shapes, as SVG elements."""
    blank = sheet.blank
    out = [_area(blank.metal, view, _SHEET, _SOFT, 1.2)]
    out += [_area(left.metal, view, _KEPT, "none", 0.0) for left in sheet.leftovers]
    for ring in blank.clamps_mm:
        out += _hatched(Polygon(ring).intersection(blank.metal), view)
    room = blank.metal.buffer(-blank.margin_mm, join_style="mitre")
    out.append(_area(room, view, "none", _SOFT, 0.7, dash="5 4"))
    for left in sheet.leftovers:
        spot, radius = _heart(left.metal.intersection(shapely.box(*view.bounds)))
        words = f"kept: {left.name}"
        if 2.0 * radius * view.scale > 7.2 * len(words):
            x, y = view.at(*spot)
            out.append(_text(x, y, words, 13.0, "#3f6b38", middle=True))
    for number, one in enumerate(sheet.laid, start=1):
        shape = lies(one, 0.05)
        out.append(f'<g data-part="{number - 1}"><title>{escape(label(one))}</title>')
        out.append(_area(shape, view, _PART, "none", 0.0))
        out += _figures(one.figures, view)
        out.append("</g>")
        if numbers:
            out += _number(shape, view, str(number))
    return out


def _figures(figures: Sequence[object], view: View) -> list[str]:
    """Shapes of a part by layer, lines of even strength whatever the scale."""
    x0, y0 = view.at(0.0, 0.0)
    out = [f'<g transform="translate({x0:.3f} {y0:.3f}) scale({view.scale:.6f})" fill="none">']
    for figure in figures:
        layer, shape = figure.layer, figure.shape  # type: ignore[attr-defined]
        style = f'stroke="{LAYERS[layer].web_colour}" stroke-width="{1.3 if layer == "cut" else 0.9}"'
        style += ' vector-effect="non-scaling-stroke"'
        if isinstance(shape, Disc):
            x, y = shape.centre_mm
            out.append(f'<circle cx="{x:.3f}" cy="{-y:.3f}" r="{shape.radius_mm:.3f}" {style}/>')
        elif isinstance(shape, Path):
            if layer != "mark":
                out.append(f'<path d="{path_data(shape.points_mm)}" {style}/>')
        elif isinstance(shape, Contour):
            out.append(f'<path d="{contour_data(shape)}" {style}/>')
    out.append("</g>")
    return out


def _number(shape: Polygon, view: View, text: str) -> list[str]:
    """The part's number in its middle, or beside it where it is too small for letters."""
    spot, radius = _heart(shape)
    x, y = view.at(*spot)
    room = radius * view.scale
    size = float(np.clip(room * 1.1, 9.0, 22.0))
    if room >= 6.5:
        halo = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size * 0.72:.1f}" fill="white" fill-opacity="0.85"/>'
        return [halo, _text(x, y + 0.35 * size, text, size, _INK, bold=True, middle=True)]
    x1, y1 = view.at(shape.bounds[2], shape.bounds[3])
    line = (
        f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{x1 + 8.0:.1f}" y2="{y1 - 8.0:.1f}" stroke="{_INK}" stroke-width="0.7"/>'
    )
    return [line, _text(x1 + 10.0, y1 - 8.0, text, 10.0, _INK, bold=True)]


def _heart(shape: Polygon) -> tuple[tuple[float, float], float]:
    """Middle and radius of the greatest circle inside."""
    pieces = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon) and not p.is_empty]
    if not pieces:
        return (0.0, 0.0), 0.0
    line = shapely.maximum_inscribed_circle(max(pieces, key=lambda p: p.area), tolerance=0.5)
    x, y = line.coords[0]
    return (float(x), float(y)), float(line.length)


def _area(shape: Polygon, view: View, fill: str, stroke: str, width: float, dash: str = "") -> str:
    runs = []
    for piece in getattr(shape, "geoms", [shape]):
        if not isinstance(piece, Polygon) or piece.is_empty:
            continue
        for ring in (piece.exterior, *piece.interiors):
            points = [view.at(x, y) for x, y in ring.coords[:-1]]
            runs.append("M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in points) + " Z")
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    line = f'stroke="{stroke}" stroke-width="{width}"{dashed}'
    return f'<path d="{" ".join(runs)}" fill="{fill}" fill-rule="evenodd" {line}/>'


def _hatched(strip: Polygon, view: View) -> list[str]:
    """A strip where nothing is cut, in slanted lines."""
    x0, y0, x1, y1 = strip.bounds
    step = 9.0 / view.scale
    lines = [
        shapely.LineString([(x0 + k * step - (y1 - y0), y0), (x0 + k * step, y1)])
        for k in range(int((x1 - x0 + y1 - y0) / step) + 2)
    ]
    out = [_area(strip, view, "#f6ddd6", "#a8452f", 0.8)]
    for line in lines:
        inside = line.intersection(strip)
        if inside.is_empty or inside.length <= 0.0 or inside.geom_type != "LineString":
            continue
        (a, b), (c, d) = (view.at(*p) for p in (inside.coords[0], inside.coords[-1]))
        out.append(f'<line x1="{a:.1f}" y1="{b:.1f}" x2="{c:.1f}" y2="{d:.1f}" stroke="#a8452f" stroke-width="0.7"/>')
    x, y = view.at(*strip.centroid.coords[0])
    if min(x1 - x0, y1 - y0) * view.scale > 18.0:
        out.append(_text(x, y + 4.0, "clamp", 12.0, "#7d2c1a", middle=True, halo=True))
    return out


def _rolling(sheet: CutSheet, view: View) -> list[str]:
    """An arrow both ways along the rolling direction, above the sheet's right end."""
    way = sheet.blank.rolling_deg
    x, y = view.x + view.size[0] - 40.0, view.y - 22.0
    if way is None:
        return [_text(view.x + view.size[0], y + 6.0, "rolling direction not told", 12.0, _SOFT, end=True)]
    c, s = 30.0 * np.cos(np.radians(way)), -30.0 * np.sin(np.radians(way))
    s = float(np.clip(s, -18.0, 18.0))
    ends = ((x + c, y + s), (x - c, y - s))
    out = [
        f'<line x1="{ends[0][0]:.1f}" y1="{ends[0][1]:.1f}" x2="{ends[1][0]:.1f}" y2="{ends[1][1]:.1f}" '
        f'stroke="{_INK}" stroke-width="1.6"/>'
    ]
    for (tip_x, tip_y), sign in zip(ends, (1.0, -1.0), strict=True):
        back = np.arctan2(sign * s, sign * c)
        for turn in (2.6, -2.6):
            end = (tip_x + 9.0 * np.cos(back + turn), tip_y + 9.0 * np.sin(back + turn))
            out.append(
                f'<line x1="{tip_x:.1f}" y1="{tip_y:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}" stroke="{_INK}" '
                'stroke-width="1.6"/>'
            )
    out.append(_text(x - 42.0, y + 5.0, "rolled this way", 12.0, _SOFT, end=True))
    return out


def _busy(sheet: CutSheet) -> Bounds | None:
    """Bounds of the parts with some metal about them, where they take up little of the sheet."""
    if not sheet.laid:
        return None
    x0, y0, x1, y1 = shapely.total_bounds([lies(one, 0.5) for one in sheet.laid])
    length, width = sheet.blank.size_mm
    more = max(sheet.blank.margin_mm, 0.04 * max(x1 - x0, y1 - y0))
    close = (max(0.0, x0 - more), max(0.0, y0 - more), min(length, x1 + more), min(width, y1 + more))
    share = (close[2] - close[0]) * (close[3] - close[1]) / (length * width)
    return tuple(float(v) for v in close) if share < _ENLARGE else None  # type: ignore[return-value]


def _clipped(elements: list[str], view: View) -> list[str]:
    wide, tall = view.size
    frame = f'<rect x="{view.x:.1f}" y="{view.y:.1f}" width="{wide:.1f}" height="{tall:.1f}"'
    return [
        f'<clipPath id="busy">{frame}/></clipPath>',
        '<g clip-path="url(#busy)">',
        *elements,
        "</g>",
        f'{frame} fill="none" stroke="{_SOFT}" stroke-width="1"/>',
    ]


def _size_words(sheet: CutSheet, units: UnitSystem) -> str:
    length, width = (_length(v, units) for v in sheet.blank.size_mm)
    gap, margin = (format_length(v, units) for v in (sheet.blank.gap_mm, sheet.blank.margin_mm))
    return f"{length} x {width}, gap {gap}, margin {margin} (dashed)"


def _listed(sheet: CutSheet, units: UnitSystem) -> list[tuple[str, bool, bool]]:
    rows: list[tuple[str, bool, bool]] = [("Parts", True, False)]
    for number, one in enumerate(sheet.laid, start=1):
        name, turn = f"{number}  {label(one)}", f", turned {one.rotation_deg:.4g}°" if one.rotation_deg else ""
        rows.append((name + turn if len(name + turn) <= _LONGEST else name[:_LONGEST], False, False))
    rows += [("", False, False), ("Yield", True, False)]
    rows.append((f"{100 * sheet.of_sheet:.0f} % of the sheet", False, False))
    rows.append((f"{100 * sheet.of_used:.0f} % of what is used up", False, False))
    mass = f"parts {format_mass(sheet.parts_kg, units)} of {format_mass(sheet.blank.mass_kg, units)}"
    rows.append((mass, False, False))
    if sheet.cost is not None:
        rows.append((f"costs {sheet.cost:.2f} of {sheet.blank.cost or 0.0:.2f}", False, False))
    for left in sheet.leftovers:
        x0, y0, x1, y1 = left.metal.bounds
        rows += [("", False, False), (f"Kept: {left.name}", True, False)]
        rows.append((f"within {_length(x1 - x0, units)} x {_length(y1 - y0, units)}", False, True))
    return rows


def _text(
    x: float, y: float, text: str, size: float, colour: str, *,
    bold: bool = False, middle: bool = False, end: bool = False, halo: bool = False,
) -> str:  # fmt: skip
    anchor = ' text-anchor="middle"' if middle else ' text-anchor="end"' if end else ""
    weight = ' font-weight="bold"' if bold else ""
    edge = ' stroke="white" stroke-width="3" paint-order="stroke"' if halo else ""
    look = f'font-size="{size:.1f}" fill="{colour}"{anchor}{weight}{edge}'
    return f'<text x="{x:.1f}" y="{y:.1f}" {look}>{escape(text)}</text>'


def _length(value_mm: float, units: UnitSystem) -> str:
    """Of a sheet, to the millimetre."""
    return format_length(value_mm, units) if units == "inch" else f"{value_mm:.0f} mm"
