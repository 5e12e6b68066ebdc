"""A car with a pack worked by its modules keeps physical signs: cold and weight take, and nothing gives for free."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.build import load
from halfshaft.pack.station import electric
from halfshaft.road.cycles import read_cycle
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.reach import reach
from halfshaft.road.spent import spend
from halfshaft.road.sprint import sprint
from halfshaft.road.told import told
from tests.choose.builds import ROUND, written

CYCLE = read_cycle(ROUND, "round")


@cache
def inputs() -> Inputs:
    with TemporaryDirectory() as name:
        folder = written(Path(name), "")
        build = load(folder)
        text = (folder / "motor_map.csv").read_text(encoding="utf-8")
    assert build.car is not None
    assert build.road is not None
    assert build.pack is not None
    return told(build.car, build.road, text, electric(build.pack)).inputs


@settings(max_examples=12, deadline=None)
@given(st.floats(-29, 19), st.floats(1, 15), st.floats(0, 400))
def test_colder_or_heavier_never_goes_farther_nor_quicker(cold: float, more: float, load_kg: float) -> None:
    days = replace(inputs(), temperature_c=np.array([cold, min(cold + more, 20.0)]), pack_c=None)
    car, day = assemble(days)
    far, quick = reach(car, CYCLE, day, points=1).range_m, sprint(car, day).hundred_s
    assert far[0] <= far[1] * (1 + 1e-9)
    assert quick[0] >= quick[1] * (1 - 1e-9)
    # so cold that it does not move at all is told, not worked into nonsense
    assert not np.any(np.isnan(quick))
    loaded = replace(inputs(), mass_kg=np.array([1300.0 + load_kg, 1300.0]))
    car, day = assemble(loaded)
    far = reach(car, CYCLE, day, points=1).range_m
    assert far[0] <= far[1] * (1 + 1e-9)


@settings(max_examples=12, deadline=None)
@given(st.floats(0.02, 0.98), st.floats(-29, 40))
def test_what_leaves_the_pack_is_found_again_and_braking_never_gives_more_than_it_took(
    charge: float, celsius: float
) -> None:
    car, day = assemble(replace(inputs(), temperature_c=celsius, pack_c=None))
    one = spend(car, CYCLE, day, charge)
    parts = (
        one.rolling_wh,
        one.air_wh,
        one.slope_wh,
        one.brakes_wh,
        one.gear_wh,
        one.motor_wh,
        one.aux_wh,
        one.pack_wh,
    )
    assert float(one.inside_wh[0]) == pytest.approx(float(sum(part[0] for part in parts)), rel=1e-9)
    assert 0.0 <= one.back_wh[0] <= one.push_wh[0]
    assert float(car.supply.takes_w(charge)) <= float(inputs().supply.takes_w(charge)) * (1 + 1e-9)
    # no charging by the motor below freezing
    assert celsius > -5.0 or one.back_wh[0] == pytest.approx(0.0, abs=1e-9)
