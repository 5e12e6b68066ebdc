"""The weights station's results as plain tables of text, in the builder's units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from halfshaft.build.units import KG_PER_POUND, N_PER_POUND_FORCE, format_length
from halfshaft.build.value import UnitSystem
from halfshaft.tables import Table
from halfshaft.weights.words import CARE, length_words, mass_words, split_words

if TYPE_CHECKING:
    from halfshaft.weights.model import Weights

WEIGHT_CAUTIONS = (CARE,)
_TABLES = {"out": "out", "in": "in", "load": "rides along"}


def _pm(value: float, spread: float, units: UnitSystem) -> str:
    """To the kilogram or pound; with a decimal where the spread is less."""
    if 0.0 < spread < 0.95:
        size, unit = (1.0, "kg") if units == "metric" else (KG_PER_POUND, "lb")
        return f"{value / size:.1f} ± {spread / size:.1f} {unit}"
    return f"{mass_words(value, units).split(' ')[0]} ± {mass_words(spread, units)}"


def ledger_table(found: Weights, units: UnitSystem) -> Table:
    """What comes out, goes in and rides along, each with its mass and place."""

    def at(xyz: np.ndarray) -> str:
        return ", ".join(f"{one:.0f}" if units == "metric" else format_length(float(one), units) for one in xyz + 0.0)

    rows = tuple(
        (
            _TABLES[line.table],
            line.name,
            _pm(line.mass_kg, line.spread_kg, units),
            line.place or at(line.at_mm),
            line.what,
        )
        for line in found.ledger
    )
    columns = ("", "thing", "mass", "place: forward, left, up", "")
    return Table("Ledger", columns, rows, (2,), (), "nothing comes out or goes in")


def states_table(found: Weights, units: UnitSystem) -> Table:
    """The car before, empty and laden: mass, split, centre of gravity."""
    rows = []
    for state in found.states:
        front = 100.0 * state.front_share_spread
        rows.append(
            (
                state.name,
                _pm(state.mass_kg, state.mass_spread_kg, units),
                f"{split_words(state.front_share)} ± {front:.1f}",
                f"{length_words(float(state.centre_mm[0]) - state.stance.rear_axle_mm, units)} before the rear axle",
                length_words(float(state.centre_mm[1]), units),
                f"{length_words(state.height_mm, units)} ± {length_words(state.height_spread_mm, units)}",
                f"{state.stability:.2f} ± {state.stability_spread:.2f}",
            )
        )
    columns = (
        "car",
        "mass",
        "front/rear %",
        "centre of gravity",
        "to the left",
        "over the ground",
        "half track over height",
    )
    return Table("The car", columns, tuple(rows), (1, 2, 4, 5, 6), (), "it cannot be worked")


def loads_table(found: Weights, units: UnitSystem) -> Table:
    """Axle and corner loads of each state."""
    from halfshaft.weights.model import CORNERS

    rows = tuple(
        (
            state.name,
            *(_pm(float(a), float(s), units) for a, s in zip(state.axles_kg, state.axle_spread_kg, strict=True)),
            *(_pm(float(c), float(s), units) for c, s in zip(state.corners_kg, state.corner_spread_kg, strict=True)),
        )
        for state in found.states
    )
    columns = ("car", "front axle", "rear axle", *CORNERS)
    return Table("Axles and corners", columns, rows, tuple(range(1, 7)), (), "it cannot be worked")


def springs_table(found: Weights, units: UnitSystem) -> Table:
    """Springs and dampers of each axle under the new weight."""

    def rate(n_mm: float) -> str:
        return f"{n_mm:.1f} N/mm" if units == "metric" else f"{n_mm * 25.4 / N_PER_POUND_FORCE:.0f} lbf/in"

    rows = []
    for one in found.springs:
        was = one.hz_before is not None
        sinks = "" if one.drop_mm is None or one.drop_spread_mm is None else (
            f"{length_words(one.drop_mm, units)} ± {length_words(one.drop_spread_mm, units)}"
        )  # fmt: skip
        rows.append(
            (
                one.end,
                rate(one.wheel_rate_n_mm),
                f"{one.hz_before:.2f} Hz" if was else "",
                f"{one.hz:.2f} Hz",
                f"{one.hz_laden:.2f} Hz" if one.hz_laden is not None else "",
                sinks,
                length_words(one.spacer_mm, units) if one.spacer_mm is not None else "",
                rate(one.new_rate_n_mm) if one.new_rate_n_mm is not None else "",
                f"{one.damping:.2f}" if one.damping is not None else "",
            )
        )
    columns = (
        "axle", "at the wheel", "ride before", "ride empty", "ride laden", "sinks by", "spacer", "or springs of",
        "damping ratio",
    )  # fmt: skip
    return Table("Springs", columns, tuple(rows), tuple(range(1, 9)), (), "none are told")


def brakes_table(found: Weights) -> Table:
    """Which axle locks first on a dry and on a slippery road."""
    rows, mood = [], []
    for one in found.braking:
        balanced = ", ".join(f"{z:.2f} g" for z in one.balanced_g)
        rows.append(
            (
                f"{one.state}, {'with' if one.regeneration else 'no'} regeneration",
                f"{one.dry.first} at {one.dry.at_g:.2f} g",
                f"{one.slippery.first} at {one.slippery.at_g:.2f} g",
                balanced or "nowhere",
            )
        )
        mood.append("bad" if one.dry.first == "rear" else "care" if one.slippery.first == "rear" else "")
    columns = ("car", "locks first, dry", "locks first, slippery", "both alike at")
    return Table("Brakes", columns, tuple(rows), (), tuple(mood), "none are told")


def moves_table(found: Weights, units: UnitSystem) -> Table:
    """What may be moved where, one move more at a time."""
    rows = tuple(
        (str(len(move.to)), f"{100.0 * move.front_share:.1f}", length_words(move.side_mm, units), move.words)
        for move in found.moves
    )
    wanted = "" if found.wanted_front is None else f", {split_words(found.wanted_front)} wanted"
    columns = ("moves", "front %", "to the left", "")
    return Table(f"What to move{wanted}", columns, rows, (0, 1, 2), (), "nothing in the ledger may be moved")
