"""A tightened joint: bolt and clamped parts as springs in; what the bolt feels of a load, and what clamp stays, out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check, Severity
from halfshaft.mounts.bolts import Bolt
from halfshaft.mounts.thread import Thread
from halfshaft.mounts.tighten import Preload
from halfshaft.mounts.verdict import least, most, practice, published

STEEL_MPA = 210000.0
_RULE = published("VDI 2230-1, single-bolted joint")
_HEADS = {"hexagon": 0.5, "socket": 0.4}
_NUT, _TAPPED = 0.4, 0.33
_ENGAGED = 0.5


@dataclass(frozen=True, slots=True)
class Layer:
    """One clamped part: thickness mm, modulus MPa."""

    thickness_mm: float
    elastic_mpa: float = STEEL_MPA


@dataclass(frozen=True, slots=True)
class Clamped:
    """What is between head and nut, from the head on; all sizes in mm.

    `bearing_mm` is the outer diameter that presses (washer face), `hole_mm` the hole, `outer_mm` the width of the
    clamped parts about the bolt. `tapped`: the bolt turns into the last part, which is then no layer.
    `soft_mm_per_n` is the give of anything softer than a solid stack, such as the wall of a closed tube.
    """

    layers: tuple[Layer, ...]
    bearing_mm: float
    hole_mm: float
    outer_mm: float
    tapped: bool = False
    soft_mm_per_n: float = 0.0

    def __post_init__(self) -> None:
        if not self.layers or min(layer.thickness_mm for layer in self.layers) <= 0.0:
            raise ValueError("a clamped joint wants layers of metal, each with a thickness")
        if not self.hole_mm < self.bearing_mm:
            raise ValueError(f"a head of {self.bearing_mm:g} mm falls through a hole of {self.hole_mm:g} mm")
        if self.outer_mm <= self.hole_mm:
            raise ValueError(f"no metal about the hole: {self.outer_mm:g} mm wide with a hole of {self.hole_mm:g} mm")

    @property
    def grip_mm(self) -> float:
        return sum(layer.thickness_mm for layer in self.layers)


def bolt_give_mm_per_n(
    thread: Thread, grip_mm: float, plain_mm: float = 0.0, *, tapped: bool = False, head: str = "hexagon",
    elastic_mpa: float = STEEL_MPA, nut_elastic_mpa: float = STEEL_MPA,
) -> float:  # fmt: skip
    """Compliance of a bolt, mm/N, with `plain_mm` of unthreaded shank in its grip.

    Raises ValueError where the plain shank is longer than the grip: it would be tight on nothing.
    Source: VDI 2230-1 5.1.1: head 0.5 d (socket head 0.4 d), engaged core 0.5 d, nut 0.4 d (tapped hole 0.33 d).
    """
    if plain_mm > grip_mm:
        raise ValueError(f"the plain shank ({plain_mm:g} mm) is longer than the grip ({grip_mm:g} mm)")
    if head not in _HEADS:
        raise ValueError(f"no head '{head}'; there are: {', '.join(_HEADS)}")
    diameter, shank, core = thread.diameter_mm, thread.shank_area_mm2, thread.core_area_mm2
    body = (_HEADS[head] * diameter + plain_mm) / shank + (grip_mm - plain_mm + _ENGAGED * diameter) / core
    return body / elastic_mpa + (_TAPPED if tapped else _NUT) * diameter / (shank * nut_elastic_mpa)


def cone_tangent(grip_mm: float, bearing_mm: float, outer_mm: float, tapped: bool) -> float:
    """Tangent of the half angle of the pressed cone. Source: VDI 2230-1 5.1.2.1."""
    slender, wide = grip_mm / bearing_mm, outer_mm / bearing_mm
    if tapped:
        return 0.348 + 0.013 * math.log(slender) + 0.193 * math.log(wide)
    return 0.362 + 0.032 * math.log(slender / 2.0) + 0.153 * math.log(wide)


def plates_give_mm_per_n(clamped: Clamped, tangent: float | None = None) -> float:
    """Compliance of the clamped parts, mm/N: a double cone between head and nut (single onto a tapped part).

    The cone spreads until the parts' own width; each layer counts with its own modulus where it lies.
    `tangent` overrules that of VDI 2230-1. Source: VDI 2230-1 5.1.2; frusta of one closed form each.
    """
    grip, hole, wide = clamped.grip_mm, clamped.hole_mm, max(clamped.outer_mm, clamped.bearing_mm)
    start = min(clamped.bearing_mm, clamped.outer_mm)
    slope = tangent if tangent is not None else cone_tangent(grip, clamped.bearing_mm, wide, clamped.tapped)
    slope = max(slope, 1e-6)
    spread = (min(wide, clamped.outer_mm) - start) / (2.0 * slope)
    turns = [spread] if clamped.tapped else [spread, grip / 2.0, grip - spread]
    edges = [0.0]
    for layer in clamped.layers:
        edges.append(edges[-1] + layer.thickness_mm)
    cuts = sorted({*edges, *(turn for turn in turns if 0.0 < turn < grip)})

    def across(depth: float) -> float:
        inward = depth if clamped.tapped else min(depth, grip - depth)
        return min(clamped.outer_mm, start + 2.0 * slope * inward)

    give = clamped.soft_mm_per_n
    for low, high in pairwise(cuts):
        middle = (low + high) / 2.0
        layer = next(clamped.layers[i] for i in range(len(clamped.layers)) if middle <= edges[i + 1])
        give += _frustum_give(across(low), across(high), high - low, hole, layer.elastic_mpa)
    return give


def _frustum_give(first: float, second: float, length: float, hole: float, elastic: float) -> float:
    if abs(second - first) < 1e-9 * first:
        return 4.0 * length / (math.pi * elastic * (first**2 - hole**2))
    slope = (second - first) / (2.0 * length)
    logs = math.log((second - hole) / (second + hole)) - math.log((first - hole) / (first + hole))
    return logs / (math.pi * elastic * hole * slope)


@dataclass(frozen=True, slots=True)
class Split:
    """How a tightened joint shares a load along its bolt; forces in N.

    `phi_bolt` and `phi_clamp` are the bolt's share of the load as used for the bolt's force and for the clamp left.
    """

    bolt_give_mm_per_n: float
    plates_give_mm_per_n: float
    phi_bolt: float
    phi_clamp: float
    settling_n: float
    bolt_most_n: float
    bolt_swing_n: float
    clamp_least_n: float

    @property
    def opens(self) -> bool:
        return self.clamp_least_n <= 0.0


def split(
    thread: Thread,
    clamped: Clamped,
    preload: Preload,
    pull_most_n: float,
    pull_least_n: float = 0.0,
    *,
    plain_mm: float = 0.0,
    head: str = "hexagon",
    embedding: str = "axial",
    load_plane: float | None = None,
    nut_elastic_mpa: float = STEEL_MPA,
) -> Split:
    """Shares of a load along the bolt that swings between `pull_least_n` and `pull_most_n` (N, pull positive).

    `load_plane` is VDI's n, the share of the clamped depth between the planes where the load comes in. Not told, the
    bolt is worked with n = 1 and the clamp with n = 0, each the worse. Once open, the bolt takes the whole load.
    Raises ValueError for n outside 0 to 1 or pulls the wrong way round; KeyError for unknown embedding.
    Source: VDI 2230-1: Phi = n dP / (dP + dS); settling F_Z = f_Z / (dP + dS).
    """
    if load_plane is not None and not 0.0 <= load_plane <= 1.0:
        raise ValueError(f"the load plane factor lies between 0 and 1, found {load_plane:g}")
    if pull_least_n > pull_most_n:
        raise ValueError(f"the least pull ({pull_least_n:g} N) is over the most ({pull_most_n:g} N)")
    of_bolt = bolt_give_mm_per_n(
        thread, clamped.grip_mm, plain_mm, tapped=clamped.tapped, head=head, nut_elastic_mpa=nut_elastic_mpa
    )
    of_plates = plates_give_mm_per_n(clamped)
    base = of_plates / (of_plates + of_bolt)
    for_bolt, for_clamp = (base, 0.0) if load_plane is None else (base * load_plane, base * load_plane)
    row = rows.embedding(embedding)
    joints = len(clamped.layers) - (0 if clamped.tapped else 1)
    bearings = 1 if clamped.tapped else 2
    sunk = (row.threads_um + bearings * row.each_bearing_um + joints * row.each_joint_um) / 1000.0
    settling = min(preload.low_n, sunk / (of_plates + of_bolt))
    kept = preload.low_n - settling
    least_clamp = kept - (1.0 - for_clamp) * pull_most_n
    # past opening the bolt carries all that pulls
    tight = [_bolt_force(kept, for_bolt, pull) for pull in (pull_least_n, pull_most_n)]
    loose_most = max(preload.high_n + for_bolt * pull_most_n, tight[1])
    return Split(of_bolt, of_plates, for_bolt, for_clamp, settling, loose_most, tight[1] - tight[0], least_clamp)


def _bolt_force(preload: float, phi: float, pull: float) -> float:
    return max(preload + phi * pull, pull) if pull > 0.0 else max(0.0, preload + phi * pull)


def joint_checks(
    about: str,
    bolt: Bolt,
    clamped: Clamped,
    preload: Preload,
    shares: Split,
    *,
    clamp_wanted_n: float = 0.0,
    materials: Sequence[str] = (),
) -> tuple[Check, ...]:
    """The joint tightened and loaded: clamp left, bolt's stress, its swing, the pressure under head and nut.

    `clamp_wanted_n` is the clamp that friction or sealing asks for; `materials` are the sheets that the head and nut
    press on, by their names in the catalogue.
    """
    area = bolt.thread.stress_area_mm2
    # half of the torque twists the bolt, half of that twist is gone in service: VDI 2230-1 (R8), k_tau
    twist = 0.5 * preload.torque_nm * 1000.0 * 0.5 / (math.pi / 16.0 * bolt.thread.stress_diameter_mm**3)
    stress = math.hypot(shares.bolt_most_n / area, math.sqrt(3.0) * twist)
    pressed = math.pi / 4.0 * (clamped.bearing_mm**2 - clamped.hole_mm**2)
    amplitude = rows.bolt_amplitude(bolt.thread.diameter_mm)
    out = [
        least(
            about, "clamp left under load", shares.clamp_least_n, clamp_wanted_n, "N", _RULE,
            "Tighten to more within the bolt's limit, take a longer and thinner grip, a stronger or a bigger bolt; "
            "bare faces under the clamp settle less than painted ones.",
        ),
        most(
            about, "bolt's stress, tightened and loaded", stress, bolt.yield_mpa, "MPa", _RULE,
            "Tighten to less, or take a bolt bigger or of a higher class.",
        ),
        most(
            about, "swing of the bolt's stress", shares.bolt_swing_n / (2.0 * area), amplitude.value, "MPa",
            amplitude.source, "Tighten to more so that the joint stays shut, or take a longer grip with a sleeve.",
        ),
        least(
            about, "grip", clamped.grip_mm, 2.0 * bolt.thread.diameter_mm, "mm",
            practice("grips under 2 to 3 diameters lose their preload to settling"),
            "Put a thick sleeve under the head so that the bolt is long enough to stay stretched.",
            # the clamp is worked with its settling: where enough is left the rule of thumb is only told
            Severity.NOTE if shares.clamp_least_n >= clamp_wanted_n else Severity.CAUTION,
        ),
    ]  # fmt: skip
    for material in dict.fromkeys(materials):
        limit = rows.head_pressure(material)
        out.append(
            most(
                about, f"pressure of the head on {material}", shares.bolt_most_n / pressed, limit.value, "MPa",
                limit.source, "Put a hard thick washer under head and nut, or tighten to less.", Severity.CAUTION,
            )
        )  # fmt: skip
    return tuple(out)
