"""A whole build folder that tells nothing but a car and its road, and ways to spoil it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from random import Random
from typing import Any

import tomlkit

from halfshaft.build.readings import HEADER
from halfshaft.demo.make_road import farm_round_text, motor_map_text, over_the_pass_text

CAR = """
[build]
name = "a car"

[car]
mass = 1300
drag = 0.45
frontal_area = 1.9
shape = "saloon before 1980"
width = 1600
height = 1400
rolling = 0.012
tyre = "175/70R14"
wheelbase = 2450
rotating = 0.04
grip = 0.9
aux = 350

[car.coast_down]
mass = 1280
spread = 0.3
temperature = 18
altitude = 200
runs = [
    { from = 100, to = 90, there = 9.4, back = 9.0 },
    { from = 80, to = 70, there = 11.6, back = 11.2 },
    { from = 60, to = 50, there = 14.6, back = 14.1 },
    { from = 40, to = 30, there = 18.4 },
]

[car.motor]
torque = 220
power = "85 kW"
lasting_power = "40 kW"
most_turns = 11000
map = "motor_map.csv"
mass = 45
coolant = 50
holds_back = 130
most = 150

[car.gear]
ratio = 8.5
efficiency = 0.96
drag = 0.4

[car.pack]
energy = "32 kWh"
volts = 330
full_volts = 375
curve = "nmc"
resistance = 0.12
discharge_power = "110 kW"
brake_power = "50 kW"
charge_current = 120
fast = [[0.1, 40000], [0.8, 20000]]
mass = 200
cooling = 6

[car.braking]
share = 0.85
most = 2
fades = 12
ends = 5

[car.cabin]
wanted = 21
loss = 60
fresh_air = 0.03
heater = "heat pump"
heater_power = 3000
cooler_power = 1500
sun = 500
warms = 100000

[car.charger]
power = "6.6 kW"
current = 32
phases = 1
efficiency = 0.9

[road]
cycles = ["farm_round.csv"]
speeds = [60]
temperature = 15
altitude = 100
headwind = 0
pack_temperature = 18
wanted_range = 150000
wanted_speed = 120

[road.route.pass]
file = "over_the_pass.gpx"
speed = 70
stops_per_km = 0.2
wind = 10
wind_from = 200
back = true

[road.climb]
grade = 6
length = 4000
speed = 70
temperature = 25

[road.socket.home]
volts = 230
breaker = 32
phases = 1

[road.station.town]
power = 50000
current = 125
volts = 500

[road.spread]
mass = 0.02
tyres = 0.1
drag = 0.1
motor_losses = 0.2
energy = 0.04
resistance = 0.2
aux = 0.2
cabin = 0.2
braking = 0.1
temperature = 3
wind = 5
"""
NUMBERS: list[Any] = [
    0, -0.0, -1, 1e-300, 1e-9, 1e-3, 0.01, 0.5, 1, 3, 17.5, 60, 250, 1500, 1e4, 1e5, 1e6, 1e9, 1e300, float("nan"),
    float("inf"), 2**63, True, "", "x", "80 kW", "20 F", "-20 C", "55 mph", "0.09 g", [], {}, "all", "none", "lfp",
]  # fmt: skip


def write(folder: Path, text: str = CAR) -> Path:
    """The folder with its files; no reading in it."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(text, encoding="utf-8")
    (folder / "readings.csv").write_text(HEADER + "\n", encoding="utf-8")
    (folder / "motor_map.csv").write_text(motor_map_text(), encoding="utf-8")
    (folder / "farm_round.csv").write_text(farm_round_text(), encoding="utf-8")
    (folder / "over_the_pass.gpx").write_text(over_the_pass_text(), encoding="utf-8")
    return folder


def spoiled(folder: Path, dice: Random) -> str:
    """One to three keys set to something hard, or taken away; what was done, in words."""
    build = tomllib.loads(CAR)
    done = []
    for _ in range(dice.choice([1, 1, 2, 3])):
        table: Any = build[dice.choice(["car", "car", "road"])]
        while True:
            key = dice.choice(sorted(table))
            if isinstance(table[key], dict) and table[key] and dice.random() < 0.9:
                table = table[key]
                continue
            break
        if dice.random() < 0.2:
            del table[key]
            done.append(f"no {key}")
            if not table:
                break
        else:
            value = dice.choice(NUMBERS)
            old = table[key]
            if isinstance(old, (int, float)) and not isinstance(old, bool) and dice.random() < 0.5:
                value = old * dice.choice([1e-3, 0.1, 0.5, 2, 10, 1000, -1])
            table[key] = value
            done.append(f"{key} = {value!r}")
    (folder / "build.toml").write_text(tomlkit.dumps(build), encoding="utf-8")
    return ", ".join(done)
