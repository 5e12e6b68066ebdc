"""Range against speed and temperature with its band, against single drives and closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfshaft.road.band import Spread, band, scale
from halfshaft.road.curves import over_speed, over_temperature
from halfshaft.road.cycles import named, steady
from halfshaft.road.inputs import assemble
from halfshaft.road.reach import reach
from tests.road.cars import whole_inputs

SPREADS = (Spread("drag", "drag", scale("drag", 0.10)), Spread("energy", "energy", scale("energy", 0.04)))


def test_each_place_on_a_curve_is_that_drive_alone() -> None:
    told = whole_inputs()
    speeds = np.array([10.0, 20.0, 30.0])
    by_speed = over_speed(told, SPREADS, speeds, seed=4)
    assert by_speed is not None
    for speed, far in zip(speeds, by_speed.range_m, strict=True):
        assert far == pytest.approx(reach(*_car(told, steady(float(speed)))).range_m[0], rel=1e-9)
    by_day = over_temperature(told, SPREADS, named("nedc"), [-20.0, 20.0], seed=4)
    assert by_day is not None
    for celsius, far in zip(by_day.along, by_day.range_m, strict=True):
        day = replace(told, temperature_c=float(celsius), pack_c=None)
        assert far == pytest.approx(reach(*_car(day, named("nedc"))).range_m[0], rel=1e-9)
    assert np.all((by_day.low_m < by_day.range_m) & (by_day.range_m < by_day.high_m))


def test_a_straight_input_makes_the_same_share_of_band_everywhere() -> None:
    # range is in proportion to energy: 5 and 95 hundredths of a normal of 4 % lie 1.645 spreads out
    for found in (
        over_speed(whole_inputs(), SPREADS[1:], [15.0, 30.0], seed=2),
        over_temperature(whole_inputs(), SPREADS[1:], named("nedc"), [10.0, 30.0], seed=2),
    ):
        assert found is not None
        assert found.high_m / found.range_m == pytest.approx(1.0 + 1.645 * 0.04, abs=0.01)
        assert found.low_m / found.range_m == pytest.approx(1.0 - 1.645 * 0.04, abs=0.01)


def test_the_band_of_a_day_is_near_the_band_of_that_drive_and_air_matters_more_when_fast() -> None:
    told = whole_inputs()
    here = over_temperature(told, SPREADS, named("nedc"), [float(told.temperature_c)], seed=4)
    alone = band(told, named("nedc"), SPREADS, seed=4)
    assert here is not None
    assert here.low_m[0] == pytest.approx(alone.low_m, rel=0.02)
    assert here.high_m[0] == pytest.approx(alone.high_m, rel=0.02)
    by_speed = over_speed(told, SPREADS[:1], [10.0, 35.0], seed=4)
    assert by_speed is not None
    wide = (by_speed.high_m - by_speed.low_m) / by_speed.range_m
    assert wide[1] > 1.5 * wide[0]


def test_nothing_to_draw_is_no_curve_and_no_spread_no_band() -> None:
    assert over_speed(whole_inputs(), SPREADS, [], seed=1) is None
    sure = over_speed(whole_inputs(), (), [20.0], seed=1)
    assert sure is not None
    assert sure.low_m[0] == pytest.approx(sure.range_m[0])
    assert sure.high_m[0] == pytest.approx(sure.range_m[0])


def _car(told, cycle):
    car, day = assemble(told)
    return car, cycle, day
