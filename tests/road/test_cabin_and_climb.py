"""Heat and cold of the cabin, and heat on a long climb."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from halfshaft.road.cabin import cabin_power_w, heat_need_w, warm_up_wh
from halfshaft.road.climb import Lump, climb, lasting_speed_m_s, loss_of_lasting_w_k
from halfshaft.road.inputs import assemble
from halfshaft.road.sprint import pull_power_w
from tests.road.cars import whole_inputs

CABIN = whole_inputs().cabin


def test_heat_that_leaves_a_cabin() -> None:
    # worked apart: 60 W/K and 0.05 m³/s of fresh air of 1.2 kg/m³, 1006 J/kg K, over 27 K: 3249.7 W; air of -6 C is
    # denser than 1.2, which its own density takes in
    cabin = replace(CABIN, loss_w_k=60.0, fresh_m3_s=0.05, wanted_c=21.0)
    dense = 101_325.0 / (287.05 * (273.15 - 6.0))
    assert heat_need_w(cabin, -6.0) == pytest.approx(60.0 * 27.0 + dense * 0.05 * 1006.0 * 27.0, rel=1e-3)
    assert heat_need_w(cabin, -6.0) == pytest.approx(3249.7, rel=0.06)


def test_the_colder_the_more_until_the_heater_gives_all() -> None:
    days = np.linspace(-40.0, 21.0, 62)
    power = cabin_power_w(CABIN, days)
    assert np.all(np.diff(power) <= 1e-9)
    assert power.max() == CABIN.heat_most_w
    assert cabin_power_w(CABIN, 21.5) == 0.0


def test_cooling_is_switched_on_in_the_heat_where_there_is_any() -> None:
    assert cabin_power_w(CABIN, 35.0) > 300.0
    assert cabin_power_w(replace(CABIN, cool_most_w=0.0), 35.0) == 0.0
    assert cabin_power_w(replace(CABIN, heat_most_w=0.0), -10.0) == 0.0
    assert warm_up_wh(replace(CABIN, heat_most_w=0.0), -10.0) == 0.0
    assert warm_up_wh(CABIN, -10.0) == pytest.approx(120e3 * 31.0 / 3600.0)


# AAA, Electric Vehicle Range Testing (February 2019): five cars, 20 F against 75 F: 12 % less range without heater,
# 41 % with it. Transport Canada (EVS26, 2012): 20 % at -7 C, 45 % with the heater at its most. Dynamometers leave the
# denser air of a cold day out, so the road may lose more: between these and a fifth more.
def test_a_cold_day_costs_what_measured_cars_lost() -> None:
    from halfshaft.road.cycles import named
    from halfshaft.road.reach import reach

    city = named("udds")

    def far(celsius: float, cabin: float) -> float:
        car, day = assemble(whole_inputs(temperature_c=celsius, cabin_power=cabin))
        return float(reach(car, city, day, points=1).range_m[0])

    mild = far(23.9, 0.0)
    assert 0.70 <= far(-6.7, 0.0) / mild <= 0.88
    assert 0.45 <= far(-6.7, 1.0) / mild <= 0.65


def test_a_lump_warms_as_an_ordinary_solver_says() -> None:
    lump = Lump(20_000.0, 15.0, 40.0, 120.0, 150.0)
    found = solve_ivp(lambda _, t: (900.0 - 15.0 * (t - 40.0)) / 20_000.0, (0.0, 1200.0), [40.0], rtol=1e-9)
    assert lump.after(40.0, 900.0, 1200.0) == pytest.approx(found.y[0, -1], rel=1e-6)
    assert Lump(20_000.0, 0.0, 40.0, 120.0, 150.0).after(40.0, 900.0, 100.0) == pytest.approx(44.5)
    assert [lump.share(t) for t in (119.0, 135.0, 151.0)] == pytest.approx([1.0, 0.5, 0.0])


PACK = Lump(300e3, 5.0, 30.0, 45.0, 60.0)


def test_a_well_cooled_climb_is_driven_at_the_speed_wanted() -> None:
    car, day = assemble(whole_inputs(temperature_c=30.0))
    cool = Lump(20e3, 200.0, 50.0, 130.0, 155.0)
    up = climb(car, day, cool, PACK, grade=0.06, length_m=8000.0, speed_m_s=22.0)
    assert up.ended == "top"
    assert np.all(up.speed_m_s == 22.0)
    assert up.held_back_s == np.inf
    assert up.distance_m[-1] == pytest.approx(8000.0)
    assert np.all(np.diff(up.motor_c) > -1e-9)


def test_a_hot_motor_holds_the_car_back_to_what_it_can_shed() -> None:
    car, day = assemble(whole_inputs(temperature_c=30.0, mass_kg=2600.0))
    weak = Lump(4e3, 17.0, 60.0, 130.0, 155.0)
    up = climb(car, day, weak, PACK, grade=0.08, length_m=12_000.0, speed_m_s=25.0)
    lasting = lasting_speed_m_s(car, day, weak, 0.08)
    assert up.held_back_s < 900.0
    assert up.motor_c.max() < 155.0
    assert up.speed_m_s[0] == 25.0 > up.speed_m_s[-1]
    heat = pull_power_w(car, lasting, 0.08, day)[1][0]
    assert heat == pytest.approx(17.0 * (130.0 - 60.0), rel=1e-6)
    assert lasting <= up.speed_m_s[-1] * 1.02  # it ends warmer than where holding back begins


def test_a_climb_ends_where_the_pack_does() -> None:
    car, day = assemble(whole_inputs())
    cool = Lump(20e3, 300.0, 50.0, 130.0, 155.0)
    up = climb(car, day, cool, PACK, grade=0.08, length_m=60_000.0, speed_m_s=20.0, charge=0.2)
    assert up.ended == "empty"
    # what was taken up cannot be more than a fifth of the pack
    lifted = 1400.0 * 9.80665 * up.distance_m[-1] * np.sin(np.arctan(0.08)) / 3600.0
    assert lifted < 0.2 * 45_000.0


def test_lasting_power_sets_what_the_motor_sheds() -> None:
    motor = whole_inputs().motor
    shed = loss_of_lasting_w_k(motor, 130.0, 50.0)
    w = 110_000.0 / 300.0
    t = 50_000.0 / w
    assert shed * 80.0 == pytest.approx(0.12 * t**2 + 1.2 * w + 4e-7 * w**3 + 180.0)
