"""Half-shafts and wheel travel against trigonometry, scipy's rotations and distances solved by another way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import root
from scipy.spatial.transform import Rotation

from halfshaft.checks import Origin, Severity
from halfshaft.fitup.halfshaft import joint_limits, joints_from, shaft_checks, shafts
from halfshaft.fitup.model import Joints, OutputFlange, Unit, Wheel
from halfshaft.fitup.travel import (
    Arm,
    Corner,
    DoubleWishbone,
    ToeLink,
    TrailingArm,
    heights_mm,
    wheel_of_arms,
    wheel_of_table,
)
from halfshaft.geometry import Pose

# Parallel equal arms in the plane across the car: 300 mm long, the knuckle 200 mm tall, all axes fore and aft.
ARM, KNUCKLE = 300.0, 200.0
LOW = Arm(np.array([-100.0, 400.0, 200.0]), np.array([100.0, 400.0, 200.0]), np.array([0.0, 400.0 + ARM, 200.0]))
HIGH = Arm(
    np.array([-100.0, 400.0, 200.0 + KNUCKLE]),
    np.array([100.0, 400.0, 200.0 + KNUCKLE]),
    np.array([0.0, 400.0 + ARM, 200.0 + KNUCKLE]),
)
CORNER = Corner("left", np.array([0.0, 760.0, 300.0]), np.array([0.0, 680.0, 300.0]), np.array([0.0, 1.0, 0.0]))
PARALLEL = DoubleWishbone(LOW, HIGH)
WIDE = Joints(90.0, 90.0, 1e6)
# Arms in space with every axis skew, as real ones are.
SKEW = DoubleWishbone(
    Arm(np.array([-180.0, 330.0, 182.0]), np.array([150.0, 312.0, 205.0]), np.array([8.0, 705.0, 170.0])),
    Arm(np.array([-120.0, 420.0, 398.0]), np.array([110.0, 405.0, 430.0]), np.array([-14.0, 668.0, 425.0])),
    ToeLink(np.array([-150.0, 345.0, 214.0]), np.array([-138.0, 700.0, 205.0])),
)
SKEW_CORNER = Corner(
    "left", np.array([0.0, 762.0, 298.0]), np.array([2.0, 660.0, 297.0]), np.array([0.02, 0.999, -0.02])
)
TRAVEL = heights_mm(80.0, 70.0, 7)


def unit(*sides: str) -> Unit:
    way = {"left": 1.0, "right": -1.0}
    outputs = [
        OutputFlange(side, np.array([30.0, way[side] * 120.0, -40.0]), np.array([0.0, way[side], 0.0]))  # type: ignore[arg-type]
        for side in sides
    ]
    return Unit((), tuple(outputs), ())


def test_on_equal_parallel_arms_the_joint_goes_round_a_circle_and_the_hub_does_not_tilt() -> None:
    wheel = wheel_of_arms(CORNER, PARALLEL, TRAVEL)
    # the knuckle only shifts: every spot of it goes round a circle of the arm's length; sin a = travel / arm
    turned = np.arcsin(wheel.travel_mm / ARM)
    assert wheel.centre_mm[:, 0] == pytest.approx(np.zeros(len(turned)), abs=1e-9)
    assert wheel.centre_mm[:, 1] == pytest.approx(680.0 - ARM * (1.0 - np.cos(turned)), abs=1e-8)
    assert wheel.centre_mm[:, 2] == pytest.approx(300.0 + wheel.travel_mm, abs=1e-8)
    assert wheel.axis == pytest.approx(np.tile([0.0, 1.0, 0.0], (len(turned), 1)), abs=1e-10)


def test_angles_and_lengths_on_parallel_arms_are_those_of_the_right_triangle() -> None:
    wheel = wheel_of_arms(CORNER, PARALLEL, TRAVEL)
    # flange level with the joint at ride, 210 mm nearer the centre line, its axis straight across
    place = Pose(np.eye(3), np.array([-30.0, 680.0 - 210.0 - 120.0, 300.0 + 40.0]))
    (shaft,) = shafts(unit("left"), [wheel], Joints(10, 20, 45.0), place)
    level = 210.0 - ARM * (1.0 - np.cos(np.arcsin(wheel.travel_mm / ARM)))
    assert shaft.length_mm == pytest.approx(np.hypot(level, wheel.travel_mm), abs=1e-8)
    bent = np.degrees(np.arctan2(np.abs(wheel.travel_mm), level))
    assert shaft.inner_deg == pytest.approx(bent, abs=1e-8)
    assert shaft.outer_deg == pytest.approx(bent, abs=1e-8)
    assert shaft.inner_deg[shaft.ride_index] == pytest.approx(0.0, abs=1e-9)
    assert shaft.plunge_mm == pytest.approx(np.ptp(np.hypot(level, wheel.travel_mm)), abs=1e-8)
    assert shaft.stroke_used == pytest.approx(shaft.plunge_mm / 45.0)


def test_unequal_arms_in_one_plane_meet_where_two_circles_meet() -> None:
    # upper arm 210 mm against 300: its ball is where a circle about its pivot meets one about the lower ball
    short = Arm(np.array([-90.0, 470.0, 395.0]), np.array([90.0, 470.0, 395.0]), np.array([0.0, 680.0, 400.0]))
    wheel = wheel_of_arms(CORNER, DoubleWishbone(LOW, short), TRAVEL)
    for height, joint, axis in zip(wheel.travel_mm, wheel.centre_mm, wheel.axis, strict=True):
        camber = np.arctan2(axis[2], axis[1])
        spin = np.array([[np.cos(camber), -np.sin(camber)], [np.sin(camber), np.cos(camber)]])
        low = joint[1:] + spin @ (np.array([700.0, 200.0]) - CORNER.joint_mm[1:])
        high = joint[1:] + spin @ (np.array([680.0, 400.0]) - CORNER.joint_mm[1:])
        middle = joint[1:] + spin @ (CORNER.wheel_mm[1:] - CORNER.joint_mm[1:])
        assert np.linalg.norm(low - [400.0, 200.0]) == pytest.approx(300.0, abs=1e-8)
        assert np.linalg.norm(high - [470.0, 395.0]) == pytest.approx(np.hypot(210.0, 5.0), abs=1e-8)
        assert middle[1] - 300.0 == pytest.approx(height, abs=1e-8)
    cambers = np.degrees(np.arctan2(wheel.axis[:, 2], wheel.axis[:, 1]))
    # from level arms the shorter one's arc pulls the wheel's top in both ways: the hub's outer end turns up
    assert cambers[-1] > 0.5
    assert cambers[0] > 0.5


def solved_by_distances(arms: DoubleWishbone, corner: Corner, heights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The knuckle as six unknowns under six distances, with rotations and solver of scipy."""
    assert arms.toe is not None
    kept = [
        (arms.lower.ball_mm, arms.lower.inner_a_mm), (arms.lower.ball_mm, arms.lower.inner_b_mm),
        (arms.upper.ball_mm, arms.upper.inner_a_mm), (arms.upper.ball_mm, arms.upper.inner_b_mm),
        (arms.toe.outer_mm, arms.toe.inner_mm),
    ]  # fmt: skip
    centre = corner.wheel_mm
    joints: dict[float, np.ndarray] = {}
    hubs: dict[float, np.ndarray] = {}
    guess = np.zeros(6)
    for height in sorted(heights, key=lambda h: (h < 0, abs(h))):

        def miss(x: np.ndarray, height: float = float(height)) -> np.ndarray:
            spin = Rotation.from_rotvec(x[3:] / 100.0)
            moved = [spin.apply(own - centre) + centre + x[:3] for own, _ in kept]
            gaps = [
                np.linalg.norm(now - fixed) - np.linalg.norm(own - fixed)
                for now, (own, fixed) in zip(moved, kept, strict=True)
            ]
            return np.array([*gaps, x[2] - height])

        if height < 0 and not any(h < 0 for h in joints):
            guess = np.zeros(6)
        found = root(miss, guess, tol=1e-12)
        assert found.success
        guess = found.x
        spin = Rotation.from_rotvec(found.x[3:] / 100.0)
        joints[height] = spin.apply(corner.joint_mm - centre) + centre + found.x[:3]
        hubs[height] = spin.apply(corner.axis / np.linalg.norm(corner.axis))
    return np.array([joints[h] for h in heights]), np.array([hubs[h] for h in heights])


