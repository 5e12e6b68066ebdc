"""Bolted plates against beam theory (Gere, Mechanics of Materials: M y / I, M L^2 / 2 E I, from memory) and balance."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.geometry import Contour, Pose, solids
from halfshaft.mounts.elastic import Push, Ring, Seat, Solved, solve

LONG, WIDE, THICK = 200.0, 40.0, 6.0
STEEL = {"youngs_mpa": 210_000.0, "poisson": 0.3, "bolted_n_mm3": 210_000.0 / THICK}
UP = np.array([0.0, 0.0, 1.0])


def ring(name: str, x_mm: float) -> Ring:
    return Ring(name, np.array([x_mm, WIDE / 2.0, THICK / 2.0]), UP, 24.0, THICK)


def bar() -> solids.Solid:
    outline = Contour(np.array([[0.0, 0.0], [LONG, 0.0], [LONG, WIDE], [0.0, WIDE]]), np.zeros(4))
    bores = [Contour.circle((x, WIDE / 2.0), 5.0) for x in (15.0, 45.0, LONG - 15.0)]
    return solids.plate(outline, bores, Pose.identity(), 0.0, THICK)


def pushed(force_n: tuple[float, float, float], moment_nmm: tuple[float, float, float], *seats: Seat) -> Solved:
    push = Push("by hand", np.array(force_n), np.array(moment_nmm), np.array([LONG - 15.0, WIDE / 2.0, THICK / 2.0]))
    held = [ring("near", 15.0), ring("far", 45.0)]
    return solve(bar(), held, [ring("end", LONG - 15.0)], seats, [push], size_mm=8.0, **STEEL)


def test_a_cantilever_bends_as_a_beam_does() -> None:
    made = pushed((0.0, 0.0, -100.0), (0.0, 0.0, 0.0))
    (case,) = made.cases
    second = WIDE * THICK**3 / 12.0
    for x in (90.0, 115.0, 140.0):
        skin = [[x, WIDE / 2.0, THICK - 0.01], [x, WIDE / 2.0, 0.01]]
        top, bottom = case.tensor_mpa(made.mesh, skin)[:, 0, 0]
        expected = 100.0 * (LONG - 15.0 - x) * (THICK / 2.0) / second
        assert top == pytest.approx(expected, rel=0.03)
        assert bottom == pytest.approx(-expected, rel=0.03)


def test_held_rings_bear_what_is_pushed() -> None:
    (case,) = pushed((30.0, -40.0, -100.0), (500.0, 0.0, -900.0)).cases
    np.testing.assert_allclose(sum(case.reactions.values()), [-30.0, 40.0, 100.0], atol=0.05)


def test_a_moment_bends_the_free_length_to_an_even_arc() -> None:
    made = pushed((0.0, 0.0, 0.0), (0.0, 5000.0, 0.0))
    (case,) = made.cases
    at = [np.argmin(np.linalg.norm(made.corners_mm - [x, WIDE / 2.0, 0.0], axis=1)) for x in (70.0, 110.0, 150.0)]
    x, z = made.corners_mm[at, 0], case.moved_mm[at, 2]
    curve = 2.0 * np.polyfit(x, z, 2)[0]
    # a moment about +y bends the free end down
    assert curve == pytest.approx(-5000.0 / (210_000.0 * WIDE * THICK**3 / 12.0), rel=0.08)


def test_a_seat_presses_and_never_pulls() -> None:
    seat = Seat("rail", np.zeros(3), UP)
    (down,) = pushed((0.0, 0.0, -100.0), (0.0, 0.0, 0.0), seat).cases
    (up,) = pushed((0.0, 0.0, 100.0), (0.0, 0.0, 0.0), seat).cases
    assert down.reactions["rail"][2] > 90.0
    np.testing.assert_allclose(sum(down.reactions.values()), [0.0, 0.0, 100.0], atol=0.5)
    # lifted at its end the bar turns about its heel: the seat may press there, but only upward
    assert up.reactions["rail"][2] >= 0.0
    np.testing.assert_allclose(sum(up.reactions.values()), [0.0, 0.0, -100.0], atol=0.5)


def test_a_washer_off_the_part_is_refused() -> None:
    off = Ring("away", np.array([500.0, 0.0, 0.0]), UP, 24.0, THICK)
    push = Push("by hand", UP, np.zeros(3), np.zeros(3))
    with pytest.raises(ValueError, match="the washer of away does not lie on the part"):
        solve(bar(), [off], [ring("end", LONG - 15.0)], [], [push], size_mm=8.0, **STEEL)
