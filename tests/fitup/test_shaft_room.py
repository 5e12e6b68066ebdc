"""Half-shafts and arms through the travel, against distances worked by hand and rods turned by an outside library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from halfshaft.fitup.exact import Thing
from halfshaft.fitup.model import Bounds, Fixed, Joints, OutputFlange, Piece, Scene, ShaftBody, Unit, Wheel
from halfshaft.fitup.place import placed_at, search
from halfshaft.fitup.shaft_room import arm_gap, shaft_clearances, shaft_room_checks
from halfshaft.fitup.suspension import arm_rods, swept_arms, swept_tyre
from halfshaft.fitup.travel import Arm, Corner, DoubleWishbone, ToeLink, TrailingArm, heights_mm, wheel_of_arms
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box
from halfshaft.geometry.nearest import body, inside

HERE = Pose.identity()
OUT = np.array([0.0, 1.0, 0.0])
WHEEL = Wheel(
    "left",
    np.array([-80.0, 0.0, 80.0]),
    np.array([[0.0, 600.0, z] for z in (220.0, 300.0, 380.0)]),
    np.tile(OUT, (3, 1)),
)
UNIT = Unit(
    (Piece("case", box([-100, -100, 200], [100, 100, 400])),),
    (OutputFlange("left", np.array([0.0, 150.0, 300.0]), OUT),),
    (),
)
SCENE = Scene(
    (), {}, UNIT, (WHEEL,), Joints(45.0, 45.0, 200.0), Bounds(HERE, np.full(3, 5.0), np.zeros(3)), 0.0,
    shaft_body=ShaftBody(40.0, 15.0),
)  # fmt: skip


def over(bottom_mm: float) -> Fixed:
    return Fixed("rail", "keep", box([-300, 340, bottom_mm], [300, 400, bottom_mm + 100]), 10.0)


def with_rail(rail: Fixed) -> Scene:
    return replace(SCENE, fixed=(rail,))


def test_a_shaft_under_a_rail_is_as_near_as_the_line_at_full_bump():
    """At bump the line from (150, 300) to (600, 380) passes the rail's edge y = 400, bottom z: by hand."""
    rail = over(400.0)
    (near,) = shaft_clearances(SCENE, HERE, [Thing(rail.name, body(rail.solid), 0.0)])
    way = np.array([450.0, 80.0]) / np.hypot(450.0, 80.0)
    to = np.array([400.0 - 150.0, 400.0 - 300.0])
    by_hand = abs(way[0] * to[1] - way[1] * to[0]) - 20.0
    assert near.distance_mm == pytest.approx(by_hand, abs=0.6)  # the bar is drawn up to 3 % too thick
    assert near.distance_mm <= by_hand + 1e-9
    assert near.room_mm == pytest.approx(near.distance_mm - 15.0)


def test_a_place_where_a_shaft_touches_does_not_fit_and_is_named():
    clear, hit = placed_at(with_rail(over(420.0)), HERE), placed_at(with_rail(over(370.0)), HERE)
    assert clear.fits
    assert not hit.fits
    assert "left half-shaft" in " ".join(hit.limits)
    assert shaft_room_checks(with_rail(over(420.0)), clear)[0].ok
    (check,) = shaft_room_checks(with_rail(over(370.0)), hit)
    assert not check.ok
    assert "rail" in check.title


def test_what_lets_the_shaft_by_is_not_counted():
    past = replace(with_rail(over(370.0)), shaft_body=ShaftBody(40.0, 15.0, frozenset({"rail"})))
    assert placed_at(past, HERE).fits
    assert shaft_room_checks(past, placed_at(past, HERE)) == ()


def test_a_search_that_only_shafts_spoil_names_what_they_run_into():
    found = search(with_rail(over(330.0)), samples=256)
    assert found.places == ()
    assert found.blocked_by == ("rail, for a half-shaft",)


