"""What a box's sheet, straps and feet bear. Sizes and accelerations in, pressures and forces out by named formulas."""

from __future__ import annotations

import math

import numpy as np

from halfshaft.build.catalogue import mounts as rows

# greatest bending stress of an evenly loaded plate held simply on four edges, by its longer over its shorter side
_ROARK = (
    (1.0, 0.2874), (1.2, 0.3762), (1.4, 0.4530), (1.6, 0.5172), (1.8, 0.5688), (2.0, 0.6102), (3.0, 0.7134),
    (4.0, 0.7410), (5.0, 0.7476), (10.0, 0.7500),
)  # fmt: skip


def plate_stress_mpa(pressure_mpa: float, long_mm: float, short_mm: float, thickness_mm: float) -> float:
    """Greatest bending stress of a plate held simply on four edges: beta p b² / t².

    Small deflections; what a thin sheet carries as a membrane is left out, to be safe.
    Source: Roark's Formulas for Stress and Strain, table 11.4, case 1a (from memory).
    """
    a, b = max(long_mm, short_mm), min(long_mm, short_mm)
    beta = float(np.interp(a / b, *np.array(_ROARK).T))
    return beta * pressure_mpa * b**2 / thickness_mm**2


def plate_collapse_mpa(yield_mpa: float, long_mm: float, short_mm: float, thickness_mm: float) -> float:
    """Pressure at which a plate held simply on four edges folds along yield lines: 24 m / (b (sqrt(3 + r²) - r))².

    m = f t² / 4 a millimetre, r = b / a. Source: Ingerslev's formula, Johansen, Yield-Line Theory (from memory).
    """
    a, b = max(long_mm, short_mm), min(long_mm, short_mm)
    r = b / a
    return 24.0 * yield_mpa * thickness_mm**2 / 4.0 / (b * (math.sqrt(3.0 + r * r) - r)) ** 2


def wall_collapse_mpa(yield_mpa: float, height_mm: float, thickness_mm: float) -> float:
    """The same of a wall whose upper edge is free, as a strip that stands on its fold: 2 m / h², its ends left out."""
    return 2.0 * yield_mpa * thickness_mm**2 / 4.0 / height_mm**2


def strip_tension_n(
    width_mm: float, hole_mm: float, thickness_mm: float, yield_mpa: float, ultimate_mpa: float
) -> float:
    """What a strip with one hole in its width bears: the lesser of A f_y / M0 and 0.9 A_net f_u / M2.

    Source: EN 1993-1-1:2005, 6.2.3 (2).
    """
    whole = width_mm * thickness_mm * yield_mpa / rows.partial_factor("m0").value
    net = 0.9 * (width_mm - hole_mm) * thickness_mm * ultimate_mpa / rows.partial_factor("m2").value
    return min(whole, net)


def foot_bending_n(width_mm: float, thickness_mm: float, arm_mm: float, yield_mpa: float) -> float:
    """Pull at a bolt that turns a foot plastically about its fold: f w t² / 4 over the arm.

    Source: plastic modulus of a rectangle, EN 1993-1-1:2005, 6.2.5.
    """
    return yield_mpa * width_mm * thickness_mm**2 / 4.0 / arm_mm


def most_pull_n(moment_nmm: float, spots_mm: list[float]) -> float:
    """Pull on the farthest of bolts at these distances from where the box would tip: M x / sum x².

    Source: bolt group under a moment, stiff base; any text of machine elements.
    """
    total = sum(x * x for x in spots_mm)
    return moment_nmm * max(spots_mm, default=0.0) / total if total > 0.0 else math.inf
