"""Every step of the machine, and what it takes. Cuts in order in; moves, times, amounts and cost out.

Feeds and rapids are taken as reached at once; see docs/tool_path.md for what that leaves out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue.cutter import UseRow
from halfshaft.build.cutter import PriceInput
from halfshaft.cut.path.curve import Curve
from halfshaft.cut.path.model import Cut, Estimate, Move, Setup

Array = NDArray[np.float64]

_STILL_MM = 1e-6


def moves_of(cuts: Sequence[Cut], setup: Setup, home_mm: Array) -> tuple[Move, ...]:
    """From home, torch on the plate, through every cut and home again; up and down moves count as time only."""
    out = _height("up", setup.travel_height_mm, setup.rapid_mm_min, setup, -1)
    here, high = np.asarray(home_mm, dtype=float), setup.travel_height_mm
    for number, cut in enumerate(cuts):
        out += _travel(here, cut.whole.start_mm, setup, number)
        low = setup.mark_height_mm if cut.marks else setup.pierce_height_mm
        out += _height("down", high - low, setup.rapid_mm_min, setup, number)
        if not cut.marks:
            out.append(Move("wait", setup.pierce_s, cut=number))
            sink = setup.pierce_height_mm - setup.cut_height_mm
            out += _height("sink", sink, cut.feed_mm_min, setup, number)
            low = setup.cut_height_mm
        for piece, kind in ((cut.lead_in, "lead"), (cut.path, "mark" if cut.marks else "cut"), (cut.lead_out, "lead")):
            if piece is not None:
                seconds = 60.0 * piece.length_mm / cut.feed_mm_min
                out.append(Move(kind, seconds, piece, number))  # type: ignore[arg-type]
        high = lift_mm(cuts, number, setup)
        out += _height("up", high - low, setup.rapid_mm_min, setup, number)
        here = cut.whole.end_mm
    return (*out, *_travel(here, home_mm, setup, -1))


def lift_mm(cuts: Sequence[Cut], number: int, setup: Setup) -> float:
    """Height that the tool is lifted to after a cut: low between marks, as nothing is cut yet that could stand up."""
    between = cuts[number].marks and number + 1 < len(cuts) and cuts[number + 1].marks
    return min(setup.mark_height_mm + setup.mark_lift_mm, setup.travel_height_mm) if between else setup.travel_height_mm


def _travel(here: Array, there: Array, setup: Setup, number: int) -> list[Move]:
    way = float(np.linalg.norm(there - here))
    if way < _STILL_MM:
        return []
    return [Move("travel", 60.0 * way / setup.rapid_mm_min, Curve.of_points([here, there]), number)]


def _height(kind: str, way_mm: float, feed_mm_min: float, setup: Setup, number: int) -> list[Move]:
    if not setup.heights or abs(way_mm) < _STILL_MM:
        return []
    return [Move(kind, 60.0 * abs(way_mm) / feed_mm_min, cut=number)]  # type: ignore[arg-type]


def estimate_of(moves: Sequence[Move], use: UseRow, price: PriceInput) -> Estimate:
    """Times and lengths summed; power, gas and abrasive while the torch is alight; wear by starts and by minutes.

    A set of wear parts is used up by the larger of the two shares. Cost holds only what the shop gave a price for.
    """

    def seconds(*kinds: str) -> float:
        return sum(move.seconds for move in moves if move.kind in kinds)

    def length(*kinds: str) -> float:
        return sum(move.curve.length_mm for move in moves if move.kind in kinds and move.curve is not None)

    cut_s, wait_s = seconds("cut", "lead"), seconds("wait")
    pierces = sum(move.kind == "wait" for move in moves)
    minutes = (cut_s + wait_s) / 60.0
    power, gas = use.power_kw * minutes / 60.0, use.gas_l_min * minutes
    abrasive = use.abrasive_kg_min * minutes
    wear = max(pierces / use.wear_starts, minutes / use.wear_minutes)
    mark_s, travel_s, height_s = seconds("mark"), seconds("travel"), seconds("down", "sink", "up")
    hours = (cut_s + wait_s + mark_s + travel_s + height_s) / 3600.0
    told = {
        "power": (price.power_kwh, power),
        "gas": (price.gas_m3, gas / 1000.0),
        "abrasive": (price.abrasive_kg, abrasive),
        use.wear_set: (price.wear_set, wear),
        "time of the table": (price.hour, hours),
    }
    cost = {item: each * amount for item, (each, amount) in told.items() if each is not None and amount > 0.0}
    return Estimate(
        cut_s, mark_s, travel_s, wait_s, height_s, length("cut", "lead"), length("mark"), length("travel"), pierces,
        power, gas, abrasive, wear, cost,
    )  # fmt: skip
