"""Weights, tilt, stability, springs, brakes and slopes against worked examples in print, and by hand where there is
none.

Each example is named at its number. Read: Jazar, Vehicle Dynamics: Theory and Application (Springer 2008), ch. 2; a
motor vehicle examination's exercise on the centre of gravity of a car of 1050 kg (askfilo.com, data and first
answers); a worked exercise on the brakes of a truck of 1500 kg (kb9.cn 195682); Barton and Fieldhouse, Automotive
Chassis Engineering (Springer 2018); an engineers' forum on natural frequency, 5 May 2013; FAA, Pilot's Handbook of
Aeronautical Knowledge, fig. 9-5; load indices as tyre dealers print them. From memory where it says so.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from halfshaft.build.catalogue.weights import load_index_kg, load_indices
from halfshaft.build.units import KG_PER_POUND, MM_PER_INCH, N_PER_POUND_FORCE
from halfshaft.weights.brakes import Braked, Split, adhesion_used, crossings_g, first_to_lock, ideal_forces
from halfshaft.weights.moments import Stance, axle_rows, centre_mm, item, loads_kg, nothing
from halfshaft.weights.park import force_wanted_n, friction_wanted, steepest_deg
from halfshaft.weights.scales import Tilt, Weighing, weighed
from halfshaft.weights.springs import (
    damping_ratio,
    in_series_n_mm,
    ride_frequency_hz,
    same_height_rate_n_mm,
    spacer_mm,
    wheel_rate_n_mm,
)
from halfshaft.weights.stability import stability_factor
from halfshaft.weights.tilt import height_mm

EXACT = np.zeros((3, 3))


# Jazar, example 40: l = 2.34 m, 2000 N under each front wheel and 1800 N under each rear one: a1 = 1.1084 m, a2 =
# 1.2316 m
def test_axle_loads_place_the_centre_of_gravity() -> None:
    corners = (2000.0, 2000.0, 1800.0, 1800.0)
    centre, _ = centre_mm(weighed(Weighing(corners, 0.0), Stance(2340.0, 1400.0, 1400.0)))
    assert centre[0] == pytest.approx(1231.6, abs=0.1)
    assert 2340.0 - centre[0] == pytest.approx(1108.4, abs=0.1)


# Exercise: 290, 330 kg in front, 210, 220 kg at the rear, wheelbase 2550, track 1800 mm. Printed: 0.2307 m before the
# middle; 50 kg of 1050 kg lean 0.9 m to the right. 680 kg at the rear with the front lifted 1.5 m, wheels of 353 mm
CAR = Weighing((290.0, 330.0, 210.0, 220.0), 0.0, Tilt("front", 1500.0, 680.0, 0.0, 0.0, 353.0, 353.0, 0.0))


def test_corner_readings_and_a_tilt_place_it_in_all_three_axes() -> None:
    centre, _ = centre_mm(weighed(CAR, Stance(2550.0, 1800.0, 1800.0)))
    assert centre[0] - 1275.0 == pytest.approx(230.7, abs=0.1)
    assert centre[1] == pytest.approx(-50.0 / 1050.0 * 900.0)
    # by hand: tan t = 1.5 / sqrt(2.55^2 - 1.5^2), h = 353 + 2550 x 250 / (1050 tan t)
    assert centre[2] == pytest.approx(353.0 + 2550.0 * 250.0 / 1050.0 * math.sqrt(2.55**2 - 1.5**2) / 1.5, rel=1e-9)
    assert centre[2] == pytest.approx(1187.7, abs=0.1)


# Milliken, Race Car Vehicle Dynamics, ch. 18 (from memory): h = r + (W_F' l - W b) / (W tan t), rear lifted
def test_the_tilt_is_that_of_the_handbook_where_all_wheels_are_alike() -> None:
    weight, base, level, lifted, rise, radius = 2600.0, 100.0, 1300.0, 1372.0, 18.0, 12.5
    tan = rise / math.sqrt(base**2 - rise**2)
    book = radius + (lifted * base - weight * (base * level / weight)) / (weight * tan)
    assert float(height_mm(level, weight, lifted, rise, base, radius, radius)) == pytest.approx(book, rel=1e-12)


# FAA handbook, fig. 9-5: 3320 lb and 84.8 in are printed; weights and arms of the rows from memory
def test_a_ledger_adds_up_as_the_aviation_handbook_prints() -> None:
    rows = [(2100.0, 78.3), (340.0, 85.0), (350.0, 121.0), (450.0, 75.0), (80.0, 150.0)]
    whole = nothing()
    for pounds, inches in rows:
        whole = whole + item(pounds * KG_PER_POUND, (inches * MM_PER_INCH, 0.0, 0.0), 0.0, EXACT)
    centre, _ = centre_mm(whole)
    assert whole.mass_kg / KG_PER_POUND == pytest.approx(3320.0)
    assert centre[0] / MM_PER_INCH == pytest.approx(84.8, abs=0.05)


# by hand: 1000 kg at mid-wheelbase of 2500 mm, 200 kg out at 2000, 300 kg in at 500: front 500 - 160 + 60 = 400 of 1100
def test_what_comes_out_and_goes_in_moves_the_axles_by_the_lever_rule() -> None:
    stance = Stance(2500.0, 1400.0, 1400.0)
    car = item(1000.0, (1250.0, 0.0, 500.0), 0.0, EXACT)
    car = car - item(200.0, (2000.0, 0.0, 600.0), 0.0, EXACT) + item(300.0, (500.0, 0.0, 400.0), 0.0, EXACT)
    axles, _ = loads_kg(car, axle_rows(stance))
    assert axles == pytest.approx([400.0, 700.0])


# NHTSA, 49 CFR part 575: SSF is half the track over the height
def test_static_stability_factor() -> None:
    assert float(stability_factor(1500.0, 600.0)) == pytest.approx(1.25)


# Barton and Fieldhouse, Automotive Chassis Engineering, p. 213: 20.63 and 300 kN/m at 40 kg are 14.25 Hz
def test_frequency_of_a_printed_example() -> None:
    assert float(ride_frequency_hz(320.63, 40.0)) == pytest.approx(14.25, abs=0.005)


# A forum of engineers, a race car: coil, ratio, tyre 318.03 N/mm, mass: wheel rate, ride rate, frequency
@pytest.mark.parametrize(
    ("coil", "ratio", "mass", "wheel", "ride", "hz"),
    [(140.101, 0.7334, 312.0, 75.357, 60.922, 2.22), (210.152, 0.6822, 294.0, 97.804, 74.801, 2.54)],
)
def test_tyre_and_spring_in_series(
    coil: float, ratio: float, mass: float, wheel: float, ride: float, hz: float
) -> None:
    rate = wheel_rate_n_mm(coil, ratio)
    assert float(rate) == pytest.approx(wheel, rel=1e-4)
    assert float(in_series_n_mm(rate, 318.03)) == pytest.approx(ride, rel=1e-4)
    assert float(ride_frequency_hz(in_series_n_mm(rate, 318.03), mass)) == pytest.approx(hz, abs=0.006)


# the trade's rule, from memory: f in Hz is 3.13 over the root of the static deflection in inches; 1 Hz is 9.8 in
def test_frequency_comes_of_static_deflection_alone() -> None:
    deflection = 9.8 * MM_PER_INCH
    rate = 300.0 * 9.80665 / deflection
    assert float(ride_frequency_hz(rate, 300.0)) == pytest.approx(3.13 / math.sqrt(9.8), rel=2e-3)


# by hand: 40 kg more on a wheel, ratio 0.6, 70 N/mm: 392.266/0.6 N at the spring, 9.34 mm of it; 15.57 mm at the wheel
def test_a_spacer_by_hand() -> None:
    assert float(spacer_mm(40.0, 70.0, 0.6)) == pytest.approx(392.266 / 0.6 / 70.0, rel=1e-9)
    assert float(same_height_rate_n_mm(70.0, 300.0, 340.0)) == pytest.approx(70.0 * 340.0 / 300.0)


# by hand: k = 25 N/mm, m = 250 kg: critical 5000 N s/m; 2000 N s/m at a ratio of 0.7 are 980 at the wheel
def test_damping_ratio_by_hand() -> None:
    assert float(damping_ratio(2000.0, 0.7, 25.0, 250.0)) == pytest.approx(980.0 / 5000.0, rel=1e-12)


# Exercise: m 1500 kg, L 2.45 m, 64 % at the rear, hg 0.85 m, balanced at a friction of 0.6: split 0.568; z = 0.456 at
# 0.5; axle loads 8352 and 6348 N, brake forces 5011.2 and 3808.8 N at 0.6 (g taken as 9.8)
TRUCK = Braked(0.36, 0.85 / 2.45)


def test_braking_of_a_printed_truck() -> None:
    weight = 1500.0 * 9.8
    front, rear = ideal_forces(TRUCK, 0.6)
    assert float(front) * weight == pytest.approx(5011.2, abs=0.1)
    assert float(rear) * weight == pytest.approx(3808.8, abs=0.1)
    assert [float(load) * weight for load in TRUCK.loads(0.6)] == pytest.approx([8352.0, 6348.0], abs=0.1)
    split = Split(float(front) / 0.6)
    assert split.front == pytest.approx(0.568, abs=0.0005)
    assert crossings_g(TRUCK, split) == pytest.approx((0.6,), abs=1e-6)
    on_half = first_to_lock(TRUCK, split, 0.5)
    assert (on_half.first, on_half.at_g) == ("front", pytest.approx(0.456, abs=0.0005))


# Wong, Theory of Ground Vehicles, ch. 3, example of a car with 60 % of its braking in front (from memory): weight on
# the axles 1.60 and 1.27 of 2.87 m, height 0.508 m: rear locks first on a road of 0.8, front first on one of 0.2
def test_which_axle_locks_first_turns_with_the_road() -> None:
    car = Braked(1.60 / 2.87, 0.508 / 2.87)
    assert first_to_lock(car, Split(0.6), 0.8).first == "rear"
    assert first_to_lock(car, Split(0.6), 0.2).first == "front"
    # by hand: balanced where 0.6 = (1.60 + 0.508 z) / 2.87
    assert crossings_g(car, Split(0.6)) == pytest.approx(((0.6 * 2.87 - 1.60) / 0.508,), abs=1e-3)


# by hand, rear locks first on 0.8: 0.4 z = 0.8 (1.27 - 0.508 z) / 2.87
def test_deceleration_at_lock_by_hand() -> None:
    car = Braked(1.60 / 2.87, 0.508 / 2.87)
    z = 0.8 * 1.27 / (0.4 * 2.87 + 0.8 * 0.508)
    assert first_to_lock(car, Split(0.6), 0.8).at_g == pytest.approx(z, rel=1e-9)


# by hand: split 0.6, valve from 0.3 letting 0.4 by. At z = 0.6 the pedal is 0.3 + 0.3/0.76, rear 0.12 + 0.16 x 0.3947
def test_a_valve_by_hand() -> None:
    front, rear = Split(0.6, 0.3, 0.4).forces(0.6)
    beyond = 0.3 / (0.6 + 0.4 * 0.4)
    assert float(rear) == pytest.approx(0.12 + 0.4 * 0.4 * beyond)
    assert float(front) == pytest.approx(0.6 - float(rear))


# by hand: 0.15 g of regeneration at the rear and 0.35 g of friction: front 0.21 of the weight, rear 0.29
def test_regeneration_by_hand() -> None:
    front, rear = Split(0.6, regeneration_g=0.15, driven="rear").forces(0.5)
    assert (float(front), float(rear)) == pytest.approx((0.21, 0.29))
    used = adhesion_used(Braked(0.5, 0.2), Split(0.6, regeneration_g=0.15, driven="rear"), 0.5)
    assert [float(one) for one in used] == pytest.approx([0.21 / 0.6, 0.29 / 0.4])


# Jazar, equations 2.53 and 2.68: tan of the steepest slope, facing uphill: a1 mu / (l - mu h) by the rear wheels
def test_steepest_slope_of_the_rear_brake_facing_uphill() -> None:
    a1, a2, h, mu = 1.1084, 1.2316, 0.5, 0.7
    car = Braked(a2 / (a1 + a2), h / (a1 + a2))
    assert math.tan(math.radians(steepest_deg(car, "rear", mu, "uphill"))) == pytest.approx(a1 * mu / (2.34 - mu * h))
    slope = steepest_deg(car, "rear", mu, "uphill")
    assert float(friction_wanted(car, "rear", slope, "uphill")) == pytest.approx(mu)


# UN Regulation No. 13-H (from memory): 20 %; by hand W sin(atan 0.2)
def test_force_on_twenty_per_cent() -> None:
    wanted = 1900.0 * 9.80665 * 0.2 / math.sqrt(1.04)
    assert float(force_wanted_n(1900.0, math.degrees(math.atan(0.2)))) == pytest.approx(wanted)


# as tyre dealers print them
@pytest.mark.parametrize(
    ("index", "kg"),
    [(71, 345), (75, 387), (82, 475), (91, 615), (94, 670), (99, 775), (100, 800), (104, 900), (110, 1060)],
)
def test_load_indices_as_printed(index: int, kg: float) -> None:
    assert load_index_kg(index)[0] == kg


# the table is a series of preferred numbers, eighty to the decade, from 45 kg
def test_load_indices_follow_their_series() -> None:
    for index in load_indices():
        assert load_index_kg(index)[0] == pytest.approx(45.0 * 10 ** (index / 80.0), rel=0.02)


# 10 lbf s/in by the exact pound-force and inch
def test_a_damper_in_pounds() -> None:
    from halfshaft.build.moving_units import read_damping_n_s_m

    assert read_damping_n_s_m("10 lbf s/in", "inch") == pytest.approx(10.0 * N_PER_POUND_FORCE / 0.0254)
