"""Joints that hold by friction: preload and surfaces in; slip resistance and its check out."""

from __future__ import annotations

from dataclasses import dataclass

from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check
from halfshaft.mounts.bolts import Bolt
from halfshaft.mounts.verdict import most, published, refused

_RULE = published("EN 1993-1-8:2005 3.9")


def full_preload_n(bolt: Bolt) -> float:
    """Preload Fp,C of controlled tightening, N.

    Raises ValueError for a bolt that the standard does not let be preloaded.
    Source: EN 1993-1-8:2005 3.9.1 (2): 0.7 fub As, classes 8.8 and 10.9.
    """
    if not bolt.preloaded:
        raise ValueError(f"{bolt.label}: only classes 8.8 and 10.9 are preloaded by EN 1993-1-8 3.9")
    return 0.7 * bolt.ultimate_mpa * bolt.thread.stress_area_mm2


@dataclass(frozen=True, slots=True)
class Friction:
    """What a bolt grips by: class of the faces, kind of hole, friction planes.

    `in_service`: category B, slip barred in service only; else category C, slip barred for good.
    """

    surface: str
    hole: str = "round"
    planes: int = 1
    in_service: bool = False


def slip_n(preload_n: float, friction: Friction, tension_n: float = 0.0) -> float:
    """Shear that a preloaded bolt holds by friction, N; never under zero.

    `tension_n` is what pulls the plies apart at this bolt; it counts for 0.8 of itself in both categories.
    Raises KeyError for an unknown surface or kind of hole; ValueError for a negative preload or no plane.
    Source: EN 1993-1-8:2005 3.9.1 (3.6) and 3.9.2 (3.8).
    """
    planes = friction.planes
    if preload_n < 0.0 or planes < 1:
        raise ValueError(f"a slip joint wants preload (found {preload_n:g} N) and a friction plane (found {planes})")
    gamma = rows.partial_factor("m3_service" if friction.in_service else "m3").value
    grip = max(0.0, preload_n - 0.8 * max(0.0, tension_n))
    held = rows.hole_factor(friction.hole).value * planes * rows.slip_factor(friction.surface).value
    return held * grip / gamma


def slip_check(about: str, shear_n: float, preload_n: float, friction: Friction, tension_n: float = 0.0) -> Check:
    """Shear on a bolt against friction. A slotted mount or one that turns round its load must not slip at all."""
    holds = slip_n(preload_n, friction, tension_n)
    if holds <= 0.0:
        return refused(
            about, "no friction left at the bolt", _RULE,
            "Tension takes the whole clamp: take bigger bolts, more preload, or let the bolt bear in a close hole.",
        )  # fmt: skip
    return most(
        about, "slip", shear_n, holds, "N", _RULE,
        f"Clean the faces to bare metal, tighten to {preload_n * shear_n / holds / 1000.0:.0f} kN of preload if the "
        "bolt allows, add bolts, or weld a washer on after fit-up so that the bolt bears.",
    )  # fmt: skip
