"""Range against steady speed, and against temperature, each with its 90 % band: inputs and spreads in, curves out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.road.band import Spread, draws
from halfshaft.road.cycles import Cycle, steady
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.reach import reach
from halfshaft.sure import TAILS

Array = NDArray[np.float64]

DRAWS = 64  # the same for each place along a curve, so that a band is smooth


@dataclass(frozen=True, eq=False, slots=True)
class Curve:
    """Range (k,) at places (k,), with its 5th and 95th hundredth; metres, and m/s or C along."""

    along: Array
    range_m: Array
    low_m: Array
    high_m: Array


def over_speed(told: Inputs, spreads: tuple[Spread, ...], speeds_m_s: ArrayLike, seed: int) -> Curve | None:
    """Range at steady speeds on the flat; None where there is none, or a car that never empties its pack."""
    speeds = np.asarray(speeds_m_s, dtype=float)
    here, now = assemble(told)
    car, day = assemble(_drawn(told, spreads, seed, 1))
    rows = []
    for speed in speeds:
        cycle = steady(float(speed))
        middle = float(reach(here, cycle, now).range_m[0])
        rows.append(
            _row(middle, float(reach(here, cycle, now, points=1).range_m[0]), reach(car, cycle, day, points=1).range_m)
        )
    return _curve(speeds, np.array(rows))


def over_temperature(
    told: Inputs, spreads: tuple[Spread, ...], cycle: Cycle, celsius: ArrayLike, seed: int
) -> Curve | None:
    """Range of a cycle on days of these temperatures, the pack as cold as the day and the temperature known."""
    days = np.asarray(celsius, dtype=float)
    sure = tuple(one for one in spreads if one.name != "temperature")
    plain = assemble(replace(told, temperature_c=days, pack_c=None))
    middle, one = reach(plain[0], cycle, plain[1]).range_m, reach(plain[0], cycle, plain[1], points=1).range_m
    each = replace(told, temperature_c=np.repeat(days, DRAWS), pack_c=None)
    car, day = assemble(_drawn(each, sure, seed, len(days)))
    metres = np.broadcast_to(reach(car, cycle, day, points=1).range_m, (len(days) * DRAWS,)).reshape(len(days), DRAWS)
    ends = np.quantile(metres, TAILS, axis=1) * middle / one
    return _curve(days, np.column_stack([middle, ends.T]))


def _drawn(told: Inputs, spreads: tuple[Spread, ...], seed: int, times: int) -> Inputs:
    """The inputs with all spreads drawn, the same draws so many times over."""
    for spread, column in zip(spreads, draws(len(spreads), seed, DRAWS).T, strict=True):
        told = spread.change(told, np.tile(column, times))
    return told


def _row(middle_m: float, one_m: float, drawn_m: Array) -> tuple[float, float, float]:
    """Draws use one charge, the middle three: the difference is the same for all of them."""
    low, high = np.quantile(drawn_m, TAILS) * middle_m / one_m
    return middle_m, float(low), float(high)


def _curve(along: Array, rows: Array) -> Curve | None:
    if not len(rows) or not np.all(np.isfinite(rows)):
        return None
    return Curve(along, rows[:, 0], rows[:, 1], rows[:, 2])
