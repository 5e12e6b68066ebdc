"""The mounts as cards, the worst first: what each carries, what gives way first and what to change."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from nicegui import ui

from halfshaft import tables_mounts
from halfshaft.bench import look
from halfshaft.bench.telling import Mood
from halfshaft.build.value import UnitSystem

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mount, Mounts

_MOODS: dict[str, Mood] = {"bad": "bad", "care": "care", "good": "good"}
_WORDS = {"bad": "gives way", "care": "take care", "good": "holds"}


def draw_cards(found: Mounts, units: UnitSystem, choose: Callable[[str], None]) -> dict[str, ui.button]:
    """A card for each mount, by its name."""
    table = tables_mounts.mounts_table(found, units)
    told = {row[0]: (row, mood) for row, mood in zip(table.rows, table.mood, strict=True)}
    with ui.element("div").classes("hs-cards"):
        return {mount.name: _card(*told[mount.name], choose) for mount in worst_first(found)}


def _card(row: tuple[str, ...], mood: str, choose: Callable[[str], None]) -> ui.button:
    name, bracket, force, first, used, change = row
    button = ui.button(on_click=lambda: choose(name), color=None).props("unelevated no-caps")
    with button.classes("hs-card"):
        with look.row():
            ui.label(name).classes("hs-title")
            look.mark(_MOODS[mood], _WORDS[mood])
            ui.label(f"bracket {bracket}" if bracket else "no bracket").classes("hs-faint hs-small")
        ui.label(f"largest force {force}").classes("hs-small hs-num")
        if first:
            ui.label(f"first to give way{f', {used} used' if used else ''}: {first}").classes("hs-text hs-small")
        ui.label(change).classes("hs-text")
    return button


def worst_first(found: Mounts) -> list[Mount]:
    from halfshaft.mounts.model import use_of

    def rank(mount: Mount) -> tuple[bool, float]:
        weakest = mount.weakest
        return (all(check.ok for check in mount.checks), -((use_of(weakest) or 0.0) if weakest is not None else 0.0))

    return sorted(found.mounts, key=rank)
