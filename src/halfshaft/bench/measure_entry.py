"""The entry line of the measure page: one reading typed by keyboard alone; what it would do is told beside it."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Callable
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.measure_rows import added, build_now, cells_of, changed
from halfshaft.bench.measure_words import in_case, matches, names_for
from halfshaft.bench.telling import Mood
from halfshaft.build import Build, BuildProblems, RowFaults, parse_row
from halfshaft.build.catalogue import instruments
from halfshaft.build.problems import nearest
from halfshaft.build.readings import KINDS, known_in, with_units
from halfshaft.build.schema import Reading
from halfshaft.measure.effect import Effect, Standing, compared, effect_of, standing_of
from halfshaft.measure.words import short_name
from halfshaft.study import Study

_CELLS = {"reading": "reading", "points": "points or faces", "value": "value", "with": "with", "note": "note"}
_PAUSE_S = 0.015  # of typing, before the effect is asked for
# a Tab that completes a word would stay in the cell: it goes on to the next one all the same
_ON_WITH_IT = """event => { const cell = event.target; queueMicrotask(() => {
  if (event.defaultPrevented && !event.shiftKey) {
    const cells = [...cell.closest('.hs-entry-cells').querySelectorAll('input')];
    cells[cells.indexOf(cell) + 1]?.focus(); } }) }"""
# Enter hands the cells over as they stand and empties them at once in the browser, so that what is typed next is never
# wiped by an answer that comes late
_HAND_OVER = """event => { const box = event.target.closest('.hs-entry-cells');
  const cells = [...box.querySelectorAll('input')];
  const told = cells.map(cell => cell.value);
  cells.forEach((cell, number) => { if (number && cell.value) {
    cell.value = ''; cell.dispatchEvent(new Event('input', {bubbles: true})); } });
  cells[0].focus(); cells[0].select();
  emit(told); }"""
# what could not be saved goes back where the line is still empty; whether it did
_PUT_BACK = """(() => { const cells = [...document.querySelectorAll('.hs-entry-cells input')];
  if (cells.slice(1).some(cell => cell.value)) return false;
  TOLD.forEach((text, number) => { cells[number].value = text;
    cells[number].dispatchEvent(new Event('input', {bubbles: true})); });
  cells[2].focus(); cells[2].select();
  return true; })()"""
_ANSWER_S = 20.0  # of a browser that is busy
_OFFERED = 6
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]*(?:\.[A-Za-z][A-Za-z0-9_-]*)?")


class EntryLine:
    """Cells of one row. Tab goes on, Enter saves, Esc clears; `take` puts a row in from elsewhere on the page."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._turn = 0
        self._row: Reading | None = None  # the row being changed, none when a new one is typed
        self._more: dict[str, str] = {}  # cells that have no place on the line
        self._waiting: tuple[Study, Standing, str] | None = None
        self._cells: dict[str, ui.input] = {}
        with look.panel().classes("hs-entry"):
            with ui.element("div").classes("hs-entry-cells"):
                for name, label in _CELLS.items():
                    self._cells[name] = self._cell(name, label)
                self._save = look.button("Save", lambda: None, "main")
                self._save.on("click", self._handed, js_handler=_HAND_OVER)
                self._save.props["aria-label"] = "save the reading"
            self._told = ui.element("div").classes("hs-entry-told").props('role="status" aria-live="polite"')
        self._typing = False
        self._resting()
        look.follow(desk, self._worked)

    def take(self, cells: dict[str, str], focus: str = "value", row: Reading | None = None) -> None:
        """Put cells in, to be finished and saved; with `row` that row is changed in place of a new one."""
        self._row = row
        for name, cell in self._cells.items():
            cell.set_value(cells.get(name, ""))
        self._more = {name: cell for name, cell in cells.items() if name not in self._cells and cell}
        self._point_at(focus)

    def change_row(self, reading: Reading) -> None:
        """Put a row of the table in, to be changed."""
        try:
            cells = cells_of(self._desk, reading)
        except BuildProblems as why:
            self._desk.say(str(why.problems[0]), "bad")
            return
        self.take(cells, "value", reading)

    def add_name(self, name: str) -> None:
        """A point or face picked elsewhere goes behind the names that stand there."""
        cell = self._cells["points"]
        cell.set_value(" ".join([*str(cell.value or "").split(), name]) + " ")
        self._point_at("points")

    # cells

    def _cell(self, name: str, label: str) -> ui.input:
        # set here and not after: a value that is set later reaches the browser when the builder may be typing already
        cell = ui.input(label, value="tape" if name == "reading" else "", on_change=self._changed).props(
            "outlined autocapitalize=off spellcheck=false"
        )
        cell.props(f'autocomplete=off aria-label="{label}"')
        cell.classes(f"hs-entry-{name}")
        cell.on("keydown.enter", self._handed, js_handler=_HAND_OVER)
        cell.on("keydown.esc", self.clear)
        if name != "points":
            cell.on("focus", js_handler="event => event.target.select()")
        if name in ("reading", "with"):
            cell.on("keydown.tab", js_handler=_ON_WITH_IT)
        if name == "reading":
            cell.set_autocomplete(list(KINDS))
        if name == "with":
            cell.set_autocomplete(list(instruments()))
        return cell

    def _text(self, name: str) -> str:
        return " ".join(str(self._cells[name].value or "").split())

    def _typed(self, build: Build) -> dict[str, str]:
        return self._spelled(build, {name: self._text(name) for name in self._cells} | self._more)

    def _spelled(self, build: Build, told: dict[str, str]) -> dict[str, str]:
        """Cells with kinds and names as the build writes them."""
        cells = dict(told)
        kind = _kind(cells["reading"])
        known = known_in(build)
        every = [*names_for(known, kind, 0), *names_for(known, kind, 9)]
        cells["reading"] = kind
        cells["points"] = " ".join(in_case(cells["points"].split(), every))
        return cells

    def clear(self) -> None:
        """An empty line; the kind stays."""
        self._emptied(self._text("reading"))
        self._resting()

    def _point_at(self, name: str) -> None:
        self._cells[name].run_method("focus")

    # while typing

    async def _changed(self) -> None:
        self._turn += 1
        turn = self._turn
        build = build_now(self._desk)
        if build is None:
            return
        self._complete(build)
        await asyncio.sleep(_PAUSE_S)
        if turn != self._turn:
            return
        cells = self._typed(build)
        if not cells["points"] and not cells["value"]:
            if self._typing:
                self._typing = False
                self._resting()
            return
        self._typing = True
        try:
            reading = parse_row(cells, build, self._new_names(build, cells), self._desk.units)
        except RowFaults as faults:
            self._unfinished(build, cells, faults)
            return
        study = self._desk.study
        if study is None:
            self._tell("note", ["the build is still being worked: it can be saved now"])
            return
        without = self._index_of(study)
        effect = await asyncio.to_thread(effect_of, study.build, study.surveyed, reading, without, self._desk.units)
        if turn == self._turn:
            self._foretell(effect)

    def _complete(self, build: Build) -> None:
        typed = str(self._cells["points"].value or "")
        words = typed.split()
        last = "" if typed.endswith(" ") or not words else words[-1]
        names = names_for(known_in(build), _kind(self._text("reading")), len(words) - bool(last))
        begun = [n for n in matches(names, last) if n.lower().startswith(last.lower())] if last else []
        if last.lower() in (n.lower() for n in begun):
            begun = []  # a whole name: RL1 must not turn into RL10
        kept = typed[: len(typed) - len(last)]
        self._cells["points"].set_autocomplete([kept + name for name in begun])

    def _new_names(self, build: Build, cells: dict[str, str]) -> tuple[str, ...]:
        """Names that the build does not have, when they stand where a point is wanted and look like names."""
        kind = KINDS.get(cells["reading"])
        words = cells["points"].split()
        if kind is None or len(words) != kind.points + kind.faces:
            return ()
        known = known_in(build)
        out = []
        for word in words[: kind.points]:
            try:
                known.find(word)
            except ValueError:
                body = word.partition(".")[0] if "." in word else build.root
                if _NAME.fullmatch(word) and body in build.body:
                    out.append(f"{body}.{word.rpartition('.')[2]}")
        return tuple(out)

    def _index_of(self, study: Study) -> int | None:
        """Index in the study of the row being changed."""
        if self._row is None:
            return None
        return next((i for i, r in enumerate(study.build.readings) if r.text == self._row.text), None)

    def _unfinished(self, build: Build, cells: dict[str, str], faults: RowFaults) -> None:
        """A row that cannot be read yet: names that would fit, and what is still wanted."""
        typed = str(self._cells["points"].value or "")
        words = typed.split()
        last = "" if typed.endswith(" ") or not words else words[-1]
        kind = KINDS.get(cells["reading"])
        names = names_for(known_in(build), cells["reading"], len(words) - bool(last))
        wanted = kind is not None and len(words) - bool(last) < kind.points + kind.faces
        offered = [n for n in matches(names, last) if n not in words[: len(words) - bool(last)]] if wanted else []
        if last in offered:
            offered = []

        def chosen(name: str) -> Callable[[], None]:
            def put() -> None:
                kept = typed[: len(typed) - len(last)]
                self._cells["points"].set_value(f"{kept}{name} ")
                self._point_at("points")

            return put

        self._told.clear()
        with self._told:
            with look.row():
                for name in offered[:_OFFERED]:
                    look.button(name, chosen(name)).classes("hs-offer")
            found, write = faults.faults[0]
            ui.label(f"{found}. {write}" if write else found).classes("hs-faint hs-text")

    def _foretell(self, effect: Effect) -> None:
        mood: Mood = "note" if effect.agrees is None else "good" if effect.agrees else "bad"
        head = {"note": "new", "good": "agrees", "bad": effect.kind_of_slip or "slip"}[mood]
        if mood == "bad":
            head = "looks like a slip" if effect.kind_of_slip in ("", "slip") else f"looks like: {effect.kind_of_slip}"
        if mood == "note" and not effect.new:
            head = "told once saved"
        self._tell(mood, [w for w in effect.words if w != "it agrees"], head)

    def _resting(self) -> None:
        if self._row is None:
            self._tell(
                None, ["Tab goes on, Enter saves, Esc clears. Write lengths in any unit: 412, 14 3/16 in, 1.2 m"]
            )

    def _tell(self, mood: Mood | None, words: list[str], head: str = "") -> None:
        self._told.clear()
        with self._told:
            if mood is not None:
                look.mark(mood, head)
            with ui.element("div").classes("hs-grow"):
                for sentence in words:
                    ui.label(sentence).classes("hs-text" if mood else "hs-faint hs-text")

    # saving

    async def _handed(self, event: Any) -> None:
        told = dict(zip(_CELLS, (" ".join(str(cell).split()) for cell in event.args), strict=True))
        row, self._row = self._row, None
        more, self._more = self._more, {}
        self._typing = False
        self._turn += 1
        await self._commit(told | more, row)

    async def _commit(self, told: dict[str, str], row: Reading | None, new_too: bool = False) -> None:
        """Save a row. What cannot be saved goes back into the line where nothing else is typed there by now."""
        build = build_now(self._desk)
        if build is None:
            await self._put_back(told, row)
            self._tell("bad", ["the build folder cannot be read: see above"])
            return
        cells = self._spelled(build, told)
        new = self._new_names(build, cells)
        units = self._desk.units
        try:
            reading = parse_row(cells, build, new, units)
        except RowFaults as faults:
            await self._put_back(told, row)
            self._tell("bad", [f"{found}. {write}" if write else found for found, write in faults.faults], "not saved")
            return
        if new and not new_too:
            await self._put_back(told, row)
            self._ask_new(build, cells, new, row)
            return
        if units != build.build.units:
            cells["value"] = with_units(cells["reading"], cells["value"], units)
        label = " ".join([reading.kind, *(short_name(build, n) for n in reading.names)])
        self._tell("note", [f"{label} {cells['value']}".strip()], "being saved")
        study = self._desk.study
        before = (study, standing_of(study.build, study.surveyed), label) if study else None
        if row is None:
            done = self._desk.change(f"reading {label}", added(cells, new))
        else:
            done = self._desk.change(f"reading {label} changed", changed(row, cells))
        if done:
            self._waiting = before
            self._tell("note", [f"{label} {cells['value']}".strip()], "saved, being worked")
            return
        words = [str(p) for p in self._desk.refused] or ["the file could not be written"]
        await self._put_back(told, row)
        self._tell("bad", words, "not saved")

    async def _put_back(self, told: dict[str, str], row: Reading | None) -> None:
        texts = json.dumps([told.get(name, "") for name in self._cells])
        self._turn += 1
        if await ui.run_javascript(_PUT_BACK.replace("TOLD", texts), timeout=_ANSWER_S):
            self._row = row
            self._more = {name: cell for name, cell in told.items() if name not in self._cells and cell}
        self._turn += 1

    def _emptied(self, kind: str) -> None:
        self._row, self._more, self._typing = None, {}, False
        for name, cell in self._cells.items():
            cell.set_value(kind if name == "reading" else "")
        self._point_at("reading")

    def _ask_new(self, build: Build, cells: dict[str, str], new: tuple[str, ...], row: Reading | None) -> None:
        """A name that is not known is a new point only when the builder says so."""
        self._told.clear()
        short = " and ".join(short_name(build, name) for name in new)
        known = names_for(known_in(build), cells["reading"], 0)
        like = dict.fromkeys(n for name in new for n in nearest(name.partition(".")[2], known, limit=3))
        with self._told:
            look.mark("care", "not saved yet")
            told = f"{short} is not a point of the build" + (f"; it has {', '.join(like)}" if like else "")
            ui.label(told).classes("hs-text hs-grow")
            bodies = " and ".join(dict.fromkeys(name.partition(".")[0] for name in new))

            async def save() -> None:
                self._emptied(cells["reading"])
                await self._commit(cells, row, new_too=True)

            add = look.button(f"{short} is a new point of {bodies}: save", save, "main")
        ui.run_javascript(f"setTimeout(() => getElement({add.id})?.$el.focus(), 50)")

    def _worked(self) -> None:
        """Tell what the saved row did once the study with it stands."""
        study = self._desk.study
        if self._waiting is None or study is None or study.surveyed is self._waiting[0].surveyed:
            return
        before, standing, label = self._waiting
        self._waiting = None
        suspects = [s for s in study.measured.suspects if s.label == label]
        fresh = [s for s in suspects if s.label not in {old.label for old in before.measured.suspects}] or suspects
        words = compared(study.build, standing, standing_of(study.build, study.surveyed), self._desk.units)
        if self._text("points") or self._text("value"):
            return  # the next row is being typed: the line is its own now
        if fresh:
            self._tell("bad", [fresh[0].words, "it is set aside and changes nothing"], f"{label} looks like a slip")
        else:
            self._tell("good", list(words), f"{label} worked")


def _kind(typed: str) -> str:
    """The kind of reading that is meant: its whole name where only the beginning is typed."""
    kind = next(iter(in_case([typed], KINDS)), "")
    if kind in KINDS:
        return kind
    return next((known for known in KINDS if kind and known.startswith(kind.lower())), kind)
