"""A bolt through a closed tube: wall and washer in; how far the wall gives, where it yields, what preload it bears."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Origin, Source
from halfshaft.mounts.bolts import Plate

_POISSON = 0.3
WALL_RULE = Source(
    Origin.DERIVED,
    "wall of the tube as a strip clamped at the side walls, pressed by a stiff washer: first yield",
)
SQUASH_RULE = Source(
    Origin.FROM_MEMORY, "EN 1993-1-1:2005 6.3.1, curve c, on the side walls as far as the load spreads at 45 degrees"
)


@dataclass(frozen=True, slots=True)
class Tube:
    """A closed rectangular tube, bolted through: the wall under the head, and its depth along the bolt; mm, MPa."""

    wall_mm: float
    width_mm: float  # outside, across the wall that the head presses
    depth_mm: float  # outside, along the bolt
    yield_mpa: float
    ultimate_mpa: float
    elastic_mpa: float = 210000.0

    def __post_init__(self) -> None:
        if min(self.wall_mm, self.yield_mpa, self.ultimate_mpa, self.elastic_mpa) <= 0.0:
            raise ValueError("a tube wants a wall and strengths over zero")
        if 2.0 * self.wall_mm >= min(self.width_mm, self.depth_mm):
            raise ValueError(f"walls of {self.wall_mm:g} mm fill a tube of {self.width_mm:g} by {self.depth_mm:g} mm")

    @property
    def inside_mm(self) -> float:
        """Clear height between the walls, along the bolt: the length of a crush tube."""
        return self.depth_mm - 2.0 * self.wall_mm

    @property
    def half_span_mm(self) -> float:
        """Half of the clear width of the wall."""
        return self.width_mm / 2.0 - self.wall_mm


@dataclass(frozen=True, slots=True)
class WallStrength:
    """A wall pressed by a washer, N: first yield, which no collapse comes before, and a load that it surely collapses
    under. `give_mm_per_n` is what one wall gives."""

    first_yield_n: float
    collapse_n: float
    give_mm_per_n: float


def wall_strength(tube: Tube, washer_mm: float) -> WallStrength:
    """One wall of a tube under a stiff washer in its middle.

    Elastic: a long strip clamped at both side walls, held level under the washer; collapse: a cone with fan hinges out
    to the side walls, 4 pi m / (1 - r / a) with m = fy t^2 / 4, an upper bound.
    A washer that reaches the side walls presses them straight: then nothing bends (infinite, no give).
    Raises ValueError for a washer without size, or so small that it is a point.
    Source: catalogue, wall_strip; docs/bolts_and_welds.md.
    """
    inner, outer = washer_mm / 2.0, tube.half_span_mm
    if inner >= outer:
        return WallStrength(math.inf, math.inf, 0.0)
    strip = rows.wall_strip()
    if inner < strip.ratio[0] * outer:
        raise ValueError(f"a washer of {washer_mm:g} mm on a wall {2.0 * outer:g} mm wide is a point: take a real one")
    give = float(np.interp(inner / outer, strip.ratio, strip.give))
    stiff = tube.elastic_mpa * tube.wall_mm**3 / (12.0 * (1.0 - _POISSON**2))
    line = tube.yield_mpa * tube.wall_mm**2 / 4.0
    first = _first_yield_n(tube.yield_mpa, tube.wall_mm, inner, outer)
    return WallStrength(first, 4.0 * math.pi * line / (1.0 - inner / outer), give * outer**2 / stiff)


def _first_yield_n(yield_mpa: float, thickness_mm: float, inner_mm: float, outer_mm: float) -> float:
    strip = rows.wall_strip()
    moment = float(np.interp(inner_mm / outer_mm, strip.ratio, strip.moment))
    return yield_mpa * thickness_mm**2 / (6.0 * moment)


def squash_n(tube: Tube, washer_mm: float) -> float:
    """Load along the bolt that the two side walls bear before they yield or buckle, N.

    The load spreads at 45 degrees from the washer to the corners; the side walls stand as struts of that length.
    Source: EN 1993-1-1:2005 6.3.1.2, curve c; spread: common practice, no source.
    """
    length = washer_mm + 2.0 * max(0.0, tube.half_span_mm - washer_mm / 2.0)
    area = 2.0 * length * tube.wall_mm
    return buckling_share(tube.inside_mm, tube.wall_mm / math.sqrt(12.0), tube.yield_mpa, tube.elastic_mpa) * (
        area * tube.yield_mpa / rows.partial_factor("m1").value
    )


def buckling_share(length_mm: float, gyration_mm: float, yield_mpa: float, elastic_mpa: float) -> float:
    """Share of the squash load that a pinned strut bears. Source: EN 1993-1-1:2005 6.3.1.2, curve c (alpha 0.49)."""
    slender = length_mm / gyration_mm / math.pi * math.sqrt(yield_mpa / elastic_mpa)
    phi = 0.5 * (1.0 + 0.49 * (slender - 0.2) + slender**2)
    return min(1.0, 1.0 / (phi + math.sqrt(max(0.0, phi**2 - slender**2))))


def wall_preload_n(tube: Tube, washer_mm: float) -> float:
    """Preload that the empty tube bears for good, N: no wall yields, no side buckles."""
    return min(
        wall_strength(tube, washer_mm).first_yield_n / rows.partial_factor("m0").value, squash_n(tube, washer_mm)
    )


def pull_out_n(plate: Plate, half_span_mm: float, press_mm: float) -> float:
    """Pull that draws a disc of diameter `press_mm` through one wall clamped `half_span_mm` from it, N.

    The lesser of the wall at first yield and the disc punched through.
    Source: catalogue, wall_strip; punching EN 1993-1-8:2005 table 3.4.
    """
    inner = press_mm / 2.0
    bend = (
        _first_yield_n(plate.yield_mpa, plate.thickness_mm, inner, half_span_mm) / rows.partial_factor("m0").value
        if inner < half_span_mm
        else math.inf
    )
    punch = 0.6 * math.pi * press_mm * plate.thickness_mm * plate.ultimate_mpa / rows.partial_factor("m2").value
    return min(bend, punch)
