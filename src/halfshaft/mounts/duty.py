"""How often a mount is loaded: unit-case stresses and a distance in; stress ranges with their counts out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

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


def spectra(
    unit: Mapping[str, NDArray[np.float64]], distance_km: float, duty: Sequence[DutyRow] | None = None
) -> tuple[tuple[tuple[float, float], ...], tuple[tuple[float, float], ...]]:
    """Spectra of a throat over a distance: ranges across it (both parts together) and along it, with their counts.

    `unit` holds for each unit case the stress (3,): square to the throat, across the run, along it. As in `ranges` the
    one swing between the extremes of the whole duty comes as often as the rarest kind.
    Raises ValueError as `ranges` does. Source: EN 1993-1-9:2005 clause 5 (6); catalogue, duty.
    """
    unknown = sorted(set(unit) - set(CASES))
    if unknown:
        raise ValueError(f"no load case {', '.join(unknown)}; there are: {', '.join(CASES)}")
    if not (distance_km > 0.0 and math.isfinite(distance_km)):
        raise ValueError(f"a duty wants a distance over zero, found {distance_km!r} km")
    swings = rows.duty() if duty is None else tuple(duty)
    if not swings:
        return (), ()
    share = distance_km / 100000.0

    def state(at: Mapping[str, float]) -> NDArray[np.float64]:
        return sum((unit[case] * part for case, part in at.items() if case in unit), np.zeros(3))

    ends = np.array([[state(row.low), state(row.high)] for row in swings])
    counts = [row.per_100000_km * share for row in swings]
    moves = [*(ends[:, 1] - ends[:, 0]), *_widest(ends.reshape(-1, 3))]
    counts += [min(counts)]
    across = ((float(np.hypot(move[0], move[1])), count) for move, count in zip(moves, counts, strict=True))
    along = ((abs(float(move[2])), count) for move, count in zip(moves, counts, strict=True))
    return tuple(sorted(across, reverse=True)), tuple(sorted(along, reverse=True))


def _widest(states: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    apart = states[:, None] - states[None]
    across = np.hypot(apart[..., 0], apart[..., 1])
    one, other = np.unravel_index(int(np.argmax(across)), across.shape)
    return [np.array([across[one, other], 0.0, np.abs(apart[..., 2]).max()])]


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
