"""First page: every check, the worst first, with the way to where it is settled; what is assumed; how far it all is."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from typing import Generic, TypeVar
from urllib.parse import quote

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.page import NONE_YET, Page
from halfshaft.bench.region import Region
from halfshaft.build import save_values
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Good, worst_first
from halfshaft.study import Study
from halfshaft.tables import CAUTIONS, against, amount

_KEY = re.compile(r"[A-Za-z_][\w-]*(\.[\w-]+)+")  # one key of build.toml, not a family of them
T = TypeVar("T")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def _draw(desk: Desk) -> None:
    """What can be opened or tapped stays while the build is worked; a box changes when what it tells does."""
    ways = Region(look.column(), lambda: _ways_key(desk), lambda: _ways(desk))
    failed = Region(look.column(), lambda: _failed_key(desk), lambda: _failed(desk))
    passed = _FoldOut(desk, lambda study: [c for c in study.checks if c.ok], "passed", partial(_passed, desk))
    words = "values assumed, because the build does not say"
    assumed = _FoldOut(desk, lambda study: study.assumed, words, partial(_assumed, desk))
    with look.panel(edge="care"):
        for caution in CAUTIONS:
            ui.label(caution).classes("hs-text")

    def show() -> None:
        for part in (ways, failed, passed, assumed):
            part.show()

    show()
    look.follow(desk, show)


def _ways_key(desk: Desk) -> object:
    study = desk.study
    if study is None:
        return bool(desk.problems)
    told = tuple(page.told(study) for page in _pages() if page.settles)
    return told, tuple((check.station, look.mood_of(check)) for check in study.checks if not check.ok)


def _ways(desk: Desk) -> None:
    if desk.study is None:
        _nothing_yet(desk)
    else:
        _stations(desk.study)


def _failed_key(desk: Desk) -> object:
    if desk.study is None:
        return None
    return desk.units, bool(desk.behind and desk.busy), tuple(c for c in desk.study.checks if not c.ok)


def _nothing_yet(desk: Desk) -> None:
    if desk.problems:
        return
    with look.panel():
        ui.label("The build is being worked for the first time.").classes("hs-title")
        ui.label("Its checks appear here as soon as the readings are worked.").classes("hs-faint")


def _stations(study: Study) -> None:
    """How far each station has come, in the order of the work."""
    with ui.element("div").classes("hs-way"):
        for page in _pages():
            if not page.settles:
                continue
            own = [check for check in study.checks if check.station in page.settles and not check.ok]
            with ui.link(target=page.path).classes("hs-leg"):
                look.symbol(page.symbol, 36)
                with look.column().classes("hs-grow").style("gap: 2px"):
                    ui.label(page.title).classes("hs-title")
                    told = page.told(study)
                    ui.label(told).classes("hs-faint")
                    _counts(own, _unworked(told))


def _unworked(told: str) -> str:
    """Why nothing can fail yet, which is no comfort; empty where it has been worked. `told` is as a Page tells."""
    if told.startswith("not "):
        return "to be worked"
    return "" if told and told != NONE_YET else "not begun"


def _counts(failed: Sequence[Check], unworked: str) -> None:
    with look.row().style("gap: 4px 14px"):
        for mood in ("bad", "care", "note"):
            count = sum(look.mood_of(check) == mood for check in failed)
            if count:
                look.mark(mood, f"{count} {look.MOOD_WORD[mood]}{'s' if count > 1 else ''}")
        if not failed and unworked:
            look.mark("note", unworked)
        elif not failed:
            look.mark("good", "nothing to settle")


def _failed(desk: Desk) -> None:
    if desk.study is None:
        return
    failed = [check for check in desk.study.checks if not check.ok]
    if desk.behind and desk.busy:
        ui.label("Being worked again: judgements of brackets may be from before the last change.").classes("hs-faint")
    if not failed:
        with look.panel(edge="good"):
            look.mark("good", "Nothing is left to settle")
    for check in failed:
        _check(check, desk.units)


def _check(check: Check, units: UnitSystem) -> None:
    mood = look.mood_of(check)
    with look.panel(edge=mood).classes("hs-check").style("gap: 4px"):
        with look.row().classes("hs-row-tight").style("align-items: flex-start"):
            with look.column().classes("hs-grow").style("gap: 4px"):
                with look.row().style("gap: 2px 14px"):
                    look.mark(mood)
                    look.heading(f"{check.about}: {check.title}").classes("hs-text")
                _numbers(check, units)
            page = _page_for(check)
            if page:
                look.link(f"To {page.title}", f"{page.path}?about={quote(check.about)}")
        ui.label(check.do).classes("hs-text")
        ui.label(str(check.source)).classes("hs-text hs-faint hs-small")


def _numbers(check: Check, units: UnitSystem) -> None:
    words = against(check, units)
    if not words:
        return
    margin = check.margin
    if margin is not None:
        short = "short by" if check.good is Good.AT_LEAST else "over by"
        words += f"; {'room' if margin >= 0 else short} {amount(abs(margin), check.unit, units)}"
    ui.label(words).classes("hs-num hs-text")


def _passed(desk: Desk, checks: Sequence[Check]) -> None:
    for check in worst_first(checks):
        _check(check, desk.units)


def _assumed(desk: Desk, assumed: Sequence[Assumed]) -> None:
    for value in assumed:
        with look.panel().style("gap: 2px"), look.row().classes("hs-row-tight"):
            with look.column().classes("hs-grow").style("gap: 2px"):
                with look.row().style("gap: 2px 14px"):
                    ui.label(value.where).classes("hs-key hs-text")
                    ui.label(value.value).classes("hs-num hs-text").style("font-weight: 600")
                ui.label(str(value.source)).classes("hs-text hs-faint hs-small")
            if _KEY.fullmatch(value.where):
                look.button("Say it", _say(desk, value))


def _say(desk: Desk, value: Assumed) -> Callable[[], None]:
    """Opens a small sheet in which the builder gives the value."""

    def ask() -> None:
        # on the page itself: a refusal draws the list again, and the sheet must outlive that
        with (
            ui.context.client.content,
            ui.dialog() as dialog,
            look.panel(value.where).style("min-width: min(420px, 90vw)"),
        ):
            ui.label(f"Assumed: {value.value}").classes("hs-text")
            typed = ui.input("your value, with its unit").props("outlined autofocus")
            why = ui.label().classes("hs-bad hs-text")

            def keep() -> None:
                text = (typed.value or "").strip()
                if not text:
                    why.set_text("Write a value, for example 1.5 mm")
                    return
                told = float(text) if _NUMBER.fullmatch(text) else text
                if desk.change(f"{value.where} said", lambda folder: save_values(folder, {value.where: told})):
                    dialog.close()
                else:
                    why.set_text("; ".join(str(problem) for problem in desk.refused))

            typed.on("keydown.enter", keep)
            with look.row():
                look.button("Keep it", keep, "main")
                look.button("Leave it", dialog.close)
        dialog.on("hide", dialog.delete)
        dialog.open()

    return ask


class _FoldOut(Generic[T]):
    """A list that is drawn only once it is opened; open or shut, it stays as the builder left it."""

    def __init__(
        self, desk: Desk, read: Callable[[Study], Sequence[T]], words: str, fill: Callable[[Sequence[T]], None]
    ) -> None:
        self._desk, self._read, self._words, self._fill = desk, read, words, fill
        self._made = ui.expansion("").classes("hs-fold-out")
        with self._made:
            self._inside = Region(look.column(), self._key, self._draw)
        self._made.on_value_change(self._inside.show)

    def show(self) -> None:
        """Tell how many there are now, and the list itself where it is open."""
        study = self._desk.study
        self._made.set_visibility(study is not None)
        if study is not None:
            self._made.set_text(f"{len(self._read(study))} {self._words}")
        self._inside.show()

    def _key(self) -> object:
        study = self._desk.study
        open_now = bool(self._made.value) and study is not None
        return (self._desk.units, tuple(self._read(study))) if open_now and study is not None else None

    def _draw(self) -> None:
        if self._made.value and self._desk.study is not None:
            self._fill(self._read(self._desk.study))


def _pages() -> Sequence[Page]:
    # the list of pages names this page too
    from halfshaft.bench.pages import PAGES

    return PAGES


def _page_for(check: Check) -> Page | None:
    return next((page for page in _pages() if check.station in page.settles), None)


def _told(study: Study) -> str:
    failed = sum(not check.ok for check in study.checks)
    return f"{failed} open" if failed else "all settled"


PAGE = Page("/", "Settle", "M4 6 H7 M4 12 H7 M4 18 H7 M10 6 H20 M10 12 H20 M10 18 H16", _draw, _told)
