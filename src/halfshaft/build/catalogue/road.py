"""Tables of the car on the road: tyres, shapes, packs, curves of cold and heat, cycles. A name in, its row out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from halfshaft.build.catalogue import _missing, _source, _table
from halfshaft.checks import Source

Curve = tuple[tuple[float, float], ...]

# what a builder writes -> the file beside this one in cycles/
CYCLES: Mapping[str, str] = MappingProxyType(
    {
        "wltc": "wltc-3b", "wltc-2": "wltc-2", "wltc-3a": "wltc-3a", "wltc-3b": "wltc-3b", "nedc": "nedc",
        "udds": "udds", "hwfet": "hwfet", "us06": "us06",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class TyreRow:
    name: str
    rolling: float
    spread: float
    source: Source


@dataclass(frozen=True, slots=True)
class ShapeRow:
    """Drag coefficient, its spread as a share, and how much of width times height the front view fills."""

    name: str
    drag: float
    spread: float
    fills: float
    source: Source


@dataclass(frozen=True, slots=True)
class PackCurveRow:
    """Open-circuit volts at even charges over the window used, and the highest volts, as shares of the mean."""

    name: str
    shares: tuple[float, ...]
    full: float
    cell_volts: float
    source: Source

    @property
    def curve(self) -> Curve:
        last = len(self.shares) - 1
        return tuple((n / last, share) for n, share in enumerate(self.shares))


@dataclass(frozen=True, slots=True)
class CurveRow:
    key: str
    points: Curve
    what: str
    source: Source


@dataclass(frozen=True, slots=True)
class MachineRow:
    """Loss numbers of a usual machine of `torque_nm`."""

    torque_nm: float
    copper: float
    iron: float
    windage: float
    fixed_w: float
    source: Source


def _row(table: str, what: str, name: str) -> Mapping[str, Any]:
    rows = _table(table)
    if name not in rows:
        raise _missing(what, name, rows)
    return rows[name]


def tyre_kinds() -> tuple[str, ...]:
    return tuple(_table("rolling"))


@cache
def tyre_kind(name: str) -> TyreRow:
    """The row of a kind of tyre. Raises KeyError with the nearest names."""
    row = _row("rolling", "kind of tyre", name)
    return TyreRow(name, float(row["rolling"]), float(row["spread"]), _source(row))


def shapes() -> tuple[str, ...]:
    return tuple(_table("shapes"))


@cache
def shape(name: str) -> ShapeRow:
    """The row of a shape. Raises KeyError with the nearest names."""
    row = _row("shapes", "shape", name)
    return ShapeRow(name, float(row["drag"]), float(row["spread"]), float(row["fills"]), _source(row))


def pack_curves() -> tuple[str, ...]:
    return tuple(_table("pack_curves"))


@cache
def pack_curve(name: str) -> PackCurveRow:
    """The row of a pack's curve. Raises KeyError with the nearest names."""
    row = _row("pack_curves", "curve of a pack", name)
    shares = tuple(float(share) for share in row["shares"])
    return PackCurveRow(name, shares, float(row["full"]), float(row["cell_volts"]), _source(row))


@cache
def road_curve(key: str) -> CurveRow:
    """A curve of the road: 'pack.energy', 'cabin.cooling'. Raises KeyError with the nearest keys."""
    row = _row("road_curves", "curve", key)
    points = tuple((float(x), float(y)) for x, y in row["points"])
    return CurveRow(key, points, row["what"], _source(row))


@cache
def machine(name: str = "usual") -> MachineRow:
    """The row of a machine. Raises KeyError with the nearest names."""
    row = _row("machine", "machine", name)
    keys = ("torque_nm", "copper", "iron", "windage", "fixed_w")
    return MachineRow(source=_source(row), **{key: float(row[key]) for key in keys})


def cycle_text(name: str) -> tuple[str, str]:
    """A cycle's own name and its table as text. Raises KeyError with the names there are."""
    key = CYCLES.get(name.strip().lower().replace(" ", "-").replace("_", "-"))
    if key is None:
        raise _missing("cycle", name, CYCLES)
    return key, files(__package__).joinpath("cycles", f"{key}.csv").read_text(encoding="utf-8")
