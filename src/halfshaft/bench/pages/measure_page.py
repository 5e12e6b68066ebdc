"""Measure page: readings typed, judged and put right; what they make known in space; what to measure next."""

from __future__ import annotations

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.measure_entry import EntryLine
from halfshaft.bench.measure_lists import Lists, Picked, PointList
from halfshaft.bench.measure_scene import MeasureScene
from halfshaft.bench.measure_table import ReadingsTable
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.measure.words import short_name
from halfshaft.study import Study


def _draw(desk: Desk) -> None:
    look.add_sheet("measure")
    entry = EntryLine(desk)
    tables: list[ReadingsTable] = []
    scenes: list[MeasureScene] = []
    picked: list[Picked] = []
    chosen = [""]

    def pick(name: str) -> None:
        chosen[0] = name
        for scene in scenes:
            scene.choose(name)
        picked[0].pick(name)

    def view() -> None:
        scenes.append(MeasureScene(desk, pick))
        if chosen[0]:
            scenes[0].choose(chosen[0])

    with ui.element("div").classes("hs-measure"):
        with look.panel().classes("hs-space"):
            look.later(view).classes("hs-view")
            picked.append(Picked(desk, entry, lambda: tables[0]))
            PointList(desk, pick)
        with ui.element("div").classes("hs-lists"):
            Lists(desk, entry)
    tables.append(ReadingsTable(desk, entry.change_row))
    about = [asked_of_page().get("about", "")]

    def go() -> None:
        """Once the build is worked: to the reading, point or face that a check is about."""
        if desk.study is None or not about[0]:
            return
        wanted, about[0] = about[0], ""
        measured = desk.study.measured
        named = next(
            (n for n in (*measured.points, *measured.faces) if wanted in (n, short_name(desk.study.build, n))), ""
        )
        if named:
            pick(named)
        tables[0].point_at(wanted)

    go()
    look.follow(desk, go)


def _told(study: Study) -> str:
    measured = study.measured
    words = f"{len(measured.points)} points"
    if measured.suspects:
        words += f", {len(measured.suspects)} slip{'s' if len(measured.suspects) > 1 else ''}"
    if measured.unlocated:
        words += f", {len(measured.unlocated)} open"
    return words


PAGE = Page(
    "/measure", "Measure", "M3 17 L17 3 L21 7 L7 21 Z M7 13 L9 15 M10 10 L13 13 M13 7 L15 9", _draw, _told, ("measure",)
)
