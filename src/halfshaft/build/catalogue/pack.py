"""Tables of the pack: chemistries with open-circuit volts and resistance, modules. A name in, its row out."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from halfshaft.build.catalogue import _missing, _source, _table
from halfshaft.checks import Source

Three = tuple[float, float, float]
Curve = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class CellRow:
    """A chemistry: volts of one cell, charge used, resistance in ohm Ah, rates in 1/h, allowance for age."""

    name: str
    charge: tuple[float, ...]  # of the open-circuit volts, 0 to 1
    volts: tuple[float, ...]
    least_volts: float
    most_volts: float
    window: tuple[float, float]
    ohm_ah: float
    resistance_charge: tuple[float, ...]
    resistance_celsius: tuple[float, ...]
    resistance_times: tuple[tuple[float, ...], ...]  # a row for each temperature
    peak_rate: float
    lasting_rate: float
    charge_rate: float
    faded: float
    grown: float
    source: Source
    resistance_source: Source


@dataclass(frozen=True, slots=True)
class ModuleRow:
    """A module by its usual outside; terminals from its rear right lower corner."""

    name: str
    chemistry: str
    series: int
    parallel: int
    charge_ah: float
    resistance_ohm: float
    size_mm: Three
    mass_kg: float
    minus_mm: Three
    plus_mm: Three
    terminal_face: str
    may_look_up: tuple[str, ...]
    cools: str
    source: Source


def cells() -> tuple[str, ...]:
    return tuple(_table("cells"))


@cache
def _volts() -> Mapping[str, tuple[float, ...]]:
    text = files(__package__).joinpath("cell_ocv.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    return MappingProxyType({key: tuple(float(row[key]) for row in rows) for key in rows[0]})


@cache
def cell(name: str) -> CellRow:
    """The row of a chemistry. Raises KeyError with the nearest names."""
    row = _row("cells", "chemistry of cells", name)
    more = _row("cell_resistance", "table of resistance", row["resistance"])
    volts = _volts()
    plain = ("least_volts", "most_volts", "ohm_ah", "peak_rate", "lasting_rate", "charge_rate", "faded", "grown")
    low, high = (float(value) for value in row["window"])
    return CellRow(
        name=name,
        charge=volts["soc"],
        volts=volts[row["column"]],
        window=(low, high),
        resistance_charge=tuple(map(float, more["charge"])),
        resistance_celsius=tuple(map(float, more["celsius"])),
        resistance_times=tuple(tuple(map(float, line)) for line in more["times"]),
        source=_source(row),
        resistance_source=_source(more),
        **{key: float(row[key]) for key in plain},
    )


def modules() -> tuple[str, ...]:
    return tuple(_table("modules"))


@cache
def module(name: str) -> ModuleRow:
    """The row of a module. Raises KeyError with the nearest names."""
    row = _row("modules", "module", name)
    return ModuleRow(
        name=name,
        chemistry=row["chemistry"],
        series=int(row["series"]),
        parallel=int(row["parallel"]),
        charge_ah=float(row["charge_ah"]),
        resistance_ohm=float(row["resistance_ohm"]),
        size_mm=_three(row["size_mm"]),
        mass_kg=float(row["mass_kg"]),
        minus_mm=_three(row["minus_mm"]),
        plus_mm=_three(row["plus_mm"]),
        terminal_face=row["terminal_face"],
        may_look_up=tuple(row["may_look_up"]),
        cools=row["cools"],
        source=_source(row),
    )


@cache
def pack_share(key: str) -> tuple[Curve, Source]:
    """Share of a current against temperature: 'charge', 'discharge'. Raises KeyError with the nearest keys."""
    row = _row("pack_shares", "curve of a pack", key)
    return tuple((float(x), float(y)) for x, y in row["points"]), _source(row)


def _row(table: str, what: str, name: str) -> Mapping[str, Any]:
    rows = _table(table)
    if name not in rows:
        raise _missing(what, name, rows)
    return rows[name]


def _three(values: Any) -> Three:
    x, y, z = (float(value) for value in values)
    return x, y, z
