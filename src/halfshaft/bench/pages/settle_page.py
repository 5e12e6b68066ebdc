"""First page: every check, the worst first, with the way to where it is settled; what is assumed; how far it all is."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from urllib.parse import quote

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.page import Page
from halfshaft.build import save_values
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Good, worst_first
from halfshaft.study import Study
from halfshaft.tables import CAUTIONS, against, amount

_KEY = re.compile(r"[A-Za-z_][\w-]*(\.[\w-]+)+")  # one key of build.toml, not a family of them
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def _draw(desk: Desk) -> None:
    opened = {"passed": False, "assumed": False}
    box = look.column()

    def show() -> None:
        box.clear()
        with box:
            if desk.study is None:
                _nothing_yet(desk)
                return
            _stations(desk.study)
            _checks(desk, desk.study, opened)

    show()
    look.follow(desk, show)


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
                    _counts(own, told.startswith("not "))


def _counts(failed: Sequence[Check], to_work: bool) -> None:
    """`to_work`: nothing fails because nothing is worked yet, which is no comfort."""
    with look.row().style("gap: 4px 14px"):
        for mood in ("bad", "care", "note"):
            count = sum(look.mood_of(check) == mood for check in failed)
            if count:
                look.mark(mood, f"{count} {look.MOOD_WORD[mood]}{'s' if count > 1 else ''}")
        if not failed and to_work:
            look.mark("note", "to be worked")
        elif not failed:
            look.mark("good", "nothing to settle")


def _checks(desk: Desk, study: Study, opened: dict[str, bool]) -> None:
    checks = study.checks
    failed = [check for check in checks if not check.ok]
    passed = worst_first(check for check in checks if check.ok)
    if desk.behind and desk.busy:
        ui.label("Being worked again: judgements of brackets may be from before the last change.").classes("hs-faint")
    if not failed:
        with look.panel(edge="good"):
            look.mark("good", "Nothing is left to settle")
    for check in failed:
        _check(check, desk.units)
    _fold_out(opened, "passed", f"{len(passed)} passed", lambda: _passed(passed, desk.units))
    assumed = study.assumed
    title = f"{len(assumed)} values assumed, because the build does not say"
    _fold_out(opened, "assumed", title, lambda: _assumed(desk, assumed))
    with look.panel(edge="care"):
        for words in CAUTIONS:
            ui.label(words).classes("hs-text")


def _check(check: Check, units: UnitSystem) -> None:
    mood = look.mood_of(check)
    with look.panel(edge=mood).classes("hs-check").style("gap: 4px"):
        with look.row().classes("hs-row-tight").style("align-items: flex-start"):
            with look.column().classes("hs-grow").style("gap: 4px"):
                with look.row().style("gap: 2px 14px"):
                    look.mark(mood)
                    ui.label(f"{check.about}: {check.title}").classes("hs-title hs-text")
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


def _passed(checks: Sequence[Check], units: UnitSystem) -> None:
    for check in checks:
        _check(check, units)


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


def _fold_out(opened: dict[str, bool], key: str, title: str, fill: Callable[[], None]) -> None:
    """A part that is drawn only once it is opened, and stays open when the page is drawn again."""
    made = ui.expansion(title, value=opened[key]).classes("hs-fold-out")
    with made:
        inside = look.column()

    def turned() -> None:
        opened[key] = bool(made.value)
        if made.value and not inside.default_slot.children:
            with inside:
                fill()

    made.on_value_change(turned)
    turned()


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
