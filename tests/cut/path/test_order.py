"""Order of cuts: rules kept, way near the shortest that can be, pierces parted where there is a choice."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest

from halfshaft.cut.path.order import close_pierces, costs, ordered


def way(order: list[int], starts: np.ndarray, ends: np.ndarray, gap: float = 0.0) -> float:
    cost = costs(starts, ends, gap)
    home = np.linalg.norm(starts[order[0]]) + np.linalg.norm(ends[order[-1]])
    return float(home + sum(cost[a, b] for a, b in pairwise(order)))


@pytest.mark.parametrize("seed", range(6))
def test_order_of_few_cuts_is_within_a_tenth_of_the_best_of_all(seed: int) -> None:
    rng = np.random.default_rng(seed)
    starts = rng.uniform(0, 500, (7, 2))
    ends = starts + rng.uniform(-40, 40, (7, 2))
    before = [[], [0], [], [2], [], [0, 2], []]
    found = ordered(starts, ends, before, 0.0, np.zeros(2))

    def kept(order: tuple[int, ...]) -> bool:
        return all(order.index(need) < order.index(n) for n, needs in enumerate(before) for need in needs)

    best = min(way(list(p), starts, ends) for p in permutations(range(7)) if kept(p))
    assert kept(tuple(found))
    assert way(found, starts, ends) <= 1.1 * best + 1e-9


def test_two_hundred_cuts_take_less_way_than_nearest_first_alone() -> None:
    rng = np.random.default_rng(4)
    starts = rng.uniform(0, 1500, (200, 2))
    before = [[n - 1] if n % 5 == 4 else [] for n in range(200)]
    found = ordered(starts, starts, before, 0.0, np.zeros(2))
    assert sorted(found) == list(range(200))
    assert all(found.index(n - 1) < found.index(n) for n in range(4, 200, 5))
    plain, here, left = [], np.zeros(2), set(range(200))
    while left:
        free = [n for n in left if all(need not in left for need in before[n])]
        plain.append(min(free, key=lambda n: np.linalg.norm(starts[n] - here)))
        here = starts[plain[-1]]
        left.discard(plain[-1])
    assert way(found, starts, starts) < 0.92 * way(plain, starts, starts)


def test_holes_side_by_side_are_not_pierced_one_after_the_other_where_others_wait() -> None:
    spots = np.array([[x, y] for x in (0.0, 20.0, 100.0, 120.0) for y in (0.0, 20.0)])
    without = ordered(spots, spots, [[] for _ in spots], 0.0, np.zeros(2))
    parted = ordered(spots, spots, [[] for _ in spots], 40.0, np.zeros(2))
    assert close_pierces(spots, without, 40.0) >= 5
    assert close_pierces(spots, parted, 40.0) <= 1


def test_rules_that_go_round_in_a_ring_are_refused() -> None:
    spots = np.zeros((2, 2))
    with pytest.raises(ValueError, match="ring"):
        ordered(spots, spots, [[1], [0]], 0.0, np.zeros(2))
