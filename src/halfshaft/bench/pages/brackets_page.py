"""Brackets: pick faces and holes, see it flat and folded, what it hits, the chance that it fits; take the cut files."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from typing import Any
from urllib.parse import urlencode

from nicegui import Client, background_tasks, ui

from halfshaft.bench import look
from halfshaft.bench.bracket_change import add_panel, draw_change, structure
from halfshaft.bench.bracket_edit import Draft
from halfshaft.bench.bracket_fields import Form
from halfshaft.bench.bracket_files import draw_files
from halfshaft.bench.bracket_fit import draw_fit
from halfshaft.bench.bracket_flat import draw_flat
from halfshaft.bench.bracket_holes import add_hole, usual_bolt
from halfshaft.bench.bracket_make import Make, first_draft
from halfshaft.bench.bracket_numbers import draw_numbers
from halfshaft.bench.bracket_picked import asked_for, pickable, picked_lines
from halfshaft.bench.bracket_scene import BracketScene
from halfshaft.bench.bracket_words import chance, mass, state_of
from halfshaft.bench.desk import Desk
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.region import Region, apart, put
from halfshaft.build.units import format_length
from halfshaft.fold.model import Bracket
from halfshaft.fold.scenery import near_face
from halfshaft.study import Study

TURN_SECONDS = 0.005  # in which what has been drawn goes to the browser
SECTIONS = {"fit": "Fit and checks", "numbers": "Folds and holes", "change": "Change", "files": "Files"}
PLUS = "M12 5 V19 M5 12 H19"


@dataclass
class View:
    """What this browser looks at."""

    name: str = ""
    section: str = "fit"
    at: str = ""  # 'face:car.web', 'point:car.A', 'panel:web', 'obstacle:line', 'hole:web.A', 'fold:web-ear'
    part: int = 0
    draft: Draft | None = None


class BracketsPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.view = View()
        self._asked = asked_of_page()
        self._aimed: Any = object()
        self._scene_key: Any = None
        self.scene: BracketScene | None = None
        self.form = Form()
        self._picks: ui.select | None = None
        self._make: Make | None = None
        self._light: Callable[[str], None] | None = None
        self._lit = ""
        self._tab_buttons: dict[str, ui.button] = {}
        self._cards: list[Region] = []
        ui.add_css(files("halfshaft.bench").joinpath("bracket.css").read_text(encoding="utf-8"))
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
        self._flat_region = Region(flat, self._flat_key, self._flat)
        self._late = False  # what takes longer is about to be drawn
        self.regions = [
            Region(top, self._list_key, self._list),
            Region(self._behind_box, lambda: (self.desk.behind, self.study is None), self._behind),
            Region(slide, lambda: (self.view.name, self.view.draft is None, self._shape()), self._slide),
            Region(told, lambda: (self.view.at, self._key(), self._drafted()), self._told),
            Region(everything, lambda: tuple(pickable(self.study, self.bracket()).items()), self._everything),
            Region(tabs, lambda: (self.view.draft is None, bool(self.view.name)), self._tabs),
            Region(body, self._body_key, self._body),
        ]
        self.show()
        self.desk.first = self.view.name or self.desk.first
        look.follow(desk, self._changed)

    # what stands

    @property
    def study(self) -> Study | None:
        return self.desk.study

    def bracket(self) -> Bracket | None:
        """The one looked at, as last worked."""
        if self.study is None or self.view.draft is not None:
            return None
        return self.study.brackets.get(self.view.name)

    def _shape(self) -> Any:
        bracket = self.bracket()
        return bracket is not None and bool(bracket.parts)

    def _key(self) -> Any:
        study = self.study
        measured = study.measured if study else None
        told = study.build.bracket.get(self.view.name) if study else None
        return (self.view.name, self.bracket(), self._working(self.view.name), measured, told, self.desk.units)

    def _cut(self) -> Any:
        """What decides how the flat pattern looks: not the chance of fit, which comes later than the shape."""
        bracket, study = self.bracket(), self.study
        kerf = study.build.shop.kerf_mm if study else None
        shape = bracket and (
            bracket.parts,
            bracket.folds,
            bracket.fold_order,
            bracket.checks if not bracket.parts else (),
        )
        return (self.view.name, shape, kerf, self.desk.units, study is None)

    def _flat_key(self) -> Any:
        draft, study = self.view.draft, self.study
        if draft is not None and study is not None:
            return (id(draft), study.measured, tuple(study.build.sheet.items()), self.desk.units)
        return (self._cut(), self.view.part)

    def _working(self, name: str) -> bool:
        """Only the shape of this bracket is known by now, or nothing newer than the last change."""
        return self.study is not None and (name in self.study.shapes or name in self.desk.waiting)

    def _drafted(self) -> Any:
        draft = self.view.draft
        return draft and (draft.sheet, [(p.name, p.face, tuple(p.holes.items()), p.folds_from) for p in draft.panels])

    def _list_key(self) -> Any:
        study = self.study
        return study and (tuple(study.build.bracket), self.view.draft is None)

    def _body_key(self) -> Any:
        study, section = self.study, self.view.section
        if study is not None and section == "change" and self.view.draft is None:
            return (section, self.view.name, structure(study, self.view.name))
        at = self.view.at if section == "numbers" else ""
        return (self._key(), section, self.view.draft is None, study.files if study else None, at)

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
            on = key == self.view.section
            put(button, "aria-selected", "true" if on else "false")
            button.classes(add="hb-on" if on else "", remove="" if on else "hb-on")
        if self._picks is not None and self.view.at in pickable(self.study, self.bracket()):
            self._picks.set_value(self.view.at)
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
        self.scene, self._scene_key = BracketScene(self.pick), None
        self._draw_scene()

    def _draw_scene(self) -> None:
        study = self.study
        if study is None or self.scene is None:
            return
        bracket, draft = self.bracket(), self.view.draft
        told = study.build.bracket.get(self.view.name)
        key = (study.measured, study.build.obstacle, bracket, told, self.view.name, self.view.at, self._drafted())
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
        study = self.study
        self._cards = []
        if study is None:
            if not self.desk.problems:
                ui.label("The build is being worked for the first time.").classes("hs-title")
            return
        with ui.element("div").classes("hb-list"):
            self._cards = [self._card(name) for name in study.build.bracket]
            if self.view.draft is None:
                look.button("New bracket", self._begin, "" if study.build.bracket else "main", PLUS)

    def _card(self, name: str) -> Region:
        """A card that stays while what is on it changes, so that no tap on it is lost."""
        button = ui.button(on_click=lambda: self.choose(name), color=None).props("unelevated no-caps")
        button.classes("hb-card")

        def key() -> Any:
            assert self.study is not None
            here = name == self.view.name and self.view.draft is None
            return (self.study.brackets.get(name), self._working(name), here, self.desk.units)

        def draw() -> None:
            bracket, working, here, units = key()
            button.classes(add="hb-here" if here else "", remove="" if here else "hb-here")
            put(button, "aria-pressed", "true" if here else "false")
            state = state_of(bracket, working)
            ui.label(name).classes("hb-card-name")
            with look.row().classes("hs-row-tight"):
                look.mark(state.mood, state.word)
                if bracket is not None and bracket.parts:
                    fit = "" if working or state.mood == "bad" else chance(bracket).split(" (")[0]
                    words = [text for text in (fit and f"fits {fit}", mass(bracket, units)) if text]
                    ui.label(", ".join(words)).classes("hs-small hs-num")

        with button:
            box = ui.element("div").classes("hb-card-told")
        region = Region(box, key, draw)
        region.show()
        return region

    def _behind(self) -> None:
        if self.desk.behind and self.study is not None and self.study.build.bracket:
            ui.label("Being worked again: what you see may be from before the last change.")

    def _slide(self) -> None:
        if not self._shape():
            return
        with ui.element("div").classes("hb-slide"):
            look.button("Flat", lambda: slider.set_value(0))
            slider = ui.slider(min=0, max=100, step=1, value=100, on_change=lambda e: self._fold_to(e.value / 100))
            slider.props["aria-label"] = "from flat to folded"
            look.button("Folded", lambda: slider.set_value(100))
        self._fold_to(1.0)

    def _fold_to(self, share: float) -> None:
        if self.scene is not None:
            self.scene.fold_to(share)

    def _flat(self) -> None:
        bracket, study = self.bracket(), self.study
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
        self._light = draw_flat(bracket, part, study.build.shop.kerf_mm, self.view.at, self.pick)
        with ui.element("div").classes("hb-parts"):
            if len(bracket.parts) > 1:
                for number, other in enumerate(bracket.parts):
                    button = look.button(other.name, lambda n=number: self._turn_to(n))
                    if other is part:
                        button.classes("hb-on")
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
        study, bracket = self.study, self.bracket()
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
            draw_fit(self.desk, bracket, told, self._working(self.view.name))
        elif self.view.section == "numbers":
            draw_numbers(bracket, self.desk.units, self.view.at, self.pick)
        else:
            draw_files(self.desk, bracket)

    # what is picked

    def _told(self) -> None:
        study = self.study
        if study is None:
            return
        kind, _, name = self.view.at.partition(":")
        with look.column().style("gap: 2px"):
            if not name:
                ui.label("Tap a face, a point, a panel, a hole or a fold; or take it from the list.").classes(
                    "hs-faint"
                )
            else:
                ui.label(f"{kind} {name}").classes("hs-title hs-text")
                for line in picked_lines(study, self.bracket(), kind, name, self.desk.units):
                    ui.label(line).classes("hs-text hs-num hs-small")
        with ui.element("div").classes("hb-pick"):
            self._acts(study, kind, name)

    def _everything(self) -> None:
        """The list that stands for the 3D view and the flat pattern."""

        def taken(event: Any) -> None:
            if event.value and event.value != self.view.at:
                kind, _, name = str(event.value).partition(":")
                self.pick(kind, name)

        options = pickable(self.study, self.bracket())
        self._picks = ui.select(
            options, value=self.view.at if self.view.at in options else None, label="or from the list",
            with_input=True, on_change=taken,
        ).props("outlined")  # fmt: skip

    def _acts(self, study: Study, kind: str, name: str) -> None:
        """What can be done with the thing that is picked."""
        draft, told = self.view.draft, study.build.bracket.get(self.view.name)
        if draft is not None:
            if kind == "face":
                on = any(panel.face == name for panel in draft.panels)
                look.button("Leave this face out" if on else "Take this face", lambda: self._face(name), "main")
            if kind == "point":
                for panel in draft.panels:
                    words = "No hole here in" if name in panel.holes else "A hole here in"
                    look.button(f"{words} {panel.name}", lambda p=panel.name: self._hole(p, name))
            return
        if told is None or self.view.section != "change":
            if kind in ("face", "panel", "hole", "point") and told is not None:
                look.button("Change the bracket", lambda: self._open("change"))
            return
        if kind == "face" and all(panel.face != name for panel in told.panel.values()):
            look.button("A panel on this face", lambda: add_panel(self.desk, self.view.name, name), "main")
        if kind == "point":
            for key, wish in told.panel.items():
                near = not wish.face or wish.face not in study.measured.faces
                near = near or any(name == point for point, _ in near_face(study.measured, wish.face or ""))
                if near and all(hole.at != name for hole in wish.holes):
                    look.button(
                        f"A hole here in {key}",
                        lambda p=key: add_hole(self.desk, self.view.name, p, name, usual_bolt(told)),
                    )  # fmt: skip

    def pick(self, kind: str, name: str) -> None:
        """Something was tapped; while a bracket is put together a face is taken or left at once."""
        self._asked = {}
        self.view.at = f"{kind}:{name}"
        draft = self.view.draft
        if draft is not None and kind == "face":
            draft.toggle_face(name)
        elif draft is not None and kind == "point" and self.study is not None:
            on = [p for p in draft.panels if any(name == n for n, _ in near_face(self.study.measured, p.face))]
            if len(on) == 1:
                self._hole(on[0].name, name)
                return
        self.show()

    def _face(self, name: str) -> None:
        assert self.view.draft is not None
        self.view.draft.toggle_face(name)
        self.show()

    def _hole(self, panel: str, point: str) -> None:
        draft = self.view.draft
        assert draft is not None
        used = [bolt for own in draft.panels for bolt in own.holes.values()]
        draft.toggle_hole(panel, point, used[-1] if used else "M10")
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
        return "none yet"
    refused = words.count("refused")
    return f"{len(words)}, {refused} refused" if refused else f"{len(words)}"


PAGE = Page("/brackets", "Brackets", "M4 20 V10 H14 V4 H20 M4 20 H8 V14 H18 V8", _draw, _told, ("fold", "cut"))
