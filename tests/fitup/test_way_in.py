"""The way in, on scenes whose answer geometry knows; every pose checked with another kernel than the search's."""

from __future__ import annotations

import os
import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation, Slerp

from halfshaft.checks import Severity
from halfshaft.fitup.lowered import lowered
from halfshaft.fitup.model import Piece, Scene, WayIn
from halfshaft.fitup.way_in import way_in
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box, gap_mm, moved, overlap, shadow, union, without
from halfshaft.progress import Stopped
from tests.fitup.way_in_scenes import ELL, SLOT_MM, closed_scene, ear_scene, plate, scene, slot_scene

# what each word of a step turns or shifts: axis, sign; ISO 8855: x forward, y left, z up, turns right-handed about them
TURNS = {
    "right side down": (0, 1), "left side down": (0, -1), "nose down": (1, 1), "nose up": (1, -1),
    "nose to the left": (2, 1), "nose to the right": (2, -1),
}  # fmt: skip
SHIFTS = {
    "forward": (0, 1), "to the rear": (0, -1), "to the left": (1, 1), "to the right": (1, -1),
    "up": (2, 1), "down": (2, -1)
}  # fmt: skip


long_search = pytest.mark.skipif(
    not os.environ.get("HALFSHAFT_LONG"), reason="a search of half a minute and more: `make long` runs it"
)


@pytest.fixture(scope="module")
def slot() -> tuple[Scene, Pose, WayIn]:
    made, place = slot_scene()
    return made, place, way_in(made, place, seed=0)


@pytest.fixture(scope="module")
def ear() -> tuple[Scene, Pose, WayIn]:
    made, place = ear_scene()
    return made, place, way_in(made, place, seed=2, rounds=250)


def middle(made: Scene) -> np.ndarray:
    corners = np.vstack([piece.solid.triangles[0] for piece in made.unit.pieces])
    return (corners.min(axis=0) + corners.max(axis=0)) / 2.0


def poses_between(one: Pose, other: Pose, spot: np.ndarray, parts: int = 3) -> list[Pose]:
    """The straight move of a spot while the body turns evenly, by another library than the search's own formula."""
    turns = Slerp([0.0, 1.0], Rotation.from_matrix([one.rotation, other.rotation]))
    out = []
    for share in np.arange(1, parts + 1) / parts:
        rotation = turns(share).as_matrix()
        at = (1.0 - share) * one.apply(spot) + share * other.apply(spot)
        out.append(Pose(rotation, at - rotation @ spot))
    return out


def assert_goes_all_the_way(made: Scene, place: Pose, way: WayIn) -> None:
    """Starts outside, joins without a jump, touches nothing anywhere, ends at the place with everything on."""
    spot = middle(made)
    still = union([thing.solid for thing in made.fixed])
    solids = {piece.name: piece.solid for piece in made.unit.pieces}
    least = np.inf
    for step in way.steps:
        body = union([solids[name] for name in step.pieces_on])
        every = [step.poses[0]]
        for one, other in pairwise(step.poses):
            every += poses_between(one, other, spot)
        for pose in every:
            there = moved(body, pose)
            assert overlap(there, still).volume_mm3 == 0.0
            least = min(least, gap_mm(there, still, 50.0))
    assert 0.0 < way.least_clearance_mm <= least + 1e-6 or least >= 50.0
    first, last = way.steps[0], way.steps[-1]
    body = union([solids[name] for name in first.pieces_on])
    assert moved(body, first.poses[0]).bounds_mm[1][2] < still.bounds_mm[0][2]
    assert np.allclose(last.poses[-1].rotation, place.rotation, atol=1e-9)
    assert np.allclose(last.poses[-1].shift_mm, place.shift_mm, atol=1e-6)
    assert sorted(last.pieces_on) == sorted(solids)
    for one, other in pairwise(way.steps):
        assert np.allclose(one.poses[-1].rotation, other.poses[0].rotation, atol=1e-9)
        assert np.allclose(one.poses[-1].shift_mm, other.poses[0].shift_mm, atol=1e-6)


def read_back(words: str) -> tuple[np.ndarray, np.ndarray]:
    """Shift in mm and rotation vector in degrees from a step's words alone."""
    shift, turned = np.zeros(3), np.zeros(3)
    for part in re.split(r", | together with ", words):
        number = re.search(r"(\d+ \d+/\d+|\d+/\d+|\d+\.?\d*) (mm|in|degree)", part)
        if number is None:
            continue
        text, unit = number.groups()
        value = sum(float(a) / float(b or 1) for a, b in re.findall(r"(\d+\.?\d*)(?:/(\d+))?", text))
        rest = part.replace(number.group(0), "").removesuffix("s").strip()
        if unit == "degree":
            axis, sign = TURNS[rest]
            turned[axis] += sign * value
        else:
            axis, sign = SHIFTS[rest]
            shift[axis] += sign * value * (25.4 if unit == "in" else 1.0)
    return shift, turned


