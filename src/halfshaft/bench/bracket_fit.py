"""How a bracket stands: its chance of fit with what to do about it, and its checks, worst first."""

from __future__ import annotations

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_edit import remedy_values, save
from halfshaft.bench.bracket_words import WORKING, chance
from halfshaft.bench.desk import Desk
from halfshaft.build.schema import BracketInput
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Check, worst_first
from halfshaft.fold.model import Bracket
from halfshaft.tables import against


def draw_fit(desk: Desk, bracket: Bracket, told: BracketInput, working: bool) -> None:
    """Chance of fit on the left, checks on the right; with `working` only the shape and its checks are known."""
    with ui.element("div").classes("hs-pair"):
        with look.panel("Chance that it fits as first cut"):
            if working:
                look.mark("note", WORKING)
            else:
                _chance(desk, bracket, told)
        with look.panel("Checks of this bracket, worst first"):
            if working:
                ui.label("What is in its way and the chance of fit are being worked.").classes("hs-faint hs-text")
            _checks(bracket.checks, desk.units, working)


def _chance(desk: Desk, bracket: Bracket, told: BracketInput) -> None:
    fit = bracket.fit
    if fit is None:
        ui.label("Not known: the bracket cannot be worked so far. The checks say why.").classes("hs-text")
        return
    with look.row():
        ui.label(chance(bracket).split(" (")[0]).classes("hb-big hs-num")
        ui.label(f"95 % sure to lie from {100 * fit.low:.1f} to {100 * fit.high:.1f} %").classes("hs-faint hs-small")
    ranked = sorted([*fit.holes, *fit.panels], key=lambda row: -row.spoils)
    if ranked and ranked[0].spoils > 0.0:
        worst = ranked[0]
        what = "hole" if worst in fit.holes else "seat of panel"
        ui.label(f"Spoilt most by {what} {worst.hole}: the worst in {100 * worst.spoils:.0f} % of the misses.").classes(
            "hs-text"
        )
    if fit.shares:
        ui.label("What it comes from").classes("hs-faint hs-small")
        for cause, share in fit.shares[:4]:
            with ui.element("div"):
                ui.label(f"{cause}: {100 * share:.0f} %").classes("hs-text hs-small hs-num")
                ui.element("div").classes("hb-bar").style(f"width: {100 * max(share, 0.0):.0f}%")
    for words in fit.remedies:
        ui.label(words).classes("hs-text")
    for change in fit.changes:
        values = remedy_values(bracket.name, told, change)
        if values:
            look.button(change.words, lambda v=values, t=change.words: save(desk, t, v), "main")
    if not fit.remedies:
        ui.label("Nothing need be done about it.").classes("hs-faint")


def _checks(checks: tuple[Check, ...], units: UnitSystem, working: bool) -> None:
    passed = [check for check in worst_first(checks) if check.ok]
    for check in worst_first(checks):
        if not check.ok:
            _check(check, units)
    if len(passed) == len(checks) and not working:
        look.mark("good", "every check passed")
    if passed:
        with ui.expansion(f"{len(passed)} passed") as opened, look.column() as inside:
            pass

        def fill() -> None:
            if opened.value and not inside.default_slot.children:
                with inside:
                    for check in passed:
                        _check(check, units)

        opened.on_value_change(fill)


def _check(check: Check, units: UnitSystem) -> None:
    mood = look.mood_of(check)
    with ui.element("div").classes(f"hb-check hs-edge-{mood}"):
        look.mark(mood)
        ui.label(f"{check.about}: {check.title}").classes("hs-text").style("font-weight: 600")
        words = against(check, units)
        if words:
            ui.label(words).classes("hs-num hs-faint hs-small")
        ui.label(check.do).classes("hs-text")
        ui.label(str(check.source)).classes("hs-faint hs-small hs-text")
