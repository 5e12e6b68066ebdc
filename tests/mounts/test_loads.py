"""Load cases: signs by what a shop sees, magnitudes by hand, tilted gravity by scipy's rotations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from halfshaft.checks import Origin, Severity, Source
from halfshaft.mounts.bushings import Axis, Bushing
from halfshaft.mounts.grip import DrivenAxle
from halfshaft.mounts.loads import (
    Driveline,
    drive_case,
    field_case,
    load_numbers,
    pulled_at,
    torque_checks,
    torque_limit,
    usual_cases,
)
from halfshaft.mounts.statics import settle

G = 9.80665  # m/s2, standard gravity (3rd CGPM, 1901)
AXLE = DrivenAxle("rear", 800.0, 1600.0, 2800.0, 560.0, 320.0)
WEAK = Driveline(100.0, 9.0)
STRONG = Driveline(600.0, 10.0, park_lock=True)
NUMBERS, _ = load_numbers(shock=1.5, friction=1.0, efficiency=0.95)
OWN = Source(Origin.BUILDER, "own case")


def test_the_housing_carries_the_whole_axle_torque_against_the_wheels() -> None:
    case, limit = drive_case("launch", WEAK, AXLE, 90.0, NUMBERS, "forward drive")
    # by hand: 100 N m x 9 x 0.95 x 1.5 = 1282.5 N m; wheels turn about +y going forward, the housing about -y
    assert limit.limited_by == "motor"
    np.testing.assert_allclose(case.moment_nmm, [0.0, -1282500.0, 0.0])
    # the car gains by the steady 855 N m: 855 / 0.32 / 1600 m/s2, and the unit is left behind
    assert case.field_g[0] == pytest.approx(-855.0 / 0.32 / 1600.0 / G)
    np.testing.assert_allclose(case.force_n, 90.0 * G * case.field_g)


def test_front_mounts_are_pulled_up_and_rear_ones_pushed_down_as_a_rear_unit_drives_forward() -> None:
    # common practice, no source: the nose of a rear unit climbs under power
    mounts = [
        Bushing(name, np.array(spot), np.eye(3), (Axis(400.0), Axis(400.0), Axis(400.0)))
        for name, spot in (
            ("front", (250.0, 0.0, 0.0)),
            ("left", (-250.0, 200.0, 0.0)),
            ("right", (-250.0, -200.0, 0.0)),
        )
    ]
    case, _ = drive_case("launch", STRONG, AXLE, 90.0, NUMBERS, "forward drive")
    back, _ = drive_case("reverse", STRONG, AXLE, 90.0, NUMBERS, "reverse drive")
    forward = settle(mounts, (0.0, 0.0, 0.0), case.force_n, case.moment_nmm)
    reverse = settle(mounts, (0.0, 0.0, 0.0), back.force_n, back.moment_nmm)
    assert forward.mount("front").force_n[2] > 0.0
    assert forward.mount("left").force_n[2] < 0.0
    assert forward.mount("right").force_n[2] < 0.0
    assert reverse.mount("front").force_n[2] < 0.0
    assert reverse.mount("left").force_n[2] > 0.0


def test_reverse_and_regeneration_twist_the_housing_the_other_way_and_push_the_car_back() -> None:
    for pull in ("reverse drive", "regeneration"):
        case, _ = drive_case(pull, WEAK, AXLE, 90.0, NUMBERS, pull)
        assert case.moment_nmm[1] > 0.0
        assert case.field_g[0] > 0.0


def test_losses_lessen_the_torque_in_drive_and_add_to_it_in_regeneration() -> None:
    assert torque_limit(WEAK, AXLE, NUMBERS, "forward drive").steady_nm == pytest.approx(900.0 * 0.95)
    assert torque_limit(WEAK, AXLE, NUMBERS, "regeneration").steady_nm == pytest.approx(900.0 / 0.95)


def test_a_strong_motor_is_bounded_by_the_tyres_and_told_by_how_much() -> None:
    limit = torque_limit(STRONG, AXLE, NUMBERS, "forward drive")
    # by hand: mu h / L = 0.2; 800 kg / 0.8 x g x 0.32 m against 600 x 10 x 0.95 x 1.5 N m
    held, asked = 1000.0 * G * 0.32, 8550.0
    assert limit.limited_by == "tyres"
    assert limit.torque_nm == pytest.approx(held)
    assert limit.over == pytest.approx(asked / held)
    assert "tyres' grip" in limit.words
    assert f"{asked / held:.2f} times" in limit.words


def test_over_a_bump_the_tyres_hold_more_and_the_housing_gets_it() -> None:
    table = usual_cases(STRONG, AXLE, 90.0, NUMBERS)
    flat, bump = table.named("launch"), table.named("launch over a bump")
    # pressed down by the bump's 3 g the grip is three times that on the flat, until the motor is the bound
    held = min(3.0 * 1000.0 * G * 0.32, 8550.0)
    assert abs(bump.moment_nmm[1]) == pytest.approx(1000.0 * held)
    assert abs(flat.moment_nmm[1]) == pytest.approx(1000.0 * 1000.0 * G * 0.32)
    assert bump.field_g[2] == pytest.approx(-3.0)


def test_in_a_bend_the_tyres_have_less_left_to_pull_with() -> None:
    # the circle of friction by a 3-4-5 triangle: 0.6 g sideways of friction 1 leaves 0.8; mu h / L is 0.16 then
    limit = torque_limit(STRONG, AXLE, NUMBERS, "forward drive", sideways_g=-0.6)
    assert limit.friction == pytest.approx(0.8)
    assert limit.torque_nm == pytest.approx(0.8 * 800.0 * G / (1.0 - 0.16) * 0.32)
    assert torque_limit(STRONG, AXLE, NUMBERS, "forward drive", sideways_g=1.2).torque_nm == 0.0
    bend = usual_cases(STRONG, AXLE, 90.0, load_numbers(cornering_g=0.6, friction=1.0)[0]).named(
        "launch out of a left bend"
    )
    assert bend.moment_nmm[1] == pytest.approx(-1000.0 * 0.8 * 800.0 * G / (1.0 - 0.16) * 0.32)
    assert bend.field_g[1] == -0.6


def test_what_hangs_in_the_car_is_thrown_against_the_car_s_own_gain() -> None:
    table = usual_cases(WEAK, AXLE, 90.0, NUMBERS)
    assert table.named("braking").force_n[0] > 0.0  # forward
    assert table.named("left bend").force_n[1] < 0.0  # to the right
    assert table.named("bump").force_n[2] < table.named("at rest").force_n[2] < 0.0
    assert table.named("rebound").force_n[2] > 0.0
    assert table.named("towed forward, jerk").force_n[0] < 0.0


@pytest.mark.parametrize(
    ("corner", "pitch", "roll"),
    [("front left", -1, 1), ("front right", -1, -1), ("rear left", 1, 1), ("rear right", 1, -1)],
)
def test_a_car_lifted_by_a_corner_feels_gravity_toward_the_low_one(corner: str, pitch: int, roll: int) -> None:
    numbers, _ = load_numbers(lift_tilt_deg=15.0, lift_jerk=2.0)
    case = usual_cases(WEAK, AXLE, 90.0, numbers).named(f"lifted by the {corner} corner")
    # scipy's rotations: nose down is a turn about +y, left side up one about +x
    car = Rotation.from_euler("XYZ", [0.0, 15.0 * pitch, 0.0], degrees=True) * Rotation.from_euler(
        "X", [15.0 * roll], degrees=True
    )
    np.testing.assert_allclose(case.field_g, 2.0 * car.inv().apply([0.0, 0.0, -1.0]).ravel(), atol=1e-12)
    assert np.sign(case.field_g[0]) == pitch
    assert np.sign(case.field_g[1]) == -roll


def test_a_park_lock_caught_while_rolling_brings_all_the_grip_both_ways() -> None:
    table = usual_cases(STRONG, AXLE, 90.0, NUMBERS)
    ahead, back = table.named("park lock caught rolling forward"), table.named("park lock caught rolling backward")
    # stopped wheels push the car back: load leaves the rear axle, 800 / 1.2; the housing is dragged on with the wheels
    assert ahead.moment_nmm[1] == pytest.approx(1e3 * 800.0 / 1.2 * G * 0.32)
    assert ahead.field_g[0] > 0.0
    assert back.moment_nmm[1] == pytest.approx(-1e3 * 1000.0 * G * 0.32)
    with pytest.raises(KeyError, match="launch"):
        usual_cases(WEAK, AXLE, 90.0, NUMBERS).named("park lock caught rolling forward")


def test_a_tilted_output_axis_tilts_the_torque() -> None:
    tilted = Driveline(100.0, 9.0, axis=np.array([0.0, 3.0, 4.0]))
    case, limit = drive_case("launch", tilted, AXLE, 90.0, NUMBERS, "forward drive")
    np.testing.assert_allclose(case.moment_nmm, -1000.0 * limit.torque_nm * np.array([0.0, 0.6, 0.8]))


def test_a_half_shaft_that_pulls_adds_force_and_moment() -> None:
    rest = field_case("rest", 90.0, (0.0, 0.0, -1.0), "everyday", OWN)
    pulled = pulled_at(rest, "stuck joint", (0.0, 300.0, 0.0), (50.0, 100.0, -20.0), (0.0, 0.0, 30.0), OWN)
    np.testing.assert_allclose(pulled.force_n - rest.force_n, [0.0, 300.0, 0.0])
    # by hand: lever (50, 100, -50) x (0, 300, 0) = (15000, 0, 15000)
    np.testing.assert_allclose(pulled.moment_nmm, [15000.0, 0.0, 15000.0])


def test_every_case_has_a_source_and_numbers_not_given_are_assumed() -> None:
    numbers, assumed = load_numbers(bump_g=2.5)
    table = usual_cases(STRONG, AXLE, 90.0, numbers, assumed=assumed)
    assert all(case.source.text for case in table.cases)
    assert len({case.name for case in table.cases}) == len(table.cases)
    assert "mounts.bump_g" not in {a.where for a in table.assumed}
    assert {"mounts.rebound_g", "mounts.shock", "mounts.friction"} <= {a.where for a in table.assumed}


def test_the_builder_s_own_case_joins_the_table_once() -> None:
    own = field_case("jump", 90.0, (0.0, 0.0, -5.0), "hard", OWN)
    assert usual_cases(WEAK, AXLE, 90.0, NUMBERS, [own]).named("jump").force_n[2] == pytest.approx(-5.0 * 90.0 * G)
    twice = field_case("bump", 90.0, (0.0, 0.0, -5.0), "hard", OWN)
    with pytest.raises(ValueError, match="bump"):
        usual_cases(WEAK, AXLE, 90.0, NUMBERS, [twice])


def test_checks_tell_the_bound_and_warn_where_the_nose_lifts() -> None:
    checks = torque_checks(usual_cases(STRONG, AXLE, 90.0, NUMBERS))
    assert any("tyres' grip" in check.title for check in checks)
    assert all(check.ok for check in checks)
    tall = DrivenAxle("rear", 900.0, 1200.0, 1600.0, 1500.0, 300.0)
    lifted = torque_checks(usual_cases(STRONG, tall, 90.0, NUMBERS))
    assert any(not check.ok and check.severity is Severity.CAUTION for check in lifted)


def test_numbers_that_make_no_sense_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match="ratio"):
        Driveline(100.0, 0.0)
    with pytest.raises(ValueError, match="efficiency"):
        load_numbers(efficiency=1.2)
    with pytest.raises(ValueError, match="shock"):
        load_numbers(shock=0.5)
    with pytest.raises(TypeError, match="bumps"):
        load_numbers(bumps=3.0)
    with pytest.raises(ValueError, match="weight"):
        field_case("rest", 0.0, (0.0, 0.0, -1.0), "everyday", OWN)
    with pytest.raises(ValueError, match="three numbers"):
        field_case("rest", 5.0, (0.0, np.nan, -1.0), "everyday", OWN)
