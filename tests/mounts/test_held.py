"""Which moves a set of mounts leaves free: what a carpenter would say of it."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.mounts.bushings import Axis, Bushing, laid_out
from halfshaft.mounts.held import NotHeld, hold, loose_moves
from halfshaft.mounts.statics import settle

FREE, CENTRE = Axis(0.0), np.array([0.0, 0.0, 40.0])


def ball(name: str, *spot: float) -> Bushing:
    return Bushing(name, np.array(spot, dtype=float), np.eye(3), (Axis(500.0),) * 3)


def shore(name: str, *spot: float) -> Bushing:
    """Stiff up and down only."""
    return Bushing(name, np.array(spot, dtype=float), np.eye(3), (FREE, FREE, Axis(500.0)))


def words(*mounts: Bushing) -> list[str]:
    return [move.words for move in loose_moves(laid_out(mounts), CENTRE)]


def test_two_ball_mounts_across_the_car_let_the_unit_pitch_about_their_line() -> None:
    assert words(ball("left", 100, 250, 60), ball("right", 100, -250, 60)) == [
        "it pitches about a crosswise line through (100, 0, 60) mm"
    ]


def test_three_ball_mounts_in_line_hold_no_better_than_two() -> None:
    found = words(ball("a", 0, 100, 50), ball("b", 100, 0, 50), ball("c", 200, -100, 50))
    assert len(found) == 1
    assert "about a line along" in found[0]
    assert "0.71" in found[0]


def test_three_in_line_are_held_by_a_fourth_off_the_line_or_by_rubber_that_resists_turning() -> None:
    line = [ball("a", 0, 100, 50), ball("b", 100, 0, 50), ball("c", 200, -100, 50)]
    assert words(*line, ball("d", 0, 0, 0)) == []
    stiff = Bushing("c", line[2].centre_mm, np.eye(3), (Axis(500.0),) * 3, (Axis(2000.0),) * 3)
    assert words(*line[:2], stiff) == []


def test_one_ball_mount_leaves_three_turns_each_about_a_line_through_it() -> None:
    found = loose_moves(laid_out([ball("a", 30, 100, 50)]), CENTRE)
    assert sorted(move.words.split()[1] for move in found) == ["pitches", "rolls", "yaws"]
    for move in found:
        # the mount's spot stands still
        np.testing.assert_allclose(move.shift_mm + np.cross(move.turn_rad, [30, 100, 10]), 0.0, atol=1e-9)


def test_shores_alone_let_the_unit_slide_and_yaw() -> None:
    found = words(shore("a", 200, 200, 0), shore("b", 200, -200, 0), shore("c", -200, 0, 0))
    assert found[:2] == ["it slides fore and aft", "it slides sideways"]
    assert len(found) == 3
    assert found[2].startswith("it yaws about an upright line")


def test_a_unit_that_is_not_held_is_refused_in_words_and_never_as_a_singular_matrix() -> None:
    mounts = [ball("left", 100, 250, 60), ball("right", 100, -250, 60)]
    with pytest.raises(NotHeld, match=r"left, right.*pitches about a crosswise line"):
        settle(mounts, CENTRE, (0.0, 0.0, -900.0), (0.0, -1e6, 0.0))
    hold(laid_out([*mounts, ball("front", 300, 0, 60)]), CENTRE)
