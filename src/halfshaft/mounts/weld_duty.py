"""Swings of several stresses together: their values under unit cases and a distance in; ranges of each out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.catalogue.mounts import DutyRow
from halfshaft.mounts.duty import CASES

Array = NDArray[np.float64]


def swings(
    unit_mpa: Mapping[str, Array], distance_km: float, duty: Sequence[DutyRow] | None = None
) -> tuple[Array, Array]:
    """Differences (swings, ...) of stresses (...) between the ends of each swing of the duty, and counts (swings,).

    As `halfshaft.mounts.duty.ranges` for one stress: the furthest apart of all ends are added as often as the rarest
    kind comes. Which ends those are is taken stress by stress for the last axis together.
    Raises ValueError for a case that is no unit case, or a distance that is not positive.
    """
    unknown = sorted(set(unit_mpa) - set(CASES))
    if unknown:
        raise ValueError(f"no load case {', '.join(unknown)}; there are: {', '.join(CASES)}")
    if not (distance_km > 0.0 and np.isfinite(distance_km)):
        raise ValueError(f"a duty wants a distance over zero, found {distance_km!r} km")
    kinds = rows.duty() if duty is None else tuple(duty)
    zero = np.zeros_like(next(iter(unit_mpa.values())))

    def stress(at: Mapping[str, float]) -> Array:
        return sum((np.asarray(unit_mpa[c]) * share for c, share in at.items() if c in unit_mpa), zero)

    lows, highs = [stress(k.low) for k in kinds], [stress(k.high) for k in kinds]
    counts = np.array([k.per_100000_km for k in kinds]) * distance_km / 100_000.0
    steps = [high - low for low, high in zip(lows, highs, strict=True)]
    furthest = zero
    for one, other in combinations([*lows, *highs], 2):
        step = other - one
        further = np.linalg.norm(step, axis=-1) > np.linalg.norm(furthest, axis=-1)
        furthest = np.where(further[..., None], step, furthest)
    return np.stack([*steps, furthest]), np.array([*counts, counts.min()])
