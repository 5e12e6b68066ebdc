"""The few numbers that follow a move: weights as saved and with things moved in, facts with a mood out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.telling import Mood
from halfshaft.build.value import UnitSystem
from halfshaft.weights.words import length_words, mass_words, split_words

if TYPE_CHECKING:
    from halfshaft.checks import Check
    from halfshaft.weights.model import Braking, State, Weights


@dataclass(frozen=True, slots=True)
class Fact:
    """`more` is what it was before the move, or what it is held against."""

    words: str
    number: str
    more: str = ""
    mood: Mood | None = None


def facts_of(now: Weights, was: Weights, wanted: float | None, units: UnitSystem) -> list[Fact]:
    """Split, weight, diagonal, height of the car's middle, ride height, brakes, each beside what it was."""
    found: list[Fact] = []
    empty, laden = now.empty, now.laden
    if empty is None or was.empty is None:
        return found
    want = f"{split_words(wanted)} wanted" if wanted is not None else ""
    for state, before in ((empty, was.empty), (laden, was.laden)):
        if state is None or before is None:
            continue
        found.append(
            Fact(
                f"front/rear, {state.name}",
                f"{_split(state)} ± {100.0 * state.front_share_spread:.1f} %",
                ", ".join(w for w in (_was(_split(state), _split(before)), want if state is empty else "") if w),
            )
        )
    heavy, before = (laden or empty), (was.laden or was.empty)
    found.append(
        Fact(
            f"weight, {heavy.name}", f"{mass_words(heavy.mass_kg, units)} ± {mass_words(heavy.mass_spread_kg, units)}",
            "", _mood(now.checks, "Gross mass"),
        )
    )  # fmt: skip
    cross = f"{100.0 * heavy.cross_share:.1f} %"
    found.append(Fact("front left and rear right carry", cross, _was(cross, f"{100.0 * before.cross_share:.1f} %")))
    factor = f"{heavy.stability:.2f}"
    found.append(
        Fact(
            "half track over height", factor, _was(factor, f"{before.stability:.2f}"),
            _mood(now.checks, "Static stability factor"),
        )
    )  # fmt: skip
    for spring, old in zip(now.springs, was.springs, strict=False):
        if spring.drop_mm is None or old.drop_mm is None:
            continue
        drop = _sinks(spring.drop_mm, units)
        found.append(Fact(f"{spring.end} ride height, empty", drop, _was(drop, _sinks(old.drop_mm, units))))
    for one, earlier in zip(now.braking, was.braking, strict=False):
        if not one.regeneration:
            lock = _lock(one)
            mood: Mood = "bad" if one.dry.first == "rear" else "care" if one.slippery.first == "rear" else "good"
            found.append(Fact(f"locks first, {one.state}", lock, _was(lock, _lock(earlier)), mood))
    return found


def _split(state: State) -> str:
    return f"{100.0 * state.front_share:.1f}/{100.0 - 100.0 * state.front_share:.1f}"


def _sinks(drop_mm: float, units: UnitSystem) -> str:
    return f"{'sinks' if drop_mm >= 0.0 else 'rises'} {length_words(abs(drop_mm), units)}"


def _lock(one: Braking) -> str:
    return f"{one.dry.first} at {one.dry.at_g:.2f} g"


def _was(now: str, before: str) -> str:
    return "" if now == before else f"was {before}"


def _mood(checks: tuple[Check, ...], title: str) -> Mood | None:
    moods = [look.mood_of(check) for check in checks if check.title.startswith(title)]
    return min(moods, key=["bad", "care", "note", "good"].index, default=None)


class Facts:
    """Sheets with a number each, in a box; while their heads stay, only texts are changed."""

    def __init__(self, box: ui.element) -> None:
        self._box = box
        self._heads: list[str] = []
        self._sheets: list[tuple[ui.element, ui.label, ui.label]] = []

    def show(self, facts: list[Fact]) -> None:
        heads = [one.words for one in facts]
        if heads != self._heads:
            self._heads, self._sheets = heads, []
            self._box.clear()
            with self._box:
                for one in facts:
                    with ui.element("div").classes("hw-fact") as sheet:
                        ui.label(one.words).classes("hs-faint hs-small")
                        self._sheets.append(
                            (sheet, ui.label().classes("hw-big hs-text"), ui.label().classes("hs-small hs-num"))
                        )
        for one, (sheet, number, more) in zip(facts, self._sheets, strict=True):
            if number.text != one.number:
                number.set_text(one.number)
            if more.text != one.more:
                more.set_text(one.more)
            mood = f"hw-{one.mood}" if one.mood else ""
            sheet.classes(add=mood, remove=" ".join({"hw-bad", "hw-care", "hw-good", "hw-note"} - {mood}))
