"""A flat part as an SVG at 1:1, for a browser, a laser's driver or a paper cutter. Part in, text of the file out.

Lengths in mm: width and height carry the unit and the view box counts mm (SVG 2, 8.2); y is turned over because SVG
counts it downward. Arcs are true 'A' runs.
"""

from __future__ import annotations

from html import escape

import numpy as np
from numpy.typing import NDArray

from halfshaft.cut.layers import LAYERS, Disc, Path, Shape, bounds_mm, figures_of
from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour
from halfshaft.geometry.contour import arc_of

Array = NDArray[np.float64]

_MARGIN_MM = 5.0


def svg_text(part: FlatPart, kerf_mm: float) -> str:
    """The whole SVG, a group for each layer. Raises ValueError for a part without area."""
    x0, y0, x1, y1 = bounds_mm(part)
    width, height = x1 - x0 + 2 * _MARGIN_MM, y1 - y0 + 2 * _MARGIN_MM
    figures = figures_of(part, kerf_mm)
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="{_n(x0 - _MARGIN_MM)} {_n(-y1 - _MARGIN_MM)} {_n(width)} {_n(height)}">',
        f"<title>{escape(part.name)}</title>",
        f"<desc>1:1 in mm, sheet {escape(part.sheet)}, {_n(part.thickness_mm)} mm thick, upper side toward you.</desc>",
    ]
    for layer in LAYERS.values():
        own = [figure.shape for figure in figures if figure.layer == layer.name]
        if not own:
            continue
        dashed = ' stroke-dasharray="4 2"' if layer.name == "foldline" else ""
        out.append(
            f'<g id="{layer.name}" fill="none" stroke="{layer.web_colour}" stroke-width="0.25" '
            f'stroke-linecap="round" stroke-linejoin="round"{dashed}>'
        )
        out.append(f"<desc>{escape(layer.what)}</desc>")
        out.extend(_element(shape) for shape in own)
        out.append("</g>")
    out.append("</svg>\n")
    return "\n".join(out)


def _element(shape: Shape) -> str:
    if isinstance(shape, Disc):
        x, y = shape.centre_mm
        return f'<circle cx="{_n(x)}" cy="{_n(-y)}" r="{_n(shape.radius_mm)}"/>'
    if isinstance(shape, Path):
        return f'<path d="{path_data(shape.points_mm)}"/>'
    return f'<path d="{contour_data(shape)}"/>'


def path_data(points_mm: Array) -> str:
    return "M" + " L".join(f"{_n(x)},{_n(-y)}" for x, y in points_mm)


def contour_data(contour: Contour) -> str:
    """Path data of a closed outline; an arc of more than half a turn is told by the large-arc flag."""
    ends = np.roll(contour.points_mm, -1, axis=0)
    first = contour.points_mm[0]
    runs = [f"M{_n(first[0])},{_n(-first[1])}"]
    for start, end, bulge in zip(contour.points_mm, ends, contour.bulge, strict=True):
        to = f"{_n(end[0])},{_n(-end[1])}"
        if abs(bulge) < 1e-12:
            runs.append(f"L{to}")
            continue
        _, radius, _, sweep = arc_of(start, end, float(bulge))
        large = 1 if abs(sweep) > np.pi + 1e-9 else 0
        # y is turned over, so a counter-clockwise arc is one of falling angle on the screen: sweep flag 0
        runs.append(f"A{_n(radius)},{_n(radius)} 0 {large} {0 if bulge > 0 else 1} {to}")
    return " ".join(runs) + " Z"


def _n(value: float) -> str:
    """A number to the tenth of a micrometre, without trailing zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
