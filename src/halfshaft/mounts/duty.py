"""How often a mount is loaded: unit-case stresses and a distance in; stress ranges with their counts out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.catalogue.mounts import DutyRow
from halfshaft.checks import Assumed, Source

CASES = ("torque", "longitudinal", "lateral", "vertical")
"""Unit cases: whole drive torque forward; 1 g forward, to the left, and down on top of rest."""


def ranges(
    unit_mpa: Mapping[str, float], distance_km: float, duty: Sequence[DutyRow] | None = None
) -> tuple[tuple[float, float], ...]:
    """Spectrum of one stress component: (range in MPa, count), the largest first, over a distance.

    `unit_mpa` is the stress under each unit case; cases not told are zero. Swings that do nothing are left out. The
    one swing between the extremes of the whole duty is added as often as the rarest kind comes, since kinds of swing
    follow on one another.
    Raises ValueError for a case that is no unit case, or a distance that is not positive.
    Source: catalogue, duty (common practice).
    """
    unknown = sorted(set(unit_mpa) - set(CASES))
    if unknown:
        raise ValueError(f"no load case {', '.join(unknown)}; there are: {', '.join(CASES)}")
    if not (distance_km > 0.0 and math.isfinite(distance_km)):
        raise ValueError(f"a duty wants a distance over zero, found {distance_km!r} km")
    swings = rows.duty() if duty is None else tuple(duty)
    ends = [(_stress(unit_mpa, row.low), _stress(unit_mpa, row.high), row.per_100000_km) for row in swings]
    if not ends:
        return ()
    share = distance_km / 100000.0
    out = [(abs(high - low), count * share) for low, high, count in ends]
    lowest = min(min(low, high) for low, high, _ in ends)
    highest = max(max(low, high) for low, high, _ in ends)
    out.append((highest - lowest, min(count for *_, count in ends) * share))
    return tuple(sorted(((size, count) for size, count in out if size > 0.0), reverse=True))


def _stress(unit_mpa: Mapping[str, float], at: Mapping[str, float]) -> float:
    return sum(unit_mpa.get(case, 0.0) * share for case, share in at.items())


def assumed() -> tuple[Assumed, ...]:
    """The duty as assumed values, where the builder tells none."""
    return tuple(
        Assumed(
            f"mounts.duty.{row.name}",
            f"{row.per_100000_km:,.0f} in 100,000 km",
            Source(row.source.origin, row.source.text),
        )
        for row in rows.duty()
    )
