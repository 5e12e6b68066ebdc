"""The memory of the study: honest keys, and only what changed is worked again."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.digest import digest
from halfshaft.memory import Memory
from halfshaft.progress import Stopped, within


@dataclass(frozen=True, eq=False)
class Thing:
    name: str
    at_mm: np.ndarray


def test_equal_content_in_other_objects_has_the_same_fingerprint():
    assert digest(Thing("a", np.arange(3.0))) == digest(Thing("a", np.arange(3.0)))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("ab", "c"), ("a", "bc")),
        ((1,), (1.0,)),
        (((1, 2), 3), (1, (2, 3))),
        ((np.zeros((2, 3)),), (np.zeros((3, 2)),)),
        (({"a": 1},), ({"a": 2},)),
        ((Thing("a", np.zeros(3)),), (Thing("a", np.full(3, 1e-300)),)),
        ((None,), ("None",)),
    ],
)
def test_different_content_has_a_different_fingerprint(one, other):
    assert digest(*one) != digest(*other)


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4).map(tuple) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=12,
)


@given(values, values)
def test_fingerprints_are_equal_exactly_when_written_content_is(one, other):
    assert (digest(one) == digest(other)) == (repr(one) == repr(other))


def test_an_object_without_content_is_refused():
    with pytest.raises(TypeError, match="fingerprint"):
        digest(object())


def test_the_second_asking_does_not_work_again_and_a_changed_input_does():
    memory, worked = Memory(), []

    def work(value):
        return memory.recall("fold", (value,), lambda: worked.append(value) or value * 2)

    assert work(2) == (4, False)
    assert work(2) == (4, True)
    assert work(3) == (6, False)
    assert worked == [2, 3]


def test_work_that_is_stopped_leaves_nothing_behind():
    memory = Memory()

    def stop():
        raise Stopped

    with pytest.raises(Stopped):
        memory.recall("fold", (1,), stop)
    assert memory.recall("fold", (1,), lambda: "done") == ("done", False)


def test_the_oldest_result_leaves_when_room_is_short():
    memory = Memory(room=2)
    for value in (1, 2, 3):
        memory.recall("s", (value,), lambda: None)
    assert memory.recall("s", (1,), lambda: "again") == ("again", False)


def test_progress_of_a_step_is_told_within_the_whole():
    told = []
    within(lambda share, words: told.append((share, words)), 0.2, 0.6, "fold")(0.5, "front")
    assert told == [(pytest.approx(0.4), "fold: front")]
