"""Rows for bolts, welds and repeated loads: a name in, a row with its source out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from halfshaft.build.catalogue import _missing, _source, _table
from halfshaft.checks import Source


@dataclass(frozen=True, slots=True)
class ThreadRow:
    name: str
    pitch_mm: float
    source: Source


@dataclass(frozen=True, slots=True)
class GradeRow:
    """Strengths of a bolt; `threads_in_shear` is the share of tensile strength that its threads bear in shear."""

    name: str
    yield_mpa: float
    ultimate_mpa: float
    proof_mpa: float
    threads_in_shear: float
    preloaded: bool
    source: Source


@dataclass(frozen=True, slots=True)
class TorqueRow:
    """Nut factor K of T = K F d, and its spread: preload falls within 1 -+ spread of what K says."""

    name: str
    k: float
    spread: float
    source: Source


@dataclass(frozen=True, slots=True)
class EmbeddingRow:
    name: str
    threads_um: float
    each_bearing_um: float
    each_joint_um: float
    source: Source


@dataclass(frozen=True, slots=True)
class TappedRow:
    """Metal of a nut or tapped hole; `shear_share` of its tensile strength bears in shear."""

    name: str
    ultimate_mpa: float
    shear_share: float
    elastic_mpa: float
    source: Source


@dataclass(frozen=True, slots=True)
class RivetNutRow:
    name: str
    flange_mm: float
    torque_nm: float
    least_wall_mm: float
    proof_mpa: float
    source: Source


@dataclass(frozen=True, slots=True)
class WeldNutRow:
    name: str
    width_mm: float
    height_mm: float
    source: Source


@dataclass(frozen=True, slots=True)
class DetailRow:
    """Detail category, MPa at two million cycles; `kind` direct or shear, `stress` nominal or hot spot."""

    name: str
    category_mpa: float
    kind: str
    stress: str
    what: str
    source: Source


@dataclass(frozen=True, slots=True)
class DutyRow:
    """One kind of swing: shares of unit load cases at its low and high ends, so often in 100,000 km."""

    name: str
    per_100000_km: float
    low: Mapping[str, float]
    high: Mapping[str, float]
    source: Source


@dataclass(frozen=True, slots=True)
class StripRow:
    """A clamped strip pressed by a disc: by ratio of radius to half width, give times D / a^2 and peak moment, of 1."""

    ratio: tuple[float, ...]
    give: tuple[float, ...]
    moment: tuple[float, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class RubberRow:
    """A mount as it comes: stiffness (3,) N/mm and (3,) N m/deg, snubbers' free travel and stiffness, most travel."""

    name: str
    stiffness_n_mm: tuple[float, ...]
    turn_stiffness_nm_deg: tuple[float, ...]
    free_mm: tuple[float, ...] | None
    snubber_n_mm: tuple[float, ...]
    travel_mm: tuple[float, ...] | None
    what: str
    source: Source


