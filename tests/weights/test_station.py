"""The joined station: what a builder writes of weights, and what he is told."""

from __future__ import annotations

import dataclasses
import json
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from halfshaft import plain_weights, tables_weights
from halfshaft.build import BuildProblems
from halfshaft.build.units import KG_PER_POUND
from halfshaft.build.weights import WeightsInput
from halfshaft.checks import Severity
from halfshaft.study import work
from halfshaft.weights.model import Weights
from tests.weights.cars import PICKUP, build_of, folder_of, pickup, points, weights


@pytest.fixture(scope="module")
def found() -> Weights:
    return weights(pickup())


def check(found: Weights, about: str, title: str):
    return next(c for c in found.checks if c.about == about and title in c.title)


def test_the_finished_car_is_the_sum_of_its_ledger(found: Weights) -> None:
    # by hand: 1520 - 265 - 62 - 95 - 48 + 118 + 6 x 55, and the lever rule below
    assert found.empty is not None
    assert found.laden is not None
    assert found.empty.mass_kg == pytest.approx(1498.0)
    front = 850.0 - (265 * 2700 + 62 * 1950 + 48 * 900 - 330 * 900) / 2920.0
    assert found.empty.axles_kg[0] == pytest.approx(front)
    assert found.laden.mass_kg == pytest.approx(1878.0)
    # 2 % of 62, 95, 48, 118 kg and of each module, 3 kg of the engine, 2 kg a corner
    spread = math.sqrt(4 * 4 + 9 + sum((0.02 * kg) ** 2 for kg in (62, 95, 48, 118, *[55] * 6)))
    assert found.empty.mass_spread_kg == pytest.approx(spread, rel=1e-6)


def test_corners_before_are_those_on_the_scales(found: Weights) -> None:
    assert found.before is not None
    assert found.before.corners_kg == pytest.approx([432, 418, 331, 339])
    assert found.before.corner_spread_kg == pytest.approx([2.0] * 4, rel=1e-4)


def test_an_axle_over_its_rating_stops_and_one_that_may_be_cautions() -> None:
    over = weights(pickup(rear_rating=1100))
    assert check(over, "rear axle, laden", "Load on the axle").severity is Severity.STOP
    assert not check(over, "rear axle, laden", "Load on the axle").ok
    assert over.laden is not None
    near = float(over.laden.axles_kg[1] + over.laden.axle_spread_kg[1])
    maybe = check(weights(pickup(rear_rating=near)), "rear axle, laden", "may be more than allowed")
    assert maybe.severity is Severity.CAUTION
    assert not maybe.ok


def test_a_tyre_too_small_for_its_corner_is_named() -> None:
    found = weights(pickup(tyre_rear=86))  # 530 kg
    assert not check(found, "tyre rear left, laden", "load index 86").ok


def test_two_modules_from_rear_to_front_are_proposed_in_words(found: Weights) -> None:
    # by hand: 43.4 % in front, and each module adds 55 x 1550 / 2920 of 1498 kg: 1.95 %
    counts = [len(move.to) for move in found.moves]
    assert counts == [0, 1, 2]
    assert found.moves[2].words.startswith("two modules (module_")
    assert found.moves[2].words.endswith(" from rear to front: 47/53")
    assert found.moves[2].front_share == pytest.approx(0.4342 + 2 * 0.01949, abs=2e-4)
    assert "two modules" in check(found, "what may be moved", "front").do


def test_moves_do_not_overload_the_front() -> None:
    free = weights(pickup(wanted_front=0.5, most_moves=6))
    bound = weights(pickup(wanted_front=0.5, most_moves=6, front_rating=720))
    laden = bound.laden
    assert laden is not None
    assert bound.empty is not None
    rides = float(laden.axles_kg[0] - bound.empty.axles_kg[0])
    assert bound.moves[-1].front_share * bound.empty.mass_kg + rides <= 720.0 + 1e-6
    assert free.moves[-1].front_share > bound.moves[-1].front_share


def test_room_is_what_comes_out_leaves_and_what_stays_takes() -> None:
    out = PICKUP["out"] | {"engine": {"mass": 265, "place": "front"}}
    filled = {f"box_{number}": {"mass": 5, "place": "front"} for number in range(4)}
    free = weights(pickup(out=out))
    full = weights(pickup(**{"out": out, "in": PICKUP["in"] | filled}))
    assert len(free.moves[-1].to) >= 1
    assert full.moves[-1].to == {}


def test_moving_it_as_told_gives_what_was_told() -> None:
    first = weights(pickup())
    best = first.moves[-1]
    moved = {name: {**PICKUP["in"][name], "place": place, "places": "rear"} for name, place in best.to.items()}
    again = weights(pickup(**{"in": PICKUP["in"] | moved}))
    assert again.empty is not None
    assert again.empty.front_share == pytest.approx(best.front_share, abs=1e-9)


