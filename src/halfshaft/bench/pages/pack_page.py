"""Pack: where its modules go, in 3D in the car; layouts to choose from; volts, power, what its fixings hold."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import background_tasks, ui

from halfshaft import tables_pack
from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.downloads import file_row, zipped
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.head import Asked, Head, unsaid, worked
from halfshaft.bench.judged import draw_judged
from halfshaft.bench.pack_scene import PackScene
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.place_hand import SOLIDS
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart
from halfshaft.build import save_values
from halfshaft.cut import CutFile
from halfshaft.study import Study
from halfshaft.weights.words import length_words

if TYPE_CHECKING:
    from halfshaft.pack.boxes import Boxes
    from halfshaft.pack.model import Answer, Laid, Pack

ASKED = Asked(
    "Where the modules go",
    "Which way round the modules go into the bays, in which order their strings run, and what that weighs: several "
    "answers, none beaten by another. It takes some seconds up to minutes; the bench can be used meanwhile.",
    "Lay the modules out",
    "Lay them out again",
    tables_pack.PACK_CAUTIONS[0],
)

BOXES = {"": "No boxes", "tray": "Trays", "all": "Lids and straps too"}


class PackPage:
    """The page in one browser. `number` is the layout that is looked at, from 1."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.number = 0
        self._about = asked_of_page().get("about", "")
        self._drawn: Any = None
        self._held: Any = None
        self._framed: Any = None
        self._boxed: Any = None
        self.boxes = "tray"  # what of the boxes is seen: nothing, their trays, all
        self._cards: list[ui.button] = []
        self._seen_buttons: dict[str, ui.button] = {}
        look.add_sheet("pack")
        top = apart()
        self.head = Head(ASKED, desk.lay_out)
        self.whole = look.column().style("gap: 16px")
        with self.whole:
            with ui.element("div").classes("hs-pair") as self._pair:
                with ui.element("div").classes("hs-left") as left:
                    self._left = left
                    self.scene = PackScene()
                    seen = apart("hs-row").props('role="radiogroup" aria-label="what is seen of the boxes"')
                with look.column():
                    layouts = apart()
                    built = apart()
                    numbers = apart()
            judged = apart()
            more = apart()
        self.regions = [
            Region(top, lambda: (desk.study is None, self.pack is None, self._wanted()), self._top),
            Region(seen, lambda: bool(self._box()), self._seen),
            Region(layouts, lambda: (self.laid, desk.units, self._named()), self._layouts),
            Region(built, lambda: (self.laid, self.number, self._named()), self._built),
            Region(numbers, lambda: (self.pack, desk.units), self._numbers),
            Region(judged, lambda: (self.pack, self._box(), desk.units), self._judged),
            Region(more, lambda: (self.pack, self._box(), self.number, desk.units), self._more),
        ]
        self.show()
        look.follow(desk, self.show)

    # what stands

    @property
    def pack(self) -> Pack | None:
        """As last worked."""
        return self.desk.study.pack if self.desk.study else None

    @property
    def laid(self) -> Laid | None:
        return self.pack.laid if self.pack else None

    def _box(self) -> Boxes | None:
        """Boxes of the layout that is built."""
        return self.desk.study.boxes if self.desk.study else None

    def answer(self) -> Answer | None:
        """The layout that is looked at."""
        laid = self.laid
        return laid.answers[self.number - 1] if laid is not None and 0 < self.number <= len(laid.answers) else None

    def _named(self) -> int:
        """The layout that the build names now."""
        build = self.desk.build
        return build.pack.layout if build is not None and build.pack is not None else 0

    def _wanted(self) -> bool:
        """Whether the build says enough for modules to be laid out."""
        study = self.desk.study
        return study is not None and study.build.pack is not None and bool(study.build.pack.bay)

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk."""
        laid = self.laid
        self.whole.set_visibility(self.pack is not None)
        self._left.set_visibility(laid is not None)
        self._pair.classes(add="hk-alone" if laid is None else "", remove="hk-alone" if laid is not None else "")
        if laid is not None and not 0 < self.number <= len(laid.answers):
            asked = re.fullmatch(r"layout (\d+)", self._about)
            self.number = min(int(asked.group(1)) if asked else laid.number, max(len(laid.answers), 1))
        self.head.show(self._wanted(), laid is not None, self.desk.standing.layouts_behind)
        for region in self.regions:
            region.show()
        for number, card in enumerate(self._cards, 1):
            look.press(card, number == self.number, "aria-pressed", "hs-here")
        for key, button in self._seen_buttons.items():
            look.press(button, key == self.boxes, "aria-checked")
        self._draw()

    def _draw(self) -> None:
        laid, study = self.laid, self.desk.study
        if laid is None or study is None:
            return
        if laid.bays is not self._drawn:
            self._drawn, self._held = laid.bays, None
            points = [point.xyz_mm for point in study.measured.points.values() if point.tied]
            stance = study.weights.stance if study.weights is not None else None
            self.scene.show(laid, stance, np.array(points, dtype=float).reshape(-1, 3))
            self._framed = self._boxed = None
        answer = self.answer()
        if answer is not self._held:
            self._held = answer
            self.scene.hold(laid, answer)
        boxes = study.boxes.boxes if study.boxes is not None and self.number == laid.number else ()
        about = (self.boxes, study.boxes, self.number)
        if about != self._boxed:
            self._boxed = about
            self.scene.enclose(boxes if self.boxes else (), self.boxes == "all")
        told = (study.build.fitup, study.measured)
        if self._framed is None or any(a is not b for a, b in zip(self._framed, told, strict=True)):
            self._framed = told
            background_tasks.create(self._frame(study), name="frame made for the pack's view")

    async def _frame(self, study: Study) -> None:
        members = await asyncio.get_running_loop().run_in_executor(SOLIDS, _members, study)
        if not self.whole.is_deleted:
            with self.whole:
                self.scene.frame(members)

    def _top(self) -> None:
        study = worked(self.desk)
        if study is None:
            return
        told = study.build.pack
        if told is None:
            unsaid(
                "Nothing says yet what pack it has",
                "Write [pack] in build.toml: its module, how many in series and in parallel, the inverter's and "
                "charger's volts, and the bays where modules may go. docs/pack.md shows each.",
                "pack",
            )
        elif not self._wanted():
            unsaid(
                "No bay is told",
                "Write [pack.bay.NAME] with two opposite corners, or the floor's corners and a height.",
                "pack",
            )

    def _seen(self) -> None:
        self._seen_buttons = {}
        if self._box():
            for key, words in BOXES.items():
                self._seen_buttons[key] = look.button(words, partial(self._see, key)).props('role="radio"')

    def _layouts(self) -> None:
        self._cards = []
        laid, units = self.laid, self.desk.units
        if laid is None:
            return
        if not laid.answers:
            rooms = ", ".join(f"{most} in {bay.name}" for bay, (most, _) in zip(laid.bays, laid.most, strict=True))
            look.mark("bad", f"{laid.wanted} modules do not go in; the bays take {rooms}")
        with ui.element("div").classes("hs-cards-wide"):
            for number, answer in enumerate(laid.answers, 1):
                self._cards.append(self._card(number, answer, laid, units))

    def _card(self, number: int, answer: Answer, laid: Laid, units: Any) -> ui.button:
        layout = answer.layout
        where = ", ".join(f"{n} in {bay.name}" for n, bay in zip(layout.counts, laid.bays, strict=True) if n)
        x, y, z = (length_words(float(v), units) for v in layout.centre_mm)
        button = ui.button(on_click=partial(self._choose, number), color=None).props("unelevated no-caps")
        with button.classes("hs-card"):
            with look.row():
                ui.label(f"Layout {number}").classes("hs-title")
                ui.label(layout.wish).classes("hs-faint hs-small")
                if answer.faults:
                    look.mark("bad", "does not fit")
                if number == laid.number:
                    look.mark("good", "is built")
            ui.label(where).classes("hs-small hs-text")
            ui.label(f"centre {x} forward, {y} left, {z} up").classes("hs-small hs-num hs-text")
            ui.label(f"cables between terminals {length_words(layout.cable_mm, units)}").classes("hs-small hs-num")
        return button

    def _built(self) -> None:
        laid = self.laid
        if laid is None or self.answer() is None:
            return
        if self.number == laid.number == self._named():
            ui.label(f"Layout {self.number} is the one that is built.").classes("hs-faint")
        else:
            look.button(f"Build layout {self.number}", self._save, "main")

    def _numbers(self) -> None:
        pack, units = self.pack, self.desk.units
        if pack is None:
            return
        for table in (tables_pack.pack_table(pack, units), tables_pack.volts_table(pack, units)):
            with look.panel(table.title):
                draw_table(table)
        table = tables_pack.limits_table(pack, units)
        fold_out("Power against temperature and charge", partial(draw_table, table))

    def _judged(self) -> None:
        if self.pack is not None:
            boxes = self._box()
            checks = (*self.pack.checks, *(boxes.checks if boxes else ()))
            draw_judged(checks, self.desk.units, self._about)

    def _more(self) -> None:
        pack, units = self.pack, self.desk.units
        if pack is None:
            return
        if self.answer() is not None:
            table = tables_pack.retention_table(pack, units, self.number)
            with look.panel(table.title):
                draw_table(table)
            modules = tables_pack.modules_table(pack, units, self.number)
            fold_out(modules.title, partial(draw_table, modules))
        self._box_parts()
        with look.panel():
            for words in tables_pack.PACK_CAUTIONS:
                ui.label(words).classes("hs-faint hs-small hs-text")

    def _box_parts(self) -> None:
        study, boxes = self.desk.study, self._box()
        if study is None or boxes is None:
            if study is not None and study.build.pack is not None and study.build.pack.box is not None:
                ui.label("Its boxes are drawn when the modules are laid out.").classes("hs-faint")
            return
        table = tables_pack.boxes_table(boxes, self.desk.units)
        with look.panel(table.title):
            draw_table(table)
            if study.box_files is not None:
                files = study.box_files.files
                with look.row():
                    look.button(f"All {len(files)} files of the boxes, zipped", partial(self._zip, files), "main")
                fold_out("Files of the boxes", partial(self._rows, files))

    # acts

    def _rows(self, files: Sequence[CutFile]) -> None:
        for one in files:
            file_row(self.desk, one, "boxes/")

    def _zip(self, files: Sequence[CutFile]) -> None:
        zipped(self.desk, "boxes", files, "boxes/")

    def _see(self, key: str) -> None:
        self.boxes = key
        self.show()

    def _choose(self, number: int) -> None:
        self.number = number
        self.show()

    def _save(self) -> None:
        number = self.number
        self.desk.change(f"layout {number} is built", lambda folder: save_values(folder, {"pack.layout": number}))


def _members(study: Study) -> tuple[Any, ...]:
    """Made in the one thread that makes solids; the libraries of fit-up take a second to load."""
    if study.build.fitup is None:
        return ()
    from halfshaft.fitup.scene import members_of

    return members_of(study.build, study.measured)


def _told(study: Study) -> str:
    pack = study.pack
    if study.build.pack is None:
        return ""
    if pack is None:
        return "not worked"
    energy = f"{pack.usable_wh / 1000.0:.0f} kWh"
    if pack.laid is None:
        return f"{energy}, not laid out" if study.build.pack.bay else energy
    return f"{energy}, {len(pack.laid.answers)} layouts" if pack.laid.answers else "no layout"


def _draw(desk: Desk) -> None:
    PackPage(desk)


_SYMBOL = "M3 8 H21 V20 H3 Z M9 8 V20 M15 8 V20 M6 8 V5 M18 8 V5 M4.5 5 H7.5 M18 12 V15 M16.5 13.5 H19.5 M5 13.5 H7"
PAGE = Page("/pack", "Pack", _SYMBOL, _draw, _told, ("pack",))
