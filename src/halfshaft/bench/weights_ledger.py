"""The ledger to type into: each thing's mass and place as cells that are saved when they are left; things added."""

from __future__ import annotations

from functools import partial
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_fields import Form
from halfshaft.bench.desk import Desk
from halfshaft.bench.weights_edit import Thing, mass_text, mass_values, place_text, place_values, row_of, rows_of
from halfshaft.build import Build, save_values

_CROSS = "M6 6 L18 18 M18 6 L6 18"
TABLES = {"out": "Comes out", "in": "Goes in", "load": "Rides along"}


class Ledger:
    """Drawn anew when rows come or go; else its cells follow the build."""

    def __init__(self, desk: Desk, box: ui.element) -> None:
        self._desk, self._box = desk, box
        self._rows: list[Thing] | None = None
        self._form = Form()

    def show(self) -> None:
        build = self._desk.build
        if build is None or build.weights is None:
            return
        rows = rows_of(build)
        if rows == self._rows:
            self._form.refresh()
            return
        self._rows, self._form = rows, Form()
        self._box.clear()
        with self._box:
            with ui.element("div").classes("hs-pair"):
                for tables in (("in",), ("out", "load")):
                    with look.column():
                        for table in tables:
                            self._list(table, [row for row in rows if row[0] == table])
            self._new()

    def _list(self, table: str, rows: list[Thing]) -> None:
        with look.panel(TABLES[table]):
            if not rows:
                ui.label("nothing yet").classes("hs-faint")
                return
            with ui.element("div").classes("hw-ledger"):
                for row in rows:
                    self._row(row)

    def _now(self) -> Build:
        assert self._desk.build is not None
        return self._desk.build_now()

    def _row(self, row: Thing) -> None:
        desk, name = self._desk, row[1]

        def read(text: Any) -> str:
            build = desk.build
            return str(text(build, row, desk.units)) if build is not None and row in rows_of(build) else ""

        def keep(values: Any, what: str, text: str) -> bool:
            build = self._now()
            told = values(row, text, build, desk.units)
            return desk.change(f"{what} of {name}", lambda folder: save_values(folder, told))

        what = row_of(self._now(), row).what
        with ui.element("div"):
            ui.label(name).classes("hs-text").style("font-weight: 600")
            if what:
                ui.label(what).classes("hs-faint hs-small hs-text")
        self._form.cell("mass", partial(read, mass_text), partial(keep, mass_values, "mass"))
        self._form.cell("place", partial(read, place_text), partial(keep, place_values, "place"))
        look.button("", partial(self._drop, row), "plain", _CROSS, f"take {name} out of the list")

    def _drop(self, row: Thing) -> None:
        told: dict[Any, Any] = {("weights", *row): None}
        self._desk.change(f"{row[1]} taken out of the ledger", lambda folder: save_values(folder, told))

    def _new(self) -> None:
        with look.panel("Another thing"), ui.element("div").classes("hs-fields"):
            table = ui.select(TABLES, value="in").props("outlined")
            name = ui.input("its name").props("outlined")
            mass = ui.input("mass").props("outlined")
            place = ui.input("place: forward, left, up, or a name").props("outlined")
            look.button("Add it", lambda: self._add(str(table.value), name, mass, place))

    def _add(self, table: str, name: ui.input, mass: ui.input, place: ui.input) -> None:
        thing = (table, str(name.value or "").strip())
        build, units = self._now(), self._desk.units
        if not thing[1] or not mass.value or not place.value:
            self._desk.say("A thing wants a name, a mass and a place", "care")
            return
        if thing in rows_of(build):
            self._desk.say(f"There is a {thing[1]} already", "care")
            return
        told = mass_values(thing, str(mass.value), build, units)
        told |= place_values(thing, str(place.value), build, units)
        row = {str(path[-1]): value for path, value in told.items()}
        whole: dict[Any, Any] = {("weights", *thing): row}
        if self._desk.change(f"{thing[1]} added to the ledger", lambda folder: save_values(folder, whole)):
            for field in (name, mass, place):
                field.set_value("")
