"""Layouts against trying everything on small bays, and their boxes against an independent geometry kernel."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations, product

import numpy as np
import pytest
from numpy.typing import NDArray

from halfshaft.geometry import Pose, mesh
from halfshaft.pack.bay import Bay, Keep, bay_of_corners, bay_of_points
from halfshaft.pack.block import Block, rotations, stances_of, turns_of
from halfshaft.pack.clear import box_of, clashes
from halfshaft.pack.layout import Rooms, Wish, layouts, most_that_fit, unbeaten
from halfshaft.pack.solver import Weights, choose, cost_of, string_order
from halfshaft.pack.spots import spots_of

Array = NDArray[np.float64]

ANY = ("top", "bottom", "left", "right", "front", "rear")
PLACE = Wish("on the wanted station", 10.0, 4.0, 1.0, 0.05, 20.0)
SHORT = Wish("few boxes, short cables", 0.3, 0.3, 0.3, 1.0, 1000.0)


def block(size: tuple[float, ...], up: tuple[str, ...] = ANY, room: float = 0.0, cools: str = "") -> Block:
    _, width, height = size
    minus, plus = np.array([0.0, width / 4, height / 2]), np.array([0.0, 3 * width / 4, height / 2])
    return Block(np.array(size), 10.0, minus, plus, "rear", room, up, cools)


def bay(size: tuple[float, ...], at: tuple[float, ...] = (0.0, 0.0, 0.0), wall: float = 0.0, **more: str) -> Bay:
    return Bay("bay", Pose(np.eye(3), np.array(at)), np.array(size, dtype=float), wall, **more)


def rooms(bays: list[Bay], one: Block, keeps: tuple[Keep, ...] = (), gap: float = 0.0, most: int = 4000) -> Rooms:
    stances = tuple(stances_of(one, b.cooled) for b in bays)
    spots = tuple(spots_of(b, s, keeps, gap, most) for b, s in zip(bays, stances, strict=True))
    return Rooms(tuple(bays), stances, spots)


def _most_by_trying(size: tuple[int, ...], one: tuple[int, ...], shut: set[tuple[int, ...]]) -> int:
    """Most boxes that go in whole cells, by filling or skipping the first free cell."""
    shapes = sorted(set(permutations(one)))
    cells = list(product(*(range(n) for n in size)))
    best = 0

    def go(at: int, taken: frozenset[tuple[int, ...]], count: int) -> None:
        nonlocal best
        best = max(best, count)
        free = sum(1 for cell in cells[at:] if cell not in taken)
        if count + free // (one[0] * one[1] * one[2]) <= best:
            return
        while at < len(cells) and cells[at] in taken:
            at += 1
        if at == len(cells):
            return
        corner = cells[at]
        for shape in shapes:
            ends = [c + s for c, s in zip(corner, shape, strict=True)]
            if all(e <= n for e, n in zip(ends, size, strict=True)):
                own = frozenset(product(*(range(c, e) for c, e in zip(corner, ends, strict=True))))
                if not own & taken:
                    go(at, taken | own, count + 1)
        go(at + 1, taken, count)

    go(0, frozenset(shut), 0)
    return best


@pytest.mark.parametrize(
    ("size", "one", "shut"),
    [
        ((5, 5, 1), (3, 2, 1), ()),  # four round a hole, as no rows do
        ((5, 4, 2), (3, 2, 1), ()),
        ((4, 3, 3), (2, 2, 1), ((0, 0, 0), (0, 0, 1))),
        ((6, 4, 1), (3, 1, 1), ((2, 1, 0), (2, 2, 0))),
        ((3, 3, 3), (2, 1, 1), ((1, 1, 1),)),
    ],
)
def test_as_many_go_in_as_by_trying_every_place(
    size: tuple[int, ...], one: tuple[int, ...], shut: tuple[tuple[int, ...], ...]
) -> None:
    keeps = tuple(
        Keep(f"k{n}", mesh.box(10.0 * np.array(c), 10.0 * (np.array(c) + 1)), 0.0) for n, c in enumerate(shut)
    )
    here = rooms([bay(tuple(10.0 * n for n in size))], block(tuple(10.0 * n for n in one)), keeps)
    ((found, proved),) = most_that_fit(here)
    assert proved
    assert found == _most_by_trying(size, one, set(shut))


def test_the_cheapest_choice_is_that_of_trying_every_choice() -> None:
    one = block((30.0, 20.0, 10.0), up=("top",))
    here = rooms([bay((70.0, 50.0, 10.0))], one)
    spots = here.spots[0]
    number = len(spots.stance)
    centres = spots.corner_mm + np.array([here.stances[0][int(n)].centre_mm for n in spots.stance])
    station = np.round(10 * (centres[:, 0] - 33.0)).astype(np.int64)
    side = np.round(10 * (centres[:, 1] - 21.0)).astype(np.int64)
    each = np.round(centres[:, 2] + 0.3 * centres[:, 0]).astype(np.int64)
    weights = Weights(station, side, each, 7, 3, 0)
    apart = np.ones((number, number), dtype=bool)
    for some in spots.cover:
        apart[np.ix_(some, some)] = False
    best = min(
        7 * abs(int(station[[a, b, c]].sum())) + 3 * abs(int(side[[a, b, c]].sum())) + int(each[[a, b, c]].sum())
        for a in range(number)
        for b in range(a)
        if apart[a, b]
        for c in range(b)
        if apart[a, c] and apart[b, c]
    )
    found = choose(3, np.zeros(number, dtype=np.int64), spots.cover, weights, work=20.0, near=0.0)
    assert found is not None
    assert found.cost == found.bound == pytest.approx(best)
    assert cost_of(found.spots, np.zeros(number, dtype=np.int64), weights) == best


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("strings", [1, 2])
def test_the_shortest_string_is_that_of_trying_every_order(seed: int, strings: int) -> None:
    dice = np.random.default_rng(seed)
    turns, blocks = 2, 4 if strings == 2 else 5
    which = np.repeat(np.arange(blocks), turns)
    way = dice.integers(1, 1000, (len(which), len(which)))
    begin, end = dice.integers(1, 500, (2, len(which)))
    long = blocks // strings
    best = 10**9
    for order in permutations(range(blocks)):
        for kinds in product(range(turns), repeat=blocks):
            nodes = [turns * b + k for b, k in zip(order, kinds, strict=True)]
            runs = [nodes[s * long : (s + 1) * long] for s in range(strings)]
            cost = sum(int(begin[r[0]]) + int(end[r[-1]]) + sum(int(way[a, b]) for a, b in pairwise(r)) for r in runs)
            best = min(best, cost)
    runs, proved = string_order(way, begin, end, which, strings, work=20.0)
    found = sum(int(begin[r[0]]) + int(end[r[-1]]) + sum(int(way[a, b]) for a, b in pairwise(r)) for r in runs)
    assert proved
    assert sorted(int(which[n]) for r in runs for n in r) == list(range(blocks))
    assert {len(r) for r in runs} == {long}
    assert found == best


def test_modules_that_do_not_share_out_are_refused() -> None:
    with pytest.raises(ValueError, match="3 modules do not make 2 like strings"):
        string_order(np.ones((3, 3), dtype=np.int64), np.ones(3, int), np.ones(3, int), np.arange(3), 2)


def test_a_box_lies_square_in_24_ways() -> None:
    ways = rotations()
    assert len({tuple(way.ravel()) for way in ways}) == 24
    assert all(np.allclose(way @ way.T, np.eye(3)) and np.linalg.det(way) > 0.0 for way in ways)


def test_only_faces_that_may_look_up_do_and_the_cooled_face_meets_its_plate() -> None:
    one = block((355.0, 152.0, 110.0), up=("top", "left"), room=30.0, cools="bottom")
    assert {turn.up for turn in turns_of(one)} == {"top", "left"}
    assert len(turns_of(one)) == 8
    cooled = turns_of(one, "bottom")
    assert len(cooled) == 4
    for turn in cooled:
        assert turn.rotation @ np.array([0.0, 0.0, -1.0]) == pytest.approx([0.0, 0.0, -1.0])
    here = rooms([bay((900.0, 500.0, 400.0), wall=5.0, cooled="bottom")], one, gap=3.0)
    assert len(here.spots[0].stance)
    assert np.allclose(here.spots[0].corner_mm[:, 2], 5.0)


def test_terminals_turn_with_their_module() -> None:
    one = Block(np.array([300.0, 150.0, 100.0]), 10.0, np.array([0.0, 20.0, 90.0]), np.array([0.0, 130.0, 90.0]),
                "rear", 30.0, ("top",))  # fmt: skip
    by_side = {turn.terminals: turn for turn in turns_of(one)}
    assert set(by_side) == {"front", "rear", "left", "right"}
    rear, front, left = by_side["rear"], by_side["front"], by_side["left"]
    assert rear.room_mm == pytest.approx([330.0, 150.0, 100.0])
    assert rear.inner_mm == pytest.approx([30.0, 0.0, 0.0])
    assert rear.minus_mm == pytest.approx([30.0, 20.0, 90.0])
    # turned half round, what was right and behind is left and before
    assert front.minus_mm == pytest.approx([300.0, 130.0, 90.0])
    assert left.room_mm == pytest.approx([150.0, 330.0, 100.0])
    assert left.minus_mm[1] == pytest.approx(300.0)
    assert np.linalg.norm(left.minus_mm - left.plus_mm) == pytest.approx(110.0)


def test_layouts_fit_and_none_beats_another() -> None:
    one = block((200.0, 100.0, 80.0), up=("top", "left"), room=20.0)
    tilted, size = bay_of_points((0.0, 400.0, 300.0), (480.0, 400.0, 340.0), (0.0, 690.0, 305.0), 200.0)
    bays = [
        Bay("level", *bay_of_corners((0.0, -300.0, 300.0), (450.0, 0.0, 500.0)), wall_mm=5.0),
        Bay("askew", tilted, size, 5.0, cables="front"),
    ]
    pillar = Keep("pillar", mesh.cylinder((200.0, -120.0, 200.0), (0.0, 0.0, 1.0), 20.0, 500.0), 10.0)
    corner = Keep("corner", mesh.box((350.0, -320.0, 250.0), (500.0, -200.0, 600.0)), 15.0)
    here = rooms(bays, one, (pillar, corner), gap=3.0, most=200)
    found = layouts(here, 6, 1, (PLACE, SHORT), station_mm=200.0, side_mm=100.0, work=0.4)
    assert found
    for layout in found:
        assert clashes(layout.modules, bays, (pillar, corner), 3.0) == ()
        assert sum(layout.counts) == len(layout.modules) == 6
        assert layout.centre_mm == pytest.approx(np.mean([m.centre_mm for m in layout.modules], axis=0))
        by_name = {b.name: b for b in bays}
        for module in layout.modules:
            low, high = box_of(module, by_name[module.bay]).bounds_mm
            assert (low + high) / 2.0 == pytest.approx(module.centre_mm, abs=1e-6)
    assert unbeaten(found) == found
    assert len({layout.counts for layout in found}) > 1


def test_a_module_moved_into_another_is_told() -> None:
    one = block((200.0, 100.0, 80.0), up=("top",))
    here = rooms([bay((450.0, 250.0, 100.0))], one, gap=3.0)
    first = layouts(here, 3, 1, (SHORT,), others=0)[0]
    assert clashes(first.modules, here.bays, (), 3.0) == ()
    a, b, c = first.modules
    spoiled = (a, replace(b, corner_mm=a.corner_mm + 10.0), c)
    assert any(
        "module 1.1 and module 1.2 are nearer than 3 mm" in words for words in clashes(spoiled, here.bays, (), 3.0)
    )
    out = (replace(a, corner_mm=np.array([-1.0, 0.0, 0.0])), b, c)
    assert any("to a side of bay" in words for words in clashes(out, here.bays, (), 3.0))


def test_the_same_answers_come_again() -> None:
    one = block((200.0, 100.0, 80.0), up=("top", "left"), room=20.0)
    here = rooms([bay((450.0, 330.0, 200.0))], one, gap=3.0)
    first, again = (layouts(here, 5, 1, (PLACE,), station_mm=200.0, work=0.4) for _ in range(2))
    assert [m.corner_mm.tolist() for m in first[0].modules] == [m.corner_mm.tolist() for m in again[0].modules]
    assert first[0].merits == again[0].merits


@pytest.mark.parametrize(
    ("spots", "why"),
    [
        (((0, 0, 0), (0, 0, 0), (0, 100, 0)), "one place"),
        (((0, 0, 0), (100, 0, 0), (200, 0, 0)), "one line"),
        (((0, 0, 0), (100, 0, 0), (0, -100, 0)), "looks down"),
    ],
)
def test_a_bay_named_in_the_wrong_order_is_told(spots: tuple[tuple[int, ...], ...], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        bay_of_points(*spots, 100.0)
