"""The road's arrays against the same physics written once more: scalar loops, and an ordinary solver of equations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from halfshaft.road.car import Car, Day
from halfshaft.road.coastdown import Timed, coast_time_s, fit_coast_down
from halfshaft.road.cycles import named
from halfshaft.road.inputs import assemble
from halfshaft.road.spent import spend
from halfshaft.road.sprint import sprint
from tests.road.cars import NMC, whole_inputs


def by_hand(car: Car, day: Day, name: str, charge: float) -> float:
    """Wh that empty the pack over a cycle, second by second, as one would on paper."""
    trace = named(name)
    volts = car.supply.volts_v * float(np.interp(charge, *zip(*NMC, strict=True)))
    warm = max(1.0 + 8.6e-3 * (20.0 - day.temperature_c), 0.5)
    total = 0.0
    for t0, t1, v0, v1 in zip(
        trace.time_s[:-1], trace.time_s[1:], trace.speed_m_s[:-1], trace.speed_m_s[1:], strict=True
    ):
        dt, v = t1 - t0, (v0 + v1) / 2.0
        power = day.aux_w
        if v > 0.0:
            rolls = car.load.a_n * car.mass_kg / car.load.mass_kg * warm
            air = car.load.c_n_s2_m2 * day.air_kg_m3 / car.load.air_kg_m3 * v * v
            force = rolls + air + (car.mass_kg + car.rotating_kg) * (v1 - v0) / dt
            w = v / car.gear.radius_m * car.gear.ratio
            spin = car.motor.ki * w + car.motor.kw * w**3 + car.motor.c_w
            arm = car.gear.radius_m / car.gear.ratio
            idle = car.gear.drag_nm
            if force > 0.0:
                torque = force * arm / car.gear.efficiency + idle
            else:
                fade = min(max((v - car.braking.ends_m_s) / (car.braking.fades_m_s - car.braking.ends_m_s), 0.0), 1.0)
                held = max(car.braking.share * force, -car.braking.most_m_s2 * car.mass_kg) * fade
                limit = min(car.motor.torque_nm, car.motor.power_w / w)
                held = max(held, -(limit + idle) / arm / car.gear.efficiency)
                torque = held * arm * car.gear.efficiency + idle
                gives = torque * w + car.motor.kc * torque**2
                if gives >= idle * w + car.motor.kc * idle**2:
                    torque = idle
            power += torque * w + car.motor.kc * torque**2 + spin
        power = max(power, -car.supply.charge_w)
        ohm = car.supply.resistance_ohm
        amps = (volts - math.sqrt(volts**2 - 4.0 * ohm * power)) / (2.0 * ohm)
        total += volts * amps * dt / 3600.0
    return total


@pytest.mark.parametrize("name", ["udds", "us06"])
@pytest.mark.parametrize("celsius", [-5.0, 20.0])
def test_a_cycle_second_by_second_on_paper(name: str, celsius: float) -> None:
    car, day = assemble(whole_inputs(temperature_c=celsius))
    assert spend(car, named(name), day, 0.4).inside_wh[0] == pytest.approx(by_hand(car, day, name, 0.4), rel=1e-9)


@pytest.mark.parametrize(("grip", "driven"), [(0.9, "rear"), (0.5, "front"), (0.9, "all")])
def test_a_sprint_with_every_limit_in_it_by_an_ordinary_solver(grip: float, driven: str) -> None:
    told = whole_inputs()
    stance = told.stance.__class__(2.4, 0.52, 0.5, grip, driven)
    car, day = assemble(whole_inputs(stance=stance, supply=told.supply.__class__(45e3, 350.0, 0.12, 90e3, 70e3, NMC)))
    weight = car.mass_kg * 9.80665
    tall = 0.52 / 2.4
    most = {
        "rear": grip * weight * 0.5 / (1.0 - grip * tall),
        "front": grip * weight * 0.5 / (1.0 + grip * tall),
        "all": grip * weight,
    }[driven]

    def pull(v: float) -> float:
        w = max(v * 9.0 / 0.30, 1e-9)
        left = 90e3 - day.aux_w - (1.2 * w + 4e-7 * w**3 + 180.0)
        by_pack = (-w + math.sqrt(w * w + 4.0 * 0.12 * left)) / (2.0 * 0.12)
        torque = min(300.0, 110e3 / w, by_pack) - 0.4
        return min(torque * 0.96 * 9.0 / 0.30, most)

    def rate(_: float, state: np.ndarray) -> list[float]:
        v = float(state[0])
        drag = car.load.a_n + car.load.c_n_s2_m2 * day.air_kg_m3 / 1.2 * v * v
        return [(pull(v) - drag) / (car.mass_kg + car.rotating_kg), v]

    found = sprint(car, day)

    def there(_: float, state: np.ndarray) -> float:
        return state[0] - 100.0 / 3.6

    def quarter(_: float, state: np.ndarray) -> float:
        return state[1] - 402.336

    solved = solve_ivp(rate, (0.0, 60.0), [0.0, 0.0], events=[there, quarter], rtol=1e-8, atol=1e-8, max_step=0.05)
    assert found.hundred_s[0] == pytest.approx(solved.t_events[0][0], rel=1e-3)
    assert found.quarter_s[0] == pytest.approx(solved.t_events[1][0], rel=1e-3)
    assert found.quarter_m_s[0] == pytest.approx(solved.y_events[1][0][0], rel=1e-3)


def test_the_spread_of_a_coast_down_is_the_spread_of_its_answers() -> None:
    high, low = np.arange(120, 30, -10) / 3.6, np.arange(110, 20, -10) / 3.6
    true = coast_time_s(170.0, 0.0, 0.42, 1400.0, high, low)
    rng = np.random.default_rng(7)
    found, told = [], []
    for _ in range(120):
        times = true + rng.normal(0.0, 0.3, len(true))
        fit = fit_coast_down(tuple(Timed(a, b, t, 0.3) for a, b, t in zip(high, low, times, strict=True)), 1350.0, 50.0)
        found.append((fit.load.a_n, fit.load.c_n_s2_m2))
        told.append((fit.spread[0], fit.spread[2]))
    spread, mean = np.std(found, axis=0), np.mean(found, axis=0)
    assert mean == pytest.approx([170.0, 0.42], rel=0.02)
    # 120 draws tell a spread to 6.5 %; the fit's own is widened where its times scatter more than told
    assert np.mean(told, axis=0) == pytest.approx(spread, rel=0.25)