def test_skew_arms_and_a_toe_link_carry_the_knuckle_where_six_distances_put_it() -> None:
    wheel = wheel_of_arms(SKEW_CORNER, SKEW, TRAVEL)
    joints, hubs = solved_by_distances(SKEW, SKEW_CORNER, wheel.travel_mm)
    assert wheel.centre_mm == pytest.approx(joints, abs=1e-6)
    assert wheel.axis == pytest.approx(hubs, abs=1e-8)


def test_a_semi_trailing_arm_turns_the_wheel_about_its_one_axis() -> None:
    arm = TrailingArm(np.array([420.0, 250.0, 260.0]), np.array([380.0, 560.0, 275.0]))
    wheel = wheel_of_arms(CORNER, arm, TRAVEL)
    axis = arm.pivot_b_mm - arm.pivot_a_mm
    for height, joint, hub in zip(wheel.travel_mm, wheel.centre_mm, wheel.axis, strict=True):
        # the turn that does it, looked for by scipy among turns about the axis
        found = root(
            lambda a, h=height: (
                (
                    Rotation.from_rotvec(a[0] * axis / np.linalg.norm(axis)).apply(CORNER.wheel_mm - arm.pivot_a_mm)
                    + arm.pivot_a_mm
                    - CORNER.wheel_mm
                )[2:]
                - h
            ),
            [-height / 400.0],
            tol=1e-13,
        )
        spin = Rotation.from_rotvec(found.x[0] * axis / np.linalg.norm(axis))
        assert joint == pytest.approx(spin.apply(CORNER.joint_mm - arm.pivot_a_mm) + arm.pivot_a_mm, abs=1e-6)
        assert hub == pytest.approx(spin.apply(CORNER.axis), abs=1e-8)


