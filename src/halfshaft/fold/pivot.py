"""Where a fold turns: sheet, slit width and angle in; pivot depth, setback and allowance out."""

from __future__ import annotations

import math


def pivot_depth_mm(thickness_mm: float, slit_width_mm: float, angle_deg: float) -> float:
    """Depth from the inside face about which a slit fold turns on the whole.

    The metal turns about mid-thickness until the slit closes on the inside, then about the closed edge; the fold that
    comes of it is that of one turn about p = min(t / 2, k / (2 tan(theta / 2))).
    Raises ValueError where the angle is not in (0, 180) or a size is not positive.
    Source: derived here, docs/folding.md; no published source.
    """
    _check(angle_deg, thickness=thickness_mm, slit=slit_width_mm)
    return min(thickness_mm / 2.0, slit_width_mm / (2.0 * math.tan(math.radians(angle_deg) / 2.0)))


def slit_setback_mm(pivot_mm: float, angle_deg: float) -> float:
    """From the inside apex to the fold line along a panel; negative, since the line lies beyond the apex.

    Source: the faces at depth p meet p tan(theta / 2) beyond the inside faces; docs/folding.md.
    """
    _check(angle_deg)
    return -pivot_mm * math.tan(math.radians(angle_deg) / 2.0)


def brake_setback_mm(radius_mm: float, angle_deg: float) -> float:
    """From the inside apex back to where the bend begins: R tan(theta / 2).

    Source: tangent length of an arc, elementary geometry; docs/folding.md.
    """
    _check(angle_deg, radius=radius_mm)
    return radius_mm * math.tan(math.radians(angle_deg) / 2.0)


def bend_allowance_mm(radius_mm: float, k_factor: float, thickness_mm: float, angle_deg: float) -> float:
    """Length of flat that becomes the bend: theta (R + K t).

    Source: arc of the neutral layer at K t under the inside face; Machinery's Handbook (from memory).
    Raises ValueError where the angle is not in (0, 180), a size is not positive or K not in (0, 1).
    """
    _check(angle_deg, radius=radius_mm, thickness=thickness_mm)
    if not 0.0 < k_factor < 1.0:
        raise ValueError(f"a K-factor lies between 0 and 1, not {k_factor}")
    return math.radians(angle_deg) * (radius_mm + k_factor * thickness_mm)


def k_factor(radius_mm: float, thickness_mm: float) -> float:
    """Where the neutral layer lies, as a share of the thickness from the inside face, for a sheet that gives none.

    K = k / 2 with k = 0.65 + 0.5 log10(R / t), at most 1. Source: DIN 6935:2011-10, correction value k (from memory).
    """
    _check(90.0, radius=radius_mm, thickness=thickness_mm)
    return min(1.0, max(0.05, 0.65 + 0.5 * math.log10(radius_mm / thickness_mm))) / 2.0


def _check(angle_deg: float, **sizes: float) -> None:
    if not 0.0 < angle_deg < 180.0:
        raise ValueError(f"a fold turns between 0 and 180 degrees, not {angle_deg}")
    for name, size in sizes.items():
        if not size > 0.0:
            raise ValueError(f"the {name} must be more than nothing, not {size} mm")
