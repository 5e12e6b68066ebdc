"""Prying against limit analysis by linear programming, a hand case, and equilibrium."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from halfshaft.mounts.bolts import Plate, bolt_of, tension_n
from halfshaft.mounts.prying import (
    Stub,
    bolt_pull_n,
    effective_lengths_mm,
    elastic_pull_n,
    pries,
    stub_checks,
    stub_strength,
)

BOLT = bolt_of("M12", "8.8")


def stub_of(thick: float, m: float = 30.0, edge: float = 30.0, length: float = 100.0) -> Stub:
    return Stub(m, edge, length, length, Plate(thick, 275.0, 1e4), BOLT)


def by_linear_programming(stub: Stub) -> float:
    """Greatest pull for which some prying force keeps both yield lines and the bolts within their strength."""
    m, n, line = stub.m_mm, stub.n_mm, stub.plastic_nmm(1)
    # unknown F and Q (a side): at the bolt Q n <= M; at the web F m / 2 - Q n <= M and >= -M; bolts F + 2 Q <= sum
    rows = [[0.0, n], [m / 2.0, -n], [-m / 2.0, n], [1.0, 2.0]]
    found = linprog([-1.0, 0.0], A_ub=rows, b_ub=[line, line, line, 2.0 * tension_n(BOLT)], bounds=[(0, None)] * 2)
    return float(-found.fun)


@given(thick=st.floats(2.0, 40.0), m=st.floats(12.0, 80.0), edge=st.floats(12.0, 80.0), length=st.floats(30.0, 300.0))
def test_the_three_modes_are_the_plastic_limit(thick: float, m: float, edge: float, length: float) -> None:
    stub = stub_of(thick, m, edge, length)
    assert stub_strength(stub).resistance_n == pytest.approx(by_linear_programming(stub), rel=1e-6)


def test_a_t_stub_by_hand() -> None:
    # EN 1993-1-8:2005 table 6.2, worked by hand: l 100, t 10, fy 275: M = 687.5 N m; m 30, n 30, bolt 48.6 kN:
    # mode 1: 4 M / m = 91.7; mode 2: (2 M + n 97.1) / 60 = 71.4; mode 3: 97.1 kN
    found = stub_strength(stub_of(10.0))
    assert [n / 1e3 for n in found.modes_n] == pytest.approx([91.67, 71.45, 97.1], rel=0.002)
    assert found.mode == 2
    # without prying: 2 M / m = 45.8 kN
    assert stub_strength(stub_of(10.0), pried=False).resistance_n / 1e3 == pytest.approx(45.83, rel=0.001)


def test_thin_plates_yield_and_thick_ones_break_their_bolts() -> None:
    assert [stub_strength(stub_of(t)).mode for t in (5.0, 10.0, 25.0)] == [1, 2, 3]


def test_heads_help_a_yielding_plate() -> None:
    # method 2 with e_w 0 would be method 1; with a washer of 24 mm, e_w = 6: (8 n - 12) M / (2 m n - 6 (m + n))
    thin = stub_of(5.0)
    line = thin.plastic_nmm(1)
    expected = (8.0 * 30.0 - 12.0) * line / (2.0 * 30.0 * 30.0 - 6.0 * 60.0)
    assert BOLT.washer_mm == 24.0
    assert stub_strength(thin, washers=True).modes_n[0] == pytest.approx(expected)
    assert expected > stub_strength(thin).modes_n[0]


def test_an_angle_bears_half_of_a_tee() -> None:
    tee = stub_of(8.0)
    angle = dataclasses.replace(tee, bolts=1, sides=1)
    assert [2.0 * n for n in stub_strength(angle).modes_n] == pytest.approx(stub_strength(tee).modes_n)


@given(thick=st.floats(3.0, 30.0), share=st.floats(0.01, 1.0))
def test_pried_bolts_stay_within_their_strength_up_to_the_resistance(thick: float, share: float) -> None:
    stub = stub_of(thick)
    strength = stub_strength(stub).resistance_n
    pull = bolt_pull_n(stub, share * strength)
    assert share * strength / 2.0 <= pull * (1.0 + 1e-9)
    assert pull <= tension_n(BOLT) * (1.0 + 1e-9)


def test_in_mode_two_the_bolts_are_at_their_strength() -> None:
    stub = stub_of(10.0)
    assert bolt_pull_n(stub, stub_strength(stub).resistance_n) == pytest.approx(tension_n(BOLT))


@pytest.mark.parametrize(("m", "edge"), [(30.0, 30.0), (20.0, 45.0), (50.0, 20.0)])
def test_elastic_prying_is_that_of_a_propped_beam(m: float, edge: float) -> None:
    # two beam elements by stiffness matrix, EI 1: web (free to rise, level), bolt (held), edge (held, free to turn)
    def element(length: float) -> np.ndarray:
        a, b = 12.0 / length**3, 6.0 / length**2
        c, d = 4.0 / length, 2.0 / length
        return np.array([[a, b, -a, b], [b, c, -b, d], [-a, -b, a, -b], [b, d, -b, c]])

    whole = np.zeros((6, 6))
    whole[:4, :4] += element(m)
    whole[2:, 2:] += element(edge)
    free = [0, 3, 5]
    moves = np.zeros(6)
    moves[free] = np.linalg.solve(whole[np.ix_(free, free)], [0.5, 0.0, 0.0])
    held = whole @ moves
    thick = stub_of(30.0, m, edge)
    assert elastic_pull_n(thick, 1.0) == pytest.approx(-held[2])


def test_a_pull_past_the_plate_has_no_prying_force() -> None:
    with pytest.raises(ValueError, match="past both"):
        bolt_pull_n(stub_of(4.0), 80e3)


def test_effective_lengths_are_those_of_the_table() -> None:
    # EN 1993-1-8:2005 table 6.4 (as read at eurocode.us, design of joints): inner row 2 pi m and 4 m + 1.25 e;
    # end row pi m + 2 e1 and 2 m + 0.625 e + e1
    m, e = 20.0, 25.0
    assert effective_lengths_mm(m, e) == pytest.approx((4.0 * m + 1.25 * e, 4.0 * m + 1.25 * e))
    assert effective_lengths_mm(m, 60.0) == pytest.approx((2.0 * math.pi * m, 155.0))
    assert effective_lengths_mm(m, e, end_mm=15.0) == pytest.approx((2.0 * m + 0.625 * e + 15.0,) * 2)
    assert effective_lengths_mm(m, e, width_mm=40.0) == (40.0, 40.0)


def test_long_bolts_on_thick_plates_do_not_pry() -> None:
    assert pries(stub_of(8.0), 40.0)
    assert not pries(stub_of(25.0), 40.0)
    # at the limit of table 6.2: Lb = 8.8 m^3 As / (l t^3)
    stub = stub_of(12.0)
    limit = 8.8 * 27000.0 * BOLT.thread.stress_area_mm2 / (100.0 * 1728.0)
    assert pries(stub, limit * 0.999)
    assert not pries(stub, limit * 1.001)


def test_a_thin_flange_is_caught_with_the_thickness_that_holds() -> None:
    bad = stub_checks("front bracket, upper flange", stub_of(5.0), 40e3, 30.0)[0]
    assert not bad.ok
    told = float(bad.do.split("plate ")[1].split(" mm")[0])
    assert stub_strength(stub_of(told + 0.05)).resistance_n >= 40e3
    good = stub_checks("front bracket, upper flange", stub_of(10.0), 60e3, 30.0)
    assert good[0].ok
    assert good[1].found is not None
    assert good[1].found > 30e3


def test_stubs_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="over zero"):
        stub_of(0.0)
    with pytest.raises(ValueError, match="share out"):
        Stub(30.0, 30.0, 100.0, 100.0, Plate(8.0, 275.0, 410.0), BOLT, bolts=3)
