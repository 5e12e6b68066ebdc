"""How far it goes: a car, a cycle and a day in; range and use out, from full to empty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.road.car import Car, Day, count
from halfshaft.road.cycles import Cycle
from halfshaft.road.spent import Spent, spend

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Reach:
    """Range (n,) of n cars that repeat a cycle until the window of charge is used up; infinite where they use nothing.

    `wh_km` is net at the pack's terminals over the whole drive, what warms the cabin through included; `spent` is one
    cycle at half charge.
    """

    cycle: str
    range_m: Array
    wh_km: Array
    spent: Spent


def reach(car: Car, cycle: Cycle, day: Day | None = None, points: int = 3) -> Reach:
    """Range by Gauss's rule over charge: metres = ∫ dE / (energy a metre at that charge).

    Volts fall with charge, so that currents and heat rise: each of `points` charges is driven over the whole cycle.
    """
    day = day or Day()
    cars = count(car, day)
    nodes, weights = np.polynomial.legendre.leggauss(points)
    charges, weights = 0.5 * (nodes + 1.0), 0.5 * weights
    soc, share = np.array(car.supply.curve).T
    mean = np.trapezoid(share, soc)
    energy = np.broadcast_to(np.asarray(car.supply.energy_wh, dtype=float), (cars,))
    once = np.minimum(np.broadcast_to(np.asarray(day.once_wh, dtype=float), (cars,)), energy)
    metres, terminal = np.zeros(cars), np.zeros(cars)
    middle: Spent | None = None
    for charge, weight in zip(charges, weights, strict=True):
        one = spend(car, cycle, day, float(charge))
        part = energy * weight * np.interp(charge, soc, share) / mean
        with np.errstate(divide="ignore"):
            per_m = one.inside_wh / one.distance_m
            went = np.where(per_m > 0.0, part / np.where(per_m > 0.0, per_m, 1.0), np.inf)
        metres = metres + went
        terminal = terminal + np.where(np.isfinite(went), went * one.terminal_wh / one.distance_m, 0.0)
        if abs(charge - 0.5) < 1e-9 or middle is None:
            middle = one
    assert middle is not None
    left = (energy - once) / energy
    range_m = metres * left
    with np.errstate(invalid="ignore", divide="ignore"):
        used = np.where(
            np.isfinite(range_m) & (range_m > 0.0),
            (terminal * left + once) / np.maximum(range_m, 1e-9) * 1000.0,
            middle.terminal_wh / middle.distance_m * 1000.0,
        )
    return Reach(cycle.name, range_m, used, middle)
