"""Gussets of a bracket: plates welded between two panels. What the builder picked in; values of build.toml out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_edit import Keys, save
from halfshaft.bench.bracket_fields import Form, Saver, build_now, choice
from halfshaft.bench.desk import Desk
from halfshaft.bench.typed import value_of
from halfshaft.build.schema import BracketInput, GussetInput
from halfshaft.build.units import length_to_write, read_length_mm
from halfshaft.build.value import UnitSystem

ENDS = "both ends"
PLACES = {
    "middle": "the middle of the corner",
    ENDS: "both ends of it",
    **{way: f"its end toward {way}" for way in ("left", "right", "up", "down", "front", "rear")},
}
EDGES = {"straight": "straight", "hollow": "hollowed out"}
OWN = "the bracket's own"
_SAME_MM = 1e-6


def gusset_values(name: str, told: BracketInput, between: str, reach: str) -> dict[Keys, Any]:
    """One more gusset between two panels written 'a, b', at the middle of their corner."""
    row = {"between": [part.strip() for part in between.split(",")], "reach": value_of(reach)}
    if told.gusset:
        return {("bracket", name, "gusset", len(told.gusset)): row}
    return {("bracket", name, "gusset"): [row]}


def without_gusset(name: str, told: BracketInput, number: int) -> dict[Keys, Any]:
    """A gusset out; the whole list where it was the only one."""
    at: Keys = ("bracket", name, "gusset")
    return {(*at, number) if len(told.gusset) > 1 else at: None}


def place_values(at: Keys, wish: GussetInput, place: str) -> dict[Keys, Any]:
    """Where along the corner it stands; what does not belong to that is taken away."""
    told: dict[Keys, Any] = {}
    if place == ENDS:
        told[(*at, "ends")] = True
        if wish.given("at"):
            told[(*at, "at")] = None
        return told
    if wish.given("ends"):
        told[(*at, "ends")] = None
    if place == "middle" and wish.given("distance_mm"):
        told[(*at, "distance")] = None
    return told | {(*at, "at"): place}


def reach_values(at: Keys, wish: GussetInput, side: int, text: str, units: UnitSystem) -> dict[Keys, Any]:
    """How far it reaches along one of its panels; one number while both are the same."""
    reaches: list[Any] = [length_to_write(reach, units) for reach in reaches_mm(wish)]
    reaches[side] = text
    both = [value_of(reach) for reach in reaches]
    other = reaches_mm(wish)[1 - side]
    return {(*at, "reach"): both[side] if _same_length(text, other, units) else both}


def _same_length(text: str, length_mm: float, units: UnitSystem) -> bool:
    try:
        return abs(read_length_mm(value_of(text), units) - length_mm) < _SAME_MM
    except ValueError:
        return False  # told when it is saved


def reaches_mm(wish: GussetInput) -> tuple[float, float]:
    return wish.reach_mm if isinstance(wish.reach_mm, tuple) else (wish.reach_mm, wish.reach_mm)


def draw_gussets(desk: Desk, form: Form, name: str, told: BracketInput) -> None:
    """Plates that keep two panels from opening: a fold alone gives way at its seam first."""
    pairs = {", ".join(fold.between): " and ".join(fold.between) for fold in told.folds}
    picked = {"between": next(iter(pairs), ""), "reach": "40 mm" if desk.units == "metric" else "1 1/2 in"}

    def add() -> None:
        now = build_now(desk).bracket[name]
        save(desk, f"gusset between {pairs[picked['between']]}", gusset_values(name, now, **picked))

    with look.panel("Gussets"):
        if not told.gusset:
            ui.label("None: each fold holds its angle by its own weld.").classes("hs-faint")
        for number, plates in enumerate(told.gusset_names):
            _gusset(desk, form, name, number, plates)
        if not pairs:
            return
        with look.row():
            choice("new gusset between", pairs, lambda: picked["between"], lambda value: picked.update(between=value))
            ui.input(
                "reaching", value=picked["reach"], on_change=lambda e: picked.update(reach=str(e.value or ""))
            ).props("outlined").classes("hb-field")
            look.button("Add the gusset", add)


def _gusset(desk: Desk, form: Form, name: str, number: int, plates: tuple[str, ...]) -> None:
    at: Keys = ("bracket", name, "gusset", number)
    title = " and ".join(plates)
    sheets = {OWN: OWN} | {sheet: sheet for sheet in build_now(desk).sheet}

    def own() -> GussetInput:
        return build_now(desk).bracket[name].gusset[number]

    def write(length_mm: float) -> str:
        return length_to_write(length_mm, desk.units)

    def stand(place: str) -> None:
        save(desk, f"where {title} stands", place_values(at, own(), place))

    def cut_from(sheet: str) -> None:
        save(desk, f"sheet of {title}", {(*at, "sheet"): None if sheet == OWN else sheet})

    def reach(side: int) -> Callable[[str], bool]:
        return lambda text: save(desk, f"reach of {title}", reach_values(at, own(), side, text, desk.units))

    def reach_now(side: int) -> str:
        return write(reaches_mm(own())[side])

    def away() -> str:
        distance = own().distance_mm
        return write(distance) if distance is not None else ""

    def leave_out() -> None:
        save(desk, f"{title} out", without_gusset(name, build_now(desk).bracket[name], number))

    wish = own()
    with ui.element("div").classes("hb-hole"):
        ui.label(f"{title}, between {wish.between[0]} and {wish.between[1]}").classes("hb-point")
        form.choice(f"{title} at", PLACES, lambda: ENDS if own().ends else own().at, stand)
        for side, panel in enumerate(wish.between):
            form.cell(f"along {panel}", partial(reach_now, side), reach(side), f"reach of {title}")
        form.cell(
            f"{title} from the end", away, Saver(desk, f"place of {title}", (*at, "distance")), "empty: as it clears"
        )
        form.choice(f"{title} of sheet", sheets, lambda: own().sheet or OWN, cut_from)
        form.choice(f"open edge of {title}", EDGES, lambda: own().edge, Saver(desk, f"edge of {title}", (*at, "edge")))
        look.button("Leave out", leave_out, say=f"no {title}")
