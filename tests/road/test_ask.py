"""The plain car asked for on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from halfshaft.cli import app
from halfshaft.road.cycles import named
from halfshaft.road.plain_car import EfficiencyMap, PlainCar, read_map, use
from tests.road import builds

HATCH = ["--a", "30.51 lbf", "--b", "0.0152 lbf/mph", "--c", "0.02151 lbf/mph2", "--mass", "3875 lb", "--drive", "0.88"]


def told(*words: str) -> dict:
    done = CliRunner().invoke(app, ["roadload", *words, "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_pounds_and_newtons_say_the_same() -> None:
    one = told(*HATCH, "--cycle", "wltc")
    other = told("--a", "135.7152", "--b", "0.151246", "--c", "0.478778", "--mass", "1757.67", "--drive", "0.88")
    assert one["drives"][0]["dc_wh_km"] == pytest.approx(other["drives"][0]["dc_wh_km"], rel=1e-5)


def test_steady_speed_is_force_over_efficiency() -> None:
    row = told(*HATCH, "--speed", "60 mph", "--charger", "0.9", "--aux", "300", "--usable", "60 kWh")["drives"][0]
    # 484.224 N at 60 mph, worked apart
    dc = 484.224 / 3.6 / 0.88 + 300.0 / (60 * 1.609344)
    assert row["dc_wh_km"] == pytest.approx(dc, rel=1e-4)
    assert row["ac_wh_km"] == pytest.approx(dc / 0.9, rel=1e-4)
    assert row["range_km"] == pytest.approx(60_000.0 / dc, rel=1e-4)


def test_city_and_highway_together_give_what_a_label_prints() -> None:
    both = told(*HATCH, "--cycle", "udds", "--cycle", "hwfet", "--charger", "0.9")
    city, highway = (row["ac_wh_km"] for row in both["drives"])
    assert both["label"]["label_city_mpge"] == pytest.approx(0.7 * 33_705.0 / (city * 1.609344))
    assert both["label"]["ac_wh_km"] == pytest.approx(0.55 * city + 0.45 * highway)
    assert told(*HATCH, "--cycle", "udds")["label"] is None
    shown = CliRunner().invoke(app, ["roadload", *HATCH, "--cycle", "udds", "--cycle", "hwfet"]).output
    assert "55 to 45" in shown


def test_a_cycle_from_a_file(tmp_path: Path) -> None:
    file = tmp_path / "loop.csv"
    file.write_text("time s,speed mph\n0,0\n20,40\n60,40\n80,0\n", encoding="utf-8")
    row = told(*HATCH, "--cycle", str(file))["drives"][0]
    assert row["name"] == "loop"
    assert row["distance_m"] == pytest.approx(60 * 40 * 0.44704)


def test_every_fault_is_told_at_once_and_without_a_traceback() -> None:
    words = ["--a", "x", "--c", "1 hp", "--mass", "0", "--drive", "3", "--cycle", "ring", "--speed", "fast"]
    done = CliRunner().invoke(app, ["roadload", *words, "--json"])
    assert done.exit_code == 1
    found = " ".join(row["found"] for row in json.loads(done.stdout)["problems"])
    for part in ("--a", "--c", "efficiency of 3", "no cycle 'ring'", "--speed"):
        assert part in found
    assert done.exception is None or isinstance(done.exception, SystemExit)


@pytest.mark.parametrize("more", [[], ["--drive", "0.9", "--drive-map", "x.csv"]])
def test_the_drive_is_told_once(more: list[str]) -> None:
    done = CliRunner().invoke(app, ["roadload", "--a", "1", "--c", "1", "--mass", "1000", *more])
    assert done.exit_code == 1


def test_a_flat_map_is_one_number() -> None:
    flat = EfficiencyMap(np.array([0.0, 40.0]), np.array([-5e4, 5e4]), np.full((2, 2), 0.85))
    plain = PlainCar(150.0, 0.0, 0.45, 1200.0, 0.85, 1.0, 300.0)
    mapped = PlainCar(150.0, 0.0, 0.45, 1200.0, flat, 1.0, 300.0)
    assert use(mapped, named("wltc")).dc_wh_km == pytest.approx(use(plain, named("wltc")).dc_wh_km)


def test_a_map_is_straight_between_its_lines_and_level_beyond() -> None:
    found = read_map("km/h,-20,20\n0,80,60\n72,90,100\n")
    at = found.at(np.array([0.0, 10.0, 20.0, 99.0]), np.array([-2e4, 0.0, 2e4, 9e4]))
    assert at == pytest.approx([0.80, 0.825, 1.0, 1.0])


@pytest.mark.parametrize(
    "text", ["km/h,1\n", "km/h,1,2\n0,.5\n", "km/h,2,1\n0,.5,.5\n", "km/h,1\n0,x\n", "km/h,1\n0,0\n"]
)
def test_what_is_no_map_is_told(text: str) -> None:
    with pytest.raises(ValueError, match=r"map|line|efficiency"):
        read_map(text)


@pytest.mark.parametrize(
    "change", [{"drive": 0.0}, {"charger": 1.2}, {"back": -0.1}, {"mass_kg": 0.0}, {"aux_w": -1.0}, {"usable_wh": 0.0}]
)
def test_a_plain_car_that_cannot_be_is_refused(change: dict) -> None:
    numbers = {"a_n": 100.0, "b_n_s_m": 0.0, "c_n_s2_m2": 0.4, "mass_kg": 1000.0, "drive": 0.9} | change
    with pytest.raises(ValueError, match=r"write|nought"):
        PlainCar(**numbers)


def test_the_road_command_prints_tables_and_says_what_is_missing(tmp_path: Path) -> None:
    folder = builds.write(tmp_path / "car")
    done = CliRunner().invoke(app, ["road", str(folder)])
    assert done.exit_code == 0, done.output
    for words in ("Range", "Where the energy goes", "Pull", "Charging", "estimates"):
        assert words in done.output
    bare = tmp_path / "bare"
    builds.write(bare, '[build]\nname = "x"\n[body.car.point]\nA = {}\n')
    done = CliRunner().invoke(app, ["road", str(bare)])
    assert done.exit_code == 1
    assert "no [car]" in done.output
