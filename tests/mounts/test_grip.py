"""Grip of a driven axle against the balance of a car solved as equations, and against a block about to tip."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.mounts.grip import DrivenAxle, Way, grip

G = 9.80665  # m/s2, standard gravity (3rd CGPM, 1901)
REAR = DrivenAxle("rear", 700.0, 1500.0, 2800.0, 550.0, 310.0)
FRONT = DrivenAxle("front", 800.0, 1500.0, 2800.0, 550.0, 310.0)


def balanced(axle: DrivenAxle, mu: float, forward: bool) -> tuple[float, float]:
    """Tyre force and axle load from the car's three balances as linear equations, axle at slip: no closed form used."""
    length, height, mass = axle.wheelbase_mm / 1000.0, axle.cog_height_mm / 1000.0, axle.car_mass_kg
    rear_kg = axle.axle_mass_kg if axle.end == "rear" else mass - axle.axle_mass_kg
    ahead_of_rear = length * (mass - rear_kg) / mass
    way = 1.0 if forward else -1.0
    driven = 1 if axle.end == "rear" else 0
    # unknowns: front load, rear load, tyre force F along x; moments about the rear contact, nose down positive
    rows = np.zeros((3, 3))
    rows[0] = [1.0, 1.0, 0.0]
    rows[1] = [length, 0.0, height]  # the car's inertia -F at its height lifts the front
    rows[2, 2] = 1.0
    rows[2, driven] = -mu * way
    front, rear, force = np.linalg.solve(rows, [mass * G, mass * G * ahead_of_rear, 0.0])
    return abs(force), (front, rear)[driven]


@pytest.mark.parametrize("axle", [REAR, FRONT], ids=["rear", "front"])
@pytest.mark.parametrize("way", ["forward", "backward"])
def test_grip_agrees_with_the_balances_of_the_car(axle: DrivenAxle, way: Way) -> None:
    force, load = balanced(axle, 0.9, way == "forward")
    found = grip(axle, 0.9, way)
    assert found.force_n == pytest.approx(force, rel=1e-12)
    assert found.axle_load_n == pytest.approx(load, rel=1e-12)
    assert found.torque_nm == pytest.approx(force * 0.310, rel=1e-12)
    assert found.accelerates_g == pytest.approx(force / (1500.0 * G), rel=1e-12)
    assert not found.lifts_other_axle


def test_the_closed_forms_by_hand() -> None:
    # worked by hand: mu h / L = 0.2 with mu 1, h 560, L 2800; rear axle 10 kN: 10 / 0.8 forward, 10 / 1.2 backward
    axle = DrivenAxle("rear", 10000.0 / G, 20000.0 / G, 2800.0, 560.0, 300.0)
    assert grip(axle, 1.0, "forward").force_n == pytest.approx(12500.0)
    assert grip(axle, 1.0, "backward").force_n == pytest.approx(10000.0 / 1.2)
    front = DrivenAxle("front", 10000.0 / G, 20000.0 / G, 2800.0, 560.0, 300.0)
    assert grip(front, 1.0, "forward").force_n == pytest.approx(10000.0 / 1.2)


def test_a_rear_axle_pulls_harder_forward_and_a_front_axle_harder_backward() -> None:
    assert grip(REAR, 1.0, "forward").force_n > grip(REAR, 1.0, "backward").force_n
    assert grip(FRONT, 1.0, "backward").force_n > grip(FRONT, 1.0, "forward").force_n


def test_a_tall_short_car_lifts_its_nose_and_the_axle_carries_no_more_than_the_car() -> None:
    tall = DrivenAxle("rear", 900.0, 1200.0, 1600.0, 1500.0, 300.0)
    found = grip(tall, 1.2, "forward")
    assert found.lifts_other_axle
    assert found.axle_load_n == pytest.approx(1200.0 * G)
    assert found.force_n == pytest.approx(1.2 * 1200.0 * G)


def test_where_all_wheels_pull_the_car_gains_the_whole_friction_and_the_axles_share_it() -> None:
    rear = DrivenAxle("rear", 700.0, 1500.0, 2800.0, 550.0, 310.0, other_axle_pulls=True)
    front = DrivenAxle("front", 800.0, 1500.0, 2800.0, 550.0, 310.0, other_axle_pulls=True)
    for way in ("forward", "backward"):
        both = grip(rear, 0.8, way).force_n + grip(front, 0.8, way).force_n
        assert both == pytest.approx(0.8 * 1500.0 * G, rel=1e-12)
        assert grip(rear, 0.8, way).accelerates_g == pytest.approx(0.8)


def test_twice_the_weight_holds_twice_the_torque() -> None:
    assert grip(REAR, 1.0, "forward", 2.0).torque_nm == pytest.approx(2.0 * grip(REAR, 1.0, "forward").torque_nm)


@given(st.floats(0.0, 3.0), st.floats(0.0, 4.0), st.sampled_from(["forward", "backward"]), st.booleans())
def test_force_never_passes_friction_times_the_whole_weight(mu: float, up: float, way: Way, both: bool) -> None:
    axle = DrivenAxle("rear", 700.0, 1500.0, 1900.0, 900.0, 310.0, both)
    found = grip(axle, mu, way, up)
    assert 0.0 <= found.force_n <= mu * 1500.0 * G * up * (1.0 + 1e-12)


@pytest.mark.parametrize(
    "numbers", [(0.0, 1500.0, 2800.0), (700.0, 600.0, 2800.0), (700.0, 1500.0, -1.0), (np.nan, 1500.0, 2800.0)]
)
def test_a_car_that_cannot_be_is_refused(numbers: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="axle"):
        DrivenAxle("rear", numbers[0], numbers[1], numbers[2], 500.0, 300.0)
    with pytest.raises(ValueError, match="friction"):
        grip(REAR, -0.1, "forward")