@dataclass(frozen=True, slots=True)
class SoldRow:
    """Lengths under the head that bolts are sold in, rising; longer ones come by steps of `beyond_mm`."""

    name: str
    lengths_mm: tuple[float, ...]
    beyond_mm: float
    source: Source


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One number with its source."""

    name: str
    value: float
    source: Source


def _row(file: str, table: str, name: str, what: str) -> Mapping[str, Any]:
    rows = _table(file)[table]
    if name not in rows:
        raise _missing(what, name, (key for key, row in rows.items() if isinstance(row, Mapping)))
    found: Mapping[str, Any] = rows[name]
    return found


def _floats(row: Mapping[str, Any], *keys: str) -> dict[str, float]:
    return {key: float(row[key]) for key in keys}


@cache
def rubber(name: str) -> RubberRow:
    """A mount of the catalogue: 'solid', 'round bushing, firm', ... Raises KeyError with the nearest names."""
    row = _table("rubber").get(name)
    if row is None:
        raise _missing("mount of rubber", name, rubbers())

    def three(key: str) -> tuple[float, ...] | None:
        return tuple(float(x) for x in row[key]) if key in row else None

    return RubberRow(
        name, three("stiffness_n_mm") or (), three("turn_stiffness_nm_deg") or (), three("free_mm"),
        three("snubber_n_mm") or (0.0, 0.0, 0.0), three("travel_mm"), row["what"], _source(row),
    )  # fmt: skip


def rubbers() -> tuple[str, ...]:
    return tuple(_table("rubber"))


@cache
def thread(name: str) -> ThreadRow:
    """Thread of a bolt listed by `halfshaft.build.catalogue.bolt`. Raises KeyError with the nearest names."""
    row = _row("bolted", "thread", name, "thread")
    return ThreadRow(name, float(row["pitch_mm"]), _source(row))


@cache
def sold(system: str) -> SoldRow:
    """Lengths of bolts with 'metric' or 'inch' threads. Raises KeyError with the nearest names."""
    row = _row("bolted", "sold", system, "system of bolts")
    return SoldRow(system, tuple(float(v) for v in row["lengths_mm"]), float(row["beyond_mm"]), _source(row))


@cache
def grade(name: str) -> GradeRow:
    """Property class '8.8', '10.9', '12.9', 'grade 5', 'grade 8', 'A2-70'. Raises KeyError with the nearest names."""
    row = _row("bolted", "grade", name, "bolt grade")
    keys = ("yield_mpa", "ultimate_mpa", "proof_mpa", "threads_in_shear")
    return GradeRow(name, **_floats(row, *keys), preloaded=bool(row["preloaded"]), source=_source(row))


def grades() -> tuple[str, ...]:
    return tuple(_table("bolted")["grade"])


@cache
def torque_factor(name: str) -> TorqueRow:
    """Nut factor by how the thread is: 'dry, plain', 'oiled', ... Raises KeyError with the nearest names."""
    row = _row("bolted", "torque_factor", name, "state of the thread")
    return TorqueRow(name, **_floats(row, "k", "spread"), source=_source(row))


@cache
def embedding(name: str) -> EmbeddingRow:
    """Settling of the surfaces, 'axial', 'shear' or 'painted'. Raises KeyError with the nearest names."""
    row = _row("bolted", "embedding", name, "embedding")
    return EmbeddingRow(name, **_floats(row, "threads_um", "each_bearing_um", "each_joint_um"), source=_source(row))


@cache
def tapped(name: str) -> TappedRow:
    """Metal that a thread is cut into. Raises KeyError with the nearest names."""
    row = _row("bolted", "tapped", name, "tapped metal")
    return TappedRow(name, **_floats(row, "ultimate_mpa", "shear_share", "elastic_mpa"), source=_source(row))


@cache
def rivet_nut(name: str) -> RivetNutRow:
    """Blind rivet nut by its thread. Raises KeyError with the nearest names."""
    row = _row("bolted", "rivet_nut", name, "rivet nut")
    keys = ("flange_mm", "torque_nm", "least_wall_mm", "proof_mpa")
    return RivetNutRow(name, **_floats(row, *keys), source=_source(row))


@cache
def weld_nut(name: str) -> WeldNutRow:
    """Hexagon weld nut by its thread. Raises KeyError with the nearest names."""
    row = _row("bolted", "weld_nut", name, "weld nut")
    return WeldNutRow(name, **_floats(row, "width_mm", "height_mm"), source=_source(row))


@cache
def slip_factor(name: str) -> NumberRow:
    """Friction of the faying surfaces, 'A' to 'D' or 'painted'. Raises KeyError with the nearest names."""
    row = _row("bolted", "slip_factor", name, "class of surface")
    return NumberRow(name, float(row["value"]), _source(row))


@cache
def hole_factor(name: str) -> NumberRow:
    """What is left of slip resistance: 'round', 'oversize', 'short slot along', ... Raises KeyError with the names."""
    return _one_of("hole_factor", "kind of hole", name)


@cache
def partial_factor(name: str) -> NumberRow:
    """Partial factor 'm0', 'm1', 'm2', 'm3', 'm3_service'. Raises KeyError with the names."""
    return _one_of("partial", "partial factor", name)


def _one_of(table: str, what: str, name: str) -> NumberRow:
    """One number of a table whose numbers share one source. Raises KeyError with the names."""
    rows = _table("bolted")[table]
    known = [key for key in rows if key not in ("origin", "source")]
    if name not in known:
        raise _missing(what, name, known)
    return NumberRow(name, float(rows[name]), _source(rows))


@cache
def head_pressure(material: str) -> NumberRow:
    """Pressure in MPa that a sheet bears under a bolt head. Raises KeyError with the nearest names."""
    row = _row("bolted", "pressure", material, "pressure limit for")
    return NumberRow(material, float(row["limit_mpa"]), _source(row))


@cache
def wall_strip() -> StripRow:
    """Numbers of a tube's wall under a washer."""
    row = _table("bolted")["wall_strip"]
    ratio, give, moment = (tuple(float(x) for x in row[key]) for key in ("ratio", "give", "moment"))
    return StripRow(ratio, give, moment, _source(row))


