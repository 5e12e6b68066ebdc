"""One sheet filled: everything in the room, gaps kept, whatever the room looks like."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from halfshaft.cut.nest.fill import Want, fill, placed
from halfshaft.cut.nest.shape import grown, one_ring
from halfshaft.cut.nest.strip import Piece, pack
from tests.cut.nest.cases import brute_gap

EVERY_15 = tuple(15.0 * k for k in range(24))
SQUARE = Polygon([(0, 0), (60, 0), (60, 60), (0, 60)])
ANGLE = Polygon([(0, 0), (90, 0), (90, 25), (25, 25), (25, 90), (0, 90)])


def laid(room, gap: float, shapes: list[Polygon], seed: int = 1, priorities=None, turns=EVERY_15):
    wants = [Want(str(i), s, turns, priorities[i] if priorities else 1) for i, s in enumerate(shapes)]
    return {put.name: placed(shapes[int(put.name)], put) for put in fill(room, gap, wants, seed)}


def test_parts_lie_in_a_rectangle_with_their_gaps() -> None:
    room = box(10, 10, 310, 210)
    there = laid(room, 6.0, [SQUARE] * 4 + [ANGLE] * 2)
    assert len(there) == 6
    assert all(room.covers(shape) for shape in there.values())
    assert brute_gap(list(there.values())) >= 6.0


def test_an_offcut_of_any_outline_is_filled_inside_its_outline() -> None:
    # an L: the bounding box holds far more than the piece does
    room = Polygon([(0, 0), (400, 0), (400, 90), (100, 90), (100, 300), (0, 300)])
    there = laid(room, 5.0, [SQUARE] * 6)
    assert len(there) == 6
    assert all(room.covers(shape) for shape in there.values())
    assert brute_gap(list(there.values())) >= 5.0


def test_nothing_lies_on_a_strip_in_the_middle_of_the_sheet() -> None:
    clamp = box(120, 60, 180, 100)
    room = box(0, 0, 300, 160).difference(clamp)
    there = laid(room, 5.0, [SQUARE] * 5)
    assert len(there) >= 4
    assert all(not shape.intersects(clamp) for shape in there.values())


def test_a_small_part_goes_into_the_opening_of_a_large_one() -> None:
    ring = Polygon([(0, 0), (200, 0), (200, 200), (0, 200)], [[(30, 30), (30, 170), (170, 170), (170, 30)]])
    room = box(0, 0, 206, 206)  # room for nothing beside the ring
    there = laid(room, 5.0, [ring, SQUARE], turns=(0.0, 90.0))
    assert len(there) == 2
    assert Polygon(there["0"].exterior).contains(there["1"])
    assert brute_gap(list(there.values())) >= 5.0


def test_what_is_needed_first_gets_its_place_first() -> None:
    # only one of the two fits; the larger would win by area
    large, small = Polygon([(0, 0), (90, 0), (90, 90), (0, 90)]), SQUARE
    there = laid(box(0, 0, 100, 100), 5.0, [large, small], priorities=[2, 1])
    assert set(there) == {"1"}


def test_the_same_seed_gives_the_same_layout() -> None:
    room = Polygon([(0, 0), (400, 0), (380, 200), (0, 240)])
    one, two = (laid(room, 5.0, [SQUARE, ANGLE, ANGLE], seed=9) for _ in range(2))
    assert {k: list(v.exterior.coords) for k, v in one.items()} == {k: list(v.exterior.coords) for k, v in two.items()}


def test_parts_lie_at_allowed_turns_alone() -> None:
    room = box(0, 0, 130, 300)  # higher than long: packed lying down, told standing up
    wants = [Want(str(i), ANGLE, (30.0, 210.0)) for i in range(3)]
    puts = fill(room, 4.0, wants, 1)
    assert puts
    assert {round(put.turn_deg, 3) for put in puts} <= {30.0, 210.0}


def test_a_part_too_large_is_not_laid_and_no_room_holds_nothing() -> None:
    assert laid(box(0, 0, 50, 50), 5.0, [SQUARE]) == {}
    assert laid(Polygon(), 5.0, [SQUARE]) == {}


corners = st.lists(st.tuples(st.floats(5.0, 60.0), st.floats(0.0, 1.0)), min_size=4, max_size=9)


def star(spokes: list[tuple[float, float]]) -> Polygon:
    """A shape with re-entrant corners round the origin."""
    n = len(spokes)
    turns = [2.0 * np.pi * (k + 0.8 * jitter) / n for k, (_, jitter) in enumerate(spokes)]
    return Polygon([(r * np.cos(t), r * np.sin(t)) for (r, _), t in zip(spokes, turns, strict=True)])


@settings(max_examples=6, deadline=None)
@given(st.lists(corners, min_size=1, max_size=5), st.floats(2.0, 12.0), st.integers(0, 1000), st.booleans())
def test_gaps_and_edges_hold_for_any_shapes(drawn, gap: float, seed: int, odd: bool) -> None:
    shapes = [star(spokes) for spokes in drawn]
    if not all(s.is_valid and s.area > 50.0 for s in shapes):
        return
    room = Polygon([(0, 0), (300, 20), (260, 220), (120, 160), (0, 200)]) if odd else box(0, 0, 280, 180)
    there = list(laid(room, gap, shapes, seed).values())
    assert all(room.buffer(1e-9).covers(shape) for shape in there)
    assert brute_gap(there) >= gap


@given(corners, st.floats(0.5, 10.0))
def test_a_grown_shape_is_nowhere_nearer_than_it_was_grown_by(spokes, by: float) -> None:
    shape = star(spokes)
    if not shape.is_valid or shape.area < 50.0:
        return
    assert grown(shape, by).exterior.distance(shape) >= by


def test_a_shape_with_openings_becomes_one_ring_of_nearly_its_area() -> None:
    shape = Polygon(
        SQUARE.exterior, [[(10, 10), (10, 20), (20, 20), (20, 10)], [(40, 40), (40, 50), (50, 50), (50, 40)]]
    )
    ring = one_ring(shape)
    assert not ring.interiors
    assert ring.area == pytest.approx(shape.area, abs=2.0)
    assert shape.buffer(1e-6).covers(ring)


def test_a_piece_higher_than_the_strip_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="'web'"):
        pack([Piece("web", SQUARE, (0.0,))], 50.0, 1)
