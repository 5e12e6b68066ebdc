"""Rows of the cutting table: how fast a cutter runs, what it takes. Kind and thickness in, row with its source out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import log

from halfshaft.build.catalogue import _missing, _source, _table
from halfshaft.checks import Source


@dataclass(frozen=True, slots=True)
class CuttingRow:
    """Feed in plain steel, wait after the torch is lit, heights of the torch over the plate."""

    process: str
    thickness_mm: float
    feed_mm_min: float
    pierce_s: float
    pierce_height_mm: float
    cut_height_mm: float
    source: Source


@dataclass(frozen=True, slots=True)
class UseRow:
    """What a cutter takes with the torch on; `stainless` and `aluminium` are feeds against plain steel."""

    process: str
    power_kw: float
    gas_l_min: float
    gas: str
    abrasive_kg_min: float
    wear_set: str
    wear_starts: float
    wear_minutes: float
    stainless: float
    aluminium: float
    source: Source

    def share_of_feed(self, material: str) -> float:
        """Feed in a material of the catalogue against that in plain steel."""
        known = {"stainless": self.stainless, "aluminium": self.aluminium}
        return next((share for name, share in known.items() if material.lower().startswith(name)), 1.0)


@cache
def cutting_rows(process: str) -> tuple[CuttingRow, ...]:
    """Rows of a kind of cutter, thinnest first; none for one that is guided by hand."""
    keys = ("thickness_mm", "feed_mm_min", "pierce_s", "pierce_height_mm", "cut_height_mm")
    rows = [
        CuttingRow(process, source=_source(row), **{key: float(row[key]) for key in keys})
        for row in _table("cutting").values()
        if row["process"] == process
    ]
    return tuple(sorted(rows, key=lambda row: row.thickness_mm))


def cutting_row(process: str, thickness_mm: float) -> CuttingRow:
    """The row at a thickness, between and past listed ones as powers of the thickness.

    Raises KeyError for a kind of cutter without rows.
    """
    rows = cutting_rows(process)
    if not rows:
        raise _missing("kind of cutter", process, ("plasma", "laser", "waterjet"))
    low, high = next(((a, b) for a, b in pairwise(rows) if thickness_mm <= b.thickness_mm), rows[-2:])
    share = log(thickness_mm / low.thickness_mm) / log(high.thickness_mm / low.thickness_mm)

    def between(key: str) -> float:
        a, b = float(getattr(low, key)), float(getattr(high, key))
        return a * float((b / a) ** share)

    keys = ("feed_mm_min", "pierce_s", "pierce_height_mm", "cut_height_mm")
    return CuttingRow(process, thickness_mm, source=low.source, **{key: between(key) for key in keys})


def use_row(process: str) -> UseRow:
    """What a kind of cutter takes. Raises KeyError for one that is not listed."""
    rows = _table("cutting_use")
    if process not in rows:
        raise _missing("kind of cutter", process, rows)
    row = rows[process]
    plain = {key: value for key, value in row.items() if key not in ("origin", "source")}
    return UseRow(process=process, source=_source(row), **plain)
