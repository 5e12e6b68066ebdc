"""Where the energy goes: what bounds braking by the motor, and road loads that cannot be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfshaft.road.car import Day, count
from halfshaft.road.cycles import Cycle, named, steady
from halfshaft.road.inputs import assemble
from halfshaft.road.plain_car import PlainCar
from halfshaft.road.reach import reach
from halfshaft.road.resistance import RoadLoad, force_n, from_drag, rolling_radius_m
from halfshaft.road.spent import spend
from halfshaft.road.sprint import grip_n, sprint
from tests.road.cars import whole_inputs

UDDS = named("udds")


def back(**changes: object) -> float:
    car, day = assemble(whole_inputs(**changes))
    return float(spend(car, UDDS, day).back_wh[0])


def test_a_full_pack_takes_no_braking() -> None:
    told = whole_inputs()
    car, day = assemble(replace(told, supply=replace(told.supply, full_v=350.0 * 1.125)))
    full, half = spend(car, UDDS, day, 1.0), spend(car, UDDS, day, 0.5)
    assert full.back_wh[0] == 0.0
    assert half.back_wh[0] > 0.0
    assert full.brakes_wh[0] > half.brakes_wh[0]


def test_frost_lets_the_pack_take_little_braking() -> None:
    assert back(temperature_c=-20.0) < 0.5 * back(temperature_c=20.0)


def test_less_of_everything_that_brakes_gives_less_back() -> None:
    told = whole_inputs().braking
    most = back()
    for less in ({"share": 0.5}, {"most_m_s2": 0.4}, {"fades_m_s": 12.0, "ends_m_s": 8.0}):
        assert back(braking=replace(told, **less)) < most
    assert back(braking=replace(told, share=0.0)) == 0.0


def test_a_cycle_beyond_the_motor_or_the_pack_is_told_in_seconds() -> None:
    told = whole_inputs()
    weak = replace(told, motor=replace(told.motor, torque_nm=60.0, power_w=20e3))
    small = replace(told, supply=replace(told.supply, discharge_w=15e3))
    for one, other, word in ((weak, told, "motor_short_s"), (small, told, "pack_short_s")):
        short, fine = (getattr(spend(*_of(x)), word)[0] for x in (one, other))
        assert short > 10.0
        assert fine == 0.0


def _of(told: object) -> tuple:
    car, day = assemble(told)  # type: ignore[arg-type]
    return car, named("us06"), day


def test_many_cars_at_once_are_the_same_as_one_by_one() -> None:
    masses = np.linspace(900.0, 2200.0, 70)  # more than one chunk
    car, day = assemble(whole_inputs(mass_kg=masses))
    together, quick = reach(car, UDDS, day), sprint(car, day)
    for at in (0, 31, 32, 69):
        one = assemble(whole_inputs(mass_kg=float(masses[at])))
        assert reach(one[0], UDDS, one[1]).range_m[0] == pytest.approx(together.range_m[at], rel=1e-12)
        assert sprint(*one).hundred_s[0] == pytest.approx(quick.hundred_s[at], rel=1e-12)


def test_arrays_of_different_length_are_refused() -> None:
    told = whole_inputs(mass_kg=np.ones(3), drag=np.ones(4))
    with pytest.raises(ValueError, match="one length"):
        count(*assemble(told))


def test_wind_from_behind_faster_than_the_car_pushes_it() -> None:
    load = from_drag(1200.0, 0.013, 0.75)
    assert force_n(load, 5.0, headwind_m_s=-15.0) < force_n(load, 5.0, headwind_m_s=-5.0) < force_n(load, 5.0)
    car, _ = assemble(whole_inputs())
    still, gale = (reach(car, steady(8.0), Day(headwind_m_s=w)).range_m[0] for w in (0.0, -30.0))
    assert gale > still


def test_downhill_without_end_takes_nothing() -> None:
    car, day = assemble(whole_inputs())
    down = Cycle("down", np.array([0.0, 100.0]), np.array([15.0, 15.0]), np.array([-0.08]))
    found = reach(car, down, day)
    assert found.range_m[0] == np.inf
    assert found.wh_km[0] < 0.0


def test_a_negative_b_is_taken_as_it_is_unless_it_pushes() -> None:
    load = RoadLoad(135.0, -1.2, 0.5, 1500.0)
    assert force_n(load, 20.0) == pytest.approx(135.0 - 24.0 + 200.0)
    for make in (lambda: RoadLoad(5.0, -12.0, 0.5, 1500.0), lambda: PlainCar(5.0, -12.0, 0.5, 1500.0, 0.9)):
        with pytest.raises(ValueError, match="push the car"):
            make()


@pytest.mark.parametrize(
    "numbers", [(-1.0, 0.0, 0.4, 1e3), (1.0, 0.0, -0.4, 1e3), (1.0, 0.0, 0.4, 0.0), (np.nan, 0, 1, 1)]
)
def test_a_road_load_that_cannot_be_is_refused(numbers: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        RoadLoad(*numbers)


def test_all_wheels_grip_more_than_either_axle() -> None:
    stance = whole_inputs().stance
    front, rear, all_ = (grip_n(replace(stance, driven=d), 1400.0) for d in ("front", "rear", "all"))
    assert front < rear < all_
    tall = replace(stance, height_m=4.0, driven="rear")
    assert grip_n(tall, 1400.0) == pytest.approx(grip_n(replace(tall, driven="all"), 1400.0))


@pytest.mark.parametrize("tyre", ["", "big", "16x80", "7.50-16"])
def test_a_tyre_that_is_none_is_told_how_to_be_written(tyre: str) -> None:
    with pytest.raises(ValueError, match="165/80R15"):
        rolling_radius_m(tyre)
    assert rolling_radius_m("165 R15") == pytest.approx(rolling_radius_m("165/82R15"))
