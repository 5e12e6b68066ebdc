"""What is aimed at in words and in the builder's units. A row and an aim in; text and a number to draw out."""

from __future__ import annotations

import math

from scipy.constants import mile, mph

from halfshaft.build.choose import Aim
from halfshaft.build.moving_units import format_speed, format_way
from halfshaft.build.units import KG_PER_POUND
from halfshaft.build.value import UnitSystem
from halfshaft.choose.model import Driven
from halfshaft.weights.words import mass_words

NEVER = "never"


def title_of(aim: Aim, units: UnitSystem, money: str) -> str:
    """The aim with its unit, as a column's head or an axis's name."""
    metric = units == "metric"
    return {
        "range": f"range, {'km' if metric else 'mi'}",
        "weight": f"empty car, {'kg' if metric else 'lb'}",
        "hundred": "0 to 100 km/h, s",
        "top": f"top speed, {'km/h' if metric else 'mph'}",
        "cost": f"cost{', ' + money if money else ''}",
        "charge": "10 to 80 %, min",
    }[aim]


def number_of(row: Driven, aim: Aim, units: UnitSystem) -> float:
    """The number that goes with that title."""
    metric = units == "metric"
    return {
        "range": row.range_m / (1000.0 if metric else mile),
        "weight": row.weight_kg / (1.0 if metric else KG_PER_POUND),
        "hundred": row.hundred_s,
        "top": row.top_m_s / (1.0 / 3.6 if metric else mph),
        "cost": row.cost,
        "charge": row.charge_s / 60.0,
    }[aim]


def words_of(row: Driven, aim: Aim, units: UnitSystem, money: str) -> str:
    """The number with its unit."""
    if not math.isfinite(number_of(row, aim, units)):
        return NEVER if aim in ("hundred", "charge") else "without end"
    if aim == "range":
        return format_way(row.range_m, units)
    if aim == "weight":
        return mass_words(row.weight_kg, units)
    if aim == "top":
        return format_speed(row.top_m_s, units)
    if aim == "cost":
        spread = f" ± {row.cost_spread:,.0f}" if row.cost_spread else ""
        return f"{money} {row.cost:,.0f}{spread}".strip()
    return f"{row.hundred_s:.1f} s" if aim == "hundred" else f"{row.charge_s / 60.0:.0f} min"
