"""Sheets of one kind as sheet.js draws them: the layout as it stands in, paths and words out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import shapely
from nicegui import ui
from shapely.geometry import Polygon

from halfshaft.bench.sheet_hand import Hand, Id, Moved, id_of
from halfshaft.build.value import UnitSystem
from halfshaft.cut.nest.clear import label
from halfshaft.cut.nest.model import CutSheet
from halfshaft.cut.nest.shape import true_shape
from halfshaft.cut.part import Laid, SheetPart
from halfshaft.tables_sheets import sheet_length


class SheetBoard(ui.element, component="sheet.js"):
    """`moved` hears id, sheet, x, y and whether that was the end; `turned` id and degrees; `picked` an id."""

    def __init__(
        self,
        moved: Callable[[str, str, float, float, bool], None],
        turned: Callable[[str, float], None],
        picked: Callable[[str], None],
        view: dict[str, Any],
    ) -> None:
        super().__init__()
        self._props["view"] = view
        self.on("moved", lambda event: moved(*_read(event.args)))
        self.on("turned", lambda event: turned(str(event.args["id"]), float(event.args["by"])))
        self.on("picked", lambda event: picked(str(event.args["id"])))

    def show(self, view: dict[str, Any]) -> None:
        if view != self._props["view"]:
            self._props["view"] = view
            self.update()


def _read(told: Mapping[str, Any]) -> tuple[str, str, float, float, bool]:
    return str(told["id"]), str(told["sheet"]), float(told["x"]), float(told["y"]), bool(told["end"])


def word_of(part: Id) -> str:
    return f"{part[0]}:{part[1]}"


def part_of(word: str) -> Id:
    name, _, number = word.rpartition(":")
    return name, int(number)


def view_of(
    hand: Hand, moved: Mapping[Id, Moved], picked: Id | None, step_mm: float, units: UnitSystem, shapes: dict[str, Any]
) -> dict[str, Any]:
    """`shapes` keeps the outlines of parts from one drawing to the next."""
    bad = {clash.name for own in hand.clashes.values() for clash in own}
    bad |= {clash.other for own in hand.clashes.values() for clash in own}
    things = []
    for number, (sheet, one) in enumerate(((s, one) for s in hand.sheets for one in s.laid), start=1):
        own = shapes.get(one.part.name) or shapes.setdefault(one.part.name, _shape(one.part))
        x, y = one.shift_mm
        clash = label(one) in bad
        say = f"{label(one)} on {sheet.blank.name}, turned {one.rotation_deg:.4g} degrees" + (", clashes" * clash)
        things.append(
            {
                **own, "id": word_of(id_of(one)), "number": str(number), "sheet": sheet.blank.name, "x": x, "y": y,
                "turn": one.rotation_deg, "bad": clash, "moved": id_of(one) in moved, "say": say,
            }
        )  # fmt: skip
    return {
        "sheets": [_sheet(sheet, units) for sheet in hand.sheets],
        "things": things,
        "picked": word_of(picked) if picked else "",
        "step": step_mm,
    }


def _sheet(sheet: CutSheet, units: UnitSystem) -> dict[str, Any]:
    blank = sheet.blank
    length, width = blank.size_mm
    words = f"{sheet_length(length, units)} x {sheet_length(width, units)}"
    if sheet.laid:
        words = f"{100 * sheet.of_sheet:.0f} % of {words}"
        words += f", {100 * sheet.of_used:.0f} % of what is used up" if sheet.leftovers else ""
    else:
        words = f"{words}, stays whole"
    return {
        "name": blank.name,
        "size": [length, width],
        "words": words,
        "metal": _runs(blank.metal),
        "kept": " ".join(_runs(left.metal) for left in sheet.leftovers),
        "room": _runs(blank.metal.buffer(-blank.margin_mm, join_style="mitre")),
        "clamps": [[*map(float, ring.min(axis=0)), *map(float, ring.max(axis=0))] for ring in blank.clamps_mm],
        "rolled": blank.rolling_deg,
    }


def _shape(part: SheetPart) -> dict[str, Any]:
    """Of a part in its own axes: outline with openings and holes, slits, and where its number goes."""
    shape = true_shape(part, 0.1)
    holes = [shapely.Point(*h.centre_mm).buffer(h.diameter_mm / 2.0, quad_segs=8) for h in part.bores]
    lines = [np.asarray(line, dtype=float) for line in part.slits_mm]
    slits = " ".join(f"M{a[0]:.2f} {a[1]:.2f} L{b[0]:.2f} {b[1]:.2f}" for a, b in lines)
    circle = shapely.maximum_inscribed_circle(shape, tolerance=0.5)
    x, y = circle.coords[0]
    return {
        "shape": " ".join([_runs(shape), *(_runs(hole) for hole in holes)]),
        "slits": slits,
        "middle": [float(x), float(y)],
        "room": float(circle.length),
    }


def _runs(area: Any) -> str:
    """An area as path data, in its own axes."""
    out = []
    for piece in getattr(area, "geoms", [area]):
        if isinstance(piece, Polygon) and not piece.is_empty:
            for ring in (piece.exterior, *piece.interiors):
                points = " L".join(f"{x:.2f} {y:.2f}" for x, y in ring.coords[:-1])
                out.append(f"M{points} Z")
    return " ".join(out)


def laid_of(hand: Hand, part: Id | None) -> tuple[CutSheet, Laid] | None:
    return next(((s, one) for s in hand.sheets for one in s.laid if id_of(one) == part), None)
