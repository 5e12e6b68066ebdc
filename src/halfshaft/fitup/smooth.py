"""A crooked way in; few simple moves that a lift, a jack and two hands can do, out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, permutations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from halfshaft.fitup.collide import Around, goes
from halfshaft.fitup.moves import Leg, leg
from halfshaft.geometry import Pose

Array = NDArray[np.float64]

_NONE_MM, _NONE_RAD = 1e-7, 1e-9
_ORDERS = ("xyz", "xzy", "yxz", "yzx", "zxy", "zyx")
_MOST_TESTED = 2000  # moves tested for one way
_MOST_PAIRS = 14  # a way of more corners is first cut short at random
_AXES = np.eye(3)


@dataclass(frozen=True, slots=True)
class Rounding:
    """What moves are rounded to, so that a person can do them by tape and angle finder."""

    length_mm: float
    angle_deg: float


def effort(move: Leg, radius_mm: float) -> float:
    """What a move costs a person: each way at once that it goes, turns more than shifts, both together most."""
    shifts = int(np.sum(np.abs(move.shift_mm) > _NONE_MM))
    turns = int(np.sum(np.abs(move.turn_rad) > _NONE_RAD))
    if not shifts and not turns:
        return 0.0
    cost = 1.0 if not (shifts and turns) else 2.0
    cost += 0.4 * max(shifts - 1, 0) + 0.8 * max(turns - 1, 0)
    return cost + move.travel_mm(radius_mm) / (8.0 * radius_mm)


def total(moves: Sequence[Leg], radius_mm: float) -> float:
    return sum(effort(move, radius_mm) for move in moves)


def chain(start: Pose, parts: Sequence[tuple[Array, Array]]) -> list[Leg]:
    """Moves one after the other from a pose: each a shift (3,) and a rotation vector (3,); empty ones are left out."""
    out: list[Leg] = []
    for shift, turned in parts:
        if np.abs(shift).max() <= _NONE_MM and np.abs(turned).max() <= _NONE_RAD:
            continue
        out.append(Leg(out[-1].end if out else start, shift, turned))
    return out


def simple_ways(start: Pose, end: Pose, rng: np.random.Generator) -> list[list[Leg]]:
    """Ways between two poses: the straight one, and by shifts and turns about one axis in several orders."""
    whole = leg(start, end)
    none = np.zeros(3)
    shift, turned = whole.shift_mm, whole.turn_rad
    ways = [[(shift, turned)], [(shift, none), (none, turned)], [(none, turned), (shift, none)]]
    moves = Rotation.from_matrix(end.rotation @ start.rotation.T)
    split_shifts = [(_AXES[i] * shift[i], none) for i in range(3)]
    for order in rng.permutation(len(_ORDERS))[:3]:
        # lower case: one after the other about the root axes, which stand still
        angles = moves.as_euler(_ORDERS[order])
        turns = [(none, _AXES["xyz".index(axis)] * angle) for axis, angle in zip(_ORDERS[order], angles, strict=True)]
        turns = [part for part in turns if np.abs(part[1]).max() > _NONE_RAD]
        kept = turns if len(turns) > 1 else [(none, turned)]
        shifts = [[(shift, none)], split_shifts, [(shift * [1, 1, 0], none), (shift * [0, 0, 1], none)]]
        for parts in shifts:
            mixed = list(parts) + list(kept)
            slots = rng.permutation([0] * len(parts) + [1] * len(kept))
            queues = [iter([parts[i] for i in rng.permutation(len(parts))]), iter(kept)]
            ways.append([next(queues[slot]) for slot in slots] if mixed else [])
            ways.append([*kept, *parts])
            ways.append([*parts, *kept])
    return [made for parts in ways if (made := chain(start, parts))]


def carried_over(moves: Sequence[Leg], one: int, other: int, component: int) -> list[Leg] | None:
    """The moves with one component (0 to 2 shifts, 3 to 5 turns) of a move done in another; None where that ends
    elsewhere: shifts may change places, turns only where all between are about the same axis."""
    axis = component % 3
    low, high = min(one, other), max(one, other)
    parts = [(move.shift_mm.copy(), move.turn_rad.copy()) for move in moves]
    kind = component // 3
    if kind and any(np.abs(np.delete(part[1], axis)).max() > _NONE_RAD for part in parts[low : high + 1]):
        return None
    amount = parts[one][kind][axis]
    if abs(amount) <= (_NONE_RAD if kind else _NONE_MM):
        return None
    parts[one][kind][axis] = 0.0
    parts[other][kind][axis] += amount
    return chain(moves[0].start, parts)


def smooth(
    poses: Sequence[Pose],
    about: Around,
    room_mm: float,
    rng: np.random.Generator,
    rounds: int = 150,
    tell: Callable[[float], None] = lambda share: None,
) -> list[Leg]:
    """Fewer and simpler moves along a way of straight moves that goes: every replacement is tested as a whole.

    First and last pose stay. Deterministic for a given `rng`.
    """
    radius = about.radius_mm
    moves = [leg(a, b) for a, b in pairwise(poses)]
    moves = [move for move in moves if effort(move, radius) > 0.0]

    tested = {"moves": 0}
    hopeless: dict[bytes, float] = {}

    def fits(way: Sequence[Leg]) -> bool:
        known = {id(move) for move in moves}
        for move in way:
            if id(move) in known:
                continue
            tested["moves"] += 1
            if not goes(move, about, room_mm):
                return False
        return True

    def better(first: Pose, last: Pose, now: float) -> list[Leg] | None:
        key = b"".join(part.tobytes() for pose in (first, last) for part in (pose.rotation, pose.shift_mm))
        if tested["moves"] > _MOST_TESTED or now <= hopeless.get(key, 0.0):
            return None
        hopeless[key] = now
        ways = [(total(way, radius), at, way) for at, way in enumerate(simple_ways(first, last, rng))]
        for cost, _, way in sorted(ways, key=lambda w: w[:2]):
            if cost >= now - 1e-6:
                return None
            if fits(way):
                return way
        return None

    def cut(first: float, last: float) -> bool:
        """Tries to replace what lies between two places along the moves, told as move number plus share."""
        nonlocal moves
        i, j = int(first), min(int(last), len(moves) - 1)
        start_share, end_share = first - i, last - j
        inner = moves[i : j + 1]
        lead = [inner[0].part(0.0, start_share)] if start_share > 0.0 else []
        tail = [inner[-1].part(end_share, 1.0)] if end_share < 1.0 else []
        way = better(
            inner[0].at(start_share), inner[-1].at(end_share), total(inner, radius) - total(lead + tail, radius)
        )
        if way is None:
            return False
        moves = [*moves[:i], *lead, *way, *tail, *moves[j + 1 :]]
        return True

    def gathered() -> bool:
        """Tries to do a component of one move in another: what goes there and back falls away."""
        nonlocal moves
        now = total(moves, radius)
        for one, other in permutations(range(len(moves)), 2):
            for component in range(6):
                way = carried_over(moves, one, other, component)
                if way is None or total(way, radius) >= now - 1e-6:
                    continue
                if tested["moves"] <= _MOST_TESTED and fits(way):
                    moves = way
                    return True
        return False

    for number in range(rounds):
        tell(number / rounds)
        if not moves or tested["moves"] > _MOST_TESTED:
            break
        if number % 25 == 0 and len(moves) <= _MOST_PAIRS:
            gained = True
            while gained:
                spans = sorted(combinations(range(len(moves) + 1), 2), key=lambda s: s[0] - s[1])
                gained = any(cut(float(i), float(j)) for i, j in spans) or gathered()
        ends = np.sort(rng.uniform(0.0, len(moves), 2))
        whole = rng.random(2) < 0.5
        ends = np.where(whole, np.round(ends), ends)
        if ends[1] - ends[0] > 1e-3:
            cut(float(ends[0]), float(ends[1]))
    return moves


def rounded(moves: Sequence[Leg], about: Around, room_mm: float, to: Rounding, free_start: bool) -> list[Leg]:
    """The same moves in round numbers, worked back from the last pose; a move that then touches stays as it was.

    The first pose may change a little where `free_start` says so; else the first move takes up the odd rest.
    """
    end = moves[-1].end if moves else None
    out: list[Leg] = []
    for at in range(len(moves) - 1, -1, -1):
        assert end is not None
        odd = leg(moves[at].start, end)
        if at == 0 and not free_start:
            out.append(odd)
            break
        step = np.radians(to.angle_deg)
        # turns of a move must not be split anew: they are rounded as they were, the drift goes into the start
        shift = np.round(odd.shift_mm / to.length_mm) * to.length_mm
        turned = np.round(moves[at].turn_rad / step) * step
        back = Leg(end, -shift, -turned).end
        tidy = Leg(back, shift, turned)
        fits = goes(tidy, about, room_mm)
        if fits and at > 0:
            fits = goes(leg(moves[at - 1].start, back), about, room_mm)
        if fits:
            if effort(tidy, about.radius_mm) > 0.0:
                out.append(tidy)
            end = back
        else:
            if not goes(odd, about, room_mm):
                # what came after has moved this move's end out of the way it had: begin from what is known to go
                return list(moves)
            out.append(odd)
            end = odd.start
    return out[::-1]
