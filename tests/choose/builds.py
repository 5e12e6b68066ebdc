"""A small car with choices, as a builder writes it: quick to drive, every kind of option in it."""

from __future__ import annotations

from pathlib import Path

from halfshaft.build import load
from halfshaft.build.weighed import Standing, Weighed
from halfshaft.choose.model import Sweep
from halfshaft.choose.told import sweep_of
from halfshaft.demo.make_road import motor_map_text
from tests.pack.test_station import HEAD, PACK

ROUND = "time s,speed km/h\n0,0\n12,45\n40,45\n55,80\n90,80\n110,0\n120,0\n"
CAR = """
[car]
mass = 1300
drag = 0.45
frontal_area = 1.9
rolling = 0.012
tyre = "175/70R14"
grip = 0.9

[car.motor]
torque = 220
power = "85 kW"
most_turns = 11000
map = "motor_map.csv"

[car.gear]
ratio = 8.5

[road]
cycles = ["round.csv"]
speeds = [80]

[road.station.town]
power = "50 kW"
current = 125
volts = 500
"""
CHOOSE = """
[choose]
cost = 1000
cost_spread = 30
money = "$"

[choose.part.gear]
key = "car.gear.ratio"
from = 6
to = 10
steps = 3

[choose.part.cells]
key = "pack.parallel"
values = [1, 2]
cost = [2000, 4000]
cost_spread = 40

[choose.part.motor.option.small]
set = { "car.motor.torque" = "180 Nm", "car.motor.power" = "70 kW", "car.motor.mass" = "40 kg" }
cost = 1200

[choose.part.motor.option.large]
set = { "car.motor.torque" = "260 Nm", "car.motor.power" = "110 kW", "car.motor.mass" = "60 kg" }
cost = 2100
uncertain = "asked by telephone"
"""
# eight modules in series, so that the pack gives what the motors ask
BATTERY = (
    PACK.replace("series = 4", "series = 8").replace("[120, 220]", "[200, 420]").replace("[100, 220]", "[200, 420]")
)


def written(folder: Path, choose: str = CHOOSE, car: str = CAR, pack: str = BATTERY) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(HEAD + pack + car + choose, encoding="utf-8")
    (folder / "readings.csv").write_text("reading,points,value,with,spread,frame,note\n", encoding="utf-8")
    (folder / "motor_map.csv").write_text(motor_map_text(), encoding="utf-8")
    (folder / "round.csv").write_text(ROUND, encoding="utf-8")
    return folder


def sweep(folder: Path, choose: str = CHOOSE, weighed: Weighed | None = None) -> Sweep:
    written(folder, choose)
    return sweep_of(load(folder), folder, weighed)


WEIGHED = Weighed(2450.0, Standing(1300.0, 8.0, 0.5, 550.0))
