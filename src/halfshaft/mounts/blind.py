"""Ways to bolt to a closed tube: bolt, tube and load in; for each way its torque, what limits it, and checks out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.catalogue.mounts import TappedRow
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.mounts.bolts import Bolt, Plate
from halfshaft.mounts.crush import (
    SQUASH_RULE,
    WALL_RULE,
    Tube,
    buckling_share,
    pull_out_n,
    squash_n,
    wall_strength,
)
from halfshaft.mounts.engagement import stripping_n
from halfshaft.mounts.thread import Thread
from halfshaft.mounts.tighten import Preload, permitted_preload_n, preload_from_torque, torque_for_most_nm
from halfshaft.mounts.verdict import GEOMETRY, least, most, practice, published, told

_TIGHT = published("VDI 2230-1 (R7), 0.9 of the yield strength")
_OUT = Source(
    Origin.DERIVED, "wall drawn out by the nut: first yield of a clamped strip, and EN 1993-1-8:2005 punching"
)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to fasten to a tube. Forces N. `limited_by` names what sets the preload, and so the torque."""

    kind: str
    preload: Preload
    limits_n: Mapping[str, float]
    pull_out_n: float
    checks: tuple[Check, ...]

    @property
    def torque_nm(self) -> float:
        return self.preload.torque_nm

    @property
    def limited_by(self) -> str:
        return min(self.limits_n, key=self.limits_n.__getitem__)

    @property
    def ok(self) -> bool:
        return all(check.ok for check in self.checks if check.severity is Severity.STOP)


@dataclass(frozen=True, slots=True)
class Sleeve:
    """A tube about the bolt between the walls: diameters mm, yield MPa."""

    outer_mm: float
    inner_mm: float
    yield_mpa: float
    elastic_mpa: float = 210000.0

    def __post_init__(self) -> None:
        if not 0.0 < self.inner_mm < self.outer_mm:
            raise ValueError(f"a sleeve of {self.outer_mm:g} mm outside cannot be {self.inner_mm:g} mm inside")

    @property
    def area_mm2(self) -> float:
        return math.pi / 4.0 * (self.outer_mm**2 - self.inner_mm**2)

    @property
    def wall_mm(self) -> float:
        return (self.outer_mm - self.inner_mm) / 2.0


def sleeve_n(sleeve: Sleeve, length_mm: float) -> float:
    """Load along a crush tube that it bears, N: yield, buckling as a pinned strut, crinkling of a thin wall.

    Raises ValueError for a length that is not positive.
    Source: EN 1993-1-1:2005 6.3.1.2 curve c; table 5.2, round tubes: past d / t = 90 times 235 / fy cut in proportion.
    """
    if length_mm <= 0.0:
        raise ValueError("a crush tube wants a length")
    turning = math.sqrt(sleeve.outer_mm**2 + sleeve.inner_mm**2) / 4.0
    thin = min(1.0, 90.0 * 235.0 / sleeve.yield_mpa * sleeve.wall_mm / sleeve.outer_mm)
    whole = sleeve.area_mm2 * sleeve.yield_mpa / rows.partial_factor("m1").value
    return thin * buckling_share(length_mm, turning, sleeve.yield_mpa, sleeve.elastic_mpa) * whole


def through_bolt(
    about: str, bolt: Bolt, tube: Tube, washer_mm: float, state: str, pull_n: float, clamp_wanted_n: float
) -> Way:
    """A bolt through both walls of an empty tube: the walls bear the whole bolt force, pull included."""
    wall, squash = wall_strength(tube, washer_mm), squash_n(tube, washer_mm)
    limits = {
        "bolt": _bolt_limit(bolt, state),
        "first yield of the wall": max(0.0, wall.first_yield_n - pull_n),
        "side walls": max(0.0, squash - pull_n),
    }
    preload = _preload(bolt.thread, limits, state)
    wide = 2.0 * tube.half_span_mm
    checks = [
        most(
            about, "wall of the empty tube under preload and pull", preload.high_n + pull_n,
            wall.first_yield_n, "N", WALL_RULE,
            f"Put in a crush tube or a nut plate, or a stiff washer plate {wide:.0f} mm wide that stands on the side "
            "walls.",
        ),
        most(
            about, "side walls of the tube", preload.high_n + pull_n, squash, "N", SQUASH_RULE,
            "Put in a crush tube, or a washer plate longer along the tube.",
        ),
        _clamp_check(about, preload, limits, clamp_wanted_n),
    ]  # fmt: skip
    return Way(
        "through bolt, empty tube", preload, limits, min(limits["bolt"], squash, wall.first_yield_n), tuple(checks)
    )