def test_without_a_toe_link_the_wheel_keeps_its_toe() -> None:
    arms = DoubleWishbone(SKEW.lower, SKEW.upper)
    wheel = wheel_of_arms(SKEW_CORNER, arms, TRAVEL)
    heading = np.degrees(np.arctan2(wheel.axis[:, 0], wheel.axis[:, 1]))
    assert heading == pytest.approx(np.full(len(heading), np.degrees(np.arctan2(0.02, 0.999))), abs=1e-9)
    assert np.linalg.norm(wheel.axis, axis=1) == pytest.approx(np.ones(len(heading)))


@settings(max_examples=20)
@given(st.tuples(*[st.floats(-0.3, 0.3)] * 3), st.tuples(*[st.floats(-60.0, 60.0)] * 3), st.integers(0, 10**6))
def test_many_poses_at_once_give_what_independent_rotations_give_one_by_one(
    rotvec: tuple[float, float, float], shift: tuple[float, float, float], seed: int
) -> None:
    random = np.random.default_rng(seed)
    wheels = []
    for side, way in (("left", 1.0), ("right", -1.0)):
        places = np.array([0.0, way * 640.0, 30.0]) + random.normal(0.0, 30.0, (5, 3))
        axes = np.array([0.0, way, 0.0]) + random.normal(0.0, 0.05, (5, 3))
        wheels.append(wheel_of_table(side, [-80, -40, 0, 40, 80], places, axes))  # type: ignore[arg-type]
    made, joints = unit("left", "right"), Joints(12.0, 20.0, 50.0, 480.0, 540.0)
    spins = Rotation.from_rotvec(np.array([rotvec, (0.1, 0.0, -0.05), (0.0, 0.02, 0.0)]))
    shifts = np.array([shift, (5.0, 2.0, 8.0), (0.0, 0.0, 0.0)])
    told = joint_limits(made, wheels, joints)(spins.as_matrix(), shifts)
    for k in range(3):
        ride, anywhere, plunge, lengths = [], [], [], []
        for flange, wheel in zip(made.outputs, wheels, strict=True):
            start, out = spins[k].apply(flange.centre_mm) + shifts[k], spins[k].apply(flange.axis)
            angles, runs = [], []
            for place, hub in zip(wheel.centre_mm, wheel.axis, strict=True):
                run = place - start
                runs.append(np.sqrt(run @ run))
                angles.append(max(np.degrees(np.arccos(run @ w / runs[-1] / np.sqrt(w @ w))) for w in (out, hub)))
            ride.append(angles[2])
            anywhere.append(max(angles))
            plunge.append(max(runs) - min(runs))
            lengths.append(runs[2])
        assert told.worst_deg[k] == pytest.approx(max(ride), abs=1e-5)
        assert told.worst_travel_deg[k] == pytest.approx(max(anywhere), abs=1e-5)
        assert told.plunge_mm[k] == pytest.approx(max(plunge), abs=1e-8)
        fits = max(ride) <= 12 and max(anywhere) <= 20 and max(plunge) <= 50 and all(480 <= n <= 540 for n in lengths)
        assert bool(told.ok[k]) == fits
        one = shafts(made, wheels, joints, Pose(spins[k].as_matrix(), shifts[k]))
        assert max(s.plunge_mm for s in one) == pytest.approx(told.plunge_mm[k])
        assert max(np.maximum(s.inner_deg, s.outer_deg).max() for s in one) == pytest.approx(told.worst_travel_deg[k])


