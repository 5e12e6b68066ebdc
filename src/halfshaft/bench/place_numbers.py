"""What a place of the unit comes to, as lines with a mood: a judged place in, drawn numbers out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.place_hand import Hand, Stage
from halfshaft.bench.telling import Mood
from halfshaft.build.catalogue import default
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem

if TYPE_CHECKING:
    from halfshaft.fitup.model import Cut, Placed, Scene, Shaft
    from halfshaft.fitup.place import Judged


@dataclass(frozen=True, slots=True)
class Line:
    about: str
    found: str
    mood: Mood
    word: str


def lines_of(stage: Stage, one: Judged, units: UnitSystem) -> list[Line]:
    """The numbers of a place, each with what it is against its limit."""
    from halfshaft.fitup.halfshaft import shaft_checks

    placed, scene = one.placed, stage.scene
    out = []
    if placed.nearest:
        mood: Mood = "good" if one.room_mm >= 0.0 else "bad" if placed.clearance_mm < 0.0 else "care"
        word = {"good": "clear", "care": "tight", "bad": "hits"}[mood]
        found = room_words(placed, units)
        out.append(Line("least room", found, mood, word))
    for shaft in placed.shafts:
        checks = shaft_checks((shaft,), scene.joints)
        worst = min((look.mood_of(check) for check in checks), key=["bad", "care", "note", "good"].index)
        out.append(Line(f"{shaft.side} half-shaft", _shaft_words(shaft, units), worst, _SHAFT_WORD[worst]))
    if placed.shaft_nearest:
        out.append(_shaft_room_line(placed, scene, units))
    height = placed.ground_mm - scene.ground_clearance_mm
    out.append(
        Line(
            "over the ground",
            f"{format_length(placed.ground_mm, units)}, {format_length(scene.ground_clearance_mm, units)} asked",
            "good" if height >= 0.0 else "bad",
            "enough" if height >= 0.0 else "too low",
        )
    )
    side = "left" if placed.off_centre_mm > 0.0 else "right"
    out.append(
        Line("off the centre line", f"{format_length(abs(placed.off_centre_mm), units)} to the {side}", "note", "told")
    )
    if np.isfinite(placed.service_mm):
        enough = placed.service_mm >= scene.service_mm
        words = "enough" if enough else "narrow"
        found = f"{format_length(placed.service_mm, units)} round what comes off"
        out.append(Line("room for hands", found, "good" if enough else "care", words))
    for cut in placed.cuts:
        found = f"{cut.removed_mm3 / 1000.0:.1f} cm³, {100.0 * cut.section_lost:.0f} % of its section"
        out.append(Line(f"cut from {cut.member}", found, "care", "cut"))
        if np.isfinite(cut.edge_mm):
            out.append(_edge_line(cut, units))
    if not placed.cuts:
        out.append(Line("cut from the frame", "nothing", "good", "whole"))
    return out


def _shaft_room_line(placed: Placed, scene: Scene, units: UnitSystem) -> Line:
    from halfshaft.fitup.shaft_room import shaft_room_checks

    check = min(shaft_room_checks(scene, placed), key=lambda one: one.ok)
    mood = look.mood_of(check)
    words = {"good": "clear", "note": "clear", "care": "tight", "bad": "hits" if placed.shaft_gap_mm < 0.0 else "tight"}
    return Line(
        "half-shafts' own room",
        f"{format_length(placed.shaft_gap_mm, units)} to {placed.shaft_nearest}",
        mood,
        words[mood],
    )


def _edge_line(cut: Cut, units: UnitSystem) -> Line:
    asked_mm = float(default("fitup.window_edge").value)
    if cut.edge_mm <= 0.0:
        return Line("metal beside it", f"none: it runs over the {cut.edge}", "bad", "no window")
    mood: Mood = "good" if cut.edge_mm >= asked_mm else "care"
    found = f"{format_length(cut.edge_mm, units)} to the {cut.edge}"
    return Line("metal beside it", found, mood, "enough" if mood == "good" else "narrow")


def room_words(placed: Placed, units: UnitSystem) -> str:
    """How near the nearest kept thing is, or how deep it is hit."""
    if placed.clearance_mm < 0.0:
        return f"{format_length(-placed.clearance_mm, units)} into {placed.nearest}"
    return f"{format_length(placed.clearance_mm, units)} to {placed.nearest}"


_SHAFT_WORD: dict[Mood, str] = {"good": "holds", "note": "holds", "care": "steep", "bad": "too far"}


def _shaft_words(shaft: Shaft, units: UnitSystem) -> str:
    ride = shaft.ride_index
    worst = np.maximum(shaft.inner_deg, shaft.outer_deg)
    used = f", {100.0 * shaft.stroke_used:.0f} % of the stroke" if np.isfinite(shaft.stroke_mm) else ""
    return (
        f"{worst[ride]:.1f}° at ride height, {worst.max():.1f}° at most{used}, "
        f"{format_length(float(shaft.length_mm[ride]), units)} long"
    )


def draw_numbers(hand: Hand, units: UnitSystem) -> None:
    """The numbers of where the unit stands now; older ones are faint while newer are being worked."""
    from halfshaft.fitup.way_words import move_words

    stage, one = hand.stage, hand.judged
    if stage is None:
        return
    shift, turned = hand.moved()
    words = move_words(shift, turned, units)
    ui.label("as it was mocked up" if words == "stay" else f"from where it was mocked up: {words}").classes("hs-text")
    if one is None:
        ui.label("Being judged for the first time.").classes("hs-faint")
        return
    with ui.element("div").classes("hp-lines" + (" hp-old" if hand.waiting else "")):
        for line in lines_of(stage, one, units):
            ui.label(line.about).classes("hs-text")
            ui.label(line.found).classes("hs-num hs-text")
            look.mark(line.mood, line.word)
    if one.placed.limits:
        ui.label("Against going further: " + "; ".join(one.placed.limits[:3])).classes("hs-faint hs-small hs-text")
