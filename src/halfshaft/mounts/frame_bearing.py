"""A wall pressed at its edge, over a window or not: a patch and the web beneath in; what it bears out."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Web:
    """One wall that carries a load pressed on the flange over it, mm: its clear height and thickness."""

    height_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class Opening:
    """A window in a web: where it begins and ends along the member from the middle of the load, and how deep below the
    flange its nearer edge lies, mm."""

    start_mm: float
    end_mm: float
    below_mm: float


def patch_load_n(
    webs: tuple[Web, ...],
    patch_mm: float,
    flange_wide_mm: float,
    flange_mm: float,
    yield_mpa: float,
    youngs_mpa: float = 210_000.0,
) -> float:
    """Load on a flange over a length `patch_mm` that the webs under it bear without crippling, N, no window near.

    `flange_wide_mm` is what of the flange goes to one web. Raises ValueError for no web or a size not over 0.
    Source: EN 1993-1-5:2006 6.2 to 6.5, type a, without m2 (gamma M1 = 1; from memory).
    """
    if not webs or min(w.height_mm for w in webs) <= 0.0 or min(w.thickness_mm for w in webs) <= 0.0:
        raise ValueError("a load wants a web under it, with a height and a thickness")
    if patch_mm <= 0.0 or flange_mm <= 0.0 or flange_wide_mm <= 0.0:
        raise ValueError("a load is pressed on over a length, on a flange with a width and a thickness")
    total = 0.0
    for web in webs:
        spread = patch_mm + 2.0 * flange_mm * (1.0 + math.sqrt(flange_wide_mm / web.thickness_mm))
        critical = 0.9 * 6.0 * youngs_mpa * web.thickness_mm**3 / web.height_mm
        slender = math.sqrt(spread * web.thickness_mm * yield_mpa / critical)
        total += yield_mpa * min(1.0, 0.5 / slender) * spread * web.thickness_mm
    return total


def bearing_kept(webs: tuple[Web, ...], openings: tuple[Opening | None, ...], patch_mm: float) -> float:
    """Share of the bearing left with a window, or none, in each of the webs.

    The load spreads at 45 degrees from the patch's ends; what of that length lies over the window carries nothing.
    Raises ValueError where there is not one opening, or None, for each web.
    Source: spread at 45 degrees, EN 1993-1-5:2006 3.2.3 (common practice for windows).
    """
    if len(webs) != len(openings) or not webs:
        raise ValueError("tell for each web its window, or None")
    whole = left = 0.0
    for web, opening in zip(webs, openings, strict=True):
        whole += web.thickness_mm
        if opening is None:
            left += web.thickness_mm
            continue
        half = patch_mm / 2.0 + max(opening.below_mm, 0.0)
        lost = max(0.0, min(opening.end_mm, half) - max(opening.start_mm, -half))
        left += web.thickness_mm * (1.0 - lost / (2.0 * half))
    return left / whole
