"""Tables of the trade: a name in, a row with its source out. The rows are in the .toml files beside this one."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from rapidfuzz import process

from halfshaft.checks import Origin, Source


class NotListed(KeyError):
    """A name that the catalogue lacks; the text tells the nearest ones."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True, slots=True)
class DefaultRow:
    """A value used when the builder gives none, in `unit` ('mm', 'deg', 'N', '')."""

    key: str
    value: Any
    unit: str
    source: Source
    what: str


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """Spread in mm or degrees (`unit`), plus `per_metre` mm for each metre read: one standard deviation."""

    name: str
    unit: str
    spread: float
    per_metre: float
    kinds: tuple[str, ...]
    source: Source
    what: str = ""


@dataclass(frozen=True, slots=True)
class MaterialRow:
    name: str
    yield_mpa: float
    ultimate_mpa: float
    density_kg_m3: float
    elastic_mpa: float
    source: Source


@dataclass(frozen=True, slots=True)
class BoltRow:
    """Shank and clearance holes (close, usual, oversize), washer, hexagon and the socket that turns it."""

    name: str
    shank_mm: float
    close_mm: float
    clearance_mm: float
    oversize_mm: float
    washer_mm: float
    washer_thickness_mm: float
    head_across_flats_mm: float
    socket_mm: float
    source: Source


@dataclass(frozen=True, slots=True)
class SlipRow:
    """One way to misread; `weight` is its prior weight, `more` its further lists (steps, shares, pairs)."""

    name: str
    weight: float
    title: str
    what: str
    source: Source
    more: Mapping[str, tuple[Any, ...]]


@cache
def _table(name: str) -> Mapping[str, Mapping[str, Any]]:
    text = files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return MappingProxyType(tomllib.loads(text))


def _source(row: Mapping[str, Any]) -> Source:
    return Source(Origin(row["origin"]), row["source"])


def _missing(what: str, name: object, known: Iterable[str]) -> NotListed:
    names = list(known)
    near = [found for found, _, _ in process.extract(str(name), names, limit=3, score_cutoff=50)]
    tail = f"nearest: {', '.join(near)}" if near else f"there are: {', '.join(names[:12])}"
    return NotListed(f"no {what} '{name}' in the catalogue; {tail}")


@cache
def _defaults() -> Mapping[str, Mapping[str, Any]]:
    return MappingProxyType(
        {
            key: row
            for name in ("", "_road", "_pack", "_weights", "_sheets", "_book", "_cutter", "_choose")
            for key, row in _table(f"defaults{name}").items()
        }
    )


@cache
def default(key: str) -> DefaultRow:
    """The row of a default. Raises KeyError with the nearest keys."""
    rows = _defaults()
    if key not in rows:
        raise _missing("default", key, rows)
    row = rows[key]
    return DefaultRow(key, row["value"], row["unit"], _source(row), row["what"])


def default_keys() -> tuple[str, ...]:
    return tuple(_defaults())


@cache
def mount_load(key: str) -> DefaultRow:
    """A row of what loads a unit on its mounts: 'load.bump', 'crash.M1'. Raises KeyError with the nearest keys."""
    rows = _table("mount_loads")
    if key not in rows:
        raise _missing("row of loads on mounts", key, rows)
    row = rows[key]
    value = tuple(row["value"]) if isinstance(row["value"], list) else row["value"]
    return DefaultRow(key, value, row["unit"], _source(row), row["what"])


@cache
def instruments() -> Mapping[str, InstrumentRow]:
    """All instruments by name; for each kind of reading the first that lists it is its usual one."""
    return MappingProxyType(
        {
            name: InstrumentRow(
                name,
                row["unit"],
                float(row["spread"]),
                float(row["per_metre"]),
                tuple(row["kinds"]),
                _source(row),
                row["what"],
            )
            for name, row in _table("instruments").items()
        }
    )


def instrument(name: str) -> InstrumentRow:
    """The row of an instrument. Raises KeyError with the nearest names."""
    rows = instruments()
    if name not in rows:
        raise _missing("instrument", name, rows)
    return rows[name]


def materials() -> tuple[str, ...]:
    return tuple(_table("materials"))


def material(name: str) -> MaterialRow:
    """The row of a sheet's material. Raises KeyError with the nearest names."""
    rows = _table("materials")
    if name not in rows:
        raise _missing("material", name, rows)
    row = rows[name]
    keys = ("yield_mpa", "ultimate_mpa", "density_kg_m3", "elastic_mpa")
    return MaterialRow(name=name, source=_source(row), **{key: float(row[key]) for key in keys})


def bolts() -> tuple[str, ...]:
    return tuple(_table("bolts"))


def bolt(name: str) -> BoltRow:
    """The row of a bolt: 'M12', '1/2 in' (also 'm12', '1/2\"'). Raises KeyError with the nearest names."""
    rows = _table("bolts")
    plain = re.sub(r"\s+", " ", name.strip())
    if re.fullmatch(r"[mM] ?\d+", plain):
        plain = plain.upper().replace(" ", "")
    by_inch = re.fullmatch(r"(\d+/\d+) ?(?:in|inch|\"|″|”)?", plain)
    if by_inch:
        plain = f"{by_inch.group(1)} in"
    if plain not in rows:
        raise _missing("bolt", name, rows)
    row = rows[plain]
    keys = (
        "shank_mm", "close_mm", "clearance_mm", "oversize_mm", "washer_mm", "washer_thickness_mm",
        "head_across_flats_mm", "socket_mm",
    )  # fmt: skip
    return BoltRow(name=plain, source=_source(row), **{key: float(row[key]) for key in keys})


def gauges() -> Mapping[int, float]:
    """Gauge number -> thickness in mm."""
    return {int(number): float(mm) for number, mm in _table("gauges")["steel"]["thickness_mm"].items()}


def gauge(number: int) -> float:
    """Thickness in mm of uncoated sheet steel by gauge number. Raises KeyError with the range known."""
    known = gauges()
    if number not in known:
        low, high = min(known), max(known)
        raise NotListed(f"gauge {number} is not in the table for sheet steel ({low} to {high}): write the thickness")
    return known[number]


@cache
def wishes() -> Mapping[str, Mapping[str, float]]:
    """What the places of a unit are weighed by: each wish's weights by name, in the order of the table."""
    plain = {"origin", "source"}
    return MappingProxyType(
        {
            name: MappingProxyType({key: float(value) for key, value in row.items() if key not in plain})
            for name, row in _table("wishes").items()
        }
    )


@cache
def slips() -> Mapping[str, SlipRow]:
    """The ways a reading goes wrong by name, with their prior weights."""
    plain = {"weight", "title", "what", "origin", "source"}
    return MappingProxyType(
        {
            name: SlipRow(
                name,
                float(row["weight"]),
                row["title"],
                row["what"],
                _source(row),
                MappingProxyType({key: tuple(value) for key, value in row.items() if key not in plain}),
            )
            for name, row in _table("slips").items()
        }
    )
