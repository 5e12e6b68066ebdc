"""Pack to weights, weights to road and mounts: each number told once, and taken on from there."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from halfshaft.build import BuildProblems, load
from halfshaft.build.mounts import MountsInput
from halfshaft.build.weighed import Standing, Weighed, as_weighed
from halfshaft.memory import Memory
from halfshaft.mounts.told import axle_of, of_car
from halfshaft.pack.block import Turn
from halfshaft.pack.cold import CELSIUS, cold_table
from halfshaft.pack.mass import lump_of
from halfshaft.pack.station import electric
from halfshaft.pack.strings import energy_wh, loaded_v
from halfshaft.road.from_pack import cold_of_pack, supply_of_pack
from halfshaft.study import driven, work
from tests.pack.test_layout import bay, block
from tests.pack.test_station import PACK, written
from tests.road.builds import CAR

WEIGHTS = """
[weights]
wheelbase = 2450
track_front = 1300
pack = "layout"

[weights.before]
axles = ["520 kg", "410 kg"]
cog_height = 540

[weights.out.engine]
mass = 160
at = [2300, 0, 600]

[weights.in.unit]
mass = 90
at = [0, 0, 300]
"""
LOAD = """
[weights.load.driver]
mass = 80
at = [1200, 300, 700]
"""
_CAR = CAR[CAR.index("[car]") : CAR.index("[car.coast_down]")] + CAR[CAR.index("[car.motor]") :]
ON_ROAD = (
    _CAR[: _CAR.index("[car.pack]")].replace('map = "motor_map.csv"\n', "").replace("mass = 1300\n", "")
    + '[road]\ncycles = ["nedc"]\nspeeds = [80]\n'
)
WEIGHED = Weighed(2500.0, Standing(1200.0, 6.0, 0.52, 520.0), Standing(1400.0, 7.0, 0.48, 560.0))


def test_the_layout_s_modules_are_weighed_where_they_lie(tmp_path: Path) -> None:
    study = work(written(tmp_path, PACK + WEIGHTS), until="weights")
    found, pack = study.weights, study.pack
    assert found is not None
    assert found.empty is not None
    assert pack is not None
    assert pack.laid is not None
    assert pack.laid.chosen is not None
    modules = [line for line in found.ledger if line.name.startswith("module ")]
    assert len(modules) == 4
    assert all(line.what.startswith("from the pack's layout") for line in modules)
    # by hand: what was there less the engine, and the unit and the pack with its boxes, each at its own station
    centre = float(pack.laid.chosen.layout.centre_mm[0])
    mass = 930 - 160 + 90 + 4 * 11.8 * 1.35
    moment = 520 * 2450 - 160 * 2300 + 4 * 11.8 * 1.35 * centre
    assert found.empty.mass_kg == pytest.approx(mass)
    assert found.empty.front_share == pytest.approx(moment / mass / 2450)
    # and what each other layout would give stands beside it
    told = next(c.do for c in found.checks if c.title == "Share of the weight in front by layouts")
    for number, answer in enumerate(pack.laid.answers, 1):
        share = (520 * 2450 - 160 * 2300 + 4 * 11.8 * 1.35 * float(answer.layout.centre_mm[0])) / mass / 2450
        assert f"layout {number} {round(100 * share)}/{100 - round(100 * share)}" in told


def test_the_pack_is_never_counted_twice(tmp_path: Path) -> None:
    rows = WEIGHTS.replace('pack = "layout"', 'pack = "rows"') + "\n[weights.in.cells]\nmass = 50\nat = [800, 0, 450]\n"
    study = work(written(tmp_path / "rows", PACK + rows), until="weights")
    assert study.weights is not None
    assert study.weights.empty is not None
    assert study.weights.empty.mass_kg == pytest.approx(930 - 160 + 90 + 50)
    with pytest.raises(BuildProblems) as refused:
        load(written(tmp_path / "unsaid", PACK + WEIGHTS.replace('pack = "layout"\n', "")))
    assert 'Write pack = "rows" where they are, or pack = "layout"' in str(refused.value)
    with pytest.raises(BuildProblems) as refused:
        load(written(tmp_path / "none", WEIGHTS))
    assert "no layout to take the modules from" in str(refused.value)


def test_a_pack_that_does_not_go_in_is_left_out_and_told(tmp_path: Path) -> None:
    text = PACK.replace("series = 4", "series = 40") + WEIGHTS
    found = work(written(tmp_path, text), until="weights").weights
    assert found is not None
    assert [c.ok for c in found.checks if c.title == "It is left out of the sums"] == [False]


def test_the_road_goes_by_the_weights_where_the_car_tells_none(tmp_path: Path) -> None:
    folder = written(tmp_path, PACK + WEIGHTS + LOAD + ON_ROAD)
    memory = Memory()
    _, road = driven(folder, memory)
    study = work(folder, until="weights", memory=memory)
    assert road is not None
    assert study.weights is not None
    assert study.weights.laden is not None
    laden = study.weights.laden
    assert road.inputs.mass_kg == pytest.approx(laden.mass_kg)
    assert road.inputs.stance.front == pytest.approx(laden.front_share)
    assert road.inputs.stance.height_m == pytest.approx(laden.height_mm / 1000)
    assert {"car.mass", "car.load", "car.front_share", "car.centre_height", "road.spread.mass"} <= {
        one.where for one in road.assumed if "weights" in str(one.source)
    }


def test_a_mass_told_beside_the_weights_is_held_against_them(tmp_path: Path) -> None:
    text = PACK + WEIGHTS + ON_ROAD.replace("drag = 0.45", "mass = 1300\ndrag = 0.45")
    text = text.replace('pack = "layout"', 'pack = "rows"')
    _, road = driven(written(tmp_path, text))
    assert road is not None
    assert float(road.inputs.mass_kg) == pytest.approx(1300 + 75)
    check = next(c for c in road.checks if c.title == "Mass in [car] off that of the weights")
    assert not check.ok


def test_a_car_that_nobody_weighs_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BuildProblems) as refused:
        load(written(tmp_path, PACK + ON_ROAD))
    assert 'Write mass = "1650 kg", or [weights]' in str(refused.value)


def test_what_the_car_tells_comes_before_what_was_weighed(tmp_path: Path) -> None:
    car = load(written(tmp_path, PACK + WEIGHTS + ON_ROAD)).car
    assert car is not None
    alone, _ = as_weighed(car, WEIGHED)
    assert (alone.mass_kg, alone.load_kg, alone.front_share) == (1200.0, 200.0, 0.48)
    told = car.model_copy(update={"load_kg": 100.0, "front_share": 0.6, "mass_kg": 1100.0})
    kept, listed = as_weighed(told, WEIGHED)
    assert (kept.mass_kg, kept.load_kg, kept.front_share) == (1100.0, 100.0, 0.6)
    assert kept.centre_height_mm == 520.0
    assert {one.where for one in listed} == {"car.centre_height"}  # the wheelbase is told in this car


def test_mounts_take_grip_and_axle_loads_from_the_weights() -> None:
    told, listed = of_car(MountsInput(axle="rear", wheel_radius=300), None, WEIGHED)  # type: ignore[call-arg]
    axle, _ = axle_of(told)
    assert axle.car_mass_kg == 1400.0
    assert axle.axle_mass_kg == pytest.approx(1400 * 0.52)
    assert (axle.cog_height_mm, axle.wheelbase_mm) == (560.0, 2500.0)
    assert {one.where for one in listed} == {
        "mounts.car_mass", "mounts.axle_mass", "mounts.wheelbase", "mounts.cog_height"
    }  # fmt: skip
    own, _ = of_car(MountsInput(axle="rear", car_mass=900, axle_mass=500), None, WEIGHED)  # type: ignore[call-arg]
    assert (own.car_mass_kg, own.axle_mass_kg) == (900.0, 500.0)


def test_two_blocks_turn_as_the_theorem_of_steiner_says() -> None:
    # m (h² + w²) / 12 = 10 (0.2² + 0.1²) / 12 each, and 10 x 0.5² for each way off along x
    one = block((400.0, 200.0, 100.0))
    place = bay((2000.0, 400.0, 200.0))
    turn = Turn(np.eye(3), one.size_mm, np.zeros(3), one.size_mm, one.minus_mm, one.plus_mm, "top", "rear")
    from halfshaft.pack.layout import Placed

    pair = [
        Placed(0, n, "bay", np.array([x, 0.0, 0.0]), turn, np.array([x, 0.0, 50.0]), np.zeros(3), np.zeros(3), 0.0)
        for n, x in enumerate((0.0, 1000.0))
    ]
    lump = lump_of("bay", pair, [place], 10.0)
    assert lump.mass_kg == 20.0
    assert lump.centre_mm == pytest.approx([500.0, 0.0, 50.0])
    own = 10 / 12 * np.array([0.2**2 + 0.1**2, 0.4**2 + 0.1**2, 0.4**2 + 0.2**2])
    assert np.diag(lump.inertia_kg_m2) == pytest.approx(2 * (own + np.array([0.0, 10 * 0.25, 10 * 0.25])))


def test_cold_takes_energy_and_power_and_never_gives(tmp_path: Path) -> None:
    told = load(written(tmp_path, PACK)).pack
    assert told is not None
    pack = electric(told)
    table, cold = pack.cold, cold_of_pack(pack)
    below = table.celsius <= 25.0
    for values in (table.energy_wh, table.out_w, table.in_w):
        assert np.all(np.diff(values[below]) >= -1e-9)
    assert np.all(np.diff(table.resistance_ohm[below]) <= 0.0)
    assert np.all(table.energy_wh <= pack.usable_wh + 1e-9)
    at = cold.at(25.0)
    assert [float(at.energy), float(at.resistance), float(at.charge), float(at.discharge)] == pytest.approx([1.0] * 4)
    icy = cold.at(-20.0)
    assert float(icy.discharge) < 0.4
    assert float(icy.charge) == 0.0
    # at the charge where the crawl ends the volts under it are just the least: an exact end of the integral
    crawl = 12_000.0
    left = cold_table(pack.strings, crawl, 120.0).energy_wh[list(CELSIUS).index(-20.0)]
    low, high = pack.strings.window
    ends = [q for q in np.linspace(low, high, 201) if float(loaded_v(pack.strings, crawl, q, -20.0)) >= 120.0]
    assert left <= energy_wh(pack.strings, float(ends[0]), high) + 1e-6


def test_limits_follow_the_charge(tmp_path: Path) -> None:
    told = load(written(tmp_path, PACK)).pack
    assert told is not None
    supply = supply_of_pack(electric(told))
    assert float(supply.gives_w(0.02)) < float(supply.gives_w(0.5)) <= float(supply.gives_w(0.95)) * 1.0001
    assert float(supply.takes_w(1.0)) < float(supply.takes_w(0.5))
    assert float(supply.gives_w((0.5 - 0.05) / 0.92)) == pytest.approx(supply.discharge_w, rel=2e-3)
