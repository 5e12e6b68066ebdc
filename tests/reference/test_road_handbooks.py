"""Road load, acceleration, cycle energy against handbooks and independent integrations.

Gillespie, Fundamentals of Vehicle Dynamics (SAE, 1992), ch. 2 and 4; Ehsani, Gao and Emadi, Modern Electric, Hybrid
Electric and Fuel Cell Vehicles, series-hybrid example; Guzzella and Sciarretta, Vehicle Propulsion Systems, ch. 2;
SAE J1263 and J2263 (coast-down); ISO 2533 (air). Formulas and book values from memory, numbers by a script of its own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from halfshaft.road.air import air_density_kg_m3, pressure_pa
from halfshaft.road.car import Day, Stance
from halfshaft.road.climb import Lump
from halfshaft.road.coastdown import Timed, coast_time_s, fit_coast_down
from halfshaft.road.cycles import named, steady
from halfshaft.road.motor import Motor, efficiency, fit_losses, limit_nm, loss_w
from halfshaft.road.resistance import air_force_n, force_n, from_drag, from_pounds, rolling_radius_m, rotating_mass_kg
from halfshaft.road.spent import spend
from halfshaft.road.sprint import grip_n, sprint, start_grade, top_speed_m_s
from tests.road.cars import MASS_KG, STILL, plain_car

LOAD = from_drag(MASS_KG, 0.013, 0.75)
KMH = 1.0 / 3.6


# ISO 2533: standard atmosphere; dry air as an ideal gas of 287.05 J/kgK
@pytest.mark.parametrize(
    ("metres", "rho"), [(0, 1.2250), (500, 1.1673), (1000, 1.1117), (1500, 1.0581), (2000, 1.0066)]
)
def test_air_thins_with_height_as_the_standard_atmosphere(metres: float, rho: float) -> None:
    assert air_density_kg_m3(15.0 - 0.0065 * metres, pressure_pa(metres)) == pytest.approx(rho, rel=1e-3)


@pytest.mark.parametrize(("celsius", "rho"), [(-10, 1.3414), (0, 1.2923), (20, 1.2041), (35, 1.1455)])
def test_dry_air_at_sea_level(celsius: float, rho: float) -> None:
    assert air_density_kg_m3(celsius) == pytest.approx(rho, rel=1e-3)


def test_coefficients_in_pounds_become_newtons() -> None:
    # form of EPA test reports; 1 lbf = 4.4482216 N, 1 mph = 0.44704 m/s exactly
    load = from_pounds(30.51, 0.0152, 0.02151, 1600.0)
    v = 60 * 0.44704
    assert force_n(load, v) == pytest.approx(484.224, rel=1e-4)
    assert force_n(load, v) * v == pytest.approx(12_988.0, rel=1e-4)
    assert load.drag_area_m2 == pytest.approx(0.798, abs=5e-4)


@pytest.mark.parametrize(
    ("kmh", "newtons", "kw", "wh_km"),
    [(50, 239.789, 3.3304, 66.608), (80, 375.206, 8.3379, 104.224), (100, 500.206, 13.8946, 138.946),
     (120, 652.984, 21.7661, 181.384)],
)  # fmt: skip
def test_steady_road_load(kmh: float, newtons: float, kw: float, wh_km: float) -> None:
    v = kmh * KMH
    assert force_n(LOAD, v) == pytest.approx(newtons, rel=2e-4)
    assert force_n(LOAD, v) * v / 1000.0 == pytest.approx(kw, rel=2e-4)
    spent = spend(plain_car(), steady(v), STILL)
    assert spent.pull_wh[0] / spent.distance_m[0] * 1000.0 == pytest.approx(wh_km, rel=2e-4)


def test_a_headwind_and_a_slope() -> None:
    assert force_n(LOAD, 100 * KMH, headwind_m_s=5.0) == pytest.approx(636.456, rel=2e-4)
    assert force_n(LOAD, 80 * KMH, grade=0.06) == pytest.approx(1079.743, rel=2e-4)
    assert force_n(LOAD, 80 * KMH, grade=0.06) * 80 * KMH / 1000.0 == pytest.approx(23.9943, rel=2e-4)


def test_top_speed_at_sixty_kilowatts_at_the_wheels() -> None:
    assert top_speed_m_s(plain_car(kw=60.0), STILL)[0] == pytest.approx(48.8706, rel=5e-4)


def test_steepest_start_of_a_short_gear() -> None:
    # 250 Nm, ratio 8, 0.95, radius 0.29 m: 6551.72 N at the wheels
    assert start_grade(plain_car(gear=0.95), STILL, grip=False)[0] == pytest.approx(0.6515, rel=5e-4)


def test_grip_with_load_moved_to_the_rear() -> None:
    # Gillespie, ch. 2: rear drive mu m g (Wr)/(1 - mu h/L), front drive mu m g (Wf)/(1 + mu h/L)
    assert grip_n(Stance(2.4, 0.52, 0.5, 0.9, "rear"), MASS_KG) == pytest.approx(6578.4, rel=1e-4)
    assert grip_n(Stance(2.4, 0.52, 0.5, 0.9, "front"), MASS_KG) == pytest.approx(4431.5, rel=1e-4)


def test_acceleration_against_adaptive_quadrature() -> None:
    found = sprint(plain_car(rotating=0.05, gear=0.95), STILL)
    assert found.eighty_s[0] == pytest.approx(5.494, rel=2e-3)
    assert found.sixty_s[0] == pytest.approx(7.665, rel=2e-3)
    assert found.hundred_s[0] == pytest.approx(8.190, rel=2e-3)
    assert found.hundred_m[0] == pytest.approx(137.26, rel=2e-3)


def test_without_resistance_the_sprint_meets_its_closed_form() -> None:
    # t = delta m (vf² + vb²) / (2 P eta): flat torque to vb = 11.6 m/s, then flat power
    free = replace(plain_car(rotating=0.05, gear=0.95), load=from_drag(MASS_KG, 1e-9, 1e-9))
    assert sprint(free, STILL).hundred_s[0] == pytest.approx(7.5116, rel=5e-4)


def test_power_for_an_acceleration_of_the_book() -> None:
    # Ehsani et al., series-hybrid example: 1500 kg, f 0.01, Cd 0.3, 2.0 m², to 100 km/h in 10 s, base speed 40 km/h:
    # 82.5 kW of motor in the book (with 0.92 to the wheels), within 5 %
    m, delta, vb = 1500.0, 1.04, 40 * KMH
    kw = 82.5 * 0.92
    car = replace(
        plain_car(),
        load=from_drag(m, 0.01, 0.3 * 2.0, 1.205),
        mass_kg=m,
        rotating_kg=(delta - 1.0) * m,
        motor=Motor(kw * 1000.0 / (vb / 0.29 * 8.0), kw * 1000.0, 2000.0, 0.0, 0.0, 0.0, 0.0),
    )
    assert sprint(car, Day(20.0, 1.205)).hundred_s[0] == pytest.approx(10.0, rel=0.05)


# independent closed form: t = me/sqrt(AC) (atan(v1 sqrt(C/A)) - atan(v2 sqrt(C/A))), me = 1248 kg
COAST = [(120, 100, 12.1447), (100, 80, 16.0345), (80, 60, 21.5419), (60, 40, 28.9753), (40, 20, 37.5558)]


@pytest.mark.parametrize(("begin", "end", "seconds"), COAST)
def test_time_to_roll_down_meets_its_closed_form(begin: float, end: float, seconds: float) -> None:
    found = coast_time_s(152.98, 0.0, 0.45, 1248.0, np.array([begin * KMH]), np.array([end * KMH]))
    assert found[0] == pytest.approx(seconds, rel=1e-4)


@pytest.mark.parametrize("with_b", [False, True])
def test_coast_down_times_give_back_tyres_and_drag(with_b: bool) -> None:
    times = tuple(Timed(a * KMH, b * KMH, t, 0.2) for a, b, t in COAST)
    found = fit_coast_down(times, MASS_KG, 0.04 * MASS_KG, with_b=with_b)
    assert found.load.rolling == pytest.approx(0.0130, rel=1e-3)
    assert found.load.drag_area_m2 == pytest.approx(0.750, rel=1e-3)
    assert found.load.b_n_s_m == pytest.approx(0.0, abs=1e-2)


# independent integration at 1 Hz, force at mean speed: Wh/km driving, braking, net, of the air; kW most and least
@pytest.mark.parametrize(
    ("name", "pull", "push", "net", "air", "most", "least"),
    [
        ("udds", 109.85, 39.96, 69.89, 27.39, 27.55, 20.15),
        ("hwfet", 114.93, 7.77, 107.16, 64.67, 22.94, 28.09),
        ("us06", 177.49, 38.76, 138.73, 96.23, 72.32, 41.87),
        ("wltc", 134.68, 27.85, 106.83, 64.33, 38.19, 23.84),
        ("nedc", 113.95, 26.18, 87.77, 45.28, 33.04, 20.29),
    ],
)
def test_energy_at_the_wheels(
    name: str, pull: float, push: float, net: float, air: float, most: float, least: float
) -> None:
    spent = spend(plain_car(), named(name), STILL)
    km = spent.distance_m[0] / 1000.0
    assert spent.pull_wh[0] / km == pytest.approx(pull, rel=3e-3)
    assert spent.push_wh[0] / km == pytest.approx(push, rel=3e-3)
    assert spent.terminal_wh[0] / km == pytest.approx(net, rel=3e-3)
    assert spent.air_wh[0] / km == pytest.approx(air, rel=3e-3)
    assert spent.rolling_wh[0] / km == pytest.approx(42.50, rel=3e-3)
    assert spent.most_pull_w[0] / 1000.0 == pytest.approx(most, rel=3e-3)
    assert spent.most_push_w[0] / 1000.0 == pytest.approx(least, rel=3e-3)


def test_nedc_against_the_closed_forms_of_the_book() -> None:
    # Guzzella and Sciarretta, ch. 2, kJ/100 km: 1.9e4 CdA + 840 m Cr + 10 m; with all braking back 2.2e4 CdA + 981 m Cr
    spent = spend(plain_car(rotating=0.0), named("nedc"), STILL)
    per = 3.6 / spent.distance_m[0] * 1e5
    assert spent.pull_wh[0] * per == pytest.approx(1.9e4 * 0.75 + 840 * 1200 * 0.013 + 10 * 1200, rel=0.04)
    assert spent.terminal_wh[0] * per == pytest.approx(2.2e4 * 0.75 + 981 * 1200 * 0.013, rel=0.015)


def test_a_heavy_truck_of_the_handbook() -> None:
    # Gillespie, ch. 4: 72 500 lb, 67 mph, rho 0.00210 slug/ft³, 8 x 13.5 ft, Cd 0.65, f = 0.0041 + 0.000041 V:
    # drag 711 lb, rolling 496 lb, 216 hp
    pound, foot, slug = 4.4482216, 0.3048, 14.593903
    mass, v = 72_500 * 0.45359237, 67 * 0.44704
    rho = 0.00210 * slug / foot**3
    load = from_drag(mass, 0.0041 + 0.000041 * 67, 0.65 * 8 * 13.5 * foot**2, rho)
    air = force_n(load, v) - force_n(replace(load, c_n_s2_m2=0.0), v)
    assert air / pound == pytest.approx(711, rel=0.01)
    assert (force_n(load, v) - air) / pound == pytest.approx(496, rel=0.01)
    assert force_n(load, v) * v / 745.69987 == pytest.approx(216, rel=0.01)


# Larminie and Lowry, eq. 8.25 family, an induction machine with its controller: kc .3, ki .01, kw 5e-6, C 600
MACHINE = Motor(140.0, 102_620.0, 1400.0, 0.3, 0.01, 5e-6, 600.0)


@pytest.mark.parametrize(
    ("torque", "w", "loss", "drives", "brakes"),
    [(20, 100, 726, 0.7337, 0.637), (50, 200, 1392, 0.8778, 0.8608), (100, 300, 3738, 0.8892, 0.8754),
     (140, 733, 8456.5, 0.9239, 0.9176), (50, 733, 3326.5, 0.9168, 0.9092), (20, 600, 1806, 0.8692, 0.8495)],
)  # fmt: skip
def test_losses_of_a_machine(torque: float, w: float, loss: float, drives: float, brakes: float) -> None:
    assert loss_w(MACHINE, torque, w) == pytest.approx(loss, abs=0.5)
    assert efficiency(MACHINE, torque, w) == pytest.approx(drives, abs=1e-4)
    assert efficiency(MACHINE, -torque, w) == pytest.approx(brakes, abs=1e-4)


def test_the_best_torque_of_a_machine() -> None:
    torque = np.linspace(30.0, 80.0, 5001)
    eta = efficiency(MACHINE, torque, 300.0)
    assert torque[eta.argmax()] == pytest.approx(49.60, abs=0.02)
    assert eta.max() == pytest.approx(0.9098, abs=1e-4)
    small = Motor(20.0, 5000.0, 500.0, 1.5, 0.1, 1e-5, 20.0)
    assert efficiency(small, 10.0, 200.0) == pytest.approx(0.8811, abs=1e-4)


def test_an_efficiency_map_gives_back_its_losses() -> None:
    w, torque = (grid.ravel() for grid in np.meshgrid(np.linspace(60, 900, 9), np.linspace(8, 130, 8)))
    found = fit_losses(w, torque, efficiency(MACHINE, torque, w))
    assert (found.kc, found.ki, found.kw, found.c_w) == pytest.approx((0.3, 0.01, 5e-6, 600.0), rel=1e-3)
    assert found.worst < 1e-6


def test_wheels_and_rotor_as_mass() -> None:
    # 4 x 0.7 kg m² of wheels, rotor 0.03, ratio 8, radius 0.29 m, 1200 kg: factor 1.0468
    assert 1.0 + rotating_mass_kg(4 * 0.7, 0.03, 8.0, 0.29) / 1200.0 == pytest.approx(1.0468, abs=1e-4)


# rim x 25.4 + 2 w a; 0.965 of pi D: turns a kilometre
@pytest.mark.parametrize(("tyre", "turns"), [("165/80R15", 511), ("155/80 R13", 570), ("185/65R15", 531)])
def test_a_tyre_rolls_as_often_as_its_size_says(tyre: str, turns: float) -> None:
    assert 1000.0 / (2.0 * np.pi * rolling_radius_m(tyre)) == pytest.approx(turns, abs=0.6)


def test_the_way_a_coast_down_takes() -> None:
    # closed form: me/(2C) ln((A + C v1²)/(A + C v2²)), 100 to 20 km/h: 1522.27 m
    way, _ = quad(lambda v: 1.04 * MASS_KG * v / float(force_n(LOAD, v)), 20 * KMH, 100 * KMH)
    assert way == pytest.approx(1522.27, rel=1e-4)


def test_power_of_the_air_alone() -> None:
    # Bosch Automotive Handbook: A 2 m², Cd 0.6, rho 1.202, 80 km/h: 7.9 kW
    v = 80 * KMH
    assert air_force_n(from_drag(1000.0, 0.01, 1.2, 1.202), v, 0.0, 1.202) * v / 1000.0 == pytest.approx(7.9, abs=0.05)


def test_full_torque_ends_and_the_motors_speed_ends_the_cars() -> None:
    # 80 kW / 250 Nm = 320 rad/s; ratio 8, 0.29 m, 10 000 rpm: 37.96 m/s
    motor = replace(plain_car().motor, most_rad_s=10_000 * 2.0 * np.pi / 60.0)
    assert limit_nm(motor, 319.9) == 250.0 > limit_nm(motor, 320.1)
    found = sprint(replace(plain_car(), motor=motor), STILL)
    assert found.top_m_s[0] == pytest.approx(37.96, abs=5e-3)
    assert found.top_by_speed[0]


def test_a_module_warms_by_its_own_resistance() -> None:
    # 12 cells of 1.2 mohm at 200 A: 576 W; 24 kg at 1000 J/kg K without cooling: 1.44 K a minute
    heat = 200.0**2 * 12 * 1.2e-3
    assert heat == pytest.approx(576.0)
    assert Lump(24_000.0, 0.0, 25.0, 45.0, 60.0).after(25.0, heat, 60.0) == pytest.approx(26.44)
