"""The two choices that are worked whole: which spots modules take, and in which order the string runs.

Only door to the constraint solver. One thread, one seed and a limit counted in work, not in seconds: the same answer
on any machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

Array = NDArray[np.float64]

WORK = 1.0  # of the solver's own count, some seconds
NEAR = 0.02  # an answer this near the least that is possible is good enough


@dataclass(frozen=True, eq=False, slots=True)
class Weights:
    """What one choice of spots costs, each whole number for one spot of all bays (n,)."""

    station: NDArray[np.int64]  # signed, off the wanted station
    side: NDArray[np.int64]  # signed, off the middle
    each: NDArray[np.int64]  # height and way to the cables, weighed already
    per_station: int
    per_side: int
    per_bay: int


@dataclass(frozen=True, slots=True)
class Chosen:
    """Spots taken, what they cost, and the least that any choice could."""

    spots: tuple[int, ...]
    cost: float
    bound: float


def choose(
    count: int | None,
    bay: NDArray[np.int64],
    cover: Sequence[Sequence[int]],
    weights: Weights | None = None,
    not_again: Sequence[Sequence[int]] = (),
    work: float = WORK,
    seed: int = 1,
    near: float = NEAR,
    hint: Sequence[int] = (),
) -> Chosen | None:
    """`count` spots, no two of which share a place, at the least cost; as many as go in where `count` is None.

    `bay` (n,) numbers each spot's bay; `not_again` are counts by bay that are barred; `hint` is a choice to begin
    from. None where there is no such choice, or none was found within `work`.
    """
    from ortools.sat.python import cp_model  # slow to load

    model = cp_model.CpModel()
    take = [model.new_bool_var("") for _ in bay]
    for n in hint:
        model.add_hint(take[n], True)
    for together in cover:
        model.add_at_most_one([take[n] for n in together])
    bays = sorted({int(b) for b in bay})
    within = {b: [take[int(n)] for n in np.flatnonzero(bay == b)] for b in bays}
    if count is None:
        model.maximize(sum(take))
    else:
        model.add(sum(take) == count)
        for row in not_again:
            apart = []
            for b in bays:
                over, under = model.new_bool_var(""), model.new_bool_var("")
                model.add(sum(within[b]) >= row[b] + 1).only_enforce_if(over)
                model.add(sum(within[b]) <= row[b] - 1).only_enforce_if(under)
                apart += [over, under]
            model.add_bool_or(apart)
        if weights is not None:
            model.minimize(_cost(model, take, within, weights))
    solver = _solver(work, seed)
    solver.parameters.relative_gap_limit = 0.0 if count is None else near
    # what presolve would find here costs more than it saves
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.merge_at_most_one_work_limit = 1e6
    state = solver.solve(model)
    if state not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    spots = tuple(n for n, one in enumerate(take) if solver.boolean_value(one))
    return Chosen(spots, solver.objective_value, solver.best_objective_bound)


def cost_of(spots: Sequence[int], bay: NDArray[np.int64], weights: Weights) -> int:
    """What a choice of spots costs."""
    taken = list(spots)
    return (
        weights.per_station * abs(int(weights.station[taken].sum()))
        + weights.per_side * abs(int(weights.side[taken].sum()))
        + int(weights.each[taken].sum())
        + weights.per_bay * len(set(bay[taken].tolist()))
    )


def _cost(
    model: cp_model.CpModel,
    take: Sequence[cp_model.IntVar],
    within: dict[int, list[cp_model.IntVar]],
    weights: Weights,
) -> cp_model.LinearExprT:
    from ortools.sat.python import cp_model  # slow to load

    terms: list[cp_model.LinearExprT] = []
    for off, price in ((weights.station, weights.per_station), (weights.side, weights.per_side)):
        if price:
            far = model.new_int_var(0, int(np.abs(off).sum()) + 1, "")
            total = cp_model.LinearExpr.weighted_sum(list(take), off.tolist())
            model.add(far >= total)
            model.add(far >= -total)
            terms.append(price * far)
    for some in within.values():
        if weights.per_bay:
            used = model.new_bool_var("")
            for one in some:
                model.add_implication(one, used)
            terms.append(weights.per_bay * used)
    terms.append(cp_model.LinearExpr.weighted_sum(list(take), weights.each.tolist()))
    return cp_model.LinearExpr.sum(terms)


def string_order(
    way: NDArray[np.int64],
    from_start: NDArray[np.int64],
    to_end: NDArray[np.int64],
    block: NDArray[np.int64],
    strings: int = 1,
    near: int = 12,
    work: float = WORK,
    seed: int = 1,
) -> tuple[tuple[tuple[int, ...], ...], bool]:
    """Order in which strings run through blocks at the least whole way, and whether none is shorter.

    A node is one block in one of its turns: `block` (n,) names the block of each, and each block is passed once in one
    turn. `way` (n, n) leads from one node's plus to another's minus; each of `strings` begins at the start, passes the
    same count of blocks and ends at the end. Past fifty nodes only the `near` nearest are joined, which is then not
    proved. Raises ValueError where the blocks do not share out evenly.
    """
    from ortools.sat.python import cp_model  # slow to load

    nodes, blocks = len(block), len(set(block.tolist()))
    if strings < 1 or blocks % strings:
        raise ValueError(f"{blocks} modules do not make {strings} like strings")
    long = blocks // strings
    model = cp_model.CpModel()
    kept = {n: model.new_bool_var("") for n in range(nodes)}
    for one in sorted(set(block.tolist())):
        model.add_exactly_one([kept[n] for n in range(nodes) if block[n] == one])
    pruned = nodes > 50
    arcs: list[tuple[int, int, cp_model.BoolVarT]] = [(n + 1, n + 1, ~kept[n]) for n in range(nodes)]
    priced: list[tuple[cp_model.BoolVarT, int]] = []
    place = [model.new_int_var(0, long - 1, "") for _ in range(nodes)] if strings > 1 else []
    guess = _greedy(way, from_start, to_end, block, strings)
    followed = {(a, b) for run in guess for a, b in pairwise(run)}
    for a in range(nodes):
        order = np.argsort(way[a], kind="stable")
        others = [int(b) for b in order if block[b] != block[a]]
        if pruned:
            others = others[:near] + [b for b in others[near:] if (a, b) in followed]
        for b in others:
            arc = model.new_bool_var("")
            arcs.append((a + 1, b + 1, arc))
            priced.append((arc, int(way[a, b])))
            model.add_hint(arc, (a, b) in followed)
            if strings > 1:
                model.add(place[b] == place[a] + 1).only_enforce_if(arc)
    firsts, lasts = {run[0] for run in guess}, {run[-1] for run in guess}
    outs = []
    for n in range(nodes):
        begin, end = model.new_bool_var(""), model.new_bool_var("")
        arcs += [(0, n + 1, begin), (n + 1, 0, end)]
        priced += [(begin, int(from_start[n])), (end, int(to_end[n]))]
        outs.append(begin)
        model.add_hint(begin, n in firsts)
        model.add_hint(end, n in lasts)
        if strings > 1:
            model.add(place[n] == 0).only_enforce_if(begin)
            model.add(place[n] == long - 1).only_enforce_if(end)
    if strings > 1:
        model.add_multiple_circuit(arcs)
        model.add(sum(outs) == strings)
    else:
        model.add_circuit(arcs)
    model.minimize(cp_model.LinearExpr.weighted_sum([arc for arc, _ in priced], [cost for _, cost in priced]))
    solver = _solver(work, seed)
    state = solver.solve(model)
    if state not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return guess, False
    after: dict[int, list[int]] = {}
    for a, b, taken in arcs:
        if a != b and solver.boolean_value(taken):
            after.setdefault(a, []).append(b)
    runs = []
    for first in sorted(after[0]):
        run = [first]
        while (ahead := after[run[-1]][0]) != 0:
            run.append(ahead)
        runs.append(tuple(n - 1 for n in run))
    return tuple(runs), state == cp_model.OPTIMAL and not pruned


def _greedy(
    way: NDArray[np.int64],
    from_start: NDArray[np.int64],
    to_end: NDArray[np.int64],
    block: NDArray[np.int64],
    strings: int,
) -> tuple[tuple[int, ...], ...]:
    """A first order, nearest next: what the solver begins from."""
    left = set(block.tolist())
    long = len(left) // strings
    runs = []
    for _ in range(strings):
        run: list[int] = []
        for _ in range(long):
            cost = from_start if not run else way[run[-1]]
            free = [n for n in range(len(block)) if int(block[n]) in left]
            run.append(min(free, key=lambda n: (int(cost[n]), n)))
            left.discard(int(block[run[-1]]))
        runs.append(tuple(run))
    return tuple(runs)


def _solver(work: float, seed: int) -> cp_model.CpSolver:
    from ortools.sat.python import cp_model  # slow to load

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = work
    return solver
