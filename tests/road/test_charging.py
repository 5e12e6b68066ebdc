"""What bounds a charge at each moment, and what ends it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfshaft.road.charge import Onboard, Socket, Station, Taper, Warmth, from_station, from_wall
from halfshaft.road.supply import Supply
from tests.road.cars import NMC

PACK = Supply(45_000.0, 350.0, 0.12, 150_000.0, 70_000.0, NMC, 398.0, 130.0, 300_000.0)
COLD = ((-5.0, 0.0), (0.0, 0.15), (25.0, 1.0), (45.0, 1.0), (55.0, 0.0))


def test_a_low_voltage_pack_gets_no_more_than_the_stations_amps() -> None:
    done = from_station(replace(PACK, charge_a=1e4), Station(150e3, 100.0, 500.0), begin=0.1, end=0.5)
    assert set(done.limit) == {"station current"}
    assert done.watts.max() < 100.0 * 400.0


def test_the_least_of_all_limits_holds_at_each_moment() -> None:
    done = from_station(PACK, Station(40e3, 200.0, 500.0), begin=0.05, end=1.0, least_a=3.0)
    assert {"station power", "full voltage"} <= set(done.limit)
    assert done.watts.max() <= 40e3 * (1 + 1e-9)
    assert done.amps.max() <= 130.0 * (1 + 1e-9)
    assert done.volts.max() <= 398.0 * (1 + 1e-9)
    assert done.ended == "full"


def test_a_station_without_the_volts_charges_only_part_or_nothing() -> None:
    assert from_station(PACK, Station(50e3, 125.0, 300.0), end=0.8).charge[-1] == 0.1
    part = from_station(PACK, Station(50e3, 125.0, 360.0), end=1.0)
    assert 0.3 < part.charge[-1] < 0.9
    assert part.ended.startswith("stopped by station voltage")
    assert part.seconds(0.1, 0.95) == np.inf


def test_a_cold_pack_waits_and_a_hot_one_is_held_back() -> None:
    taper = Taper(share_by_c=COLD, most_c=55.0)
    station = Station(60e3, 200.0, 500.0)
    frozen = from_station(PACK, station, taper=taper, warmth=Warmth(-10.0, -10.0, 5.0))
    assert frozen.charge[-1] == pytest.approx(0.1)
    assert "temperature" in frozen.ended
    mild, cool = (from_station(PACK, station, taper=taper, warmth=Warmth(t, t, 5.0)) for t in (25.0, 8.0))
    assert cool.seconds(0.1, 0.8) > mild.seconds(0.1, 0.8)
    assert mild.pack_c[-1] > 25.0


def test_heat_of_a_charge_without_loss_is_its_resistance_alone() -> None:
    # adiabatic: C dT = I² R t, at constant current
    steady = replace(PACK, full_v=np.inf, charge_a=100.0)
    done = from_station(steady, Station(1e6, 1e4, 1e4), begin=0.1, end=0.6)
    assert done.pack_c[-1] - 25.0 == pytest.approx(100.0**2 * 0.12 * done.time_s[-1] / 300e3, rel=1e-9)


def test_a_single_phase_charger_on_three_phases_takes_one_line() -> None:
    one = Onboard(11e3, 16.0, 1, 0.9)
    assert one.takes_w(Socket(400.0, 32.0, 3)) == pytest.approx(400.0 / np.sqrt(3.0) * 16.0)
    assert Onboard(11e3, 16.0, 3, 0.9).takes_w(Socket(400.0, 32.0, 3)) == pytest.approx(11e3)
    assert Onboard(11e3, 32.0, 3, 0.9).takes_w(Socket(230.0, 16.0, 1)) == pytest.approx(230.0 * 12.8)


def test_what_the_car_uses_meanwhile_comes_from_the_wall_too() -> None:
    socket, onboard = Socket(230.0, 20.0), Onboard(3680.0, 16.0, 1, 0.9)
    plain, busy = (from_wall(PACK, socket, onboard, begin=0.2, end=0.5, aux_w=w) for w in (0.0, 300.0))
    assert busy.time_s[-1] > plain.time_s[-1]
    assert busy.drawn_wh > plain.drawn_wh
    assert busy.drawn_wh == pytest.approx(3680.0 * busy.time_s[-1] / 3600.0, rel=1e-6)
    assert from_wall(PACK, Socket(120.0, 2.0), onboard, aux_w=400.0).charge[-1] == 0.1


@pytest.mark.parametrize(("begin", "end"), [(0.5, 0.5), (0.8, 0.2), (-0.1, 0.5), (0.2, 1.1)])
def test_a_charge_from_more_to_less_is_refused(begin: float, end: float) -> None:
    with pytest.raises(ValueError, match="two shares"):
        from_station(PACK, Station(5e4, 1e2, 5e2), begin=begin, end=end)
