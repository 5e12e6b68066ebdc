"""How deep a bolt must turn into a nut or tapped hole: thread and metals in; stripping strength and length out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfshaft.build.catalogue.mounts import TappedRow
from halfshaft.checks import Check, Source
from halfshaft.mounts.bolts import Bolt
from halfshaft.mounts.thread import Thread
from halfshaft.mounts.verdict import least, published

_RULE = "VDI 2230-1 5.5.5 after Alexander: stripping of threads"
_TAN30 = math.tan(math.radians(30.0))
_BOLT_SHARE = 0.6
_LOST_PITCHES = 2.0
_OVER_STRENGTH = 1.2  # a bolt may be that much stronger than its class says


@dataclass(frozen=True, slots=True)
class Stripping:
    """Pull in N at which the threads strip, for each mm of full engagement: of the hole's and of the bolt's."""

    hole_n_per_mm: float
    bolt_n_per_mm: float

    @property
    def n_per_mm(self) -> float:
        return min(self.hole_n_per_mm, self.bolt_n_per_mm)


def stripping(thread: Thread, metal: TappedRow, bolt_ultimate_mpa: float) -> Stripping:
    """Stripping strength of nominal 60 degree threads in a solid block.

    Raises ValueError for a strength that is not positive. Source: VDI 2230-1 5.5.5, shear areas ISO/TR 16224.
    """
    if bolt_ultimate_mpa <= 0.0 or metal.ultimate_mpa <= 0.0:
        raise ValueError("threads without strength hold nothing")
    pitch, outer = thread.pitch_mm, thread.diameter_mm
    middle, bore = thread.pitch_diameter_mm, thread.bore_mm
    of_hole = math.pi * outer / pitch * (pitch / 2.0 + (outer - middle) * _TAN30)
    of_bolt = math.pi * bore / pitch * (pitch / 2.0 + (middle - bore) * _TAN30)
    hole_shear, bolt_shear = metal.shear_share * metal.ultimate_mpa, _BOLT_SHARE * bolt_ultimate_mpa
    ratio = hole_shear * of_hole / (bolt_shear * of_bolt)
    return Stripping(hole_shear * of_hole * _hole_bends(ratio), bolt_shear * of_bolt * _bolt_bends(ratio))


def _hole_bends(ratio: float) -> float:
    at = min(1.0, max(0.4, ratio))
    return 0.897 if ratio >= 1.0 else 0.728 + 1.769 * at - 2.896 * at**2 + 1.296 * at**3


def _bolt_bends(ratio: float) -> float:
    if ratio <= 1.0:
        return 0.897
    at = min(2.2, ratio)
    return 5.594 - 13.682 * at + 14.107 * at**2 - 6.057 * at**3 + 0.9353 * at**4


def engagement_mm(thread: Thread, metal: TappedRow, bolt_ultimate_mpa: float) -> float:
    """Length of thread after which the bolt breaks before it strips, 2 pitches of run-in and chamfer included, mm."""
    breaks = _OVER_STRENGTH * bolt_ultimate_mpa * thread.stress_area_mm2
    return breaks / stripping(thread, metal, bolt_ultimate_mpa).n_per_mm + _LOST_PITCHES * thread.pitch_mm


def stripping_n(thread: Thread, metal: TappedRow, bolt_ultimate_mpa: float, engaged_mm: float) -> float:
    """Pull that strips a thread engaged so far, N; zero within the 2 pitches that do not count."""
    full = max(0.0, engaged_mm - _LOST_PITCHES * thread.pitch_mm)
    return full * stripping(thread, metal, bolt_ultimate_mpa).n_per_mm


def engagement_checks(
    about: str, bolt: Bolt, metal: TappedRow, engaged_mm: float, bolt_force_n: float
) -> tuple[Check, ...]:
    """A bolt in a tapped hole: enough thread for its force, and enough that the bolt, which is seen, breaks first."""
    wanted = engagement_mm(bolt.thread, metal, bolt.ultimate_mpa)
    holds = stripping_n(bolt.thread, metal, bolt.ultimate_mpa, engaged_mm)
    both = Source(metal.source.origin, f"{_RULE}; {metal.source.text}")
    where = f"{about}, thread in {metal.name}"
    return (
        least(
            where, "thread against stripping", holds, bolt_force_n, "N", both,
            f"Turn the bolt in {wanted:.0f} mm deep, or put a steel thread insert or a nut behind.",
        ),
        least(
            where, "depth of thread at which the bolt breaks first", engaged_mm, wanted, "mm", published(_RULE),
            f"Tap {wanted:.0f} mm deep, or put in a steel thread insert; a thread that strips gives no sign before.",
        ),
    )  # fmt: skip
