"""The dimensioned drawing of a flat part for shop sheet and book. Laid part and room in, a drawing out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from halfshaft.build.units import format_length
from halfshaft.cut.dimension import dimension
from halfshaft.cut.drawing import CHAIN, GREY, THIN_MM, Drawing, Label, Mark, Stroke, block, line
from halfshaft.cut.layers import LAYERS, Path, bounds_mm, figures_of, slot_contour
from halfshaft.fold.model import FlatPart, Fold, Hole, Panel

Array = NDArray[np.float64]

FOLD_COLOUR = LAYERS["slit"].web_colour
_STROKES = {"mark": THIN_MM, "foldline": THIN_MM, "slit": 0.3, "bore": 0.25, "cut": 0.4}
_SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)
_BELOW_MM, _RIGHT_MM = 14.0, 17.0  # room for the dimensions


def hole_letters(holes: Sequence[Hole]) -> dict[str, str]:
    """A letter for each hole: a to z, then aa, ab ..., in the order left to right, then up."""
    out = {}
    for number, hole in enumerate(in_order(holes)):
        letters, count = "", number + 1
        while count > 0:
            count, rest = divmod(count - 1, 26)
            letters = chr(97 + rest) + letters
        out[hole.name] = letters
    return out


def in_order(holes: Sequence[Hole]) -> list[Hole]:
    return sorted(holes, key=lambda h: (round(float(h.centre_mm[0]), 1), round(float(h.centre_mm[1]), 1), h.name))


def flat_drawing(
    part: FlatPart,
    kerf_mm: float,
    folds: Mapping[str, tuple[int, Fold]],
    panels: Mapping[str, Panel],
    units: str,
    room_mm: tuple[float, float],
) -> Drawing:
    """The part as large as the room lets it, with overall sizes, fold numbers, hole letters and the datum corner."""
    x0, y0, x1, y1 = bounds_mm(part)
    width, height = x1 - x0, y1 - y0
    ratio = min((room_mm[0] - _RIGHT_MM) / width, (room_mm[1] - _BELOW_MM) / height, 1.0)
    matrix = np.array([[ratio, 0.0], [0.0, -ratio]])
    shift = np.array([2.0 - x0 * ratio, 2.0 + y1 * ratio])
    out: list[Mark] = []
    drawn = figures_of(part, kerf_mm)
    for layer, thick in _STROKES.items():
        shapes = [figure.shape for figure in drawn if figure.layer == layer]
        if shapes:
            fill = "#f7f5f0" if layer == "cut" else ""
            piece = Stroke(tuple(shapes), LAYERS[layer].web_colour, thick, fill, (), matrix, shift)
            out.insert(0, piece) if layer == "cut" else out.append(piece)

    def at(point: Array) -> Array:
        return np.asarray(np.asarray(point, dtype=float) @ matrix.T + shift)

    busy: list[BaseGeometry] = [LineString(stroke) for mark in part.marks for stroke in mark.strokes_mm]
    busy += [Point(hole.centre_mm).buffer((hole.diameter_mm + hole.slot_mm) / 2.0) for hole in part.bores]
    busy += [opening.polygon(0.5) for opening in part.openings]
    for name, told in part.fold_lines_mm.items():
        middle_line = np.asarray(told, dtype=float)
        if len(middle_line) == 4:
            middle_line = (middle_line[:2] + middle_line[2:]) / 2.0
        out.append(Stroke((Path(middle_line),), FOLD_COLOUR, THIN_MM, "", CHAIN, matrix, shift))
        if name in folds:
            number, fold = folds[name]
            along = [middle_line[0] + share * (middle_line[1] - middle_line[0]) for share in _SHARES]
            spot = _freest(along, busy)
            busy.append(Point(spot).buffer(5.0 / ratio))
            out += fold_badge(at(spot), number, fold.up)
    for name, (turn, at_mm) in part.placed.items():
        if name in panels:
            flip = np.diag([-1.0, 1.0]) if part.mirrored else np.eye(2)  # a twin's panel axes are mirrored in x
            inside = [p @ flip @ np.asarray(turn).T + np.asarray(at_mm) for p in _spots_in(panels[name])]
            spot = _freest(inside, [*busy, LineString(part.outline.flattened_mm(0.5))])
            busy.append(Point(spot).buffer(4.0 / ratio))
            out.append(Label(at(spot), name, italic=True, colour=GREY))
    letters = hole_letters(part.bores)
    for hole in part.bores:
        reach = (hole.diameter_mm + hole.slot_mm) / 2.0 + 2.2 / ratio
        around = [hole.centre_mm + reach * np.array([np.cos(a), np.sin(a)]) for a in np.radians(range(20, 380, 40))]
        spot = _freest(around, busy)
        out.append(Label(at(spot), letters[hole.name], bold=True, colour="#1f4fa3"))
        out += _tick(at(hole.centre_mm))
    low, high = at(np.array([x0, y0])), at(np.array([x1, y1]))
    out += dimension(low[0], high[0], low[1] + 8.0, format_length(width, units), level=True)
    out += dimension(low[1], high[1], high[0] + 8.0, format_length(height, units), level=False)
    out += _datum(low)
    size = (width * ratio + _RIGHT_MM, height * ratio + _BELOW_MM)
    return Drawing(size, tuple(out), ratio)


def _freest(spots: Sequence[Array], busy: Sequence[BaseGeometry]) -> Array:
    """The spot farthest from what is drawn already; the first of equals."""
    if not busy:
        return spots[len(spots) // 2]
    distance = shapely.distance(shapely.union_all(list(busy)), shapely.points(np.array(spots)))
    return spots[int(np.argmax(np.round(distance, 2)))]


def _spots_in(panel: Panel) -> list[Array]:
    """Spots spread over a panel, in its axes."""
    shape = panel.outline.polygon(0.5)
    x0, y0, x1, y1 = shape.bounds
    grid = np.array([(x, y) for x in np.linspace(x0, x1, 13)[1:-1] for y in np.linspace(y0, y1, 13)[1:-1]])
    inside = grid[shapely.contains_xy(shape, grid)]
    middle = shape.representative_point()
    return [np.array([middle.x, middle.y]), *inside]


def fold_badge(spot: Array, number: int, up: bool) -> list[Mark]:
    """Number of a fold in a rounded box, with an arrowhead for its way."""
    outline = slot_contour(np.asarray(spot, dtype=float), np.array([1.0, 0.0]), 4.4, 4.6)
    return [
        Stroke((outline,), FOLD_COLOUR, 0.25, "#ffffff"),
        Label(spot, f"{number}{'▲' if up else '▼'}", bold=True),
    ]


def _tick(spot: Array) -> list[Mark]:
    x, y = spot
    return [line((x - 1, y), (x + 1, y)), line((x, y - 1), (x, y + 1))]


def _datum(corner: Array) -> list[Mark]:
    """The corner that x and y of the holes are taken from: a half-filled square."""
    x, y = corner
    return [
        block((x - 1.6, y - 1.6), 3.2, 3.2, fill="#ffffff", thick_mm=0.25),
        block((x - 1.6, y), 1.6, 1.6, fill="#000000"),
        block((x, y - 1.6), 1.6, 1.6, fill="#000000"),
    ]