def assert_words_lead_there(made: Scene, way: WayIn, shift_within_mm: float) -> None:
    spot = middle(made)
    at, rotation = way.steps[0].poses[0].apply(spot), way.steps[0].poses[0].rotation
    for step in way.steps:
        shift, turned = read_back(step.words)
        at = at + shift
        rotation = Rotation.from_rotvec(np.radians(turned)).as_matrix() @ rotation
        assert np.allclose(at, step.poses[-1].apply(spot), atol=shift_within_mm)
        off = Rotation.from_matrix(rotation @ step.poses[-1].rotation.T).magnitude()
        assert np.degrees(off) < 0.02 * len(way.steps)


@long_search
def test_an_l_goes_through_a_slot_that_is_narrower_than_itself(slot: tuple[Scene, Pose, WayIn]) -> None:
    made, place, way = slot
    assert way.found
    assert_goes_all_the_way(made, place, way)


def test_the_l_cannot_be_pushed_straight_through_in_any_attitude() -> None:
    # a body passes a slot straight only where its shadow does; no shadow is narrower than the hull's least width, which
    # for the L is its 80 mm: across the legs 160, 160 and across the slope of its hull 200 / sqrt(2)
    assert min(80.0, 160.0, 200.0 / np.sqrt(2.0)) > SLOT_MM[0]
    for turned in Rotation.random(200, random_state=3).as_matrix():
        outline = shadow(ELL, Pose(turned, np.zeros(3))).minimum_rotated_rectangle
        sides = [np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(outline.exterior.coords)]
        assert min(sides) >= 80.0 - 1e-6


@long_search
def test_the_l_is_turned_on_its_way(slot: tuple[Scene, Pose, WayIn]) -> None:
    assert any("degree" in step.words for step in slot[2].steps)


@long_search
def test_the_words_lead_through_the_slot(slot: tuple[Scene, Pose, WayIn]) -> None:
    assert_words_lead_there(slot[0], slot[2], 0.06 * len(slot[2].steps))


def test_the_words_lead_through_the_well(ear: tuple[Scene, Pose, WayIn]) -> None:
    assert_words_lead_there(ear[0], ear[2], 0.06 * len(ear[2].steps))


def test_an_ear_comes_off_for_the_well_and_is_bolted_on_inside(ear: tuple[Scene, Pose, WayIn]) -> None:
    made, place, way = ear
    assert way.found
    assert_goes_all_the_way(made, place, way)
    assert way.steps[0].pieces_on == ("case",)
    assert [step.words for step in way.steps if "bolt on" in step.words] == ["bolt on the left ear from the left"]
    assert any("left ear" in check.title and check.severity is Severity.CAUTION for check in way.checks)


@long_search
def test_with_the_ear_welded_on_the_well_is_named() -> None:
    # lying down the unit is 160 mm long in a well of 112 mm; standing it is 160 mm high under a roof of 120 mm, and as
    # it leans over with the ear up a corner of the cube dips 50 mm and more into the well, there 158 mm wide
    assert 160.0 > 112.0
    lean = np.radians(20.0)
    dips = 110.0 * np.cos(lean) + 50.0 * (np.cos(lean) + np.sin(lean)) + 10.0 * np.sin(lean) - 120.0
    assert dips * (np.tan(lean) + 1.0 / np.tan(lean)) > 112.0
    made, place = ear_scene(comes_off=False)
    way = way_in(made, place, rounds=60)
    assert not way.found
    assert way.blocked_by[0] == "well"


@long_search
def test_a_closed_chamber_has_no_way_and_its_cover_is_named() -> None:
    made, place = closed_scene()
    way = way_in(made, place, rounds=60)
    assert not way.found
    assert way.blocked_by[0] == "cover"
    assert "pipe" not in way.blocked_by
    stop = way.checks[0]
    assert stop.severity is Severity.STOP
    assert not stop.ok
    assert "cover" in stop.title


