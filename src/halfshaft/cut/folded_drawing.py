"""The folded bracket as a drawing on paper, its folds numbered in the order they are made. Bracket in, drawing out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from halfshaft.cut.drawing import THIN_MM, Drawing, Label, Mark, Stroke, line
from halfshaft.cut.flat_drawing import FOLD_COLOUR, fold_badge
from halfshaft.cut.folded_view import folded_view
from halfshaft.cut.layers import Path
from halfshaft.fold.model import Bracket, Fold
from halfshaft.geometry import Contour

Array = NDArray[np.float64]


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
        else:
            lines = tuple(Path(ring) for ring in paint.rings_mm)
            out.append(Stroke(lines, thick_mm=max(paint.thick_mm, THIN_MM), matrix=matrix, shift_mm=shift))
    for name, (number, fold) in fold_numbers(bracket).items():
        if name in view.folds:
            out += fold_badge(at(view.folds[name]), number, fold.up)
    out += [Label(at(spot), name, italic=True) for name, spot in view.panels.items()]
    foot = np.array([12.0, size[1] - 8.0])
    for words, axis in zip(("front", "left", "up"), view.axes, strict=True):
        tip = foot + axis * np.array([7.0, -7.0])
        out += [
            line(foot, tip, colour=FOLD_COLOUR, thick_mm=0.3),
            Label(foot + axis * np.array([10.5, -9.5]), words),
        ]
    tint = ""
    if any(panel.contact in ("under", "upper") for panel in bracket.panels.values()):
        tint = "; sand-coloured sides lie on the car or the unit"
    return Drawing(size, tuple(out), ratio), f"Folded, {view.seen_from}{tint}."
