"""Which modules go where, how turned and in which order: several answers, none beaten by another in all that counts.

Bays with their spots, a block and wishes in; layouts out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.pack.bay import Bay, Keep
from halfshaft.pack.block import Stance, Turn
from halfshaft.pack.cables import ways_mm
from halfshaft.pack.slide import slid
from halfshaft.pack.solver import NEAR, WORK, Chosen, Weights, choose, cost_of, string_order
from halfshaft.pack.spots import Spots
from halfshaft.progress import Progress, silent

Array = NDArray[np.float64]

FEW = 600  # spots, under which all are worked
_FINE = 20  # prices are whole numbers of a twentieth


@dataclass(frozen=True, slots=True)
class Wish:
    """What one answer is weighed by: a row of catalogue/pack_wishes.toml."""

    name: str
    station: float
    side: float
    height: float
    cables: float
    bays: float


@dataclass(frozen=True, eq=False, slots=True)
class Rooms:
    """Bays with what may stand in each: stances and spots, one of each for every bay."""

    bays: tuple[Bay, ...]
    stances: tuple[tuple[Stance, ...], ...]
    spots: tuple[Spots, ...]
    keeps: tuple[Keep, ...] = ()
    gap_mm: float | None = None  # between modules; None where they stay on their spots

    @property
    def whole(self) -> bool:
        return all(spots.whole for spots in self.spots)


@dataclass(frozen=True, eq=False, slots=True)
class Placed:
    """One module: which string and place in it, where its box begins in its bay and how it is turned."""

    string: int
    place: int
    bay: str
    corner_mm: Array  # of the module itself, in the bay's axes
    turn: Turn
    centre_mm: Array  # in the root's axes
    minus_mm: Array
    plus_mm: Array
    cable_mm: float  # to the next, or to the end


@dataclass(frozen=True, eq=False, slots=True)
class Layout:
    """One answer, its modules slid to the wanted centre where its wish weighs that more than cables.

    `merits` are what answers are held against each other by, each better when smaller.
    """

    wish: str
    modules: tuple[Placed, ...]
    counts: tuple[int, ...]  # by bay
    centre_mm: Array
    cable_mm: float
    merits: tuple[float, ...]  # mm off the station, off the middle, height, cable; bays used
    gap: float  # share by which other spots of those tried could at most be better for its wish
    shortest: bool  # no order on these spots wants less cable


@dataclass(frozen=True, eq=False, slots=True)
class _Field:
    """All spots of all bays in one row."""

    bay: NDArray[np.int64]
    stance: tuple[Stance, ...]
    corner_mm: Array
    centre_mm: Array
    cover: tuple[tuple[int, ...], ...]
    row: NDArray[np.bool_]
    near_mm: Array  # way to where the bay's cables leave, as the crow walks


def most_that_fit(rooms: Rooms, work: float = WORK) -> tuple[tuple[int, bool], ...]:
    """How many modules each bay takes, and whether that is proved."""
    found = []
    for spots in rooms.spots:
        if not len(spots.stance):
            found.append((0, spots.whole))
            continue
        best = choose(None, np.zeros(len(spots.stance), dtype=np.int64), spots.cover, work=work)
        found.append((len(best.spots), best.cost == best.bound and spots.whole) if best else (0, False))
    return tuple(found)


def layouts(
    rooms: Rooms,
    count: int,
    strings: int,
    wishes: Sequence[Wish],
    *,
    station_mm: float | None = None,
    side_mm: float = 0.0,
    junction_mm: Array | None = None,
    others: int = 1,
    work: float = WORK,
    near: float = NEAR,
    seed: int = 1,
    progress: Progress = silent,
) -> tuple[Layout, ...]:
    """Answers for `count` modules in `strings` strings, the best for each wish first; empty where they do not go in.

    Each wish is worked for its best choice of spots, then `others` times more with the counts by bay found so far
    barred; each then takes the best of all that were found. What another beats or equals in all merits is left out.
    """
    field = _field(rooms)
    pool: list[tuple[int, ...]] = []
    least: dict[str, float] = {}
    # wishes that are soon worked come first: what they find gives the harder ones a start
    order = sorted(wishes, key=lambda wish: wish.station)
    priced = {wish.name: _weights(field, wish, count, station_mm, side_mm) for wish in wishes}
    rounds = 1 if len(rooms.bays) == 1 else 1 + others
    for number, wish in enumerate(order):
        weights = priced[wish.name]
        barred: list[tuple[int, ...]] = []
        for again in range(rounds):
            progress((number * rounds + again) / (len(order) * rounds), wish.name)
            open_yet = [spots for spots in pool if _counts(field, rooms, spots) not in barred]
            if not barred:
                open_yet += [start for start in (_start(count, field, weights, work, seed),) if start]
            hint = min(open_yet, key=lambda spots: cost_of(spots, field.bay, weights), default=())
            best = _chosen(count, field, weights, barred, work, seed, near, hint)
            if best is None:
                break
            if again == 0:
                least[wish.name] = best.bound
            barred.append(_counts(field, rooms, best.spots))
            if best.spots not in pool:
                pool.append(best.spots)
    found: list[Layout] = []
    for wish in wishes:
        weights = priced[wish.name]
        by_cost = sorted(pool, key=lambda spots: cost_of(spots, field.bay, weights))
        for spots in by_cost[:rounds]:
            if spots in pool:
                pool.remove(spots)
                cost = cost_of(spots, field.bay, weights)
                gap = max(0.0, 1.0 - least.get(wish.name, 0.0) / max(cost, 1))
                counts = _counts(field, rooms, spots)
                corners = _slid(rooms, field, spots, wish, station_mm, side_mm)
                found.append(
                    _strung(rooms, field, spots, corners, gap, wish.name, counts, strings, station_mm, side_mm,
                            junction_mm, work, seed)
                )  # fmt: skip
    return unbeaten(found)


def _slid(
    rooms: Rooms, field: _Field, spots: tuple[int, ...], wish: Wish, station_mm: float | None, side_mm: float
) -> Array:
    """Corners (n, 3) of the chosen rooms, slid along the car and across where the wish weighs it more than cables."""
    chosen = list(spots)
    corners = field.corner_mm[chosen]
    if rooms.gap_mm is None:
        return corners
    stances = [field.stance[n] for n in chosen]
    room = np.array([one.room_mm for one in stances])
    middle = np.array([one.centre_mm for one in stances])
    cooled = np.array([one.cooled for one in stances])
    bay = field.bay[chosen]

    def off(at: Array) -> float:
        spots = [rooms.bays[b].pose.apply(c + m) for b, c, m in zip(bay, at, middle, strict=True)]
        x, y, _ = np.mean(spots, axis=0)
        along = 0.0 if station_mm is None else wish.station * abs(float(x) - station_mm)
        return along + wish.side * abs(float(y) - side_mm)

    # what weighs most comes last; in a bay that stands askew the one spoils a little of the other
    aims = ((1, side_mm, wish.side), (0, station_mm, wish.station))
    for axis, wanted, weight in aims:
        if wanted is not None and weight > wish.cables:
            there = slid(rooms.bays, rooms.keeps, rooms.gap_mm, bay, corners, room, cooled, middle, axis, wanted)
            corners = there if off(there) < off(corners) else corners
    return corners


def _start(count: int, field: _Field, weights: Weights, work: float, seed: int) -> tuple[int, ...]:
    """Spots to begin from: the cheapest that still fits, one after the other; else the cheapest of as many as go in."""
    price = weights.each + weights.per_station * np.abs(weights.station) + weights.per_side * np.abs(weights.side)
    shared: list[list[int]] = [[] for _ in price]
    for number, some in enumerate(field.cover):
        for n in some:
            shared[n].append(number)
    held: set[int] = set()
    taken: list[int] = []
    for n in np.argsort(price, kind="stable").tolist():
        if held.isdisjoint(shared[n]):
            held.update(shared[n])
            taken.append(n)
            if len(taken) == count:
                return tuple(sorted(taken))
    most = choose(None, field.bay, field.cover, work=2.0 * work, seed=seed)
    if most is None or len(most.spots) < count:
        return ()
    return tuple(sorted(sorted(most.spots, key=lambda n: (int(price[n]), n))[:count]))


def _chosen(
    count: int,
    field: _Field,
    weights: Weights,
    barred: Sequence[Sequence[int]],
    work: float,
    seed: int,
    near: float,
    hint: Sequence[int],
) -> Chosen | None:
    """The best spots: among rows first; among all where these are few, or rows do not hold the modules."""
    rows = np.flatnonzero(field.row)
    if len(rows) < len(field.row):
        new = {int(n): at for at, n in enumerate(rows)}
        cover = {tuple(new[n] for n in some if n in new) for some in field.cover}
        some_weights = replace(weights, station=weights.station[rows], side=weights.side[rows], each=weights.each[rows])
        own = [new[n] for n in hint] if all(n in new for n in hint) else []
        first = choose(
            count, field.bay[rows], sorted(c for c in cover if len(c) > 1), some_weights, barred, work, seed, near, own
        )
        if first is not None:
            found = tuple(sorted(int(rows[n]) for n in first.spots))
            cost = cost_of(found, field.bay, weights)
            if not hint or cost < cost_of(hint, field.bay, weights):
                hint = found
            if len(field.row) > FEW:
                return Chosen(tuple(hint), float(cost_of(hint, field.bay, weights)), first.bound)
    best = choose(count, field.bay, field.cover, weights, barred, work, seed, near, hint)
    if hint and (best is None or cost_of(hint, field.bay, weights) < best.cost):
        cost = cost_of(hint, field.bay, weights)
        return Chosen(tuple(hint), float(cost), best.bound if best is not None else 0.0)
    return best


def _counts(field: _Field, rooms: Rooms, spots: Sequence[int]) -> tuple[int, ...]:
    """How many spots of a choice each bay holds."""
    return tuple(int(np.sum(field.bay[list(spots)] == b)) for b in range(len(rooms.bays)))


def unbeaten(found: Sequence[Layout]) -> tuple[Layout, ...]:
    """Those that no other beats or equals in every merit, in the order given."""
    kept: list[Layout] = []
    for n, one in enumerate(found):
        mine = np.round(one.merits, 1)
        worse = False
        for m, other in enumerate(found):
            theirs = np.round(other.merits, 1)
            if m != n and np.all(theirs <= mine) and (np.any(theirs < mine) or m < n):
                worse = True
        if not worse:
            kept.append(one)
    return tuple(kept)


def _field(rooms: Rooms) -> _Field:
    bay: list[int] = []
    stance: list[Stance] = []
    corner, centre, near = [np.zeros((0, 3))], [np.zeros((0, 3))], [np.zeros(0)]
    cover: list[tuple[int, ...]] = []
    for b, (one, stances, spots) in enumerate(zip(rooms.bays, rooms.stances, rooms.spots, strict=True)):
        cover += [tuple(n + len(bay) for n in some) for some in spots.cover]
        bay += [b] * len(spots.stance)
        stance += [stances[int(n)] for n in spots.stance]
        if len(spots.stance):
            middle = spots.corner_mm + np.array([stances[int(n)].centre_mm for n in spots.stance])
            corner.append(spots.corner_mm)
            centre.append(one.pose.apply(middle))
            near.append(np.abs(middle - one.exit_mm).sum(axis=1))
    return _Field(
        np.array(bay, dtype=np.int64), tuple(stance), np.concatenate(corner), np.concatenate(centre), tuple(cover),
        np.concatenate([spots.row for spots in rooms.spots]), np.concatenate(near),
    )  # fmt: skip


def _weights(field: _Field, wish: Wish, count: int, station_mm: float | None, side_mm: float) -> Weights:
    """Prices in whole numbers: tenths of a millimetre, summed over the modules, times twentieths."""
    x, y, z = (field.centre_mm[:, axis] for axis in range(3))
    station = np.zeros(len(x), dtype=np.int64) if station_mm is None else _tenths(x - station_mm)
    lowest = float(z.min()) if len(z) else 0.0
    each = _FINE * (wish.height * _tenths(z - lowest) + wish.cables * _tenths(field.near_mm))
    return Weights(
        station,
        _tenths(y - side_mm),
        np.round(each).astype(np.int64),
        round(_FINE * wish.station) if station_mm is not None else 0,
        round(_FINE * wish.side),
        round(10 * _FINE * wish.bays * count),
    )


def _tenths(lengths_mm: Array) -> NDArray[np.int64]:
    return np.round(10.0 * lengths_mm).astype(np.int64)


def _strung(
    rooms: Rooms,
    field: _Field,
    spots: tuple[int, ...],
    corners: Array,
    gap: float,
    wish: str,
    counts: tuple[int, ...],
    strings: int,
    station_mm: float | None,
    side_mm: float,
    junction_mm: Array | None,
    work: float,
    seed: int,
) -> Layout:
    """The order and the turns on chosen spots that want the least cable."""
    nodes = [(n, spot, turn) for n, spot in enumerate(spots) for turn in field.stance[spot].turns]
    which = np.array([n for n, _, _ in nodes])
    bay = np.array([field.bay[spot] for _, spot, _ in nodes])
    minus = np.array([corners[n] + turn.minus_mm for n, _, turn in nodes])
    plus = np.array([corners[n] + turn.plus_mm for n, _, turn in nodes])
    way, begin, end = ways_mm(rooms.bays, bay, minus, plus, junction_mm)
    runs, shortest = string_order(
        _tenths(way), _tenths(begin), _tenths(end), which, strings, work=0.5 * work, seed=seed
    )
    placed = []
    whole = 0.0
    for string, run in enumerate(runs):
        whole += float(begin[run[0]])
        for place, node in enumerate(run):
            at, spot, turn = nodes[node]
            one = rooms.bays[int(field.bay[spot])]
            corner = corners[at]
            cable = float(way[node, run[place + 1]] if place + 1 < len(run) else end[node])
            whole += cable
            placed.append(
                Placed(
                    string, place, one.name, corner + turn.inner_mm, turn, one.pose.apply(corner + turn.centre_mm),
                    one.pose.apply(minus[node]), one.pose.apply(plus[node]), cable,
                )
            )  # fmt: skip
    centre = np.mean([one.centre_mm for one in placed], axis=0)
    off = 0.0 if station_mm is None else abs(float(centre[0]) - station_mm)
    merits = (off, abs(float(centre[1]) - side_mm), float(centre[2]), whole, float(sum(n > 0 for n in counts)))
    return Layout(wish, tuple(placed), counts, centre, whole, merits, gap, shortest)
