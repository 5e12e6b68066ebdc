"""Edits of the ledger as values to save: what was typed or dragged in, paths and values of build.toml out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from halfshaft.bench.typed import value_of
from halfshaft.build import Build
from halfshaft.build.units import KG_PER_POUND, length_to_write
from halfshaft.build.value import UnitSystem
from halfshaft.weights.moved import own_things

Keys = tuple[str | int, ...]
Thing = tuple[str, str]
Spot = tuple[float, float, float]
FIELD = {"out": "out", "in": "into", "load": "load"}


def rows_of(build: Build) -> list[Thing]:
    """Table and name of every row that the builder wrote."""
    return [(table, name) for table, name, _ in build.weights.items] if build.weights is not None else []


def row_of(build: Build, thing: Thing) -> Any:
    """The row as it is told. Raises KeyError where there is none."""
    return getattr(build.weights, FIELD[thing[0]])[thing[1]]


def mass_text(build: Build, thing: Thing, units: UnitSystem) -> str:
    kilos = row_of(build, thing).mass_kg
    return f"{kilos:.4g} kg" if units == "metric" else f"{kilos / KG_PER_POUND:.4g} lb"


def place_text(build: Build, thing: Thing, units: UnitSystem) -> str:
    """A place or point by its name, or three lengths."""
    one = row_of(build, thing)
    if one.place is not None:
        return str(one.place)
    if isinstance(one.at, str) or one.at is None:
        return one.at or ""
    if units == "metric":
        return ", ".join(f"{v + 0.0:g}" for v in (round(v, 1) for v in one.at))
    return ", ".join(str(length_to_write(v, units)) for v in one.at)


def mass_values(thing: Thing, text: str, build: Build, units: UnitSystem) -> dict[Keys, Any]:
    return {("weights", *thing, "mass"): _with_unit(value_of(text), "kg", "lb", build, units)}


def place_values(thing: Thing, text: str, build: Build, units: UnitSystem) -> dict[Keys, Any]:
    """A name of [weights.place], a measured point, or forward, left, up told apart by commas."""
    told = build.weights
    bare = text.strip()
    place = told is not None and bare in told.place
    parts = [part.strip() for part in bare.split(",")]
    at: Any = bare
    if len(parts) > 1:
        at = [_with_unit(value_of(part), "mm", "in", build, units) for part in parts]
    return _stands(thing, build, bare if place else None, None if place else at)


def moved_values(moved: Mapping[Thing, Spot | str], build: Build) -> dict[Keys, Any]:
    """Places of things that were moved by hand, those of the pack's own layout left out."""
    own, found = own_things(build), dict[Keys, Any]()
    for thing, to in moved.items():
        if thing in own:
            place = to if isinstance(to, str) else None
            at = None if isinstance(to, str) else [_written(v, build) for v in to]
            found |= _stands(thing, build, place, at)
    return found


def _stands(thing: Thing, build: Build, place: str | None, at: Any) -> dict[Keys, Any]:
    """A row stands in a place or at a spot, never both; a key that it does not have is not taken away."""
    one = row_of(build, thing) if thing in rows_of(build) else None
    path: Keys = ("weights", *thing)
    found: dict[Keys, Any] = {}
    if place is not None or (one is not None and one.place is not None):
        found[(*path, "place")] = place
    if at is not None or (one is not None and one.at is not None):
        found[(*path, "at")] = at
    return found


def _with_unit(value: Any, metric: str, inch: str, build: Build, units: UnitSystem) -> Any:
    """A bare number is in the units shown, which may not be those of the build."""
    if isinstance(value, str) or value is None or units == build.build.units:
        return value
    return f"{value} {metric if units == 'metric' else inch}"


def _written(length_mm: float, build: Build) -> Any:
    if build.build.units != "metric":
        return length_to_write(length_mm, "inch")
    whole = round(length_mm)
    return whole if math.isclose(whole, length_mm, abs_tol=0.05) else round(length_mm, 1)
