"""A build that tells a car and its road, worked from the folder to results, and what is said of one that cannot be."""

from __future__ import annotations

import json
import os
from pathlib import Path
from random import Random

import numpy as np
import pytest

from halfshaft import plain_road, tables_road
from halfshaft.build import BuildProblems
from halfshaft.road.model import Road
from halfshaft.study import driven
from tests.road import builds


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return builds.write(tmp_path_factory.mktemp("road") / "car")


@pytest.fixture(scope="module")
def road(folder: Path) -> Road:
    _, found = driven(folder)
    assert found is not None
    return found


def test_a_build_without_a_measured_point_has_its_range_told(road: Road) -> None:
    names = [one.name for one in road.drives]
    assert names == ["farm_round", "pass", "60 km/h"]
    assert all(50e3 < one.range_m < 500e3 for one in road.drives)
    assert all(one.band is not None and one.band.low_m < one.range_m < one.band.high_m for one in road.drives[:2])


def test_the_coast_down_is_what_the_range_rests_on(road: Road) -> None:
    assert road.coast is not None
    assert 0.008 < road.rolling < 0.02
    assert 0.5 < road.drag_area_m2 < 1.2
    assert road.drives[0].band is not None
    assert "coast_down" in {share.name for share in road.drives[0].band.shares}
    assert not {"tyres", "drag"} & {share.name for share in road.drives[0].band.shares}


def test_parts_of_a_drive_add_up_to_what_empties_the_pack(road: Road) -> None:
    for one in road.drives:
        if one.kind == "steady":
            total = sum(one.parts_wh_m.values())
            assert total == pytest.approx(one.wh_m + one.parts_wh_m["pack"], rel=0.05)


def test_a_way_there_and_back_ends_at_its_own_height(road: Road) -> None:
    way = next(one for one in road.drives if one.kind == "way")
    assert way.up_m == pytest.approx(way.down_m)
    assert way.up_m > 500.0
    assert way.parts_wh_m["slope"] == pytest.approx(0.0, abs=2e-4)


def test_what_the_build_leaves_out_is_told_with_its_key_and_source(tmp_path: Path) -> None:
    text = builds.CAR.replace("grip = 0.9\n", "").replace("efficiency = 0.96\ndrag = 0.4\n", "")
    _, found = driven(builds.write(tmp_path / "less", text))
    assert found is not None
    told = {one.where: one for one in found.assumed}
    assert {"car.grip", "car.gear.efficiency", "car.gear.drag"} <= set(told)
    assert all(one.source.text for one in found.assumed)
    assert "car.mass" not in told


def test_every_check_says_what_to_do_and_where_its_limit_comes_from(road: Road) -> None:
    assert road.checks
    assert all(check.station == "road" and check.do and str(check.source) for check in road.checks)


def test_results_are_told_as_json_and_as_tables_in_either_units(road: Road) -> None:
    told = json.loads(json.dumps(plain_road.road(road), allow_nan=False))
    assert told["drives"][0]["range_m"] == pytest.approx(road.drives[0].range_m)
    assert len(told["charging"]) == 2
    assert max(len(plug["charge"]) for plug in told["charging"]) <= 101
    names = ("range", "energy", "pull", "weather", "climb", "charging")
    made = [getattr(tables_road, f"{name}_table") for name in names]
    for table in made:
        metric, inch = table(road, "metric"), table(road, "inch")
        assert metric.rows
        assert len(metric.rows) == len(inch.rows)
        assert all(len(row) == len(metric.columns) for row in metric.rows)
    assert any("mi" in cell for cell in tables_road.range_table(road, "inch").rows[0])


def test_range_falls_from_comfort_to_frost(road: Road) -> None:
    assert road.weather is not None
    cold = road.weather.temperature_c <= 20.0
    assert np.all(np.diff(road.weather.cycle_range_m[cold]) > 0.0)
    assert np.all(road.weather.cycle_range_m <= road.weather.cycle_no_cabin_m * (1.0 + 1e-9))


def test_the_same_build_gives_the_same_answer(folder: Path, road: Road) -> None:
    _, again = driven(folder)
    assert again is not None
    assert plain_road.road(again) == plain_road.road(road)


