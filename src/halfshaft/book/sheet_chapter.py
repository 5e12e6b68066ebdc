"""Parts on their sheets, and the torch's way over them, as sections of the book. A study in, sections out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from halfshaft import tables_paths, tables_sheets
from halfshaft.book.model import Block, Grid, Picture, Section, Words
from halfshaft.build.value import UnitSystem
from halfshaft.cut.drawing import GREY, HIDDEN, Drawing, Label, Mark, Stroke
from halfshaft.cut.layers import Figure
from halfshaft.geometry import Contour
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.cut.nest.model import CutSheet

_THICK = {"cut": 0.3, "bore": 0.2, "slit": 0.25}
_CLOSE = 0.3  # share of the sheet under which only the part of it that is cut is drawn


def sheets(study: Study, room_mm: tuple[float, float]) -> Section | None:
    """Every sheet as a drawing with numbered parts, and the lists; None where nothing was laid."""
    found = study.sheets
    if found is None or not (found.sheets or found.left_out):
        return None
    units = study.build.build.units
    blocks: list[Block] = [
        Words(tables_sheets.total_words(found, units) + "."),
        Grid(tables_sheets.sheets_table(found, units)),
    ]
    blocks += [_sheet(sheet, units, room_mm) for sheet in found.sheets]
    blocks.append(Grid(tables_sheets.parts_table(found, units), "Drawings and code of each sheet: out/sheets."))
    return Section("sheets", "Sheets", tuple(blocks))


def paths(study: Study) -> Section | None:
    """Order, time and what it takes; None where the table cuts nothing."""
    found = study.paths
    if found is None or not found.sheets:
        return None
    units = study.build.build.units
    blocks: list[Block] = [Words(words, "care") for words in tables_paths.PATH_CAUTIONS]
    blocks += [Grid(tables_paths.paths_table(found, units)), Grid(tables_paths.taken_table(found))]
    blocks.append(
        Words("Every cut in its order, and the way of the torch: 'halfshaft path --cuts', and the bench.", "small")
    )
    return Section("paths", "Tool paths", tuple(blocks))


def _sheet(sheet: CutSheet, units: UnitSystem, room_mm: tuple[float, float]) -> Picture:
    from halfshaft.cut.nest.clear import label

    metal = sheet.blank.metal
    low, high = np.array(metal.bounds[:2]), np.array(metal.bounds[2:])
    busy = shapely.total_bounds([one.flat.outline.polygon(0.5) for one in sheet.laid])
    near = (busy[:2] - 20.0).clip(low, high), (busy[2:] + 20.0).clip(low, high)
    part_only = float(np.prod(near[1] - near[0])) < _CLOSE * float(np.prod(high - low))
    if part_only:
        low, high = near
    ratio = float(min((room_mm[0] - 2.0) / (high[0] - low[0]), 95.0 / (high[1] - low[1]), 1.0))
    matrix, shift = np.diag([ratio, -ratio]), np.array([1.0 - low[0] * ratio, 1.0 + high[1] * ratio])
    window = shapely.box(*low, *high)
    marks: list[Mark] = []
    for piece in shapely.get_parts(metal.intersection(window)):
        rings = tuple(Contour.of_points(np.asarray(r.coords)[:-1]) for r in (piece.exterior, *piece.interiors))
        marks.append(Stroke(rings, GREY, 0.25, "#f3f1ec", HIDDEN if part_only else (), matrix, shift))
    for one in sheet.laid:
        marks += _figures(one.figures, matrix, shift)
    for number, one in enumerate(sheet.laid, 1):
        spot = one.flat.outline.polygon(0.5).representative_point()
        at = np.array([spot.x, spot.y]) @ matrix.T + shift
        marks.append(Label(at, str(number), size_pt=9.0, bold=True, patch=True))
    size = (high - low) * ratio + 2.0
    named = "; ".join(f"{number} {label(one)}" for number, one in enumerate(sheet.laid, 1))
    what = "the corner of it that is cut, " if part_only else ""
    title = f"{sheet.blank.name}, {sheet.blank.key}: {what}drawn 1 : {1.0 / ratio:.3g}"
    return Picture(Drawing((float(size[0]), float(size[1])), tuple(marks), ratio), title, named)


def _figures(figures: tuple[Figure, ...], matrix: np.ndarray, shift: np.ndarray) -> list[Mark]:
    out: list[Mark] = []
    for layer, thick in _THICK.items():
        shapes = tuple(figure.shape for figure in figures if figure.layer == layer)
        if shapes:
            fill = "#dcdcdc" if layer == "cut" else ""
            out.append(Stroke(shapes, "#000000", thick, fill, (), matrix, shift))
    return out
