"""Repeated loads: stress ranges with their counts and a detail category in; damage, life and checks out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.catalogue.mounts import DetailRow
from halfshaft.checks import Check, Severity, Source
from halfshaft.mounts.verdict import most, published
from halfshaft.mounts.weld_group import ThroatStress

_RULE = published("EN 1993-1-9:2005 clause 7 and annex A.5")
_N_C, _N_D, _N_L = 2.0e6, 5.0e6, 1.0e8

Spectrum = Sequence[tuple[float, float]]
"""Pairs of stress range in MPa and its count."""


@dataclass(frozen=True, slots=True)
class Curve:
    """A fatigue strength curve, design values, MPa: at two million cycles, at the knee, at the cut-off.

    `shear` has one slope of 5 and no knee; direct stress has 3 down to the knee at 5 million, then 5.
    """

    at_2e6_mpa: float
    shear: bool

    @property
    def knee_mpa(self) -> float:
        """Constant amplitude limit; of shear, its cut-off."""
        return self.cut_off_mpa if self.shear else self.at_2e6_mpa * math.pow(_N_C / _N_D, 1.0 / 3.0)

    @property
    def cut_off_mpa(self) -> float:
        if self.shear:
            return self.at_2e6_mpa * math.pow(_N_C / _N_L, 0.2)
        return self.knee_mpa * math.pow(_N_D / _N_L, 0.2)

    def cycles(self, range_mpa: float, *, constant: bool = False) -> float:
        """Cycles that a range is borne; infinite under the cut-off, or under the knee where no range ever varies."""
        if range_mpa <= (self.knee_mpa if constant else self.cut_off_mpa):
            return math.inf
        if self.shear:
            return _N_C * (self.at_2e6_mpa / range_mpa) ** 5
        if range_mpa >= self.knee_mpa:
            return _N_C * (self.at_2e6_mpa / range_mpa) ** 3
        return _N_D * (self.knee_mpa / range_mpa) ** 5


@dataclass(frozen=True, slots=True)
class Life:
    """What a spectrum does to a detail.

    `damage` after one pass of the spectrum, 1 at the end of life; `passes` until then (infinite when none harms);
    `equivalent_mpa` the constant range that does as much in two million cycles, by the steeper slope;
    `endless`: no range is over the constant amplitude limit, so the standard counts no damage: told, not used.
    """

    damage: float
    passes: float
    equivalent_mpa: float
    most_mpa: float
    endless: bool


def curve_of(detail: DetailRow, factor: str = "safe life, high", *, thickness_mm: float = 0.0) -> Curve:
    """Design curve of a detail with its partial factor.

    `thickness_mm`: over 25 mm a welded plate is cut by (25 / t)^0.2; give 0 where it does not apply.
    Raises KeyError for an unknown factor. Source: EN 1993-1-9:2005 7.1, table 3.1; size 7.2.2.
    """
    size = (25.0 / thickness_mm) ** 0.2 if thickness_mm > 25.0 else 1.0
    return Curve(size * detail.category_mpa / rows.fatigue_factor(factor).value, detail.kind == "shear")


def life(curve: Curve, spectrum: Spectrum) -> Life:
    """Palmgren-Miner sum of a spectrum, both slopes and the cut-off.

    Ranges between cut-off and knee always count, as if larger ones had come before.
    Raises ValueError for negative or unreal ranges or counts. Source: EN 1993-1-9:2005 annex A.5, (A.2) to (A.4).
    """
    for size, count in spectrum:
        if not (size >= 0.0 and count >= 0.0 and math.isfinite(size) and math.isfinite(count)):
            raise ValueError(f"a swing of {size!r} MPa {count!r} times cannot be")
    damage = sum(count / curve.cycles(size) for size, count in spectrum)
    biggest = max((size for size, count in spectrum if count > 0.0), default=0.0)
    slope = 5.0 if curve.shear else 3.0
    equivalent = curve.at_2e6_mpa * damage ** (1.0 / slope)
    passes = 1.0 / damage if damage > 0.0 else math.inf
    return Life(damage, passes, equivalent, biggest, biggest <= curve.knee_mpa)


def weld_ranges(low: ThroatStress, high: ThroatStress) -> tuple[float, float]:
    """Ranges on a throat between two states, MPa: direct (square and across, both) and shear along the run.

    Source: EN 1993-1-9:2005 clause 5 (6), sigma_wf and tau_wf, taken of the differences.
    """
    square, across = high.sigma_perp_mpa - low.sigma_perp_mpa, high.tau_perp_mpa - low.tau_perp_mpa
    return math.hypot(square, across), abs(high.tau_par_mpa - low.tau_par_mpa)


def fatigue_checks(
    about: str,
    detail: DetailRow,
    spectrum: Spectrum,
    *,
    factor: str = "safe life, high",
    yield_mpa: float | None = None,
    thickness_mm: float = 0.0,
    shear: tuple[DetailRow, Spectrum] | None = None,
    whole: str = "the duty",
) -> tuple[Check, ...]:
    """A detail under one pass of a spectrum (the whole duty), with what shear does beside where told.

    `yield_mpa` bars ranges over 1.5 of it. `whole` names what one pass stands for.
    Raises ValueError where a shear detail is told as the direct one or the other way round, and as `life` does.
    Source: EN 1993-1-9:2005 clause 8: ranges at most 1.5 fy (shear 1.5 fy / sqrt 3), damages of both added.
    """
    if detail.kind != "direct" and shear is not None:
        raise ValueError(f"{about}: '{detail.name}' is a detail in shear; the first one is for direct stress")
    if shear is not None and shear[0].kind != "shear":
        raise ValueError(f"{about}: '{shear[0].name}' is not a detail in shear")
    curve = curve_of(detail, factor, thickness_mm=thickness_mm)
    first = life(curve, spectrum)
    damage, words = first.damage, detail.source.text
    if shear is not None:
        damage += life(curve_of(shear[0], factor), shear[1]).damage
        words = f"{words}; {shear[0].source.text}"
    slope = 5.0 if curve.shear else 3.0
    better = curve.at_2e6_mpa / max(1.0, damage) ** (1.0 / slope)
    lasts = f"lasts {100.0 / damage:.3g} % of {whole}" if damage > 0.0 else f"{whole} does not harm it"
    out = [
        most(
            about, f"fatigue of '{detail.name}': {lasts}", damage, 1.0, "",
            Source(detail.source.origin, f"{_RULE.text}; {words}"),
            f"Cut the stress to {100.0 * better / curve.at_2e6_mpa:.0f} % with thicker metal or a longer weld, weld "
            "from both sides, or lead the weld away from the stress; look for cracks at each service.",
        )
    ]  # fmt: skip
    if yield_mpa is not None:
        root = math.sqrt(3.0) if curve.shear else 1.0
        out.append(
            most(
                about, "largest stress range", first.most_mpa, 1.5 * yield_mpa / root, "MPa",
                published("EN 1993-1-9:2005 8 (1)"), "Make the part thicker: it would yield to and fro.",
            )
        )  # fmt: skip
    if detail.category_mpa <= 36.0:
        out.append(
            most(
                about, "crack from a root that cannot be seen", first.most_mpa, curve.cut_off_mpa, "MPa", detail.source,
                "Weld the second side, or bevel and fuse right through, so that a crack would show outside.",
                Severity.NOTE,
            )
        )  # fmt: skip
    return tuple(out)
