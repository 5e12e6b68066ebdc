"""What any car on any road must keep: heavier, colder, faster never goes farther, and no energy comes from nowhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.road.charge import Onboard, Socket, Station, Taper, from_station, from_wall
from halfshaft.road.cycles import Cycle, named, steady
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.motor import electric_w, loss_w, torque_of_power_nm
from halfshaft.road.reach import reach
from halfshaft.road.spent import Spent, spend
from halfshaft.road.sprint import hold_grade, sprint, start_grade
from halfshaft.road.supply import Supply, current_a
from tests.road.cars import whole_inputs

NEDC = named("nedc")


def range_m(told: Inputs, cycle: Cycle) -> np.ndarray:
    car, day = assemble(told)
    return reach(car, cycle, day, points=1).range_m


@st.composite
def cars(draw: st.DrawFn) -> Inputs:
    some = st.floats
    told = whole_inputs()
    return replace(
        told,
        mass_kg=draw(some(700.0, 3500.0)),
        tyres=draw(some(0.6, 2.0)),
        drag=draw(some(0.5, 2.5)),
        motor_losses=draw(some(0.3, 3.0)),
        aux_w=draw(some(0.0, 2000.0)),
        temperature_c=draw(some(-20.0, 20.0)),
        headwind_m_s=draw(some(-8.0, 15.0)),
        altitude_m=draw(some(0.0, 2500.0)),
        resistance=draw(some(0.1, 3.0)),
        braking=replace(told.braking, share=draw(some(0.0, 1.0))),
        gear=replace(told.gear, efficiency=draw(some(0.85, 1.0)), drag_nm=draw(some(0.0, 2.0))),
    )


@st.composite
def traces(draw: st.DrawFn) -> Cycle:
    speeds = [0.0, *draw(st.lists(st.floats(0.0, 38.0), min_size=3, max_size=12)), 0.0]
    if max(speeds) < 1.0:
        speeds[1] = 10.0
    times = np.cumsum([0.0, *draw(st.lists(st.floats(8.0, 60.0), min_size=len(speeds) - 1, max_size=len(speeds) - 1))])
    grade = draw(st.lists(st.floats(-0.12, 0.12), min_size=len(speeds) - 1, max_size=len(speeds) - 1))
    return Cycle("any", times, np.array(speeds), np.array(grade))


@given(told=cars(), more=st.floats(1.0, 1500.0))
def test_a_heavier_car_never_goes_farther(told: Inputs, more: float) -> None:
    light, heavy = range_m(replace(told, mass_kg=np.array([told.mass_kg, told.mass_kg + more])), NEDC)
    assert heavy <= light * (1.0 + 1e-12)


@given(told=cars(), colder=st.floats(0.1, 40.0))
def test_a_colder_day_never_goes_farther(told: Inputs, colder: float) -> None:
    told = replace(told, headwind_m_s=abs(float(told.headwind_m_s)))  # denser air helps along who is pushed by it
    days = np.array([told.temperature_c, told.temperature_c - colder])
    mild, cold = range_m(replace(told, temperature_c=days), NEDC)
    assert cold <= mild * (1.0 + 1e-12)


@given(told=cars(), speed=st.floats(12.0, 30.0), faster=st.floats(1.0, 1.4))
def test_a_faster_car_never_goes_farther_once_air_outweighs_what_runs_all_the_time(
    told: Inputs, speed: float, faster: float
) -> None:
    told = replace(
        told, headwind_m_s=0.0, aux_w=0.0, temperature_c=20.0, altitude_m=0.0, drag=1.0, tyres=1.0, motor_losses=1.0,
        cabin=replace(told.cabin, heat_most_w=0.0),
    )  # fmt: skip
    slow, fast = range_m(told, steady(speed)), range_m(told, steady(speed * faster))
    assert fast[0] <= slow[0] * (1.0 + 1e-12)


@given(told=cars(), faster=st.floats(1.0, 1.6))
def test_the_same_trace_at_higher_speeds_takes_no_less_at_the_wheels(told: Inputs, faster: float) -> None:
    told = replace(told, headwind_m_s=abs(float(told.headwind_m_s)))
    car, day = assemble(told)
    quick = Cycle("quick", NEDC.time_s, NEDC.speed_m_s * faster)
    slow, fast = spend(car, NEDC, day), spend(car, quick, day)
    assert fast.pull_wh[0] / fast.distance_m[0] >= slow.pull_wh[0] / slow.distance_m[0] * (1.0 - 1e-12)


def left_over(one: Spent) -> np.ndarray:
    uses = one.rolling_wh + one.air_wh + one.slope_wh + one.brakes_wh + one.gear_wh + one.motor_wh
    return one.inside_wh - (uses + one.aux_wh + one.pack_wh)


@given(told=cars(), cycle=traces(), charge=st.floats(0.0, 1.0))
def test_what_leaves_the_pack_is_found_again_to_the_last_joule(told: Inputs, cycle: Cycle, charge: float) -> None:
    car, day = assemble(told)
    one = spend(car, cycle, day, charge)
    if one.pack_short_s[0] > 0.0:
        return  # asked for more than U²/4R: current is not defined there, and the check says so
    size = one.pull_wh[0] + one.push_wh[0] + one.aux_wh[0]
    assert abs(left_over(one)[0]) < 1e-9 * size + 1e-9


@given(told=cars(), cycle=traces(), charge=st.floats(0.0, 1.0))
def test_every_loss_is_a_loss(told: Inputs, cycle: Cycle, charge: float) -> None:
    car, day = assemble(told)
    one = spend(car, cycle, day, charge)
    for name in ("rolling_wh", "brakes_wh", "gear_wh", "motor_wh", "pack_wh", "aux_wh"):
        assert getattr(one, name)[0] >= -1e-9, name


@given(told=cars(), share=st.floats(0.0, 1.0))
def test_braking_with_the_motor_never_gives_back_more_than_is_braked(told: Inputs, share: float) -> None:
    car, day = assemble(replace(told, braking=replace(told.braking, share=share)))
    none, _ = assemble(replace(told, braking=replace(told.braking, share=0.0)))
    with_it, without = spend(car, NEDC, day), spend(none, NEDC, day)
    assert with_it.terminal_wh[0] <= without.terminal_wh[0] + 1e-9
    assert without.terminal_wh[0] - with_it.terminal_wh[0] <= with_it.push_wh[0] + 1e-9


@given(told=cars(), more=st.floats(1.0, 1000.0))
def test_a_heavier_car_is_never_quicker_and_starts_on_no_steeper_slope(told: Inputs, more: float) -> None:
    # on tyres that never slip: where they do, grip grows with the weight and air counts for less
    told = replace(
        told,
        headwind_m_s=0.0,
        mass_kg=np.array([told.mass_kg, told.mass_kg + more]),
        stance=replace(told.stance, grip=9.0, driven="all"),
    )
    car, day = assemble(told)
    found = sprint(car, day)
    assert found.eighty_s[1] >= found.eighty_s[0] * (1.0 - 1e-4)  # two grids of speeds
    assert found.top_m_s[1] <= found.top_m_s[0] * (1.0 + 1e-9)
    for slope in (start_grade(car, day), hold_grade(car, 20.0, day)):
        assert slope[1] <= slope[0] * (1.0 + 1e-9)


@given(torque=st.floats(0.0, 300.0), w=st.floats(0.1, 1200.0))
def test_torque_of_a_power_is_the_power_of_the_torque(torque: float, w: float) -> None:
    motor = whole_inputs().motor
    assert torque_of_power_nm(motor, electric_w(motor, torque, w), w) == pytest.approx(torque, rel=1e-9, abs=1e-7)


@given(torque=st.floats(-300.0, 0.0), w=st.floats(0.0, 1200.0))
def test_a_braking_motor_never_gives_back_all_it_takes_up(torque: float, w: float) -> None:
    motor = whole_inputs().motor
    back = -float(electric_w(motor, torque, w))
    assert back <= -torque * w
    assert back >= -float(loss_w(motor, 0.0, w)) - 1e-9


@given(u=st.floats(50.0, 900.0), r=st.floats(0.0, 0.5), share=st.floats(-2.0, 0.99))
def test_current_gives_back_its_power(u: float, r: float, share: float) -> None:
    power = share * (u * u / (4.0 * r) if r > 1e-3 else 200e3)
    amps = float(current_a(u, r, power))
    assert (u - r * amps) * amps == pytest.approx(power, rel=1e-9, abs=1e-6)


@given(
    begin=st.floats(0.0, 0.7), more=st.floats(0.05, 0.3), kw=st.floats(5.0, 200.0), ohm=st.floats(0.0, 0.2),
    top=st.floats(10.0, 100.0),
)  # fmt: skip
def test_a_charge_takes_time_and_more_than_it_stores(
    begin: float, more: float, kw: float, ohm: float, top: float
) -> None:
    supply = Supply(40e3, 350.0, ohm, 1e6, 1e6, ((0.0, 0.9), (1.0, 1.1)), charge_a=400.0)
    taper = Taper(watts=((0.0, top * 1e3), (0.6, top * 1e3), (1.0, 2e3)))
    done = from_station(supply, Station(kw * 1e3, 500.0, 900.0), begin=begin, end=begin + more, taper=taper)
    soc, share = np.array(supply.curve).T
    fine = np.linspace(begin, begin + more, 2001)
    stored = 40e3 * np.trapezoid(np.interp(fine, soc, share), fine)
    assert done.into_wh >= stored * (1.0 - 1e-6)
    assert done.watts.max() <= min(kw * 1e3, top * 1e3) * (1.0 + 1e-9)
    assert np.all(np.diff(done.time_s) > 0.0)


@given(amps=st.floats(6.0, 63.0), eta=st.floats(0.7, 0.98), aux=st.floats(0.0, 500.0))
def test_the_wall_gives_more_than_the_pack_gets(amps: float, eta: float, aux: float) -> None:
    supply = Supply(40e3, 350.0, 0.1, 1e6, 1e6)
    done = from_wall(supply, Socket(230.0, amps), Onboard(7000.0, 32.0, 1, eta), begin=0.2, end=0.8, aux_w=aux)
    assert done.drawn_wh >= done.into_wh / eta * (1.0 - 1e-9)
    assert done.drawn_wh == pytest.approx(
        min(0.8 * amps, 32.0) * 230.0 * done.time_s[-1] / 3600.0 if min(0.8 * amps, 32.0) * 230.0 < 7000.0
        else 7000.0 * done.time_s[-1] / 3600.0, rel=1e-6,
    )  # fmt: skip
