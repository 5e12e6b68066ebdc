"""Checks of one station on its own page: what fails as sheets, worst first, what passed as a table to open."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from halfshaft import tables
from halfshaft.bench import look
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.plain_table import draw_table
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Check, worst_first


def draw_judged(checks: Sequence[Check], units: UnitSystem, about: str = "") -> None:
    """`about` is what the page was asked for: its checks come first, whether they pass or not."""
    asked = [check for check in checks if about and check.about == about]
    failed = [check for check in worst_first(checks) if not check.ok and check not in asked]
    passed = [check for check in checks if check.ok and check not in asked]
    if not failed and not asked:
        with look.panel(edge="good"):
            look.mark("good", "nothing to settle")
    for check in (*asked, *failed):
        with look.panel(edge=look.mood_of(check)).style("gap: 4px"):
            with look.row().style("gap: 2px 14px"):
                look.mark(look.mood_of(check))
                look.heading(f"{check.about}: {check.title}").classes("hs-text")
            found = tables.against(check, units)
            if found:
                ui.label(found).classes("hs-num hs-text")
            ui.label(check.do).classes("hs-text")
            ui.label(str(check.source)).classes("hs-text hs-faint hs-small")
    if passed:
        fold_out(f"{len(passed)} checks passed", lambda: draw_table(tables.checks_table(passed, units, "")))
