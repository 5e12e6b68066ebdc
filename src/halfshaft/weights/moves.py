"""What to move where for a wanted axle split: movable things and places in, the best few moves and their words out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

Array = NDArray[np.float64]
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_KEEPS = "as it is"
CLOSE = 1e-4  # of the weight: a move more must bring more than this


@dataclass(frozen=True, slots=True)
class Movable:
    """A thing and where it may go: x and y of each place by name; `now` is one of these names."""

    name: str
    mass_kg: float
    now: str
    places: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, eq=False)
class Move:
    """Things that change places, by name, and what comes of it."""

    to: Mapping[str, str]
    front_share: float
    side_mm: float  # of the centre of gravity, to the left
    words: str


@dataclass(frozen=True, slots=True)
class Rest:
    """The whole car as it is: mass, and mass times x over the rear axle and times y, with all movables where they are
    now.

    Most that each axle may carry, infinite where nobody says.
    """

    mass_kg: float
    along_kg_mm: float
    side_kg_mm: float
    wheelbase_mm: float
    most_front_kg: float = np.inf
    most_rear_kg: float = np.inf


def best_moves(
    rest: Rest,
    movables: Sequence[Movable],
    holds: Mapping[str, int],
    wanted_front: float,
    most_moves: int = 6,
) -> tuple[Move, ...]:
    """For each count of moves, one more at a time, the arrangement that comes nearest to the wanted share on the front
    axle.

    A mixed-integer program a count: each thing in one of its places, no place holding more than `holds` says, axle
    loads within what they may carry as far as that can be had, then the nearest split, then the least lean to a side.
    It ends where another move brings no more; the arrangement as it is stands first, with no move.
    """
    if not movables or not rest.mass_kg > 0.0:
        return ()
    pairs = [(thing, place) for thing in movables for place in thing.places]
    moved = np.array([float(place != thing.now) for thing, place in pairs])
    at = {thing.name: thing.places[thing.now] for thing in movables}
    along = np.array([t.mass_kg * (t.places[p][0] - at[t.name][0]) for t, p in pairs]) / rest.wheelbase_mm
    side = np.array([t.mass_kg * (t.places[p][1] - at[t.name][1]) for t, p in pairs])
    front_now = rest.along_kg_mm / rest.wheelbase_mm
    size = rest.mass_kg
    found: list[Move] = []
    last = np.inf
    for count in range(min(most_moves, len(movables)) + 1):
        chosen = _solve(rest, pairs, movables, holds, wanted_front, count, moved, along, side)
        if chosen is None:
            if count == 0:
                continue
            break
        front = (front_now + float(along @ chosen)) / size
        off = _off(rest, front, wanted_front)
        if found and off > last - CLOSE:
            continue
        last = off
        to = {t.name: p for (t, p), one in zip(pairs, chosen, strict=True) if one > 0.5 and p != t.now}
        lean = (rest.side_kg_mm + float(side @ chosen)) / size
        found.append(Move(to, front, lean, words_of({t.name: t for t in movables}, to, front)))
        if off < CLOSE:
            break
    return tuple(found)


def _off(rest: Rest, front: float, wanted: float) -> float:
    """How far from what is wanted, an overloaded axle first."""
    over = max(front - rest.most_front_kg / rest.mass_kg, 0.0) + max(
        1.0 - front - rest.most_rear_kg / rest.mass_kg, 0.0
    )
    return abs(front - wanted) + 100.0 * over


def _solve(
    rest: Rest,
    pairs: Sequence[tuple[Movable, str]],
    movables: Sequence[Movable],
    holds: Mapping[str, int],
    wanted: float,
    count: int,
    moved: Array,
    along: Array,
    side: Array,
) -> Array | None:
    """Choice (n,) of 0 and 1 for each pair; None where no arrangement with so many moves holds all things."""
    n, size = len(pairs), rest.mass_kg
    extra = 4  # off the wanted share, over the front's and the rear's most, lean; all as shares of the weight
    rows: list[Array] = []
    low: list[float] = []
    high: list[float] = []

    def row(weights: Array, tail: tuple[float, float, float, float], least: float, most: float) -> None:
        rows.append(np.concatenate([weights, tail]))
        low.append(least)
        high.append(most)

    none = (0.0, 0.0, 0.0, 0.0)
    for thing in movables:
        row(np.array([float(t is thing) for t, _ in pairs]), none, 1.0, 1.0)
    for place, most in holds.items():
        row(np.array([float(p == place) for _, p in pairs]), none, -np.inf, float(most))
    row(moved, none, -np.inf, float(count))
    now = rest.along_kg_mm / rest.wheelbase_mm / size
    row(along / size, (1.0, 0.0, 0.0, 0.0), wanted - now, np.inf)
    row(along / size, (-1.0, 0.0, 0.0, 0.0), -np.inf, wanted - now)
    if np.isfinite(rest.most_front_kg):
        row(along / size, (0.0, -1.0, 0.0, 0.0), -np.inf, rest.most_front_kg / size - now)
    if np.isfinite(rest.most_rear_kg):
        row(along / size, (0.0, 0.0, 1.0, 0.0), 1.0 - rest.most_rear_kg / size - now, np.inf)
    lean = side / (size * rest.wheelbase_mm)
    lean_now = rest.side_kg_mm / (size * rest.wheelbase_mm)
    row(lean, (0.0, 0.0, 0.0, 1.0), -lean_now, np.inf)
    row(lean, (0.0, 0.0, 0.0, -1.0), -np.inf, -lean_now)
    # a thousandth of a move's worth, so that nothing moves for nothing
    cost = np.concatenate([1e-6 * moved, [1.0, 100.0, 100.0, 1e-3]])
    result = milp(
        cost,
        constraints=LinearConstraint(csr_array(np.array(rows)), np.array(low), np.array(high)),
        integrality=np.concatenate([np.ones(n), np.zeros(extra)]),
        bounds=Bounds(0.0, np.concatenate([np.ones(n), np.full(extra, np.inf)])),
        options={"node_limit": 20000, "mip_rel_gap": 1e-6},
    )
    return None if result.x is None else np.asarray(np.round(result.x[:n]))


def words_of(things: Mapping[str, Movable], to: Mapping[str, str], front: float) -> str:
    """'two modules (module_3, module_4) from rear to front: 47/53'."""
    split = f"{100.0 * front:.0f}/{100.0 - round(100.0 * front):.0f}"
    if not to:
        return f"{_KEEPS}: {split}"
    groups: dict[tuple[str, str, str], list[str]] = {}
    for name, place in to.items():
        groups.setdefault((_kind(name), things[name].now, place), []).append(name)
    parts = []
    for (kind, come, go), names in groups.items():
        many = f"{_count(len(names))} {_plural(kind)} ({', '.join(names)})" if len(names) > 1 else names[0]
        parts.append(f"{many} from {come or 'its place'} to {go}")
    return f"{'; '.join(parts)}: {split}"


def _kind(name: str) -> str:
    return re.sub(r"[\s_-]*\d+$", "", name) or name


def _count(number: int) -> str:
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


def _plural(kind: str) -> str:
    if kind.endswith("y") and kind[-2:-1] not in ("a", "e", "i", "o", "u"):
        return f"{kind[:-1]}ies"
    return f"{kind}es" if kind.endswith(("s", "x", "ch", "sh")) else f"{kind}s"