def test_without_its_cover_the_chamber_is_entered_straight_from_below() -> None:
    made, place = closed_scene()
    still = {thing.name: thing.solid for thing in made.fixed if thing.name != "cover"}
    opened = scene(still, list(made.unit.pieces))
    way = way_in(opened, place)
    assert_goes_all_the_way(opened, place, way)
    assert len([step for step in way.steps if len(step.poses) > 1]) == 1
    assert re.fullmatch(r"up \d+ mm", way.steps[-1].words)


def test_a_place_inside_the_metal_is_refused_with_what_it_meets() -> None:
    made, _ = closed_scene()
    way = way_in(made, Pose(np.eye(3), np.array([0.0, 0.0, 40.0])))
    assert not way.found
    assert way.blocked_by == ("cover",)


def test_a_place_wholly_inside_a_solid_block_is_refused() -> None:
    made = scene({"block": box([-300, -300, 0], [300, 300, 300])}, [Piece("case", box([-20, -20, -20], [20, 20, 20]))])
    assert way_in(made, Pose(np.eye(3), np.array([0.0, 0, 150]))).blocked_by == ("block",)


def rails_scene() -> tuple[Scene, Pose]:
    """A case to be shifted round a crossmember between two rails."""
    rails = {
        "left_rail": box([-400, 90, 0], [400, 140, 90]),
        "right_rail": box([-400, -140, 0], [400, -90, 90]),
        "crossmember": box([-30, -90, 0], [20, 90, 60]),
    }
    made = scene(rails, [Piece("case", box([-70, -50, -40], [70, 50, 40]))])
    return made, Pose(np.eye(3), np.array([10.0, 5.0, 130.0]))


def test_the_same_seed_gives_the_same_way() -> None:
    made, place = rails_scene()
    one, other = (way_in(made, place, seed=5, rounds=300) for _ in range(2))
    assert one.found
    assert [step.words for step in one.steps] == [step.words for step in other.steps]


def test_inch_builds_are_told_in_inches_that_lead_there() -> None:
    made, place = rails_scene()
    way = way_in(made, place, seed=5, rounds=300, units="inch")
    assert way.found
    assert not any(" mm" in step.words for step in way.steps)
    # told to a 32nd of an inch
    assert_words_lead_there(made, way, 25.4 / 64.0 * len(way.steps) + 0.01)
    assert_goes_all_the_way(made, place, way)


def test_a_stop_is_passed_on() -> None:
    made, place = closed_scene()

    def stop(share: float, words: str) -> None:
        if share > 0.1:
            raise Stopped

    with pytest.raises(Stopped):
        way_in(made, place, progress=stop)


def test_seen_on_the_lift_the_car_comes_down_and_the_unit_stays_low(ear: tuple[Scene, Pose, WayIn]) -> None:
    made, _, way = ear
    spot = middle(made)
    told = lowered(way, spot)
    heights = [pose.apply(spot)[2] for one in told for pose in one.step.poses]
    assert np.ptp(heights) < 1e-6
    assert told[-1].car_up_mm[-1] == pytest.approx(0.0, abs=1e-9)
    assert told[1].step.words.startswith("car down")
    for one, step in zip(told, way.steps, strict=True):
        for pose, up, original in zip(one.step.poses, one.car_up_mm, step.poses, strict=True):
            assert np.allclose(pose.shift_mm - [0, 0, up], original.shift_mm)


@settings(max_examples=6)
@given(
    y=st.floats(-40, 40), gap=st.floats(10, 60), roll=st.floats(-6, 6), drop=st.floats(20, 120), seed=st.integers(0, 99)
)
def test_between_two_rails_every_way_that_is_told_is_clear(
    y: float, gap: float, roll: float, drop: float, seed: int
) -> None:
    half = 60.0 + gap
    rails = {
        "left_rail": box([-400, half, 0], [400, half + 50, 90]),
        "right_rail": box([-400, -half - 50, 0], [400, -half, 90]),
        "crossmember": without(box([80, -half, 60], [140, half, 90]), box([70, -20, 0], [150, 20, 80])),
        "floor": plate(400.0, 260.0, 262.0),
    }
    made = scene(rails, [Piece("case", box([-70, -50, -40], [70, 50, 40]))])
    turned = Rotation.from_rotvec(np.radians([roll, 0.0, 0.0])).as_matrix()
    place = Pose(turned, np.array([-20.0, y * gap / 60.0 * 0.5, 60.0 + drop]))
    way = way_in(made, place, seed=seed, rounds=100)
    assert way.found
    assert_goes_all_the_way(made, place, way)
    assert_words_lead_there(made, way, 0.06 * len(way.steps))
