"""The car from above, as plan.js draws it: weights as worked in, what stands where and the words to it out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui
from numpy.typing import NDArray

from halfshaft.build.catalogue.weights import load_index_kg
from halfshaft.build.units import KG_PER_POUND, format_length
from halfshaft.build.value import UnitSystem
from halfshaft.weights.words import mass_words

if TYPE_CHECKING:
    from halfshaft.build.weights import WeightsInput
    from halfshaft.pack.model import Laid
    from halfshaft.weights.model import Line, State, Weights

Array = NDArray[np.float64]
Thing = tuple[str, str]  # table of the ledger and name
Spot = tuple[float, float, float]

_TYRE_MM = (690.0, 215.0)
_SPREADS = 2.0  # the ellipse round a centre of gravity
_GAP_MM = 30.0
_NEAR_MM = 60.0  # things nearer than this are drawn beside each other
_LEAST_MM, _PER_ROOT_KG = 120.0, 29.0  # side of a thing's square: its area goes with its mass


class Plan(ui.element, component="plan.js"):
    """`moved` hears id, x, y and whether that was the end; `picked` hears an id."""

    def __init__(
        self, moved: Callable[[str, float, float, bool], None], picked: Callable[[str], None], view: dict[str, Any]
    ) -> None:
        super().__init__()
        self._props["view"] = view
        self.on("moved", lambda event: moved(*_read(event.args)))
        self.on("picked", lambda event: picked(str(event.args["id"])))

    def show(self, view: dict[str, Any]) -> None:
        if view != self._props["view"]:
            self._props["view"] = view
            self.update()


def _read(told: Mapping[str, Any]) -> tuple[str, float, float, bool]:
    return str(told["id"]), float(told["x"]), float(told["y"]), bool(told["end"])


def id_of(thing: Thing) -> str:
    return ":".join(thing)


def thing_of(told: str) -> Thing:
    table, _, name = told.partition(":")
    return table, name


def view_of(
    now: Weights,
    was: Weights,
    told: WeightsInput,
    laid: Laid | None,
    moved: Mapping[Thing, Spot | str],
    picked: Thing | None,
    step_mm: float,
    ends_mm: tuple[float | None, float | None],
    units: UnitSystem,
) -> dict[str, Any]:
    """`now` with things moved, `was` as saved; `ends_mm` are rear and front of the car where they are told.

    Raises ValueError where the weights have no stance to draw.
    """
    stance = now.stance
    if stance is None:
        raise ValueError("no wheelbase is told")
    lines = [line for line in now.ledger if line.table != "out"]
    back = stance.rear_axle_mm
    front = back + stance.wheelbase_mm
    half = 0.5 * max(stance.track_front_mm, stance.track_rear_mm)
    body = [_or(ends_mm[0], back - 850.0), _or(ends_mm[1], front + 780.0), half + 0.5 * _TYRE_MM[1]]
    # as wide as what is saved: the drawing must not shrink under a thing that is dragged
    saved = [(line.at_mm, 0.5 * _side(line)) for line in was.ledger if line.table != "out"]
    low_x = min([body[0], *(at[0] - side for at, side in saved)])
    high_x = max([body[1], *(at[0] + side for at, side in saved)])
    out = max([body[2], *(abs(at[1]) + side for at, side in saved)])
    low, high = [low_x - 60.0, -out], [high_x + 60.0, out]
    state = now.heaviest
    return {
        "low": _plain(low),
        "high": _plain(high),
        "body": _plain(body),
        "picked": id_of(picked) if picked else "",
        "step": step_mm,
        "bays": _bays(laid),
        "axles": _axles(state, told, (front, back), half, units) if state else [],
        "wheels": _wheels(state, told, (front, back), units) if state else [],
        "spots": _places(told, lines),
        "things": _things(lines, was, moved, units),
        "centres": [_centre(one, 24.0 if one.name == "laden" else -16.0) for one in now.states if one.name != "before"],
    }


def _plain(values: Iterable[Any]) -> list[float]:
    return [float(v) for v in values]


def _or(value: float | None, instead: float) -> float:
    return instead if value is None else value


def _pm(kg: float, spread: float, units: UnitSystem) -> str:
    size, unit = (1.0, "kg") if units == "metric" else (KG_PER_POUND, "lb")
    return f"{kg / size:.0f} ± {spread / size:.0f} {unit}"


def _mood(load: float, spread: float, most: float | None) -> str:
    if most is None or load + 2.0 * spread <= most:
        return ""
    return "bad" if load > most else "care"


def _axles(
    state: State, told: WeightsInput, at_mm: tuple[float, float], half: float, units: UnitSystem
) -> list[dict[str, Any]]:
    found = []
    for number, (end, rating) in enumerate((("front", told.front_rating_kg), ("rear", told.rear_rating_kg))):
        load, spread = float(state.axles_kg[number]), float(state.axle_spread_kg[number])
        share = 100.0 * load / state.mass_kg
        may = "" if rating is None else f", may carry {mass_words(rating, units)}"
        found.append(
            {
                "x": at_mm[number], "left": half, "mood": _mood(load, spread, rating),
                "words": f"{end} axle {_pm(load, spread, units)}", "more": f"{share:.1f} % of the weight{may}",
            }
        )  # fmt: skip
    return found


def _wheels(state: State, told: WeightsInput, at_mm: tuple[float, float], units: UnitSystem) -> list[dict[str, Any]]:
    stance, found = state.stance, []
    long, wide = _TYRE_MM
    for number in range(4):
        track = stance.track_front_mm if number < 2 else stance.track_rear_mm
        index = told.tyre_front if number < 2 else told.tyre_rear
        most = None if index is None else load_index_kg(index)[0]
        load, spread = float(state.corners_kg[number]), float(state.corner_spread_kg[number])
        found.append(
            {
                "x": at_mm[0 if number < 2 else 1], "y": 0.5 * track * (1.0 if number % 2 == 0 else -1.0),
                "long": long, "wide": wide, "mood": _mood(load, spread, most), "words": _pm(load, spread, units),
                "more": "" if most is None else f"tyre may carry {mass_words(most, units)}",
            }
        )  # fmt: skip
    return found


def _places(told: WeightsInput, lines: Sequence[Line]) -> list[dict[str, Any]]:
    """Places of [weights.place]: as written, or where something stands in them."""
    spots: dict[str, Any] = {name: one.at for name, one in told.place.items() if not isinstance(one.at, str)}
    spots |= {line.place: line.at_mm for line in lines if line.place in told.place}
    found = []
    for name, at in spots.items():
        held = [_side(line) for line in lines if line.place == name]
        under = 0.5 * _rows(len(held)) * (max(held, default=0.0) + _GAP_MM)  # its name under what it holds
        words = f"{name}, holds {told.place[name].holds}"
        found.append({"x": float(at[0]), "y": float(at[1]), "under": under, "words": words})
    return found


def _rows(count: int) -> int:
    """Deep that things in one spot are drawn."""
    return 1 if count < 3 else 2 if count < 9 else 3


def _bays(laid: Laid | None) -> list[dict[str, Any]]:
    found = []
    for bay in laid.bays if laid is not None else ():
        long, wide, _ = bay.size_mm
        floor = bay.pose.apply(np.array([[0.0, wide, 0.0], [long, wide, 0.0], [long, 0.0, 0.0], [0.0, 0.0, 0.0]]))
        found.append({"points": floor[:, :2].tolist(), "words": f"bay {bay.name}"})
    return found


def _things(
    lines: Sequence[Line], was: Weights, moved: Mapping[Thing, Spot | str], units: UnitSystem
) -> list[dict[str, Any]]:
    before = {(line.table, line.name): line.at_mm for line in was.ledger}
    found = []
    # what is large lies under what is small
    for line, off in sorted(zip(lines, _aside(lines), strict=True), key=lambda one: -_side(one[0])):
        thing = (line.table, line.name)
        x, y = (format_length(round(float(v)), units) for v in line.at_mm[:2])
        start = before.get(thing)
        found.append(
            {
                "id": id_of(thing), "x": float(line.at_mm[0]), "y": float(line.at_mm[1]), "aside": off,
                "side": _side(line), "words": line.name, "brief": _brief(line.name),
                "rides": line.table == "load", "moved": thing in moved,
                "was": _plain(start[:2]) if start is not None and thing in moved else None,
                "say": f"{line.name}, {mass_words(line.mass_kg, units)}, {x} forward, {y} to the left",
            }
        )  # fmt: skip
    return found


def _brief(name: str) -> str:
    """Where there is no room for a name: the number that it ends in; empty where it ends in none."""
    number = re.search(r"[\d.]+$", name)
    return number.group(0) if number else ""


def _side(line: Line) -> float:
    return max(_LEAST_MM, _PER_ROOT_KG * float(np.sqrt(max(line.mass_kg, 0.0))))


def _aside(lines: Sequence[Line]) -> list[list[float]]:
    """How far from its true spot each is drawn: those in one spot side by side, two deep, their middle the spot."""
    groups: list[list[int]] = []
    for number, line in enumerate(lines):
        for group in groups:
            if float(np.hypot(*(line.at_mm - lines[group[0]].at_mm)[:2])) < _NEAR_MM:
                group.append(number)
                break
        else:
            groups.append([number])
    found = [[0.0, 0.0] for _ in lines]
    for group in groups:
        rows = _rows(len(group))
        columns = -(-len(group) // rows)
        pitch = max(_side(lines[n]) for n in group) + _GAP_MM
        for place, number in enumerate(group):
            row, column = divmod(place, columns)
            found[number] = [(column - (columns - 1) / 2.0) * pitch, ((rows - 1) / 2.0 - row) * pitch]
    return found


def _centre(state: State, under: float) -> dict[str, Any]:
    values, ways = np.linalg.eigh(state.centre_covariance_mm2[:2, :2])
    spread = _SPREADS * np.sqrt(np.maximum(values, 0.0))
    turn = float(np.degrees(np.arctan2(ways[1, 1], ways[0, 1])))
    return {
        "x": float(state.centre_mm[0]), "y": float(state.centre_mm[1]), "spread": _plain(spread[::-1]), "turn": turn,
        "kind": state.name, "words": state.name, "under": under,
    }  # fmt: skip
