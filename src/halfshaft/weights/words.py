"""Masses and lengths in the builder's units, for sentences."""

from __future__ import annotations

from halfshaft.build.units import KG_PER_POUND, format_length
from halfshaft.build.value import UnitSystem

CARE = (
    "Axles, tyres, springs and brakes carry people: have a change of weight judged as local rules ask, and try the "
    "brakes off the public road first."
)


def mass_words(mass_kg: float, units: UnitSystem) -> str:
    return f"{mass_kg:.0f} kg" if units == "metric" else f"{mass_kg / KG_PER_POUND:.0f} lb"


def length_words(length_mm: float, units: UnitSystem) -> str:
    """To the millimetre, or the 32nd of an inch."""
    return f"{length_mm:.0f} mm" if units == "metric" else format_length(length_mm, units)


def split_words(front_share: float) -> str:
    """'47/53', front and rear."""
    front = round(100.0 * front_share)
    return f"{front}/{100 - front}"