def spots_of(rod: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    return np.array([rod[0] + share * (rod[1] - rod[0]) for share in np.linspace(0.0, 1.0, 12)])


def test_a_trailing_arm_turned_by_hand_stays_in_what_it_sweeps_and_little_more_is_taken():
    a, b, hub = np.array([400.0, 350.0, 320.0]), np.array([400.0, 600.0, 320.0]), np.array([0.0, 700.0, 300.0])
    corner = Corner("left", hub, hub - [0.0, 60.0, 0.0], OUT)
    ((name, solid),) = swept_arms(corner, TrailingArm(a, b), heights_mm(70.0, 80.0, 17), 50.0).items()
    assert name == "left trailing arm through its travel"
    thing = body(solid)
    for angle in np.linspace(-0.16, 0.16, 21):
        moved = Rotation.from_rotvec(angle * (b - a) / np.linalg.norm(b - a)).apply(hub - a) + a
        if -70.0 <= moved[2] - hub[2] <= 80.0:
            ring = np.array([[0.0, np.cos(t), np.sin(t)] for t in np.linspace(0.0, 2.0 * np.pi, 8)]) * 24.9
            for pivot in (a, b):
                assert inside(thing, (spots_of((pivot, moved))[:, None] + ring[None]).reshape(-1, 3)).all()
    low, high = solid.bounds_mm
    assert low[2] == pytest.approx(230.0 - 25.0, abs=1.5)
    assert high[2] == pytest.approx(380.0 + 25.0, abs=1.5)


def test_wishbones_and_toe_link_are_swept_with_the_wheel_they_carry():
    lower = Arm(np.array([-120.0, 300.0, 200.0]), np.array([150.0, 300.0, 200.0]), np.array([0.0, 650.0, 190.0]))
    upper = Arm(np.array([-100.0, 380.0, 420.0]), np.array([100.0, 380.0, 420.0]), np.array([0.0, 620.0, 430.0]))
    toe = ToeLink(np.array([-160.0, 320.0, 240.0]), np.array([-140.0, 640.0, 235.0]))
    corner = Corner("left", np.array([0.0, 720.0, 300.0]), np.array([0.0, 640.0, 300.0]), OUT)
    made = swept_arms(corner, DoubleWishbone(lower, upper, toe), heights_mm(60.0, 60.0), 40.0)
    assert set(made) == {f"left {word} through its travel" for word in ("lower arm", "upper arm", "toe link")}
    wheel = wheel_of_arms(corner, DoubleWishbone(lower, upper, toe), heights_mm(60.0, 60.0))
    rise = float(np.ptp(wheel.centre_mm[:, 2]))
    low, high = made["left lower arm through its travel"].bounds_mm
    assert high[2] - low[2] == pytest.approx(rise + 40.0, abs=6.0)  # the ball rises nearly as the joint does
    with pytest.raises(ValueError, match="how thick its arms are"):
        swept_arms(corner, DoubleWishbone(lower, upper, toe), heights_mm(60.0, 60.0), 0.0)


def test_a_tyre_turned_and_raised_by_hand_stays_in_what_it_sweeps_and_little_more_is_taken():
    ways = np.array([[0.0, np.cos(a), np.sin(a)] for a in (0.05, 0.0, -0.06)])
    wheel = Wheel("left", WHEEL.travel_mm, WHEEL.centre_mm, ways)
    solid = swept_tyre(wheel, 90.0, 600.0, 180.0, steer_deg=25.0)
    thing = body(solid)
    angle = np.linspace(0.0, 2.0 * np.pi, 24)
    for joint, out in zip(wheel.centre_mm, ways, strict=True):
        across = np.array([1.0, 0.0, 0.0])
        round_ = 299.9 * (np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * np.cross(out, across))
        rims = np.vstack([round_ + along * out for along in (0.1, 90.0, 179.9)])
        for steer in np.linspace(-25.0, 25.0, 21):
            spots = joint + Rotation.from_euler("z", steer, degrees=True).apply(rims)
            assert inside(thing, spots).all()
    low, high = solid.bounds_mm
    # by hand: steered in full the rim's front edge stands out by 180 cos 25 + 300 sin 25, the tread 300 under and over
    lock = np.radians(25.0)
    assert high[1] == pytest.approx(600.0 + 180.0 * np.cos(lock) + 300.0 * np.sin(lock), abs=3.0)
    assert low[2] == pytest.approx(220.0 - 300.0, abs=8.0)
    assert high[2] == pytest.approx(380.0 + 300.0, abs=8.0)
    still = swept_tyre(WHEEL, 90.0, 600.0, 180.0).bounds_mm
    np.testing.assert_allclose(still[0], [-300.0, 600.0, -80.0], atol=1.0)
    np.testing.assert_allclose(still[1], [300.0, 780.0, 680.0], atol=1.0)


def test_a_shaft_and_its_own_arm_are_held_against_each_other_at_the_same_height():
    # the arm is a copy of the shaft's own line, 90 mm over it, at every height: by hand 90 less half of each thickness
    flange = UNIT.outputs[0].centre_mm
    lift = np.array([0.0, 0.0, 90.0])
    rods = np.array([[[flange + lift, joint + lift]] for joint in WHEEL.centre_mm])
    scene = replace(SCENE, wheels=(replace(WHEEL, arms={"upper arm": rods}, arm_mm=30.0),))
    gap, name = arm_gap(scene, HERE)
    steep = np.hypot(450.0, 80.0)
    assert name == "left upper arm"
    assert gap == pytest.approx(90.0 * 450.0 / steep - 20.0 - 15.0, abs=1e-6)
    # its whole sweep would have been run into: one's full bump stands over the other's full droop
    assert gap > 15.0
    near = placed_at(replace(scene, shaft_body=ShaftBody(40.0, 60.0)), HERE)
    assert near.fits
    assert "from the left upper arm as both move" in "; ".join(near.limits)
    (check,) = shaft_room_checks(replace(scene, shaft_body=ShaftBody(40.0, 60.0)), near)
    assert not check.ok


def test_arms_that_carry_a_wheel_are_told_where_they_are_at_each_height():
    lower = Arm(np.array([-120.0, 300.0, 200.0]), np.array([150.0, 300.0, 200.0]), np.array([0.0, 650.0, 190.0]))
    upper = Arm(np.array([-100.0, 380.0, 420.0]), np.array([100.0, 380.0, 420.0]), np.array([0.0, 620.0, 430.0]))
    corner = Corner("left", np.array([0.0, 720.0, 300.0]), np.array([0.0, 640.0, 300.0]), OUT)
    rods = arm_rods(corner, DoubleWishbone(lower, upper), heights_mm(60.0, 60.0))["lower arm"]
    size = np.linalg.norm(rods[:, :, 1] - rods[:, :, 0], axis=2)
    np.testing.assert_allclose(size, np.tile(size[4], (9, 1)), atol=1e-6)  # rigid at each height
    np.testing.assert_allclose(rods[4, 0, 1], lower.ball_mm, atol=1e-6)


def test_a_shaft_that_runs_into_an_ear_of_its_own_unit_is_named():
    ear = Piece("ear", box([-30, 300, 330], [30, 380, 360]))
    hit = placed_at(replace(SCENE, unit=replace(UNIT, pieces=(*UNIT.pieces, ear))), HERE)
    assert not hit.fits
    assert hit.shaft_nearest == "the unit's ear"
    high = Piece("ear", box([-30, 300, 420], [30, 380, 450]))
    clear = placed_at(replace(SCENE, unit=replace(UNIT, pieces=(*UNIT.pieces, high))), HERE)
    assert clear.fits
    # by hand: at full bump the line stands over z = 300 + 80 (380 - 150) / 450 under the ear's outer lower edge
    lift = 420.0 - (300.0 + 80.0 * (380.0 - 150.0) / 450.0)
    assert clear.shaft_gap_mm == pytest.approx(lift * 450.0 / np.hypot(450.0, 80.0) - 20.0, abs=0.7)