@pytest.mark.parametrize(
    ("old", "new", "found", "write"),
    [
        ('tyre = "175/70R14"\n', "", "how large its wheels are", "tyre"),
        ("to = 90,", "to = 110,", "does not slow down", "from above"),
        ('lasting_power = "40 kW"', 'lasting_power = "90 kW"', "more than its peak", ""),
        ('file = "over_the_pass.gpx"', 'file = "../x.gpx"', "outside the build folder", "beside build.toml"),
        ('cycles = ["farm_round.csv"]', 'cycles = ["wltx"]', "wltx", "CSV"),
        ('shape = "saloon before 1980"', 'shape = "saloon"', "the shape 'saloon' is not known", "saloon before 1980"),
        ("holds_back = 130", "holds_back = 160", "temperatures do not rise", "coolant < holds_back < most"),
        ("full_volts = 375", "full_volts = 300", "volts", "volts"),
        ('power = "85 kW"', 'power = "85 kx"', "kx", "kW"),
        ("ratio = 8.5", "ratio = nan", "ratio", ""),
        ("drag = 0.45\n", "drag = 0.45\ndrag_area = 0.8\n", "drag is told twice", "Keep"),
    ],
)
def test_what_cannot_be_is_told_with_its_line(tmp_path: Path, old: str, new: str, found: str, write: str) -> None:
    assert old in builds.CAR
    with pytest.raises(BuildProblems) as told:
        driven(builds.write(tmp_path / "bad", builds.CAR.replace(old, new, 1)))
    problems = told.value.problems
    assert any(found in problem.found and write in problem.write for problem in problems), str(told.value)
    assert all(problem.line > 0 for problem in problems)


def test_road_without_a_car_is_told(tmp_path: Path) -> None:
    text = '[build]\nname = "x"\n[body.car.point]\nA = {}\n[road]\ntemperature = 10\n'
    with pytest.raises(BuildProblems, match=r"\[road\] without \[car\]"):
        driven(builds.write(tmp_path / "bad", text))


@pytest.mark.parametrize(
    ("file", "text", "about"),
    [
        ("farm_round.csv", "time s,speed km/h\n0,0\n5,x\n5,9\n", "cycle farm_round.csv"),
        ("over_the_pass.gpx", "<gpx></gpx>", "way pass"),
        ("over_the_pass.gpx", "<!DOCTYPE x><gpx/>", "way pass"),
        ("motor_map.csv", "rpm,Nm\n1,2\n", "motor's map"),
    ],
)
def test_a_file_that_cannot_be_read_stops_itself_and_nothing_else(
    tmp_path: Path, file: str, text: str, about: str
) -> None:
    folder = builds.write(tmp_path / "bad")
    (folder / file).write_text(text, encoding="utf-8")
    _, found = driven(folder)
    assert found is not None
    stops = [check for check in found.checks if not check.ok and check.about.startswith(about)]
    assert [check.severity.value for check in stops] == ["stop"]
    assert "write" in stops[0].do or "save" in stops[0].do
    assert found.drives


@pytest.mark.parametrize("number", range(int(os.environ.get("HALFSHAFT_MUTANTS", "5"))))
def test_a_car_with_any_key_changed_is_worked_or_told(tmp_path: Path, number: int) -> None:
    folder = builds.write(tmp_path / "any")
    for again in range(40):  # most values are refused at the door: tried till one is let in
        builds.spoiled(folder, Random(1000 * number + again))
        try:
            _, found = driven(folder)
        except BuildProblems:
            continue
        assert found is not None
        json.dumps(plain_road.road(found), allow_nan=False)
        break


def test_run_works_a_build_that_is_a_car_alone(tmp_path: Path) -> None:
    from halfshaft.study import work

    done = work(builds.write(tmp_path / "car"))
    assert done.road is not None
    assert {check.station for check in done.checks} >= {"road"}
    assert not any(one.where == "road.climb.temperature" for one in done.assumed)
    assert any(one.where.startswith("catalogue pack.") for one in done.assumed)
