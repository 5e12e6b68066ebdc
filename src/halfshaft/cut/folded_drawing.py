"""The folded bracket as a drawing on paper, its folds numbered in the order they are made. Bracket in, drawing out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.cut.drawing import THIN_MM, Drawing, Label, Mark, Stroke, line
from halfshaft.cut.flat_drawing import FOLD_COLOUR, fold_badge
from halfshaft.cut.folded_view import folded_view
from halfshaft.cut.layers import Path
from halfshaft.fold.model import Bracket, Fold
from halfshaft.geometry import Contour

Array = NDArray[np.float64]


_HATCH, _HATCH_MM = "#8a7a50", 1.8  # apart on the paper: told without colour


def fold_numbers(bracket: Bracket) -> dict[str, tuple[int, Fold]]:
    """Folds numbered in the order they are made."""
    by_name = {fold.name: fold for fold in bracket.folds}
    order = [name for name in bracket.fold_order if name in by_name]
    order += [fold.name for fold in bracket.folds if fold.name not in order]
    return {name: (number, by_name[name]) for number, name in enumerate(order, 1)}


def folded_drawing(bracket: Bracket, wide_mm: float, high_mm: float) -> tuple[Drawing, str]:
    """The drawing in a room, and what it shows, in a sentence. Raises ValueError where no panel has metal."""
    view = folded_view(bracket.panels, bracket.folds)
    points = np.vstack([ring for paint in view.paints for ring in paint.rings_mm])
    low, high = points.min(axis=0), points.max(axis=0)
    ratio = float(min((wide_mm - 4) / (high[0] - low[0]), (high_mm - 21) / (high[1] - low[1])))
    size = (wide_mm, float((high[1] - low[1]) * ratio + 21))
    shift = np.array([(wide_mm - (high[0] - low[0]) * ratio) / 2 - low[0] * ratio, 2.0 + high[1] * ratio])
    matrix = np.diag([ratio, -ratio])

    def at(spot_mm: Array) -> Array:
        return np.asarray(np.asarray(spot_mm) @ matrix.T + shift)

    out: list[Mark] = []
    for paint in view.paints:
        if paint.fill:
            rings = tuple(Contour.of_points(ring) for ring in paint.rings_mm)
            out.append(Stroke(rings, paint.fill, 0.08, paint.fill, (), matrix, shift))
            if paint.lies:
                hatch = _hatched(paint.rings_mm, _HATCH_MM / ratio)
                out += [Stroke(hatch, _HATCH, THIN_MM, "", (), matrix, shift)] if hatch else []
        else:
            lines = tuple(Path(ring) for ring in paint.rings_mm)
            out.append(Stroke(lines, thick_mm=max(paint.thick_mm, THIN_MM), matrix=matrix, shift_mm=shift))
    taken: list[tuple[Array, float]] = []
    for name, (number, fold) in fold_numbers(bracket).items():
        if name in view.folds:
            taken.append((at(view.folds[name]), 5.0))
            out += fold_badge(taken[-1][0], number, fold.up)
    for name, spot in view.panels.items():
        half = 0.8 * len(name)
        taken.append((_clear(at(spot), half, taken), half))
        out.append(Label(taken[-1][0], name, italic=True))
    foot = np.array([12.0, size[1] - 8.0])
    for words, axis in zip(("front", "left", "up"), view.axes, strict=True):
        tip = foot + axis * np.array([7.0, -7.0])
        out += [
            line(foot, tip, colour=FOLD_COLOUR, thick_mm=0.3),
            Label(foot + axis * np.array([10.5, -9.5]), words),
        ]
    tint = ""
    if any(panel.contact in ("under", "upper") for panel in bracket.panels.values()):
        tint = "; hatched sides lie on the car or the unit"
    return Drawing(size, tuple(out), ratio), f"Folded, {view.seen_from}{tint}."


def _clear(spot: Array, half_mm: float, taken: Sequence[tuple[Array, float]]) -> Array:
    """The spot, or the nearest above or below it where words of this half width meet no others."""
    for off in (0.0, 3.6, -3.6, 7.2, -7.2):
        tried = spot + np.array([0.0, off])
        if all(abs(tried[1] - o[1]) >= 3.4 or abs(tried[0] - o[0]) >= half_mm + w for o, w in taken):
            return np.asarray(tried)
    return spot


def _hatched(rings_mm: Sequence[Array], apart_mm: float) -> tuple[Path, ...]:
    """Slanting lines over an area with its openings."""
    area = shapely.make_valid(Polygon(rings_mm[0], list(rings_mm[1:])))
    x0, y0, x1, y1 = area.bounds
    starts = np.arange(x0 - (y1 - y0), x1, apart_mm * np.sqrt(2.0))
    lines = shapely.MultiLineString([[(x, y0), (x + y1 - y0, y1)] for x in starts])
    kept = shapely.get_parts(lines.intersection(area))
    return tuple(Path(np.asarray(one.coords)) for one in kept if one.geom_type == "LineString" and one.length > 0.0)
