"""Heat and cold of the cabin: its losses and the weather in, electric power out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.road.air import air_density_kg_m3

Array = NDArray[np.float64]
Number = float | Array
Curve = tuple[tuple[float, float], ...]

AIR_J_KG_K = 1006.0
PERSON_W = 100.0  # sensible heat of a seated person, ASHRAE Fundamentals (from memory)


@dataclass(frozen=True, eq=False)
class Cabin:
    """`heat_by_c` and `cool_by_c` give warmth or cold moved for each watt, against the temperature outside."""

    loss_w_k: Number
    fresh_m3_s: Number
    wanted_c: Number
    heat_most_w: Number  # electric; 0 where there is no heater
    cool_most_w: Number  # electric; 0 where there is no cooling
    heat_by_c: Curve
    cool_by_c: Curve
    sun_w: Number = 0.0  # through the glass, in the heat
    warms_j_k: Number = 0.0  # heat that trim and air take up once
    people: Number = 1.0
    comfort_k: float = 3.0  # this much over `wanted_c` before cooling is switched on


def _at(curve: Curve, temperature_c: ArrayLike) -> Array:
    t, value = np.array(curve).T
    return np.asarray(np.interp(np.asarray(temperature_c, dtype=float), t, value))


def heat_need_w(cabin: Cabin, temperature_c: ArrayLike) -> Array:
    """Heat that leaves the cabin at a temperature outside, W: (UA + rho V cp) dT. Below nought when it comes in."""
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray((cabin.loss_w_k + air_density_kg_m3(t) * cabin.fresh_m3_s * AIR_J_KG_K) * (cabin.wanted_c - t))


def cabin_power_w(cabin: Cabin, temperature_c: ArrayLike) -> Array:
    """Electric power that keeps the cabin as wanted, W, once it is; bounded by what is fitted."""
    t = np.asarray(temperature_c, dtype=float)
    need = heat_need_w(cabin, t)
    body = PERSON_W * np.asarray(cabin.people)
    heat = np.minimum(np.maximum(need - body, 0.0) / _at(cabin.heat_by_c, t), cabin.heat_most_w)
    cold = np.minimum(np.maximum(body + cabin.sun_w - need, 0.0) / _at(cabin.cool_by_c, t), cabin.cool_most_w)
    hot = t > np.asarray(cabin.wanted_c) + cabin.comfort_k
    return np.asarray(np.where(t < cabin.wanted_c, heat, np.where(hot, cold, 0.0)))


def warm_up_wh(cabin: Cabin, temperature_c: ArrayLike) -> Array:
    """Electric energy to bring a cold cabin to what is wanted, once a drive, Wh; nought without a heater."""
    t = np.asarray(temperature_c, dtype=float)
    rise = np.maximum(cabin.wanted_c - t, 0.0)
    fitted = np.asarray(cabin.heat_most_w) > 0.0
    return np.asarray(np.where(fitted, cabin.warms_j_k * rise / _at(cabin.heat_by_c, t) / 3600.0, 0.0))
