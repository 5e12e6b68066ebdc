"""What must hold for any part, play and misfit when placement is decided."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from halfshaft.fold.placement import Play, placeable
from halfshaft.geometry.pose import turn

Array = NDArray[np.float64]


def strewn(seed: int, holes: int, panels: int, slots: int) -> tuple[Play, Array, Array, Array, Array]:
    """A play with places (r, 3) and directions (r, 3) of its rows, misfits (40, r) that half fit, and the seed's own
    random numbers (6,)."""
    rng = np.random.default_rng(seed)
    places, ways = [], []
    for _ in range(holes):
        at, frame = rng.uniform(-150, 150, 3), np.linalg.qr(rng.normal(size=(3, 3)))[0]
        places += [at, at]
        ways += list(frame[:, :2].T)
    for _ in range(panels):
        at, frame = rng.uniform(-150, 150, 3), np.linalg.qr(rng.normal(size=(3, 3)))[0]
        for u, v in ((1, 1), (-1, 1), (-1, -1), (1, -1)):
            places.append(at + 40.0 * u * frame[:, 0] + 15.0 * v * frame[:, 1])
            ways.append(frame[:, 2])
    half = np.zeros(holes)
    half[: min(slots, holes)] = 2.0
    play = Play(
        rows_of(np.array(places), np.array(ways)),
        rng.uniform(0.4, 1.5, holes),
        half,
        np.repeat(rng.uniform(0.2, 0.8, panels), 4),
    )
    misfit = rng.normal(size=(40, len(places))) * rng.uniform(0.1, 1.2, (40, 1))
    return play, np.array(places), np.array(ways), misfit, rng.normal(size=6)


def rows_of(places: Array, ways: Array) -> Array:
    return np.hstack([ways, np.cross(places, ways) / 100.0])


parts = st.tuples(st.integers(0, 10**6), st.integers(1, 7), st.integers(0, 4), st.integers(0, 7))


@settings(max_examples=40)
@given(parts)
def test_where_the_part_lies_in_the_car_changes_nothing(part: tuple[int, int, int, int]) -> None:
    play, places, ways, misfit, six = strewn(*part)
    rotation = turn(six[:3])
    moved = replace(play, rows=rows_of(places @ rotation.T + 100.0 * six[3:], ways @ rotation.T))
    assert np.array_equal(placeable(play, misfit).fits, placeable(moved, misfit).fits)


@settings(max_examples=40)
@given(parts)
def test_a_misfit_that_a_move_of_the_part_makes_changes_nothing(part: tuple[int, int, int, int]) -> None:
    play, _, _, misfit, six = strewn(*part)
    assert np.array_equal(placeable(play, misfit).fits, placeable(play, misfit + play.rows @ six).fits)


@settings(max_examples=40)
@given(parts, st.floats(0.5, 20.0))
def test_a_drawing_at_another_scale_fits_just_as_well(part: tuple[int, int, int, int], scale: float) -> None:
    play, _, _, misfit, _ = strewn(*part)
    bigger = Play(play.rows, scale * play.clear_mm, scale * play.half_slot_mm, scale * play.half_gap_mm)
    assert np.array_equal(placeable(play, misfit).fits, placeable(bigger, scale * misfit).fits)


@settings(max_examples=40)
@given(parts, st.floats(0.0, 3.0))
def test_more_room_never_spoils_a_fit(part: tuple[int, int, int, int], more: float) -> None:
    play, _, _, misfit, _ = strewn(*part)
    before = placeable(play, misfit).fits
    assert np.all(placeable(play.opened(0, more), misfit).fits >= before)
    wide, spin = play.slotted(0, np.array([0.6, 0.8]), 2.0 * float(play.half_slot_mm[0]) + more)
    turned = misfit.copy()
    turned[:, :2] = misfit[:, :2] @ spin.T
    if play.half_slot_mm[0] == 0.0:
        assert np.all(placeable(wide, turned).fits >= before)
    freed, stay = play.without_hole(0)
    assert np.all(placeable(freed, misfit[:, stay]).fits >= before)


@settings(max_examples=40)
@given(parts, st.floats(0.0, 1.0))
def test_between_two_misfits_that_fit_every_one_fits(part: tuple[int, int, int, int], share: float) -> None:
    play, _, _, misfit, _ = strewn(*part)
    good = misfit[placeable(play, misfit).fits]
    pairs = len(good) // 2
    mixed = share * good[:pairs] + (1.0 - share) * good[pairs : 2 * pairs]
    assert np.all(placeable(play, mixed).fits) if pairs else True


@settings(max_examples=40)
@given(parts)
def test_every_refusal_is_proved_by_a_balanced_push(part: tuple[int, int, int, int]) -> None:
    play, _, _, misfit, _ = strewn(*part)
    verdict = placeable(play, misfit)
    push, off = verdict.push[~verdict.fits], misfit[~verdict.fits]
    h = play.holes
    size = np.linalg.norm(push, axis=1, keepdims=True)
    assert np.all(size > 0.0)
    push = push / size
    assert np.allclose(push @ play.rows, 0.0, atol=1e-9)
    most = np.hypot(push[:, 0 : 2 * h : 2], push[:, 1 : 2 * h : 2]) @ play.clear_mm
    most += np.abs(push[:, 0 : 2 * h : 2]) @ play.half_slot_mm + np.abs(push[:, 2 * h :]) @ play.half_gap_mm
    assert np.all(np.sum(push * off, axis=1) > most - 1e-6)
