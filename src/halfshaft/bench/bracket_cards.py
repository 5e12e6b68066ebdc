"""The brackets of the build as cards, one for each: what state it is in, what it weighs, whether it will fit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_looked import Looked
from halfshaft.bench.bracket_words import chance, mass, state_of
from halfshaft.bench.head import worked
from halfshaft.bench.region import Region

PLUS = "M12 5 V19 M5 12 H19"


def draw_cards(looked: Looked, choose: Callable[[str], None], begin: Callable[[], None]) -> list[Region]:
    """A card for each bracket and the way to a new one; gives what is to be shown again after a change."""
    study = worked(looked.desk)
    if study is None:
        return []
    with ui.element("div").classes("hb-list"):
        cards = [_card(looked, name, choose) for name in study.build.bracket]
        if looked.draft is None:
            look.button("New bracket", begin, "" if study.build.bracket else "main", PLUS)
    return cards


def _card(looked: Looked, name: str, choose: Callable[[str], None]) -> Region:
    """A card that stays while what is on it changes, so that no tap on it is lost."""
    button = ui.button(on_click=lambda: choose(name), color=None).props("unelevated no-caps")
    button.classes("hs-card hb-card")

    def key() -> Any:
        assert looked.study is not None
        here = name == looked.name and looked.draft is None
        return (looked.study.brackets.get(name), looked.working(name), here, looked.desk.units)

    def draw() -> None:
        bracket, working, here, units = key()
        look.press(button, here, "aria-pressed", "hs-here")
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
