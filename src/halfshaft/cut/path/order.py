"""In what order cuts are made. Where each begins and ends, what must come before what, in; an order out.

Nearest first, with a price on a pierce close to the one before; then runs of a few cuts are moved and stretches turned
about for as long as that saves way (the or-opt and 2-opt moves of Or, 1976, and Croes, 1958). No rule is broken on the
way. The same input gives the same order.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HEAT = 4.0  # a pierce next to the last one costs as much as so many heat gaps of way
_LONGEST_RUN = 3
_LONGEST_TURN = 40
_NEIGHBOURS = 14
_ROUNDS = 30


def ordered(
    starts_mm: Array,
    ends_mm: Array,
    before: Sequence[Sequence[int]],
    heat_gap_mm: float,
    home_mm: Array,
    first: Sequence[int] | None = None,
) -> list[int]:
    """Numbers of the cuts in order.

    `starts_mm`, `ends_mm` (n, 2); `before`: for each cut those that must come before it; `home_mm` (2,) where the torch
    comes from and goes back to; `first`: an order to better. Raises ValueError where the rules go round in a ring.
    """
    count = len(starts_mm)
    if count == 0:
        return []
    cost = costs(starts_mm, ends_mm, heat_gap_mm)
    out = np.linalg.norm(starts_mm - home_mm, axis=1)
    back = np.linalg.norm(ends_mm - home_mm, axis=1)
    order = list(first) if first is not None else _nearest(cost, out, before)
    return _bettered(order, cost, out, back, before)


def costs(starts_mm: Array, ends_mm: Array, heat_gap_mm: float) -> Array:
    """Way from the end of each cut to the start of each, and the price of a pierce near the one before (n, n)."""
    way = np.linalg.norm(ends_mm[:, None] - starts_mm[None], axis=2)
    apart = np.linalg.norm(starts_mm[:, None] - starts_mm[None], axis=2)
    return np.asarray(way + HEAT * heat_gap_mm * (apart < heat_gap_mm))


def close_pierces(starts_mm: Array, order: Sequence[int], heat_gap_mm: float) -> int:
    """How many pierces are made nearer than the heat gap to the one before."""
    spots = starts_mm[list(order)]
    return int(np.sum(np.linalg.norm(np.diff(spots, axis=0), axis=1) < heat_gap_mm)) if len(spots) > 1 else 0


def _nearest(cost: Array, out: Array, before: Sequence[Sequence[int]]) -> list[int]:
    count = len(out)
    waits = np.array([len(set(b)) for b in before])
    after: list[list[int]] = [[] for _ in range(count)]
    for number, needs in enumerate(before):
        for need in set(needs):
            after[need].append(number)
    order: list[int] = []
    done = np.zeros(count, dtype=bool)
    while len(order) < count:
        open_now = np.flatnonzero(~done & (waits == 0))
        if not len(open_now):
            raise ValueError("cuts wait for each other in a ring")
        price = cost[order[-1], open_now] if order else out[open_now]
        chosen = int(open_now[int(np.argmin(price))])
        done[chosen] = True
        order.append(chosen)
        for number in after[chosen]:
            waits[number] -= 1
    return order


def _bettered(order: list[int], cost: Array, out: Array, back: Array, before: Sequence[Sequence[int]]) -> list[int]:
    count = len(order)
    if count < 3:
        return order
    # one more row and column: home
    whole = np.zeros((count + 1, count + 1))
    whole[:count, :count], whole[count, :count], whole[:count, count] = cost, out, back
    table = whole.tolist()
    needs = [sorted(set(b)) for b in before]
    after: list[list[int]] = [[] for _ in range(count)]
    for number, own in enumerate(needs):
        for need in own:
            after[need].append(number)
    near = np.argsort(cost + cost.T + 1e12 * np.eye(count), axis=1)[:, :_NEIGHBOURS].tolist()
    for _ in range(_ROUNDS):
        moved = _move_runs(order, table, needs, after, near)
        turned = _turn_stretches(order, table, needs)
        if not moved and not turned:
            break
    return order


def _move_runs(
    order: list[int],
    table: list[list[float]],
    needs: list[list[int]],
    after: list[list[int]],
    near: list[list[int]],
) -> bool:
    """Takes runs of up to three cuts out and puts them in where that saves way; True where any was moved."""
    count, any_moved = len(order), False
    home = count
    for length in range(1, _LONGEST_RUN + 1):
        for item in range(count):
            place = {number: spot for spot, number in enumerate(order)}
            at = place[item]
            if at + length > count:
                continue
            run = order[at : at + length]
            inside = set(run)
            prev = order[at - 1] if at else home
            nxt = order[at + length] if at + length < count else home
            saved = table[prev][run[0]] + table[run[-1]][nxt] - table[prev][nxt]
            if saved < 1e-9:
                continue
            earliest = max((place[n] + 1 for r in run for n in needs[r] if n not in inside), default=0)
            latest = min((place[n] for r in run for n in after[r] if n not in inside), default=count)
            spots = {place[n] + 1 for n in near[run[0]]} | {place[n] for n in near[run[-1]]} | {earliest, latest}
            best, to = 1e-6, -1
            for spot in spots:
                if not earliest <= spot <= latest or at <= spot <= at + length:
                    continue
                a = order[spot - 1] if spot else home
                b = order[spot] if spot < count else home
                gain = saved - (table[a][run[0]] + table[run[-1]][b] - table[a][b])
                if gain > best:
                    best, to = gain, spot
            if to >= 0:
                rest = order[:at] + order[at + length :]
                into = to if to <= at else to - length
                order[:] = rest[:into] + run + rest[into:]
                any_moved = True
    return any_moved


def _turn_stretches(order: list[int], table: list[list[float]], needs: list[list[int]]) -> bool:
    """Runs stretches of the order backwards where that saves way; True where any was."""
    count, any_turned = len(order), False
    home = count
    place = {number: spot for spot, number in enumerate(order)}
    at = 0
    while at < count - 1:
        prev = order[at - 1] if at else home
        forward = backward = 0.0
        best, to = 1e-6, -1
        for end in range(at + 1, min(at + _LONGEST_TURN, count)):
            last, one = order[end - 1], order[end]
            if any(place[n] >= at for n in needs[one]):
                break
            forward += table[last][one]
            backward += table[one][last]
            nxt = order[end + 1] if end + 1 < count else home
            gain = table[prev][order[at]] + forward + table[one][nxt]
            gain -= table[prev][one] + backward + table[order[at]][nxt]
            if gain > best:
                best, to = gain, end
        if to >= 0:
            order[at : to + 1] = order[at : to + 1][::-1]
            for spot in range(at, to + 1):
                place[order[spot]] = spot
            any_turned = True
        at += 1
    return any_turned
