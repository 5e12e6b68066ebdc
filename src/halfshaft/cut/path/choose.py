"""Order and starts together. Runs with the ways each may begin in; cuts in order, each begun near the way, out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from halfshaft.cut.path.curve import Curve
from halfshaft.cut.path.lead import Start
from halfshaft.cut.path.model import Cut, CutKind, Setup
from halfshaft.cut.path.order import HEAT, ordered

Array = NDArray[np.float64]

_ROUNDS = 2
_WORTH_MM = 15.0  # way that a better place for a lead-in is worth


@dataclass(eq=False)
class Run:
    """A cut that is still to be begun somewhere: a closed path, or a slit."""

    kind: CutKind
    part: int
    path: Curve
    feed_mm_min: float
    slow: bool = False
    area: BaseGeometry | None = None  # what an opening or an outline encloses
    before: set[int] = field(default_factory=set)
    ways: list[Start] = field(default_factory=list)
    chosen: Start | None = None


def free(way: Start, own: Run, runs: Sequence[Run], setup: Setup) -> bool:
    """Whether a lead keeps off the leads chosen for other paths."""
    reach = (setup.kerf_mm + setup.pierce_width_mm) / 2.0
    return not any(other is not own and other.chosen is not None and way.near(other.chosen, reach) for other in runs)


def in_order(
    runs: Sequence[Run],
    slits: Mapping[int, Sequence[Cut]],
    tabbed: Mapping[int, Sequence[Start]],
    setup: Setup,
    home_mm: Array,
    names: Sequence[str],
) -> list[Cut]:
    """Cuts ordered; then starts nearer to the way are taken where there are any, and the order bettered again."""
    pieces = {n: _pieces(runs[n], picked, names[runs[n].part], setup) for n, picked in tabbed.items()}
    chosen: dict[int, Cut] = {number: ways[0] for number, ways in slits.items()}
    for number, run in enumerate(runs):
        if number not in slits and number not in pieces:
            chosen[number] = _cut(run, run.chosen, names[run.part], setup)
    items = [(number, -1) for number in chosen] + [(n, p) for n, own in pieces.items() for p in range(len(own))]
    items.sort()
    places: dict[int, list[int]] = {}
    for place, (number, _) in enumerate(items):
        places.setdefault(number, []).append(place)
    before = [[p for need in sorted(runs[number].before) for p in places[need]] for number, _ in items]

    def cut_of(place: int) -> Cut:
        number, piece = items[place]
        return chosen[number] if piece < 0 else pieces[number][piece]

    order: list[int] | None = None
    for _ in range(_ROUNDS):
        begins = np.array([cut_of(place).whole.start_mm for place in range(len(items))]).reshape(-1, 2)
        finishes = np.array([cut_of(place).whole.end_mm for place in range(len(items))]).reshape(-1, 2)
        order = ordered(begins, finishes, before, setup.heat_gap_mm, home_mm, order)
        for at, place in enumerate(order):
            number, piece = items[place]
            if piece >= 0:
                continue
            before_it = cut_of(order[at - 1]).whole if at else None
            after_it = cut_of(order[at + 1]).whole if at + 1 < len(order) else None
            spot = _Spot.between(before_it, after_it, home_mm, setup.heat_gap_mm)
            if number in slits:
                chosen[number] = min(slits[number], key=lambda cut: spot.price(cut.whole.start_mm, cut.whole.end_mm))
            else:
                chosen[number] = _nearer(runs[number], chosen[number], runs, spot, names[runs[number].part], setup)
    return [cut_of(place) for place in order or ()]


@dataclass(frozen=True, eq=False)
class _Spot:
    """A place in the order: where the torch comes from and goes to, and the pierces before and after."""

    here: Array
    onward: Array
    pierces: tuple[Array, ...]
    heat_gap_mm: float

    @staticmethod
    def between(before: Curve | None, after: Curve | None, home: Array, heat_gap_mm: float) -> _Spot:
        pierces = tuple(curve.start_mm for curve in (before, after) if curve is not None)
        here = before.end_mm if before is not None else home
        return _Spot(here, after.start_mm if after is not None else home, pierces, heat_gap_mm)

    def price(self, start_mm: Array, end_mm: Array) -> float:
        """Way to a cut that begins and ends there and on from it, and what its heat costs."""
        way = math.dist(start_mm, self.here) + math.dist(end_mm, self.onward)
        hot = sum(math.dist(start_mm, spot) < self.heat_gap_mm for spot in self.pierces)
        return way + HEAT * self.heat_gap_mm * hot


def _nearer(run: Run, now: Cut, runs: Sequence[Run], spot: _Spot, name: str, setup: Setup) -> Cut:
    """The cut from the start that costs least way here, of those that cross no other lead."""
    kept = run.chosen
    if kept is None:
        return now
    ways = [way for way in run.ways if way is kept or way.tight <= kept.tight]
    prices = {id(way): spot.price(*_ends(run, way)) - _WORTH_MM * way.worth for way in ways}
    for way in sorted(ways, key=lambda way: prices[id(way)]):
        if way is kept:
            return now
        if free(way, run, runs, setup):
            run.chosen = way
            return _cut(run, way, name, setup)
    return now


def _ends(run: Run, way: Start) -> tuple[Array, Array]:
    """Where the cut begins and, but for an overrun, ends."""
    spot = run.path.at(way.along_mm)[0]
    begin = way.lead_in.start_mm if way.lead_in is not None else spot
    return begin, way.lead_out.end_mm if way.lead_out is not None else spot


def _cut(run: Run, start: Start | None, name: str, setup: Setup) -> Cut:
    if start is None:
        return Cut(run.kind, name, run.path, run.feed_mm_min, slow=run.slow)
    path = run.path.begun_at(start.along_mm)
    if start.lead_out is None and setup.overrun_mm > 0.0:
        path = Curve.joined([path, path.part(0.0, min(setup.overrun_mm, path.length_mm / 2.0))])
    return Cut(run.kind, name, path, run.feed_mm_min, start.lead_in, start.lead_out, run.slow)


def _pieces(run: Run, picked: Sequence[Start], name: str, setup: Setup) -> list[Cut]:
    """An outline cut in pieces, each ending a tab short of where the next begins."""
    gap, length = setup.tab_width_mm + setup.kerf_mm, run.path.length_mm
    out = []
    for number, start in enumerate(picked):
        nxt = picked[(number + 1) % len(picked)].along_mm
        span = (nxt - start.along_mm) % length or length
        path = run.path.begun_at(start.along_mm).part(0.0, span - gap)
        out.append(Cut("outline", name, path, run.feed_mm_min, start.lead_in))
    return out