def crush_tube(
    about: str, bolt: Bolt, tube: Tube, sleeve: Sleeve, washer_mm: float, state: str, pull_n: float,
    clamp_wanted_n: float,
) -> Way:  # fmt: skip
    """A bolt through a crush tube as long as the tube is high inside: the walls are pressed straight onto it."""
    stands = sleeve_n(sleeve, tube.inside_mm)
    pressed = sleeve.area_mm2 * min(sleeve.yield_mpa, tube.yield_mpa)
    limits = {"bolt": _bolt_limit(bolt, state), "crush tube": stands, "wall on the crush tube": pressed}
    preload = _preload(bolt.thread, limits, state)
    rule = published("EN 1993-1-1:2005 6.3.1, curve c")
    checks = [
        most(
            about, "crush tube under preload", preload.high_n, stands, "N", rule,
            "Take a crush tube with a thicker wall.",
        ),
        least(
            about, "washer over the crush tube", washer_mm, sleeve.outer_mm, "mm",
            practice("a washer narrower than the crush tube bends the wall over its edge"),
            f"Take a washer of {sleeve.outer_mm:.0f} mm or more, thick and hard.", Severity.CAUTION,
        ),
        least(
            about, "bolt inside the crush tube", sleeve.inner_mm, bolt.thread.diameter_mm, "mm",
            GEOMETRY, "Take a crush tube with a wider bore.",
        ),
        most(
            about, "crush tube inside the tube", sleeve.outer_mm, 2.0 * tube.half_span_mm, "mm",
            GEOMETRY, "Take a narrower crush tube.",
        ),
        told(
            about, "length of the crush tube", practice("faced to length on the lathe or a square grinder"),
            f"Face both ends square to {tube.inside_mm:.1f} mm, up to 0.2 mm over, never under: a short one lets the "
            "walls bend first. Tack it so that it stays in line.", tube.inside_mm, "mm",
        ),
        most(
            about, "bolt's force kept by the clamp", pull_n, preload.low_n, "N", WALL_RULE,
            "Tighten to more, with a thicker crush tube or a bigger bolt: once open, the far wall bends.",
        ),
        _clamp_check(about, preload, limits, clamp_wanted_n),
    ]  # fmt: skip
    return Way("crush tube", preload, limits, min(limits["bolt"], stands), tuple(checks))


def nut_plate(
    about: str, bolt: Bolt, tube: Tube, metal: TappedRow, thickness_mm: float, width_mm: float, state: str,
    pull_n: float, clamp_wanted_n: float,
) -> Way:  # fmt: skip
    """A tapped plate behind one wall: the wall is clamped, not bent; the pull draws plate and wall outward.

    Raises ValueError for a plate that does not fit in the tube or has no size.
    """
    return _behind(
        "nut plate", about, bolt, tube, metal, thickness_mm, width_mm, state, pull_n, clamp_wanted_n,
        f"Take a nut plate {width_mm:.0f} mm wide farther to the side walls, thicker, or a crush tube.",
    )  # fmt: skip


def weld_nut(about: str, bolt: Bolt, tube: Tube, state: str, pull_n: float, clamp_wanted_n: float) -> Way:
    """A hexagon nut welded behind one wall. Raises KeyError for a size that has no row."""
    row = rows.weld_nut(bolt.name)
    return _behind(
        "weld nut", about, bolt, tube, rows.tapped("nut of class 8"), row.height_mm, row.width_mm, state, pull_n,
        clamp_wanted_n, "Take a nut plate wide enough to reach the side walls, or a crush tube.",
    )  # fmt: skip