def test_a_table_without_ride_height_gets_it_between_its_neighbours() -> None:
    wheel = wheel_of_table("right", [60, -30], [[0, -700, 390], [0, -706, 300]], [[0, -1, 0], [0, -1, 0]])
    assert list(wheel.travel_mm) == [-30.0, 0.0, 60.0]
    assert wheel.centre_mm[1] == pytest.approx([0.0, -704.0, 330.0])


def test_limits_that_the_builder_gives_are_his_and_the_rest_is_told_as_assumed() -> None:
    joints, assumed = joints_from(most_angle_deg=7.0)
    assert joints.most_angle_deg == 7.0
    assert [one.where for one in assumed] == ["fitup.joint_angle_travel", "fitup.joint_stroke"]
    wheel = wheel_of_arms(CORNER, PARALLEL, TRAVEL)
    place = Pose(np.eye(3), np.array([0.0, 350.0, 400.0]))
    checks = shaft_checks(shafts(unit("left"), [wheel], joints, place), joints, assumed)
    by_title = {check.title: check for check in checks}
    at_ride = next(check for title, check in by_title.items() if "at ride height" in title)
    assert at_ride.source.origin is Origin.BUILDER
    # 60 mm down over 210 mm out and 30 mm along: arccos of the cosine by hand
    assert at_ride.found == pytest.approx(np.degrees(np.arccos(210.0 / np.sqrt(210.0**2 + 60.0**2 + 30.0**2))))
    assert not at_ride.ok
    worst = next(check for title, check in by_title.items() if "80 mm droop" in title)
    assert worst.severity is Severity.STOP
    assert not worst.ok
    assert worst.source.origin is Origin.COMMON_PRACTICE


def test_shafts_outside_the_lengths_that_come_are_stopped() -> None:
    wheel = wheel_of_arms(CORNER, PARALLEL, TRAVEL)
    joints, assumed = joints_from(least_length_mm=400.0, most_length_mm=700.0)
    made = shafts(unit("left"), [wheel], joints, Pose(np.eye(3), np.array([-30.0, 350.0, 340.0])))
    lengths = [c for c in shaft_checks(made, joints, assumed) if c.title.startswith("Length")]
    assert [c.ok for c in lengths] == [False, True]


@pytest.mark.parametrize(
    ("arms", "travel", "words"),
    [
        (PARALLEL, [400.0], "arms reach 29[0-9] mm bump, not 400"),
        (PARALLEL, [-350.0, 50.0], "arms reach 29[0-9] mm droop, not 350"),
        (DoubleWishbone(LOW, Arm(HIGH.inner_a_mm, HIGH.inner_a_mm, HIGH.ball_mm)), [10.0], "upper arm: .*less than 1"),
        (DoubleWishbone(Arm(LOW.inner_a_mm, LOW.inner_b_mm, LOW.inner_b_mm), HIGH), [10.0], "lies on its inner axis"),
        (TrailingArm(np.array([0.0, 0.0, 0.0]), np.array([0.0, 0.0, 100.0])), [10.0], "neither lift nor lower"),
        (
            DoubleWishbone(LOW, HIGH, ToeLink(np.array([0.0, 400.0, 260.0]), np.array([0.0, 700.0, 250.0]))),
            [10.0],
            "cannot steer",
        ),
    ],
)
def test_arms_that_cannot_do_it_are_told_in_a_builders_words(arms: object, travel: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=f"left .*{words}"):
        wheel_of_arms(CORNER, arms, travel)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("travel", "words"), [([10.0, 40.0], "ride height"), ([-10.0, 40.0, 40.0], "twice"), ([5.0], "two rows")]
)
def test_tables_that_cannot_be_used_are_told(travel: list[float], words: str) -> None:
    places = np.tile([0.0, 600.0, 300.0], (len(travel), 1))
    with pytest.raises(ValueError, match=f"left wheel: .*{words}"):
        wheel_of_table("left", travel, places, np.tile([0.0, 1.0, 0.0], (len(travel), 1)))


def test_an_output_without_a_wheel_is_named() -> None:
    wheel = Wheel("left", np.array([0.0]), np.array([[0.0, 600.0, 0.0]]), np.array([[0.0, 1.0, 0.0]]))
    with pytest.raises(ValueError, match="right output has no wheel"):
        shafts(unit("left", "right"), [wheel], WIDE, Pose.identity())