def test_springs_say_how_far_and_what_to_fit(found: Weights) -> None:
    rear = next(one for one in found.springs if one.end == "rear")
    assert found.before is not None
    assert found.empty is not None
    # by hand: one wheel bears (818 - 80) / 2 against (670 - 175) / 2 before, the old axle's 95 kg being unsprung
    more = 0.5 * (float(found.empty.axles_kg[1]) - 80.0) - 0.5 * (670.0 - 175.0)
    assert rear.drop_mm == pytest.approx(more * 9.80665 / 38.0)
    assert rear.spacer_mm == pytest.approx(rear.drop_mm)
    assert rear.hz_new == pytest.approx(rear.hz_before)
    assert rear.hz is not None
    assert rear.hz_before is not None
    assert rear.hz < rear.hz_before
    # by hand: sqrt(398 / 247.5) = 1.27
    assert any("stiffer rebound by about 25 %" in words for words in rear.words)


def test_brakes_are_told_with_and_without_regeneration(found: Weights) -> None:
    assert [(one.state, one.regeneration) for one in found.braking] == [
        ("empty", False), ("empty", True), ("laden", False), ("laden", True),
    ]  # fmt: skip
    empty = found.braking[0]
    assert empty.dry.first == "rear"
    stop = check(found, "brakes, empty", "rear asks for more grip")
    assert stop.severity is Severity.STOP
    assert not stop.ok
    assert "front share of" in stop.do


def test_the_front_share_that_is_advised_does_it(found: Weights) -> None:
    words = check(found, "brakes, empty", "rear asks for more grip").do
    share = float(words.split("front share of ")[1].split(",")[0]) + 0.01
    again = weights(pickup(brakes={"front_share": share}))
    assert check(again, "brakes, empty", "rear asks for more grip").ok


def test_scales_after_are_weighed_with_the_ledger() -> None:
    first = weights(pickup()).empty
    assert first is not None
    agree = weights(pickup(after={"corners": [float(kg) for kg in first.corners_kg]}))
    assert agree.agreed is not None
    assert agree.agreed.chance > 0.9
    assert agree.empty is not None
    assert agree.empty.mass_spread_kg < first.mass_spread_kg
    heavier = [float(kg) + 15.0 for kg in first.corners_kg]
    found = weights(pickup(after={"corners": heavier}))
    told = check(found, "ledger and scales", "disagree")
    assert not told.ok
    assert "30 kg more" in told.do
    assert found.empty is not None
    assert first.mass_kg < found.empty.mass_kg < first.mass_kg + 60.0


def test_scales_before_and_after_alone_are_enough() -> None:
    told = pickup(**{"out": None, "in": None, "place": None}, after={"corners": [342, 338, 398, 421]})
    found = weights(told)
    assert found.empty is not None
    assert found.empty.corners_kg == pytest.approx([342, 338, 398, 421])
    assert found.springs[1].drop_mm is not None
    assert found.springs[1].drop_mm > 15.0
    assert "weights.after.cog_height" in {one.where for one in found.assumed}


def test_a_finished_car_on_axle_scales_alone_is_enough() -> None:
    told = {"wheelbase": 2400, "track_front": 1300, "after": {"axles": [500, 520]}, "brakes": {"front_share": 0.7}}
    found = weights(told)
    assert found.before is None
    assert found.empty is not None
    assert found.empty.axles_kg == pytest.approx([500, 520])
    assumed = {one.where for one in found.assumed}
    assert {"weights.after.cog_height", "weights.after.corners", "weights.track_rear", "weights.front_roll"} <= assumed
    assert found.empty.corner_spread_kg.min() > 1.0


def test_a_thing_may_hang_on_a_measured_point() -> None:
    told = pickup(**{"in": {"unit": {"mass": 100, "at": "W1"}}, "place": None})
    line = next(line for line in weights(told).ledger if line.name == "unit")
    assert line.at_mm == pytest.approx(points().points["car.W1"].xyz_mm)


def test_what_makes_no_car_is_told_and_not_worked() -> None:
    heavy = weights(pickup(out={"all": {"mass": 2500, "at": [1000, 0, 500]}}))
    assert heavy.empty is None
    assert "more comes out" in " ".join(c.do for c in heavy.checks).lower()
    tail = weights(pickup(**{"in": {"lead": {"mass": 3000, "at": [-2500, 0, 500]}}}))
    assert tail.empty is None
    assert any("in the air" in c.do for c in tail.checks)
    bare = weights(pickup(spring={"rear": {"rate": 30, "unsprung": 2000}}))
    assert bare.empty is not None
    assert not bare.springs
    assert not check(bare, "rear springs", "cannot be worked").ok
    high = weights(
        pickup(before={"corners": [432, 418, 331, 339], "tilt": {"lifted": "rear", "lift": 2950, "other_axle": 882}})
    )
    assert high.empty is None
    assert any("wheelbase allows" in c.do for c in high.checks)


