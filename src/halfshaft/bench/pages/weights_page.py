"""Weights: the car from above with what each wheel carries; things dragged or stepped, and at once what that does."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from halfshaft import tables_weights
from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.head import unsaid, worked
from halfshaft.bench.judged import draw_judged
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart
from halfshaft.bench.weights_edit import Spot, Thing, moved_values
from halfshaft.bench.weights_facts import Facts, facts_of
from halfshaft.bench.weights_ledger import Ledger
from halfshaft.bench.weights_moves import Moves
from halfshaft.bench.weights_plan import Plan, id_of, thing_of, view_of
from halfshaft.build import Build, BuildProblems, save_values
from halfshaft.build.units import MM_PER_INCH
from halfshaft.build.value import UnitSystem
from halfshaft.study import Study
from halfshaft.weights.moved import moved, own_things
from halfshaft.weights.words import length_words, mass_words

if TYPE_CHECKING:
    from halfshaft.weights.model import Line, Weights
    from halfshaft.weights.moves import Move

STEPS: Mapping[UnitSystem, tuple[tuple[str, float], ...]] = {
    "metric": (("10 mm", 10.0), ("50 mm", 50.0)),
    "inch": (('1/2"', MM_PER_INCH / 2.0), ('2"', MM_PER_INCH * 2.0)),
}
_WAYS = (("forward", 0, 1), ("rearward", 0, -1), ("left", 1, 1), ("right", 1, -1), ("up", 2, 1), ("down", 2, -1))
_FAR_MM = 20_000.0


class WeightsPage:
    """The page in one browser. `at` holds what has been moved and not saved."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.at: dict[Thing, Spot | str] = {}
        self.picked: Thing | None = None
        self.size = 1
        self.now: Weights | None = None
        self.was: Weights | None = None
        self._build: Build | None = None
        self._of: tuple[Any, ...] = ()
        self._about = asked_of_page().get("about", "")
        look.add_sheet("weights")
        top = apart()
        self.whole = look.column().style("gap: 12px")
        with self.whole:
            with ui.element("div").classes("hw-now"):
                with look.column():
                    self._plan_box = apart()
                    self._plan: Plan | None = None
                    steps = apart()
                with apart("hw-facts").props('aria-live="polite"') as facts:
                    self.facts = Facts(facts)
            with apart():
                self._suggested = Moves(self._try, self._apply)
            judged = apart()
            self.ledger: Ledger | None = None
            look.later(self._make_ledger, 0.5)
            more = apart()
        self._sizes: list[ui.button] = []
        self._acts: list[ui.button] = []
        self._picked_words: ui.label | None = None
        self.regions = [
            Region(top, self._top_key, self._top),
            Region(steps, lambda: (desk.units, self._names()), self._steps),
            Region(judged, lambda: (self.now and self.now.checks, desk.units), self._judged),
            Region(more, lambda: (self.now, desk.units), self._more),
        ]
        self.show()
        look.follow(desk, self.show)

    # what stands

    def _work(self) -> None:
        """The weights as saved and as moved, from the files as they stand now."""
        study = self.desk.study
        if study is None or study.build.weights is None:
            self.now = self.was = None
            return
        build = study.build
        with suppress(BuildProblems):
            build = self.desk.build_now()
        of = (build, study.measured, study.pack, dict(self.at))
        if of == self._of:
            return
        self._of, self._build = of, build
        try:
            self.was = moved(build, study.measured, {}, study.pack)
            known = {(line.table, line.name) for line in self.was.ledger}
            self.at = {thing: to for thing, to in self.at.items() if thing in known}
            self.now = moved(build, study.measured, self.at, study.pack) if self.at else self.was
        except (ValueError, KeyError) as why:
            self.now = self.was = None
            self.desk.say(str(why), "bad")

    def _names(self) -> tuple[Thing, ...]:
        lines = self.now.ledger if self.now else ()
        return tuple((line.table, line.name) for line in lines if line.table != "out")

    def _line(self) -> Line | None:
        lines = self.now.ledger if self.now else ()
        return next((line for line in lines if (line.table, line.name) == self.picked), None)

    def _moves(self) -> tuple[Move, ...]:
        study = self.desk.study
        return study.weights.moves if study is not None and study.weights is not None else ()

    def _top_key(self) -> Any:
        study = self.desk.study
        return study is None, bool(study and study.build.weights), self.now is None

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk and in the hand."""
        self._work()
        drawn = self.now is not None and self.now.stance is not None
        self.whole.set_visibility(drawn)
        if self.picked not in self._names():
            self.picked = None
        for region in self.regions:
            region.show()
        own = own_things(self._build) if self._build is not None else ()
        self._suggested.show([move for move in self._moves() if move.to], own, self.desk.units)
        if self.ledger is not None:
            self.ledger.show()
        if drawn:
            self._shown()

    def _shown(self) -> None:
        """What follows a thing in hand: the drawing, the facts, the words on the buttons."""
        now, was, build, study = self.now, self.was, self._build, self.desk.study
        if now is None or was is None or build is None or build.weights is None or study is None:
            return
        units = self.desk.units
        pack = build.pack
        ends = (pack.rear_end_mm, pack.front_end_mm) if pack is not None else (None, None)
        laid = study.pack.laid if study.pack is not None else None
        step = STEPS[units][self.size][1]
        view = view_of(now, was, build.weights, laid, self.at, self.picked, step, ends, units)
        if self._plan is None:
            with self._plan_box:
                self._plan = Plan(self._dragged, self._pick, view)
        else:
            self._plan.show(view)
        wanted = study.weights.wanted_front if study.weights is not None else None
        self.facts.show(facts_of(now, was, wanted, units))
        for number, button in enumerate(self._sizes):
            look.press(button, number == self.size, "aria-checked")
        for button in self._acts:
            button.set_enabled(bool(self.at))
        line = self._line()
        if self._picked_words is not None:
            told = "Tap a thing in the drawing, or choose it here."
            if line is not None:
                told = f"{mass_words(line.mass_kg, units)} at {_spot_words(line.at_mm, units)}"
            self._picked_words.set_text(told)

    def _top(self) -> None:
        study = worked(self.desk)
        if study is None:
            return
        if study.build.weights is None:
            unsaid(
                "Nothing says yet what the car weighs",
                "Write [weights] in build.toml: the tracks, the car on scales before, and what comes out and goes "
                "in. docs/weights.md shows each.",
                "weights",
            )
        elif self.now is None:
            ui.label("The weights are being worked.").classes("hs-title")

    def _steps(self) -> None:
        self._sizes, self._acts = [], []
        units = self.desk.units
        names = {id_of(thing): thing[1] for thing in self._names()}
        with look.panel(), ui.element("div").classes("hw-steps"):
            with look.column():
                chosen = ui.select(
                    names, value=id_of(self.picked) if self.picked else None, label="thing to move",
                    on_change=lambda event: self._pick(str(event.value)) if event.value else None,
                ).props("outlined")  # fmt: skip
                self._select = chosen
                self._picked_words = ui.label().classes("hs-num hs-small hs-text").props('role="status"')
            with look.row():
                self._acts = [
                    look.button("Save the places", self._save, "main"), look.button("Put all back", self._put_back),
                ]  # fmt: skip
            with look.row().props('role="radiogroup" aria-label="size of a step"'):
                for number, (words, _) in enumerate(STEPS[units]):
                    self._sizes.append(look.button(words, partial(self._take, number)).props('role="radio"'))
            with ui.element("div").classes("hw-ways"):
                for words, axis, way in _WAYS:
                    look.button(words, partial(self._step, axis, way))

    def _judged(self) -> None:
        if self.now is not None:
            draw_judged(self.now.checks, self.desk.units, self._about)

    def _more(self) -> None:
        now, units = self.now, self.desk.units
        if now is None:
            return
        for table in (
            tables_weights.states_table(now, units),
            tables_weights.loads_table(now, units),
            tables_weights.springs_table(now, units),
            tables_weights.brakes_table(now),
        ):
            fold_out(table.title, partial(draw_table, table))
        with look.panel():
            for words in tables_weights.WEIGHT_CAUTIONS:
                ui.label(words).classes("hs-faint hs-small hs-text")

    def _make_ledger(self) -> None:
        with look.column() as box:
            pass
        self.ledger = Ledger(self.desk, box)
        self.ledger.show()

    # acts

    def _pick(self, told: str) -> None:
        thing = thing_of(told)
        if thing in self._names() and thing != self.picked:
            self.picked = thing
            self._select.set_value(told)
            self._shown()

    def _take(self, number: int) -> None:
        self.size = number
        self._shown()

    def _step(self, axis: int, way: int) -> None:
        line = self._line()
        if line is None:
            self.desk.say("Tap a thing in the drawing first, or choose it from the list", "care")
            return
        spot = np.asarray(line.at_mm, dtype=float).copy()
        spot[axis] += way * STEPS[self.desk.units][self.size][1]
        self._go((line.table, line.name), spot)

    def _dragged(self, told: str, x: float, y: float, end: bool) -> None:
        thing = thing_of(told)
        line = next((one for one in (self.now.ledger if self.now else ()) if (one.table, one.name) == thing), None)
        if line is None or thing not in self._names() or not np.isfinite([x, y]).all():
            return
        self.picked = thing
        self._go(thing, np.array([round(x), round(y), line.at_mm[2]]), whole=end)

    def _go(self, thing: Thing, spot: Any, whole: bool = True) -> None:
        """`whole`: the rest of the page too, which a thing in hand does not wait for."""
        x, y, z = (float(np.clip(v, -_FAR_MM, _FAR_MM)) for v in spot)
        self.at[thing] = (x, y, z)
        if whole:
            self.show()
        else:
            self._work()
            self._shown()

    def _put_back(self) -> None:
        self.at = {}
        self.show()

    def _save(self) -> None:
        build = self.desk.build_now()
        told: dict[Any, Any] = moved_values(self.at, build)
        others = [name for table, name in self.at if (table, name) not in own_things(build)]
        if others:
            self.desk.say(
                f"{', '.join(others)}: placed by the pack's layout. Choose another layout on the Pack page, or write "
                f'pack = "rows" in [weights] and their rows',
                "care",
            )
        if not told:
            return
        names = ", ".join(name for table, name in self.at if (table, name) in own_things(build))
        moved_now, self.at = self.at, {thing: to for thing, to in self.at.items() if thing[1] in others}
        if not self.desk.change(f"{names} moved", lambda folder: save_values(folder, told)):
            self.at = moved_now
        self.show()

    def _try(self, move: Move) -> None:
        self.at = {("in", name): place for name, place in move.to.items()}
        self.show()

    def _apply(self, move: Move) -> None:
        self._try(move)
        self._save()


def _spot_words(at_mm: Any, units: UnitSystem) -> str:
    ways = (("forward", "rearward"), ("left", "right"), ("up", "down"))
    return ", ".join(
        f"{length_words(abs(float(value)), units)} {plus if value > -0.5 else minus}"
        for value, (plus, minus) in zip(at_mm, ways, strict=True)
    )


def _told(study: Study) -> str:
    found = study.weights
    if study.build.weights is None:
        return ""
    state = found.heaviest if found is not None else None
    if state is None:
        return "not worked"
    return f"{mass_words(state.mass_kg, study.build.build.units)}, {100.0 * state.front_share:.0f} % front"


def _draw(desk: Desk) -> None:
    WeightsPage(desk)


_SYMBOL = "M4 20 H20 M12 20 V6 M5 9 H19 M5 9 L2.5 15 H7.5 Z M19 9 L16.5 15 H21.5 Z"
PAGE = Page("/weights", "Weights", _SYMBOL, _draw, _told, ("weights",))
