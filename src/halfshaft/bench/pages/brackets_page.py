"""Brackets: pick faces and holes, see it flat and folded, what it hits, the chance that it fits; take the cut files."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from nicegui import Client, background_tasks, ui

from halfshaft.bench import look
from halfshaft.bench.bracket_cards import PLUS, draw_cards
from halfshaft.bench.bracket_change import draw_change
from halfshaft.bench.bracket_fields import Form
from halfshaft.bench.bracket_files import draw_files
from halfshaft.bench.bracket_fit import draw_fit
from halfshaft.bench.bracket_flat import draw_flat
from halfshaft.bench.bracket_looked import Looked
from halfshaft.bench.bracket_make import Make, first_draft
from halfshaft.bench.bracket_numbers import draw_numbers
from halfshaft.bench.bracket_picked import asked_for, pickable
from halfshaft.bench.bracket_picking import Picking
from halfshaft.bench.bracket_scene import BracketScene
from halfshaft.bench.bracket_words import state_of
from halfshaft.bench.desk import Desk
from halfshaft.bench.page import NONE_YET, Page, asked_of_page
from halfshaft.bench.region import Region, apart
from halfshaft.build.units import format_length
from halfshaft.fold.scenery import near_face
from halfshaft.study import Study

TURN_SECONDS = 0.005  # in which what has been drawn goes to the browser
SECTIONS = {"fit": "Fit and checks", "numbers": "Folds and holes", "change": "Change", "files": "Files"}


class BracketsPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.view = Looked(desk)
        self.picking = Picking(self.view, self._picked, lambda: self._open("change"))
        self._asked = asked_of_page()
        self._aimed: Any = object()
        self._scene_key: Any = None
        self.scene: BracketScene | None = None
        self.form = Form()
        self._make: Make | None = None
        self._light: Callable[[str], None] | None = None
        self._lit = ""
        self._tab_buttons: dict[str, ui.button] = {}
        self._cards: list[Region] = []
        look.add_sheet("bracket")
        top, self._behind_box = apart(), apart("hb-behind hs-faint").props('role="status"')
        with ui.element("div").classes("hs-pair"):
            with look.column().classes("hb-stay"):
                look.later(self._begin_scene).classes("hb-view")
                slide = apart("")
                with look.row().classes("hb-told").style("align-items: flex-start"):
                    told = apart("hs-column hs-grow").style("min-width: 200px").props('aria-live="polite"')
                    everything = apart("hb-field")
            flat = apart()
        tabs = apart("hb-parts").props('role="tablist"')
        body = apart()
        self._flat_region = Region(flat, self.view.flat_key, self._flat)
        self._late = False  # what takes longer is about to be drawn
        self.regions = [
            Region(top, self.view.list_key, self._list),
            Region(self._behind_box, lambda: (self.desk.behind, self.study is None), self._behind),
            Region(slide, lambda: (self.view.name, self.view.draft is None, self.view.folds()), self._slide),
            Region(told, lambda: (self.view.at, self.view.key(), self.view.draft_key()), self.picking.draw_told),
            Region(
                everything, lambda: tuple(pickable(self.study, self.view.bracket()).items()), self.picking.draw_list
            ),
            Region(tabs, lambda: (self.view.draft is None, bool(self.view.name)), self._tabs),
            Region(body, self.view.body_key, self._body),
        ]
        self.show()
        self.desk.first = self.view.name or self.desk.first
        look.follow(desk, self._changed)

    # what stands

    @property
    def study(self) -> Study | None:
        return self.desk.study

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk."""
        self._show_words()
        self._show_flat()
        self._draw_scene()

    def _changed(self) -> None:
        """The same after a change of the desk: each part is in the browser before the next, heavier one is begun."""
        if self.view.draft is not None:
            self.show()
            return
        self._show_words()
        if not self._late:
            self._late = True
            background_tasks.create(self._show_late(ui.context.client), name="flat pattern and 3D")

    async def _show_late(self, client: Client) -> None:
        await asyncio.sleep(TURN_SECONDS)
        self._late = False
        for draw in (self._show_flat, self._draw_scene):
            if not self._behind_box.is_deleted:
                with client.content:
                    draw()
            await asyncio.sleep(TURN_SECONDS)

    def _show_words(self) -> None:
        study = self.study
        if study is not None and self._asked:
            wanted = asked_for(study, self._asked.get("bracket", ""), self._asked.get("about", ""))
            self.view.name, self.view.at = wanted
            if not self.desk.behind:
                self._asked = {}
        if study is not None and self.view.name not in study.build.bracket and self.view.draft is None:
            self.view.name, self.view.at = next(iter(study.build.bracket), ""), ""
        for card in self._cards:
            card.show()
        for region in self.regions:
            region.show()
        for key, button in self._tab_buttons.items():
            look.press(button, key == self.view.section, "aria-selected")
        self.picking.follow()
        if study is not None and self.view.section == "change" and self.view.name in study.build.bracket:
            self.form.refresh()

    def _show_flat(self) -> None:
        self._flat_region.show()
        if self._make is not None:
            self._make.show()
        if self._light is not None and self._lit != self.view.at:
            self._lit = self.view.at
            self._light(self._lit)

    def _begin_scene(self) -> None:
        self.scene, self._scene_key = BracketScene(self.picking.pick), None
        self._draw_scene()

    def _draw_scene(self) -> None:
        study = self.study
        if study is None or self.scene is None:
            return
        bracket, draft = self.view.bracket(), self.view.draft
        told = study.build.bracket.get(self.view.name)
        key = (study.measured, study.build.obstacle, bracket, told, self.view.name, self.view.at, self.view.draft_key())
        if key == self._scene_key:
            return
        self._scene_key = key
        self.scene.show(study, self.desk.folder, bracket)
        if draft is not None:
            faces = [panel.face for panel in draft.panels]
            points = [point for panel in draft.panels for point in panel.holes]
            points += [point for face in faces[-1:] for point, _ in near_face(study.measured, face)]
        else:
            panels = list(told.panel.values()) if told else []
            faces = [panel.face for panel in panels if panel.face]
            points = [hole.at for panel in panels for hole in panel.holes]
        self.scene.light(self.view.at, faces, points)
        aim = (self.view.name, draft is None, bracket is None)
        if aim != self._aimed:
            self._aimed = aim
            self.scene.aim(study, bracket, faces, points if draft is None else [])

    def _list(self) -> None:
        self._cards = draw_cards(self.view, self.choose, self._begin)

    def _behind(self) -> None:
        if self.desk.behind and self.study is not None and self.study.build.bracket:
            ui.label("Being worked again: what you see may be from before the last change.")

    def _slide(self) -> None:
        if not self.view.folds():
            return
        with ui.element("div").classes("hs-slider-row"):
            look.button("Flat", lambda: slider.set_value(0))
            slider = ui.slider(min=0, max=100, step=1, value=100, on_change=lambda e: self._fold_to(e.value / 100))
            slider.props["aria-label"] = "from flat to folded"
            look.button("Folded", lambda: slider.set_value(100))
        self._fold_to(1.0)

    def _fold_to(self, share: float) -> None:
        if self.scene is not None:
            self.scene.fold_to(share)

    def _flat(self) -> None:
        bracket, study = self.view.bracket(), self.study
        self._light, self._make = None, None
        if study is None:
            return
        if self.view.draft is not None:
            self._make = Make(self.desk, study, self.view.draft, self.show, self._leave, self._made)
            return
        if bracket is None:
            if self.view.name:
                ui.label(f"{self.view.name} is being worked.").classes("hs-faint")
            return
        if not bracket.parts:
            with look.panel(f"{bracket.name} is refused", edge="bad"):
                for check in bracket.checks:
                    if not check.ok:
                        ui.label(f"{check.title}. {check.do}").classes("hs-text")
            return
        part = bracket.parts[min(self.view.part, len(bracket.parts) - 1)]
        self._lit = self.view.at
        self._light = draw_flat(bracket, part, study.build.shop.kerf_mm, self.view.at, self.picking.pick)
        with ui.element("div").classes("hb-parts"):
            if len(bracket.parts) > 1:
                for number, other in enumerate(bracket.parts):
                    button = look.button(other.name, lambda n=number: self._turn_to(n))
                    if other is part:
                        button.classes("hs-on")
            x0, y0, x1, y1 = part.outline.polygon(0.1).bounds
            units = self.desk.units
            ui.label(
                f"flat, upper side toward you: {format_length(x1 - x0, units)} × {format_length(y1 - y0, units)}, "
                f"sheet {part.sheet} {format_length(part.thickness_mm, units)}"
            ).classes("hs-faint hs-small hs-text")

    def _tabs(self) -> None:
        self._tab_buttons = {}
        if self.view.draft is not None or not self.view.name:
            return
        for key, words in SECTIONS.items():
            button = look.button(words, lambda k=key: self._open(k)).props('role="tab"')
            self._tab_buttons[key] = button

    def _body(self) -> None:
        study, bracket = self.study, self.view.bracket()
        if study is None or self.view.draft is not None:
            return
        if not self.view.name:
            with look.panel("No bracket yet"):
                ui.label("A bracket lies on measured faces and is bolted at measured points.").classes("hs-text")
                look.button("New bracket", self._begin, "main", PLUS)
            return
        told = study.build.bracket[self.view.name]
        if told.what:
            ui.label(told.what).classes("hs-text hs-faint")
        if self.view.section == "change":
            self.form = draw_change(self.desk, study, self.view.name)
        elif bracket is None:
            ui.label("It is being worked.").classes("hs-faint")
        elif self.view.section == "fit":
            draw_fit(self.desk, bracket, told, self.view.working(self.view.name))
        elif self.view.section == "numbers":
            draw_numbers(bracket, self.desk.units, self.view.at, self.picking.pick)
        else:
            draw_files(self.desk, bracket)

    def _picked(self) -> None:
        self._asked = {}
        self.show()

    # going about

    def choose(self, name: str) -> None:
        self._asked = {}
        self.desk.first = name
        self.view.name, self.view.at, self.view.part, self.view.draft = name, "", 0, None
        ui.navigate.history.replace(f"{PAGE.path}?{urlencode({'bracket': name})}")
        self.show()

    def _open(self, section: str) -> None:
        self.view.section = section
        self.show()

    def _turn_to(self, part: int) -> None:
        self.view.part = part
        self.show()

    def _begin(self) -> None:
        if self.study is not None:
            self.view.draft, self.view.at = first_draft(self.study), ""
            self.show()

    def _leave(self) -> None:
        self.view.draft, self.view.at = None, ""
        self.show()

    def _made(self, name: str) -> None:
        self.view.draft, self.view.section = None, "fit"
        self.choose(name)


def _draw(desk: Desk) -> None:
    BracketsPage(desk)


def _told(study: Study) -> str:
    words = [state_of(study.brackets.get(name)).word for name in study.build.bracket]
    if not words:
        return NONE_YET
    refused = words.count("refused")
    return f"{len(words)}, {refused} refused" if refused else f"{len(words)}"


PAGE = Page("/brackets", "Brackets", "M4 20 V10 H14 V4 H20 M4 20 H8 V14 H18 V8", _draw, _told, ("fold", "cut"))