def rivet_nut(about: str, bolt: Bolt, tube: Tube, state: str, pull_n: float, clamp_wanted_n: float) -> Way:
    """A blind rivet nut in one wall, for light things. Raises KeyError for a size that has no row."""
    row = rows.rivet_nut(bolt.name)
    wall = Plate(tube.wall_mm, tube.yield_mpa, tube.ultimate_mpa)
    of_torque = row.torque_nm * 1000.0 / (rows.torque_factor(state).k * bolt.thread.diameter_mm)
    spread = 1.0 + rows.torque_factor(state).spread
    proof = row.proof_mpa * bolt.thread.stress_area_mm2
    limits = {
        "bolt": _bolt_limit(bolt, state),
        "torque of the rivet nut": of_torque * spread,
        "thread of the rivet nut": proof,
    }
    preload = _preload(bolt.thread, limits, state)
    out = min(pull_out_n(wall, tube.half_span_mm, row.flange_mm), proof)
    checks = [
        most(
            about, "rivet nut drawn out of the wall", pull_n, out, "N", _OUT,
            "Take a nut plate or a crush tube: a rivet nut is for light brackets.",
        ),
        most(
            about, "torque on the rivet nut", preload.torque_nm, row.torque_nm, "N m", row.source,
            "Tighten to the torque told here and no more: it turns in its hole.",
        ),
        least(
            about, "wall for the rivet nut", tube.wall_mm, row.least_wall_mm, "mm", row.source,
            "Take one made for thinner sheet.", Severity.CAUTION,
        ),
        _clamp_check(about, preload, limits, clamp_wanted_n),
    ]  # fmt: skip
    return Way("rivet nut", preload, limits, out, tuple(checks))


def best_first(ways: Sequence[Way]) -> tuple[Way, ...]:
    """Those that hold first, then by the preload they keep."""
    return tuple(sorted(ways, key=lambda way: (not way.ok, -way.preload.low_n)))


def _behind(
    kind: str, about: str, bolt: Bolt, tube: Tube, metal: TappedRow, thickness: float, width: float, state: str,
    pull: float, clamp_wanted: float, do: str,
) -> Way:  # fmt: skip
    if thickness <= 0.0 or width <= bolt.hole_mm:
        raise ValueError(f"{about}: a {kind} {width:g} mm wide and {thickness:g} mm thick holds no {bolt.name}")
    if width > 2.0 * tube.half_span_mm:
        raise ValueError(f"{about}: a {kind} {width:g} mm wide does not go into {2.0 * tube.half_span_mm:g} mm")
    wall = Plate(tube.wall_mm, tube.yield_mpa, tube.ultimate_mpa)
    # a nut's chamfer is within its height class; a plate loses its run-in
    strips = stripping_n(bolt.thread, metal, bolt.ultimate_mpa, thickness + 2.0 * bolt.thread.pitch_mm)
    if kind != "weld nut":
        strips = stripping_n(bolt.thread, metal, bolt.ultimate_mpa, thickness)
    limits = {"bolt": _bolt_limit(bolt, state), f"thread of the {kind}": strips}
    preload = _preload(bolt.thread, limits, state)
    out = pull_out_n(wall, tube.half_span_mm, width)
    checks = [
        most(
            about, f"{kind} drawn out through the wall", pull, out, "N", _OUT, do,
        ),
        most(
            about, f"thread of the {kind}", max(preload.high_n, pull), strips, "N",
            published("VDI 2230-1 5.5.5, stripping"), "Take a thicker one of a stronger metal.",
        ),
        _clamp_check(about, preload, limits, clamp_wanted),
    ]  # fmt: skip
    return Way(kind, preload, limits, min(out, strips), tuple(checks))


def _bolt_limit(bolt: Bolt, state: str) -> float:
    return permitted_preload_n(bolt.thread, bolt.yield_mpa, friction_of(bolt, rows.torque_factor(state).k))


def friction_of(bolt: Bolt, k: float) -> float:
    """The one friction of thread and head that makes a nut factor, by VDI 2230-1 (R13/1); at least zero."""
    thread, ring = bolt.thread, (bolt.bearing_mm + bolt.hole_mm) / 2.0
    arm = thread.pitch_diameter_mm / (2.0 * math.cos(math.radians(30.0))) + ring / 2.0
    return max(0.0, (k * thread.diameter_mm - thread.pitch_mm / (2.0 * math.pi)) / arm)


def _preload(thread: Thread, limits: Mapping[str, float], state: str) -> Preload:
    most_n = min(limits.values()) * (1.0 - 1e-9)  # a limit met to the last digit still holds
    return preload_from_torque(thread, torque_for_most_nm(thread, most_n, state), state)


def _clamp_check(about: str, preload: Preload, limits: Mapping[str, float], wanted: float) -> Check:
    by = min(limits, key=limits.__getitem__)
    return least(
        about, f"least clamp at {preload.torque_nm:.0f} N m, limited by the {by.removeprefix('the ')}", preload.low_n,
        wanted, "N", _TIGHT if by == "bolt" else WALL_RULE,
        "Take another way to fasten, a bigger bolt, or more bolts.",
    )  # fmt: skip
