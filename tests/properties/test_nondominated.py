"""What holds of any list of costs: nothing kept is beaten, and all that is left out is."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.nondominated import different, unbeaten

TABLES = st.lists(st.lists(st.integers(0, 6), min_size=3, max_size=3), min_size=1, max_size=25)


def beats(one: list[int], other: list[int]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True)) and one != other


@given(TABLES)
def test_a_row_is_kept_when_and_only_when_no_other_beats_it(rows: list[list[int]]) -> None:
    kept = unbeaten(rows)
    for at, row in enumerate(rows):
        beaten = any(beats(other, row) for other in rows) or row in rows[:at]
        assert kept[at] == (not beaten)


@given(TABLES)
def test_places_taken_are_apart_and_each_left_out_is_like_one_taken(rows: list[list[int]]) -> None:
    places = [np.array(row, dtype=float) for row in rows]
    taken = different(places, np.full(3, 2.0), 100)
    for at in range(len(places)):
        like = [np.abs(places[at] - places[other]).max() < 2.0 for other in taken if other != at]
        assert any(like) != (at in taken) or (at not in taken and any(like))


def test_a_difference_smaller_than_its_worth_does_not_count() -> None:
    assert list(unbeaten([[100.0, 5.0], [101.0, 4.9]], worth=[10.0, 1.0])) == [True, False]
    assert list(unbeaten([[100.0, 5.0], [140.0, 1.0]], worth=[10.0, 1.0])) == [True, True]
