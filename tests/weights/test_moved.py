"""Things moved in the car by hand: loads follow at once, by the lever rule, whether it has been weighed or not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.build import load
from halfshaft.weights.moved import moved, own_things
from halfshaft.weights.station import weights_of
from tests.weights.cars import folder_of, pickup, points

AFTER = {"corners": [420, 410, 480, 470], "tilt": {"lifted": "rear", "lift": 600, "other_axle": 880}}


def _build(tmp_path: Path, **changes: Any) -> Any:
    return load(folder_of(pickup(**changes), tmp_path))


@pytest.fixture(scope="module")
def build(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return _build(tmp_path_factory.mktemp("pickup"))


def test_a_move_is_what_the_saved_build_then_says(tmp_path: Path, build: Any) -> None:
    modules = dict(pickup()["in"])
    modules["module_1"] = {"mass": 55, "at": [1700, 120, 600]}
    saved = weights_of(_build(tmp_path, **{"in": modules}), points())
    tried = moved(build, points(), {("in", "module_1"): (1700.0, 120.0, 600.0)})
    for one, other in zip(tried.states, saved.states, strict=True):
        assert one.axles_kg == pytest.approx(other.axles_kg)
        assert one.corners_kg == pytest.approx(other.corners_kg)
        assert one.centre_covariance_mm2 == pytest.approx(other.centre_covariance_mm2)
    assert [s.drop_mm for s in tried.springs] == pytest.approx([s.drop_mm for s in saved.springs])
    assert [b.dry.at_g for b in tried.braking] == pytest.approx([b.dry.at_g for b in saved.braking])
    assert tried.moves == ()
    placed = moved(build, points(), {("in", "module_1"): "front"})
    assert placed.empty is not None
    assert saved.empty is not None
    assert placed.empty.axles_kg[0] > saved.empty.axles_kg[0]


@given(st.floats(-800, 2500), st.floats(-600, 600), st.sampled_from(["unit", "module_3"]))
def test_the_lever_rule_holds_for_any_spot(build: Any, along: float, across: float, name: str) -> None:
    # statics: a mass m moved by dx changes the front axle by m dx / wheelbase, and by m dy the side by side moments
    was = weights_of(build, points(), suggest=False)
    now = moved(build, points(), {("in", name): (along, across, 500.0)})
    line = next(line for line in was.ledger if line.name == name)
    assert was.empty is not None
    assert now.empty is not None
    assert now.empty.mass_kg == pytest.approx(was.empty.mass_kg)
    more = line.mass_kg * (along - line.at_mm[0]) / 2920.0
    assert now.empty.axles_kg - was.empty.axles_kg == pytest.approx([more, -more], abs=1e-6)
    aside = now.empty.moments.values[2] - was.empty.moments.values[2]
    assert aside == pytest.approx(line.mass_kg * (across - line.at_mm[1]), abs=1e-6)


def test_a_car_that_was_weighed_when_finished_changes_by_the_move_alone(tmp_path: Path) -> None:
    weighed = _build(tmp_path, after=AFTER)
    was, now = weights_of(weighed, points()), moved(weighed, points(), {("in", "module_2"): (2450.0, 0.0, 560.0)})
    assert was.empty is not None
    assert now.empty is not None
    more = 55.0 * (2450.0 - 900.0) / 2920.0
    assert now.empty.axles_kg - was.empty.axles_kg == pytest.approx([more, -more])
    assert np.all(now.empty.axle_spread_kg >= was.empty.axle_spread_kg)
    back = moved(weighed, points(), {("in", "module_2"): "rear"})
    assert back.empty is not None
    assert back.empty.axles_kg == pytest.approx(was.empty.axles_kg)


def test_what_comes_out_is_not_moved(build: Any) -> None:
    assert ("in", "unit") in own_things(build)
    assert ("load", "driver") in own_things(build)
    assert not [thing for thing in own_things(build) if thing[0] == "out"]
    with pytest.raises(KeyError):
        moved(build, points(), {("out", "engine"): (0.0, 0.0, 0.0)})
