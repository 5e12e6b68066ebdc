"""What a weld bears: stress on its throat and the sheet in; checks by both methods of EN 1993-1-8 out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from halfshaft.build.catalogue import material
from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check, Severity
from halfshaft.mounts.verdict import most, published
from halfshaft.mounts.weld_group import ThroatStress, WeldLine, throat_stresses

_DIRECTED = published("EN 1993-1-8:2005 4.5.3.2, directional method")
_SIMPLE = published("EN 1993-1-8:2005 4.5.3.3, simplified method")


@dataclass(frozen=True, slots=True)
class WeldStrength:
    """Limits of a fillet weld between sheets, MPa: of the compared stress, square to the throat, and any way."""

    compared_mpa: float
    square_mpa: float
    shear_mpa: float


def weld_strength(*sheets: str) -> WeldStrength:
    """Limits of a weld between sheets of the catalogue, by the weaker.

    Raises KeyError for a sheet without a correlation factor (aluminium is not welded by these rules), ValueError for
    no sheet. Source: EN 1993-1-8:2005 (4.1) and (4.4), table 4.1.
    """
    if not sheets:
        raise ValueError("a weld joins sheets: name them")
    gamma = rows.partial_factor("m2").value
    each = [(material(name).ultimate_mpa, rows.weld_correlation(name).value) for name in sheets]
    compared = min(ultimate / (beta * gamma) for ultimate, beta in each)
    return WeldStrength(compared, min(0.9 * ultimate / gamma for ultimate, _ in each), compared / math.sqrt(3.0))


def use_directed(stress: ThroatStress, strength: WeldStrength) -> float:
    """Use of a throat by the directional method, 1 at the limit. Source: EN 1993-1-8:2005 (4.1), both conditions."""
    return max(stress.compared_mpa / strength.compared_mpa, abs(stress.sigma_perp_mpa) / strength.square_mpa)


def use_simple(stress: ThroatStress, strength: WeldStrength) -> float:
    """Use of a throat by the simplified method. Source: EN 1993-1-8:2005 (4.2) to (4.4)."""
    return stress.resultant_mpa / strength.shear_mpa


def long_lap_factor(length_mm: float, throat_mm: float) -> float:
    """What is left of a lap weld over 150 throats long. Source: EN 1993-1-8:2005 (4.9), beta_Lw.1."""
    return min(1.0, 1.2 - 0.2 * length_mm / (150.0 * throat_mm))


def weld_checks(
    about: str,
    lines: Sequence[WeldLine],
    sheets: Sequence[str],
    stresses: Sequence[ThroatStress],
) -> tuple[Check, ...]:
    """The worst end of each run by the directional method, and of the group by the simplified one, as a bound.

    Runs without a normal of their throat are worked as the simplified method does.
    """
    strength = weld_strength(*sheets)
    out = []
    for index, line in enumerate(lines):
        name = f"{about}, {line.name or f'weld {index + 1}'}"
        worst = max((s for s in stresses if s.line == index), key=lambda s: use_directed(s, strength))
        use = use_directed(worst, strength)
        rule = _DIRECTED if line.normal is not None else _SIMPLE
        out.append(
            most(
                name, f"weld at its {worst.at}", 100.0 * use, 100.0, "%", rule,
                f"Make the throat {line.throat_mm * max(1.0, use):.1f} mm or the welds longer, or lead the load "
                "nearer to the middle of the group.",
            )
        )  # fmt: skip
    bound = max(use_simple(s, strength) for s in stresses)
    out.append(
        most(
            about, "welds whichever way the load turns", 100.0 * bound, 100.0, "%", _SIMPLE,
            "A bound for a load whose way is not known; the runs above say what counts.",
            severity=Severity.NOTE,
        )
    )  # fmt: skip
    return tuple(out)


def throat_wanted_mm(
    lines: Sequence[WeldLine],
    sheets: Sequence[str],
    loads: Sequence[tuple[Sequence[float], Sequence[float], Sequence[float]]],
) -> float:
    """Throat in mm that the runs want to hold each load (force, moment, point), all throats scaled alike.

    Stress falls as 1 / throat when all throats grow alike; told is the greatest throat of the runs after scaling.
    """
    strength = weld_strength(*sheets)
    use = max(
        use_directed(stress, strength)
        for force, moment, point in loads
        for stress in throat_stresses(lines, force, moment, point)
    )
    return use * max(line.throat_mm for line in lines)
