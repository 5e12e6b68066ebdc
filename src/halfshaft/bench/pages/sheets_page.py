"""Sheets: every part on its sheet; parts dragged, turned, put on another sheet; what clashes told at once; files."""

from __future__ import annotations

import asyncio
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from halfshaft import tables_sheets
from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.downloads import file_row, zipped
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.head import Asked, Head, worked
from halfshaft.bench.judged import draw_judged
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.path_view import path_view
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart
from halfshaft.bench.sheet_clash import draw_clashes
from halfshaft.bench.sheet_hand import Hand, Id, Moved, free_place, id_of, kinds, stands, turned
from halfshaft.bench.sheet_saving import keep_layout, lay_anew, take_sheet
from halfshaft.bench.sheet_view import SheetBoard, laid_of, part_of, view_of, word_of
from halfshaft.build.units import MM_PER_INCH
from halfshaft.cut.cautions import CUTTING
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets
    from halfshaft.cut.nest.clear import Clash
    from halfshaft.cut.part import SheetKey
    from halfshaft.cut.path.model import SheetPath

ASKED = Asked(
    "Parts on sheets",
    "Brackets, covers, gussets, coupons and plates for the frame, laid on the sheets and offcuts that build.toml tells "
    "of. It takes some seconds; the bench can be used meanwhile.",
    "Lay the parts on sheets",
    "Lay them again",
    CUTTING[1],
)


_ROOM = "sheets/"  # in the folder out


