"""Start page: a build begun from nothing or from the demonstration; later its shop, its sheets and what is measured."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from halfshaft.bench import look, setup_forms
from halfshaft.bench.build_text import BuildText
from halfshaft.bench.desk import Desk
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.typed import names_of
from halfshaft.build import Beginning, BuildProblems, begin_build, new_build
from halfshaft.build.catalogue import default, instrument, materials
from halfshaft.build.problems import Problem
from halfshaft.build.schema import Cutter
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.study import Study


def _draw(desk: Desk) -> None:
    if desk.empty:
        _begin(desk)
        return
    setup_forms.draw(desk)
    write = asked_of_page().get("write", "")
    if write:
        BuildText(desk, write)
    else:
        fold_out("The build as it is written", lambda: BuildText(desk))


def _begin(desk: Desk) -> None:
    ui.label(
        f"Nothing in {desk.folder} yet. Begin a build of your own, or look round the demonstration first."
    ).classes("hs-text")
    with ui.element("div").classes("hs-begin"):
        with look.column():
            fields = _fields()
            faults = look.panel(edge="bad")
            faults.set_visibility(False)
            look.button(
                "Begin the build", lambda: _filled(desk, lambda: begin_build(desk.folder, fields()), faults), "main"
            )
        with look.panel("An invented demonstration"):
            ui.label(
                "An invented pickup and an invented drive unit, measured and worked out in full, with slips among the "
                "readings and a first bracket that does not fit. Nothing in it is real: never cut it for a car."
            ).classes("hs-text")
            told = look.panel(edge="bad")
            told.set_visibility(False)
            look.button(
                "Copy the demonstration", lambda: _filled(desk, lambda: new_build(desk.folder, demo=True), told, "/")
            )


def _fields() -> Callable[[], Beginning]:
    """The fields of a beginning; gives what reads them."""
    with look.panel("The build"):
        name = _input("name of the build", "my build")
        units = ui.toggle({"metric": "millimetres", "inch": "inches"}, value="metric").props("no-caps unelevated")
    with look.panel("The shop"):
        ui.label("Leave a field empty and the bench assumes the value in it; the first page says so.").classes(
            "hs-faint"
        )
        with ui.element("div").classes("hs-fields"):
            cutter = _choose("what cuts the sheet", {c.value: c.value for c in Cutter}, "plasma")
            paper = _choose("paper for templates", {"A4": "A4", "Letter": "Letter"}, "A4")
            shop = {key: _input(words) for key, words in setup_forms.SHOP.items()}
            tools = {tool: _input(f"{words}: one reading is true to ±") for tool, words in setup_forms.TOOLS.items()}
    with look.panel("The first sheet"), ui.element("div").classes("hs-fields"):
        sheet = _input("a name for it", "plate")
        thickness = _input("thickness, or gauge", "3/16 in")
        material = _choose("steel", {m: m for m in materials()}, "mild steel S275")
    with look.panel("What is measured"):
        ui.label(
            "A short name for each hole, corner or mark that you will read, such as RL1. More can be added at any time."
        ).classes("hs-faint hs-text")
        car = _input("points of the car")
        unit = _input("points of the drive unit")

    def assume() -> None:
        """What an empty field means, in the units that are chosen."""
        for key, field in shop.items():
            field.props["placeholder"] = _assumed(f"shop.{key}", units.value)
        for tool, field in tools.items():
            row = instrument(tool)
            field.props["placeholder"] = _amount(row.spread, row.unit, units.value)

    assume()
    units.on_value_change(assume)

    def told() -> Beginning:
        given = {key: field.value or "" for key, field in shop.items()}
        return Beginning(
            name=name.value or "my build",
            units=units.value,
            shop={"cutter": cutter.value, "paper": paper.value, **given},
            tools={tool: field.value or "" for tool, field in tools.items()},
            sheets={sheet.value or "plate": {"thickness": thickness.value or "", "material": material.value}},
            bodies={"car": tuple(names_of(car.value or "")), "unit": tuple(names_of(unit.value or ""))},
        )

    return told


def _assumed(row: str, units: UnitSystem) -> str:
    told = default(row)
    return _amount(told.value, told.unit, units) if isinstance(told.value, (int, float)) else str(told.value)


def _amount(value: float, unit: str, units: UnitSystem) -> str:
    return format_length(value, units) if unit == "mm" and units == "inch" else f"{value:g} {unit}"


def _input(words: str, value: str = "") -> ui.input:
    return ui.input(words, value=value).props("outlined" + ("" if value else " stack-label"))


def _choose(words: str, options: dict[str, str], value: str) -> ui.select:
    return ui.select(options, label=words, value=value).props("outlined options-dense=false")


def _filled(desk: Desk, fill: Callable[[], Any], faults: ui.element, then: str = "/start") -> None:
    """Fill the folder, then show it; faults are told where they were made."""
    try:
        fill()
    except BuildProblems as why:
        _tell(faults, why.problems)
        return
    desk.opened()
    ui.navigate.to(then)


def _tell(box: ui.element, problems: tuple[Problem, ...]) -> None:
    box.clear()
    box.set_visibility(True)
    with box:
        look.mark("bad", "Not begun yet")
        for problem in problems:
            ui.label(f"{problem.found}. {problem.write}").classes("hs-text")


def _told(study: Study) -> str:
    bodies = len(study.build.body)
    return f"{bodies} bod{'y' if bodies == 1 else 'ies'}"


PAGE = Page("/start", "Start", "M5 20 V4 M5 5 H17 L14 9 L17 13 H5", _draw, _told)
