"""Which variants none beats, and which of those to look at first. Rows in; marks, picks and checks out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.choose import Aim, WorthInput
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.choose.model import Choice, Driven, Pick, Sweep
from halfshaft.nondominated import unbeaten

Array = NDArray[np.float64]
_OWN = Source(Origin.DERIVED, "docs/choose.md")

BEST: dict[Aim, str] = {
    "range": "farthest", "weight": "lightest", "hundred": "quickest", "top": "fastest", "cost": "cheapest",
    "charge": "soonest charged",
}  # fmt: skip


def costs_of(rows: Sequence[Driven], aims: Sequence[Aim]) -> Array:
    """What is to be little (n, k): range and top speed turned about."""
    of = {
        "range": [-row.range_m for row in rows], "weight": [row.weight_kg for row in rows],
        "hundred": [row.hundred_s for row in rows], "top": [-row.top_m_s for row in rows],
        "cost": [row.cost for row in rows], "charge": [row.charge_s for row in rows],
    }  # fmt: skip
    return np.array([of[aim] for aim in aims], dtype=float).reshape(len(aims), len(rows)).T


def worth_of(told: WorthInput, aims: Sequence[Aim]) -> Array:
    """The differences that count (k,), in the units of the costs."""
    of = {
        "range": told.range_m, "weight": told.weight_kg, "hundred": told.hundred_s, "top": told.top_kmh / 3.6,
        "cost": told.cost, "charge": told.charge_s,
    }  # fmt: skip
    return np.array([of[aim] for aim in aims], dtype=float)


def judged(sweep: Sweep, rows: tuple[Driven, ...]) -> Choice:
    """All variants with those that no other beats; what cannot be built so is left out of the comparison."""
    can = np.array([not row.why for row in rows], dtype=bool)
    some = [row for row in rows if not row.why]
    aims = tuple(aim for aim in dict.fromkeys(sweep.told.aims) if _differs(costs_of(some, (aim,))))
    kept = np.zeros(len(rows), dtype=bool)
    if some:
        costs = costs_of(some, aims) if aims else np.zeros((len(some), 1))
        kept[np.flatnonzero(can)[unbeaten(costs, worth_of(sweep.told.worth, aims) if aims else None)]] = True
    return Choice(sweep, rows, aims, kept, _picks(rows, kept, aims), tuple(_checks(sweep, rows, can)))


def _differs(costs: Array) -> bool:
    one = costs[np.isfinite(costs)]
    return bool(len(one)) and bool(np.ptp(one) > 0.0 or len(one) < costs.size)


def _picks(rows: Sequence[Driven], kept: NDArray[np.bool_], aims: Sequence[Aim]) -> tuple[Pick, ...]:
    """The best in each aim, and the one that gives up least in all: the smallest sum of squares of what each gives up,
    as a share of the spread among those kept.
    """
    at = np.flatnonzero(kept).tolist()
    if not at or not aims:
        return tuple(Pick("the only one", n) for n in at[:1])
    costs = costs_of([rows[n] for n in at], aims)
    bounded = np.where(np.isfinite(costs), costs, np.nan)
    least, most = np.nanmin(bounded, axis=0), np.nanmax(bounded, axis=0)
    span = np.where(most > least, most - least, 1.0)
    gives_up = np.where(np.isfinite(costs), (costs - least) / span, 10.0)
    middle = int(np.argmin(np.sum(gives_up**2, axis=1)))
    found = [Pick("gives up least", at[middle])]
    found += [
        Pick(BEST[aim], at[int(np.lexsort((np.sum(gives_up, axis=1), costs[:, k]))[0])]) for k, aim in enumerate(aims)
    ]
    by_variant: dict[int, list[str]] = {}
    for pick in found:
        by_variant.setdefault(pick.variant, []).append(pick.words)
    return tuple(Pick(", ".join(words), variant) for variant, words in by_variant.items())


def _kind(why: str) -> str:
    """A reason without its numbers."""
    words = " ".join(word for word in why.split() if not any(c.isdigit() for c in word))
    return words.removeprefix("kg ").removesuffix(" for s")


def _checks(sweep: Sweep, rows: Sequence[Driven], can: NDArray[np.bool_]) -> list[Check]:
    found = []
    if not np.any(can):
        reasons = sorted({row.why for row in rows})[:3]
        do = f"No variant can be built: {'; '.join(reasons)}. Widen what may be chosen."
        found.append(Check("choose", "choices", "None can be built", _OWN, Severity.STOP, do, failed_outright=True))
    elif not np.all(can):
        words = [w for row in rows for w in dict.fromkeys(_kind(w) for w in row.why.split("; ") if w)]
        left = "; ".join(f"{count} {kind}" for kind, count in Counter(words).most_common(4))
        do = f"Left out of the comparison, and told in variants.csv: {left}."
        title = f"{int((~can).sum())} of {len(rows)} cannot be built so"
        found.append(Check("choose", "choices", title, _OWN, Severity.NOTE, do, failed_outright=True))
    named = [(f"{part.name} {one.name}", one.uncertain) for part in sweep.parts for one in part.options]
    unsure = {f"{name}: {words}" for name, words in named if words}
    if unsure:
        do = f"Ask before you buy: {'; '.join(sorted(unsure)[:8])}."
        found.append(Check("choose", "choices", "Not sure of some", _OWN, Severity.CAUTION, do, failed_outright=True))
    if sweep.station is None and "charge" in sweep.told.aims:
        do = "Write [road.station.NAME] with power, current and volts of the charger on your way."
        found.append(Check("choose", "fast charge", "No fast charger", _OWN, Severity.NOTE, do, failed_outright=True))
    return found