class SheetsPage:
    """The page in one browser. `moved` holds what has been moved by hand and not saved."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.moved: dict[Id, Moved] = {}
        self.picked: Id | None = None
        self.key: SheetKey | None = None
        self.hand: Hand | None = None
        self._of: Any = None
        self._shapes: dict[str, Any] = {}
        self._board: SheetBoard | None = None
        self._about = asked_of_page().get("about", "")
        look.add_sheet("sheets")
        top = apart()
        self.head = Head(ASKED, desk.lay_sheets, lambda: (self.found, desk.units), self._total)
        self.whole = look.column().style("gap: 16px")
        with self.whole:
            choice = apart()
            with ui.element("div").classes("hn-whole"):
                with look.column():
                    self._board_box = apart()
                with look.column():
                    acts = apart()
                    clash = apart().props('aria-live="polite"')
                    saving = apart()
            numbers = apart()
            judged = apart()
            path = apart()
            taken = apart()
        self.regions = [
            Region(top, lambda: desk.study is None, lambda: worked(desk)),
            Region(choice, lambda: (self._kinds(), self.key, desk.units), self._choice),
            Region(acts, lambda: (self.picked, self._names(), desk.units), self._acts),
            Region(clash, lambda: (self.hand is None, self._told_clashes(), desk.units), self._clash),
            Region(saving, self._saving_key, self._saving),
            Region(numbers, lambda: (self.found, desk.units), self._numbers),
            Region(judged, lambda: (self.found, desk.units), self._judged),
            Region(path, lambda: desk.study.paths if desk.study else None, self._paths),
            Region(taken, lambda: desk.study.sheet_files if desk.study else None, self._files),
        ]
        self.show()
        look.follow(desk, self.show)

    # what stands

    @property
    def found(self) -> Sheets | None:
        """As last worked."""
        return self.desk.study.sheets if self.desk.study else None

    def _kinds(self) -> tuple[SheetKey, ...]:
        return kinds(self.found) if self.found is not None else ()

    def _names(self) -> tuple[str, ...]:
        return tuple(sheet.blank.name for sheet in self.hand.sheets) if self.hand else ()

    def _told_clashes(self) -> tuple[Clash, ...]:
        return tuple(clash for own in self.hand.clashes.values() for clash in own) if self.hand else ()

    def _clear(self) -> bool:
        return not self._told_clashes()

    def _saving_key(self) -> Any:
        return self.found, self.key, bool(self.moved), self._clear(), self.desk.standing.sheets_behind

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk and in the hand."""
        found = self.found
        self.whole.set_visibility(found is not None and bool(found.sheets))
        if found is not self._of:
            self._of, self._shapes, self.moved = found, {}, {}
        if self.key not in self._kinds():
            self.key = self._asked_kind()
        self.hand = stands(found, self.key, self.moved) if found is not None and self.key is not None else None
        if laid_of(self.hand, self.picked) is None if self.hand else True:
            self.picked = None
        self.head.show(self.desk.study is not None, found is not None, self.desk.standing.sheets_behind)
        for region in self.regions:
            region.show()
        self._draw()

    def _asked_kind(self) -> SheetKey | None:
        """The kind of the sheet that a check led here for, else the first."""
        for sheet in self.found.sheets if self.found else ():
            if f"sheet {sheet.blank.name}" in self._about.split(", ")[0]:
                return sheet.blank.key
        return next(iter(self._kinds()), None)

    def _draw(self) -> None:
        if self.hand is None:
            return
        step = 1.0 if self.desk.units == "metric" else MM_PER_INCH / 16.0
        view = view_of(self.hand, self.moved, self.picked, step, self.desk.units, self._shapes)
        if self._board is None:
            with self._board_box:
                self._board = SheetBoard(self._dragged, self._turned, self._pick, view)
        else:
            self._board.show(view)

    def _total(self) -> None:
        if self.found is None or not self.found.sheets:
            look.mark("note", "nothing to lay: no bracket can be cut yet, or all parts are done")
        else:
            ui.label(tables_sheets.total_words(self.found, self.desk.units)).classes("hs-num hs-text")

    def _choice(self) -> None:
        names = self._kinds()
        if len(names) < 2:
            return
        with look.row():
            for key in names:
                here = key == self.key
                look.press(look.button(str(key), partial(self._take_kind, key)), here, "aria-pressed")

    def _acts(self) -> None:
        hand = self.hand
        if hand is None:
            return
        names = {
            word_of(id_of(one)): f"{number}  {one.part.name}" + (f" no. {one.copy}" if one.part.quantity > 1 else "")
            for number, one in enumerate((one for sheet in hand.sheets for one in sheet.laid), start=1)
        }
        with look.panel("Part in hand"):
            ui.select(
                names, value=word_of(self.picked) if self.picked else None, label="part",
                on_change=lambda event: self._pick(str(event.value)) if event.value else None,
            ).props("outlined")  # fmt: skip
            there = laid_of(hand, self.picked)
            if there is None:
                ui.label("Tap a part in the drawing and drag it, or choose it here.").classes("hs-faint hs-text")
                return
            sheet, one = there
            ui.select(
                {name: name for name in self._names()}, value=sheet.blank.name, label="lies on",
                on_change=lambda event: self._to_sheet(str(event.value)),
            ).props("outlined")  # fmt: skip
            if one.part.grain is not None and sheet.blank.rolling_deg is not None:
                ui.label("Its folds want to cross the rolling direction.").classes("hs-faint hs-small hs-text")
            step = "1 mm" if self.desk.units == "metric" else '1/16"'
            size = 1.0 if self.desk.units == "metric" else MM_PER_INCH / 16.0
            with ui.element("div").classes("hn-acts"):
                for words, by in (("15° left", 15.0), ("15° right", -15.0), ("90° left", 90.0), ("90° right", -90.0)):
                    look.button(words, partial(self._turn, by), say=f"turn {words}")
                for sign, way in (("←", (-1, 0)), ("→", (1, 0)), ("↑", (0, 1)), ("↓", (0, -1))):
                    what = {"←": "left", "→": "right", "↑": "up", "↓": "down"}[sign]
                    look.button(sign, partial(self._nudge, way[0] * size, way[1] * size), say=f"{step} {what}")
            ui.label(
                f"Keys on a part in the drawing: arrows move it {step}, with Shift ten times that; , and . turn it."
            ).classes("hs-faint hs-small hs-text")

    def _clash(self) -> None:
        if self.hand is not None:
            draw_clashes(self._told_clashes(), self.desk.units)

    def _saving(self) -> None:
        found = self.found
        if found is None:
            return
        with look.panel():
            if self.moved:
                look.button("Save this layout", self._save, "main" if self._clear() else "")
                look.button("Back to what was worked", self._forget)
            elif found.by_hand:
                ui.label("Parts lie as they were put by hand.").classes("hs-text")
                look.button("Let the bench lay them all", partial(lay_anew, self.desk))
            else:
                ui.label("Laid by the bench. What you move stays where you put it, once saved.").classes("hs-faint")
        own = [] if self.moved or self.hand is None else [s.blank.name for s in self.hand.sheets if s.laid]
        if own and not self.desk.standing.sheets_behind:
            with look.panel("Once a sheet has been cut"):
                ui.label("It leaves the stock, what is kept of it becomes an offcut, its parts are done.").classes(
                    "hs-faint hs-small hs-text"
                )
                for name in own:
                    look.button(f"{name} is cut", partial(self._taken, name))

    def _numbers(self) -> None:
        if self.found is None:
            return
        units = self.desk.units
        for table in (tables_sheets.sheets_table(self.found, units), tables_sheets.parts_table(self.found, units)):
            with look.panel(table.title):
                draw_table(table)

    def _judged(self) -> None:
        if self.found is not None:
            draw_judged(self.found.checks, self.desk.units, self._about)

    def _paths(self) -> None:
        study = self.desk.study
        if study is None or study.paths is None or not study.paths.sheets:
            return
        for path in study.paths.sheets:
            fold_out(f"The torch's way over {path.stock.name}", partial(_played, path))

    def _files(self) -> None:
        study = self.desk.study
        if study is None or study.sheet_files is None:
            return
        own = study.sheet_files.files
        with look.panel("Files to take away"):
            look.button(f"All {len(own)}, zipped", lambda: zipped(self.desk, "sheets", own, _ROOM), "main")
            for file in own:
                file_row(self.desk, file, _ROOM)

    # acts

    def _take_kind(self, key: SheetKey) -> None:
        self.key = key
        self.show()

    def _pick(self, word: str) -> None:
        part = part_of(word)
        if part != self.picked:
            self.picked = part
            self.show()

    def _dragged(self, word: str, sheet: str, x: float, y: float, end: bool) -> None:
        part = part_of(word)
        there = laid_of(self.hand, part) if self.hand else None
        if there is None or sheet not in self._names():
            return
        self.moved[part] = Moved(sheet, there[1].rotation_deg, (x, y))
        self.picked = part
        self.show()

    def _turned(self, word: str, by: float) -> None:
        self.picked = part_of(word)
        self._turn(by)

    def _turn(self, by: float) -> None:
        there = laid_of(self.hand, self.picked) if self.hand else None
        if there is None or self.picked is None:
            return
        sheet, one = there
        now = turned(one, by)
        self.moved[self.picked] = Moved(sheet.blank.name, now.turn_deg, now.at_mm)
        self.show()

    def _nudge(self, x: float, y: float) -> None:
        there = laid_of(self.hand, self.picked) if self.hand else None
        if there is None or self.picked is None:
            return
        sheet, one = there
        at = (one.shift_mm[0] + x, one.shift_mm[1] + y)
        self.moved[self.picked] = Moved(sheet.blank.name, one.rotation_deg, at)
        self.show()

    async def _to_sheet(self, name: str) -> None:
        """On another sheet, where it has room; where it has none in the sheet's corner, for the builder to see."""
        there = laid_of(self.hand, self.picked) if self.hand else None
        if there is None or self.hand is None or self.picked is None or there[0].blank.name == name:
            return
        part, one = self.picked, there[1]
        target = next(sheet for sheet in self.hand.sheets if sheet.blank.name == name)
        found = await asyncio.to_thread(free_place, target.blank, target.laid, one)
        if found is None:
            self.desk.say(f"{one.part.name} has no room on {name} as it stands: move others aside", "care")
            margin = target.blank.margin_mm
            found = Moved(name, one.rotation_deg, (margin, margin))
        self.moved[part] = found
        self.show()

    def _forget(self) -> None:
        self.moved = {}
        self.show()

    def _save(self) -> Any:
        return keep_layout(self.desk, self.hand) if self.hand is not None else None

    def _taken(self, name: str) -> Any:
        return take_sheet(self.desk, self.found, name) if self.found is not None else None


def _played(path: SheetPath) -> None:
    path_view(path)


def _told(study: Study) -> str:
    found = study.sheets
    if found is None:
        return "not laid"
    if found.left_out:
        return f"{len(found.left_out)} without a place"
    return f"{len(found.sheets)} sheets" if len(found.sheets) != 1 else "1 sheet"


def _draw(desk: Desk) -> None:
    SheetsPage(desk)


_SYMBOL = "M3 5 H21 V19 H3 Z M6 8 H11 V12 L9 16 H6 Z M14 8 H18 V11 H14 Z M14 14 L18 14 L16 17 Z"
PAGE = Page("/sheets", "Sheets", _SYMBOL, _draw, _told, ("sheets", "path"))