def test_the_wheelbase_may_be_told_in_mounts_or_car() -> None:
    with pytest.raises(BuildProblems, match="does not say the wheelbase"):
        build_of(pickup(wheelbase=None))


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"before": None}, "a ledger without the car"),
        ({"before": None, "out": None, "in": None, "place": None}, "has not been on scales"),
        ({"before": {"corners": [1, 2, 3, 4], "axles": [3, 7]}}, "corners or axles, one of them"),
        ({"before": {"corners": [400, 0, 300, 300]}}, "corners: found 400, 0, 300, 300 kg"),
        ({"before": {"axles": [800, 700], "cog_height": 600,
                     "tilt": {"lifted": "rear", "lift": 500, "other_axle": 900}}}, "the height is told twice"),
        ({"before": {"axles": [800, 700], "tilt": {"lifted": "rear", "lift": 500, "other_axle": 1600}}},
         "one axle shows 1600 kg of a car of 1500 kg"),
        ({"out": {"engine": {"mass": 200}}}, "is told not at all"),
        ({"out": {"engine": {"mass": 200, "place": "front", "at": [1, 2, 3]}}}, "is told twice"),
        ({"out": {"engine": {"mass": 200, "place": "fron"}}}, "the place 'fron' is not known. Write 'front'"),
        ({"out": {"engine": {"mass": 200, "place": "front", "places": "rear"}}}, "'engine' does not go in"),
        ({"out": {"engine": {"mass": 200, "at": "W9"}}}, "W9"),
        ({"place": {"front": {"at": [1, 0, 0]}, "rear": {"at": [0, 0, 0], "holds": 2}}}, "holds 2, but 6 things"),
        ({"tyre_front": 12}, "the load index 12 is not in the table"),
        ({"brakes": {"front_share": 0.6, "valve_from": "0.3 g"}}, "a valve wants where it begins"),
        ({"brakes": {"front_share": 0.6, "slippery": 0.9}}, "grips better than the dry one"),
        ({"spring": {"middle": {"rate": 30}}}, "middle"),
    ],
)  # fmt: skip
def test_faults_are_told_with_what_to_write(changes: dict, found: str) -> None:
    with pytest.raises(BuildProblems) as told:
        build_of(pickup(**changes))
    words = [str(problem) for problem in told.value.problems]
    assert any(found in one for one in words), words
    assert all(one.startswith("build.toml line ") for one in words if "valve" in one or "index" in one)


IN_POUNDS = """
wheelbase = 115
track_front = "59 1/2 in"
[after]
axles = ["1870 lb", "1480 lb"]
cog_height = "25 in"
[spring.front]
rate = "400 lbf/in"
unsprung = "200 lb"
damper = "10 lbf s/in"
"""


def test_inches_and_pounds_are_read() -> None:
    told = WeightsInput.model_validate(tomllib.loads(IN_POUNDS), context={"units": "inch"})
    assert told.wheelbase_mm == pytest.approx(2921.0)
    assert told.after is not None
    assert told.after.axles_kg == pytest.approx((1870 * KG_PER_POUND, 1480 * KG_PER_POUND))
    # 400 lbf/in by the exact pound-force and inch
    assert told.spring["front"].rate_n_mm == pytest.approx(400.0 * 4.4482216152605 / 25.4)


def test_the_study_works_it_and_every_table_and_value_can_be_shown(tmp_path: Path) -> None:
    study = work(folder_of(pickup(), tmp_path), until="weights")
    found = study.weights
    assert found is not None
    assert set(found.checks) <= set(study.checks)
    assert json.loads(json.dumps(plain_weights.weights(found), allow_nan=False))["states"][1]["name"] == "empty"
    for units in ("metric", "inch"):
        for table in (
            tables_weights.ledger_table(found, units), tables_weights.states_table(found, units),
            tables_weights.loads_table(found, units), tables_weights.springs_table(found, units),
            tables_weights.brakes_table(found), tables_weights.moves_table(found, units),
        ):  # fmt: skip
            assert table.rows
            assert all(len(row) == len(table.columns) for row in table.rows)
    assert "1498" in tables_weights.states_table(found, "metric").rows[1][1]
    assert "3303" in tables_weights.states_table(found, "inch").rows[1][1]  # 1498 / 0.45359237


def test_numbers_for_road_and_mounts_stand_ready(found: Weights) -> None:
    state = found.heaviest
    assert state is found.laden
    assert state is not None
    assert state.axles_kg.sum() == pytest.approx(state.mass_kg)
    assert 0.0 < state.front_share < 1.0
    assert state.height_mm > 0.0
    assert found.stance is not None
    assert found.stance.wheelbase_mm == 2920.0
    assert np.all(np.isfinite(dataclasses.astuple(found.stance)))
