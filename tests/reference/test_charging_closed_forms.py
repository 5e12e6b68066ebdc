"""Charging and the pack's terminals against closed forms, worked apart from the code; powers of outlets as SAE J1772
levels and IEC 61851 currents give them; the 80 % rule of NEC 210.20 and 625.41 (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.road.charge import Onboard, Socket, Station, Taper, charge_by_current, from_station, from_wall
from halfshaft.road.supply import Supply, current_a, most_w

IDEAL = Supply(40_000.0, 355.0, 0.0, 1e6, 1e6)


def test_power_to_current() -> None:
    # I = (U - sqrt(U² - 4 R P)) / 2R at 355.2 V, 0.1 ohm, 60 kW
    amps = float(current_a(355.2, 0.1, 60_000.0))
    assert amps == pytest.approx(177.821, abs=5e-4)
    assert 355.2 - 0.1 * amps == pytest.approx(337.418, abs=5e-4)
    assert 0.1 * amps**2 == pytest.approx(3162.0, abs=0.5)
    assert most_w(355.2, 0.1) / 1000.0 == pytest.approx(315.4, abs=0.05)


@pytest.mark.parametrize(("amps", "eta"), [(50, 0.98592), (150, 0.95777), (300, 0.91554)])
def test_efficiency_of_discharge(amps: float, eta: float) -> None:
    power = (355.2 - 0.1 * amps) * amps
    assert power / (355.2 * float(current_a(355.2, 0.1, power))) == pytest.approx(eta, abs=1e-5)


def test_constant_current_then_constant_voltage() -> None:
    # 96 cells in series, 120 Ah, 3.3 to 4.2 V straight, 0.1 ohm, 60 A to 4.2 V a cell, down to 6 A, from 20 %
    supply = Supply(120 * 96 * 3.75, 96 * 3.75, 0.1, 1e6, 1e6, ((0.0, 3.3 / 3.75), (1.0, 4.2 / 3.75)), full_v=96 * 4.2)
    done = charge_by_current(supply, 60.0, begin=0.2, least_a=6.0)
    turn = done.limit.index("full voltage")
    assert done.charge[turn - 1] - 1e-5 <= 0.93056 <= done.charge[turn] + 1e-5  # between these two moments
    assert done.time_s[-1] / 3600.0 == pytest.approx(1.46111 + 0.319803, rel=1e-4)
    assert done.charge[-1] == pytest.approx(0.993056, abs=1e-5)
    assert done.ended == "full"


def test_a_fast_charge_that_tapers() -> None:
    # 40 kWh, 50 kW to 80 %, then straight down to 10 kW: 33.60 min from 10 to 80 %, 19.313 min more to full
    taper = Taper(watts=((0.0, 50e3), (0.8, 50e3), (1.0, 10e3)))
    done = from_station(IDEAL, Station(60e3, 1e4, 1e4), begin=0.1, end=1.0, taper=taper)
    assert done.seconds(0.1, 0.8) / 60.0 == pytest.approx(33.60, rel=1e-5)
    assert done.seconds(0.8, 1.0) / 60.0 == pytest.approx(19.313, rel=1e-4)
    assert done.into_wh == pytest.approx(36_000.0, rel=1e-6)


@pytest.mark.parametrize(
    ("volts", "amps", "phases", "kw"),
    [(120, 12, 1, 1.44), (240, 32, 1, 7.68), (240, 40, 1, 9.60), (240, 80, 1, 19.2), (400, 16, 3, 11.09),
     (400, 32, 3, 22.17)],
)  # fmt: skip
def test_power_of_an_outlet(volts: float, amps: float, phases: int, kw: float) -> None:
    assert Socket(volts, amps, phases, 1.0).power_w(amps) / 1000.0 == pytest.approx(kw, abs=0.005)


@pytest.mark.parametrize(("breaker", "lasting"), [(40, 32), (60, 48)])
def test_four_fifths_of_a_breaker_for_hours(breaker: float, lasting: float) -> None:
    assert Socket(240.0, breaker).lasting_a == pytest.approx(lasting)


def test_hours_at_the_wall() -> None:
    # 40 kWh from 20 to 90 % at 7.68 kW and 0.90
    done = from_wall(IDEAL, Socket(240.0, 40.0), Onboard(1e5, 100.0, 1, 0.90), begin=0.2, end=0.9)
    assert done.time_s[-1] / 3600.0 == pytest.approx(4.051, abs=5e-4)
    assert done.drawn_wh / 1000.0 == pytest.approx(31.11, abs=5e-3)
    assert np.all(np.diff(done.time_s) > 0.0)
