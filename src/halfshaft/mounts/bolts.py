"""What one bolt bears: bolt, plates and distances in; resistances of EN 1993-1-8 and their checks out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from halfshaft.build import catalogue
from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check, Severity
from halfshaft.mounts.thread import Thread, thread_of
from halfshaft.mounts.verdict import least, most, published, refused

_RULE = published("EN 1993-1-8:2005 table 3.4")
_PLACES = published("EN 1993-1-8:2005 table 3.3")
_THIN = 1e-9


@dataclass(frozen=True, slots=True)
class Bolt:
    """A bolt with its washer or head: all that a resistance asks of it."""

    name: str
    grade: str
    thread: Thread
    hole_mm: float
    bearing_mm: float  # mean of the width across points and flats of head or nut
    washer_mm: float
    yield_mpa: float
    ultimate_mpa: float
    threads_in_shear: float
    preloaded: bool = True

    @property
    def label(self) -> str:
        return f"{self.name} {self.grade}"


def bolt_of(name: str, grade: str, hole_mm: float | None = None) -> Bolt:
    """A bolt of the catalogue in its usual clearance hole, or the hole told.

    Raises KeyError with the nearest names; ValueError where the hole is under the shank.
    """
    row, strength = catalogue.bolt(name), rows.grade(grade)
    hole = row.clearance_mm if hole_mm is None else hole_mm
    if hole < row.shank_mm:
        raise ValueError(f"a hole of {hole:g} mm does not take a bolt {row.name}")
    flats = row.head_across_flats_mm
    return Bolt(
        row.name, grade, thread_of(name), hole, flats * (1.0 + 2.0 / math.sqrt(3.0)) / 2.0, row.washer_mm,
        strength.yield_mpa, strength.ultimate_mpa, strength.threads_in_shear, strength.preloaded,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spots:
    """Where a hole lies in its plate, mm, seen along the load: ends and rows. None: no edge or next hole there.

    `end` e1 and `pitch` p1 run along the load, `edge` e2 and `gauge` p2 across it.
    """

    end_mm: float | None = None
    edge_mm: float | None = None
    pitch_mm: float | None = None
    gauge_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Plate:
    """One ply: thickness in mm, strengths in MPa."""

    thickness_mm: float
    yield_mpa: float
    ultimate_mpa: float
    name: str = "plate"


def shear_n(bolt: Bolt, threads_in_plane: bool = True, planes: int = 1, packing_mm: float = 0.0) -> float:
    """Shear resistance, N, of all planes.

    `packing_mm` is the thickness of loose packs (3.6.1 (12)): over a third of the diameter they cost.
    Raises ValueError for no plane.
    Source: EN 1993-1-8:2005 table 3.4.
    """
    if planes < 1:
        raise ValueError("a bolt in shear has one plane at least")
    diameter = bolt.thread.diameter_mm
    share, area = (
        (bolt.threads_in_shear, bolt.thread.stress_area_mm2) if threads_in_plane else (0.6, bolt.thread.shank_area_mm2)
    )
    pack = min(1.0, 9.0 * diameter / (8.0 * diameter + 3.0 * packing_mm)) if packing_mm > diameter / 3.0 else 1.0
    return planes * pack * share * bolt.ultimate_mpa * area / rows.partial_factor("m2").value


def tension_n(bolt: Bolt, countersunk: bool = False) -> float:
    """Tension resistance, N. Source: EN 1993-1-8:2005 table 3.4, k2 0.9, countersunk 0.63."""
    share = 0.63 if countersunk else 0.9
    return share * bolt.ultimate_mpa * bolt.thread.stress_area_mm2 / rows.partial_factor("m2").value


def punching_n(bolt: Bolt, plate: Plate) -> float:
    """Punching shear of the plate under head or nut, N. Source: EN 1993-1-8:2005 table 3.4, Bp,Rd."""
    return 0.6 * math.pi * bolt.bearing_mm * plate.thickness_mm * plate.ultimate_mpa / rows.partial_factor("m2").value


def bearing_n(bolt: Bolt, plate: Plate, spots: Spots, hole: str = "round", single_row_lap: bool = False) -> float:
    """Bearing resistance of one hole, N.

    `hole` names the kind as in the catalogue's hole factors; across the load slots cost 0.6, oversize holes 0.8.
    `single_row_lap` caps a single lap with one bolt row (3.6.1 (10)): it wants washers under head and nut too.
    Zero where the hole breaks out of the plate. Raises KeyError for an unknown kind of hole.
    Source: EN 1993-1-8:2005 table 3.4 with notes.
    """
    rows.hole_factor(hole)
    alpha, k1 = bearing_factors(bolt, plate, spots)
    gamma = rows.partial_factor("m2").value
    full = k1 * alpha * plate.ultimate_mpa * bolt.thread.diameter_mm * plate.thickness_mm / gamma
    if hole == "oversize":
        full *= 0.8
    elif hole.endswith("across"):
        full *= 0.6
    if single_row_lap:
        full = min(full, 1.5 * plate.ultimate_mpa * bolt.thread.diameter_mm * plate.thickness_mm / gamma)
    return full


def bearing_factors(bolt: Bolt, plate: Plate, spots: Spots) -> tuple[float, float]:
    """alpha_b and k1 of table 3.4: the least over end and inner bolts, edge and inner rows."""
    hole = bolt.hole_mm
    along = [1.0, bolt.ultimate_mpa / plate.ultimate_mpa]
    if spots.end_mm is not None:
        along.append(spots.end_mm / (3.0 * hole))
    if spots.pitch_mm is not None:
        along.append(spots.pitch_mm / (3.0 * hole) - 0.25)
    across = [2.5]
    if spots.edge_mm is not None:
        across.append(2.8 * spots.edge_mm / hole - 1.7)
    if spots.gauge_mm is not None:
        across.append(1.4 * spots.gauge_mm / hole - 1.7)
    return max(0.0, min(along)), max(0.0, min(across))


def long_joint_factor(bolt: Bolt, length_mm: float) -> float:
    """What is left of shear in a joint over 15 d long. Source: EN 1993-1-8:2005 3.8, beta_Lf."""
    diameter = bolt.thread.diameter_mm
    return min(1.0, max(0.75, 1.0 - (length_mm - 15.0 * diameter) / (200.0 * diameter)))


def distance_checks(about: str, bolt: Bolt, spots: Spots, slotted: bool = False) -> tuple[Check, ...]:
    """Least distances of a hole. Source: EN 1993-1-8:2005 table 3.3 (slots: e3, e4 at least 1.5 d0)."""
    edge = 1.5 if slotted else 1.2
    asked: Sequence[tuple[str, float | None, float]] = (
        ("end distance along the load", spots.end_mm, edge),
        ("edge distance across the load", spots.edge_mm, edge),
        ("pitch along the load", spots.pitch_mm, 2.2),
        ("gauge across the load", spots.gauge_mm, 2.4),
    )
    return tuple(
        least(
            about, name, found, round(share * bolt.hole_mm, 6), "mm", _PLACES,
            f"Move the hole to {share * bolt.hole_mm:.1f} mm or more, or take a smaller bolt.",
        )
        for name, found, share in asked
        if found is not None
    )  # fmt: skip


def together(shear: float, shear_resistance: float, tension: float, tension_resistance: float) -> float:
    """Use of a bolt in shear and tension together, 1 at the limit. Source: EN 1993-1-8:2005 table 3.4, last row."""
    return shear / shear_resistance + tension / (1.4 * tension_resistance)


def bolt_checks(
    about: str,
    bolt: Bolt,
    plies: Sequence[tuple[Plate, Spots]],
    shear: float,
    tension: float,
    *,
    threads_in_plane: bool = True,
    planes: int = 1,
    hole: str = "round",
    single_row_lap: bool = False,
    countersunk: bool = False,
    packing_mm: float = 0.0,
) -> tuple[Check, ...]:
    """One bolt under shear and tension (N, prying in) through its plies, each told with where its hole lies in it.

    Raises ValueError for no ply, a negative load, or a load that is not a number.
    """
    if not plies:
        raise ValueError(f"{about}: a bolt without plies holds nothing")
    if not (shear >= 0.0 and tension >= 0.0) or math.isinf(shear + tension):
        raise ValueError(f"{about}: shear {shear!r} and tension {tension!r} must be finite and not negative")
    shear_rd = shear_n(bolt, threads_in_plane, planes, packing_mm)
    tension_rd = tension_n(bolt, countersunk)
    both = together(shear, shear_rd, tension, tension_rd)
    out = [
        most(about, "bolt in shear", shear, shear_rd, "N", _RULE, f"{_stronger(bolt)}, or more bolts."),
        most(about, "bolt in tension", tension, tension_rd, "N", _RULE, f"{_stronger(bolt)}, or more bolts."),
        most(about, "bolt in shear and tension", both, 1.0, "", _RULE, f"{_stronger(bolt)}, or more bolts."),
    ]
    for plate, spots in plies:
        out += _ply_checks(about, bolt, plate, spots, shear, tension, hole, single_row_lap)
    if bolt.grade == "12.9":
        out.append(
            most(
                about, "class 12.9 used", 12.9, 10.9, "", published("EN 1993-1-8:2005 table 3.1 ends with 10.9"),
                "Take 10.9 one size up: 12.9 breaks without warning where rust or plating feeds it hydrogen.",
                Severity.CAUTION,
            )
        )  # fmt: skip
    return tuple(out)


def _ply_checks(
    about: str, bolt: Bolt, plate: Plate, spots: Spots, shear: float, tension: float, hole: str, single: bool
) -> list[Check]:
    bears = bearing_n(bolt, plate, spots, hole, single)
    where = f"{about}, {plate.name}"
    out = list(distance_checks(where, bolt, spots, slotted="slot" in hole))
    if bears <= _THIN:
        return [
            *out,
            refused(where, "the hole breaks out of the plate", _RULE, "Move the hole inward, or take a smaller bolt."),
        ]
    thicker = plate.thickness_mm * shear / bears
    punch = punching_n(bolt, plate)
    thick = plate.thickness_mm * tension / punch
    return [
        *out,
        most(
            where, "bearing of the hole", shear, bears, "N", _RULE,
            f"Move the hole from the edge, or make the plate {thicker:.1f} mm or more.",
        ),
        most(
            where, "head pulled through the plate", tension, punch, "N", _RULE,
            f"Put a thick washer under the head, or make the plate {thick:.1f} mm or more.",
        ),
    ]  # fmt: skip


def _stronger(bolt: Bolt) -> str:
    return f"Take a bolt bigger than {bolt.name}" if bolt.grade in ("10.9", "12.9", "grade 8") else (
        f"Take a bolt bigger or of a higher class than {bolt.label}"
    )  # fmt: skip