def bolt_amplitude(diameter_mm: float) -> NumberRow:
    """Stress amplitude in MPa that a rolled thread bears for good."""
    row = _table("bolted")["bolt_fatigue"]
    value = float(row["base_mpa"]) * (float(row["over_diameter"]) / diameter_mm + float(row["plus"]))
    return NumberRow("thread", value, _source(row))


@cache
def weld_correlation(material: str) -> NumberRow:
    """Correlation factor of a fillet weld on a sheet of the catalogue. Raises KeyError with the nearest names."""
    row = _row("welded", "correlation", material, "weld correlation factor for")
    return NumberRow(material, float(row["beta"]), _source(row))


def correlated() -> tuple[str, ...]:
    """Sheets that have a weld correlation factor."""
    return tuple(_table("welded")["correlation"])


@cache
def weld_rule(table: str, key: str) -> NumberRow:
    """One number of the tables least_throat, least_leg, largest_throat, partial_penetration. Raises KeyError."""
    row = _table("welded")[table]
    return NumberRow(key, float(row[key]), _source(row))


@cache
def least_leg(thickness_mm: float) -> NumberRow:
    """Least leg of a fillet in mm by the thickness that counts."""
    rows = _table("welded")["least_leg"]
    leg = next(float(row["leg_mm"]) for row in rows["rows"] if thickness_mm <= float(row["up_to_mm"]))
    return NumberRow("least leg", leg, _source(rows))


@cache
def fatigue_factor(name: str) -> NumberRow:
    """Partial factor of fatigue strength: 'safe life, high' and its like. Raises KeyError with the nearest names."""
    row = _row("welded", "fatigue_factor", name, "fatigue factor")
    return NumberRow(name, float(row["value"]), _source(row))


@cache
def detail(name: str) -> DetailRow:
    """A detail category by its name. Raises KeyError with the nearest names."""
    row = _row("welded", "detail", name, "fatigue detail")
    return DetailRow(name, float(row["category_mpa"]), row["kind"], row["stress"], row["what"], _source(row))


def details() -> tuple[str, ...]:
    return tuple(_table("welded")["detail"])


@cache
def duty() -> tuple[DutyRow, ...]:
    """The swings of load to reckon with, where the builder tells none."""
    return tuple(
        DutyRow(
            name,
            float(row["per_100000_km"]),
            MappingProxyType({key: float(value) for key, value in row["low"].items()}),
            MappingProxyType({key: float(value) for key, value in row["high"].items()}),
            _source(row),
        )
        for name, row in _table("welded")["duty"].items()
    )


def named(table: str) -> tuple[str, ...]:
    """Names of the rows of a table of bolted.toml: 'torque_factor', 'slip_factor', 'tapped', ..."""
    return tuple(key for key, row in _table("bolted")[table].items() if isinstance(row, Mapping))
