"""How a stiff bracket shares its load among joints: sums, symmetry, and a couple by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.mounts.seat import seats_of
from halfshaft.mounts.share import shares
from tests.mounts.stands import DECK_MM, stand


def joints(spots: dict[str, tuple[float, float]]):
    """A joint of one bolt at each spot of the deck."""
    build, known = stand(at=spots, bolts=((0.0, 0.0),))
    return [seats_of(n, m, None, build, known)[0][0] for n, m in build.mounts.mount.items()]


def test_a_lone_joint_carries_all() -> None:
    (matrix,) = shares(joints({"a": (10.0, 20.0)}), (100.0, -50.0, 700.0))
    assert matrix == pytest.approx(np.eye(6), abs=1e-9)


def test_two_joints_alike_halve_a_force_between_them_and_make_a_couple_of_a_moment() -> None:
    one, two = shares(joints({"a": (-100.0, 0.0), "b": (100.0, 0.0)}), (0.0, 0.0, DECK_MM))
    push = np.array([0.0, 600.0, -400.0, 0.0, 0.0, 0.0])
    assert (one @ push)[:3] == pytest.approx(push[:3] / 2.0)
    # by hand: 20 N m upright on two bolts 200 mm apart is 100 N across each, less what their rings of 12 mm take,
    # one part in 1 + 100^2 / 36
    twist = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 20000.0])
    assert (two @ twist)[1] == pytest.approx(100.0 / (1.0 + 36.0 / 1e4))
    assert (one @ twist)[1] == pytest.approx(-(two @ twist)[1])


@given(
    st.lists(st.tuples(st.integers(-400, 400), st.integers(-400, 400)), min_size=1, max_size=4, unique=True),
    st.tuples(*[st.floats(-500.0, 500.0)] * 3),
)
def test_shares_sum_to_the_whole_load(spots: list[tuple[int, int]], centre: tuple[float, float, float]) -> None:
    named = {f"m{i}": (float(x), float(y)) for i, (x, y) in enumerate(spots)}
    assert shares(joints(named), centre).sum(axis=0) == pytest.approx(np.eye(6), abs=1e-6)
