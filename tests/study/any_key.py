"""Any key of the schema and any kind of reading, with a value no one meant. Folder and dice in, files changed."""

from __future__ import annotations

import tomllib
from pathlib import Path
from random import Random
from typing import Any, get_args

import tomlkit
from pydantic import BaseModel

from halfshaft.build import BuildProblems, load
from halfshaft.build.readings import KINDS
from halfshaft.build.schema import Build

Table = dict[str, Any]

# tables of the small build that have none of a thing get one, so that every model has an instance
MORE = """
[instrument.tape]
spread = 1
[bracket.corner.stiffener.rib]
on = "web"
height = 20
[[bracket.corner.join]]
on = "web"
cover = "lid"
bolts = [{ at = "W3", bolt = "M8" }]
[body.car.datum]
origin = "W1"
along = "W2"
level = "F1"
[mounts]
motor_torque = 200
ratio = 9
motor_speed = [2000, 8000]
mass = 90
centre = "F1"
inertia = [3, 3, 3]
[mounts.rubber.soft]
stiffness = [400, 900, 900]
turn_stiffness = [200, 200, 200]
free = [3, 3, 3]
snubber = [5000, 5000, 5000]
travel = [8, 8, 8]
[mounts.mount.one]
bracket = "corner"
at = "E1 E2"
axis = "up"
rubber = "soft"
[mounts.mount.one.joint.web]
class = "8.8"
torque = 60
surface = "C"
[mounts.mount.one.joint.flange]
tube = [60, 50]
wall = 3
[mounts.mount.two]
at = "W3"
axis = [1, 0, 0]
rubber = "sandwich, firm"
[mounts.mount.two.joint.pad]
bolts = "F3 F4"
bolt = "M12"
face = "flange"
thickness = 8
into = "tapped"
[mounts.mount.two.weld.seam]
along = ["E1", "E4", [200, 300, 400]]
throat = 4
[mounts.mount.three]
at = [100, -300, 450]
axis = "left"
rubber = "soft"
[mounts.mount.three.joint.foot]
bolts = "W3 W4"
bolt = "M10"
face = "web"
thickness = 5
wall = 3
tube = [80, 60]
into = "crush tube"
[mounts.case.own]
felt = [1, 1, -3]
force = [100, 200, 300]
at = "W4"
[cutter]
lead_in = 4
tabs = 2
marker = true
[[cutter.setting]]
thickness = 4
feed = 2000
pierce = 0.5
[cutter.code]
units = "inch"
first = ["G64"]
[cutter.price]
hour = 40
[weights]
wheelbase = 2500
track_front = 1400
track_rear = 1420
wheel_radius = 310
gross_mass = 1900
front_rating = 900
rear_rating = 1000
tyre_front = 91
tyre_rear = 95
wanted_front = 0.5
[weights.before]
corners = [320, 310, 250, 260]
[weights.before.tilt]
lifted = "rear"
lift = 500
other_axle = 660
[weights.after]
axles = [600, 620]
cog_height = 540
[weights.out.engine]
mass = 200
at = [2300, 0, 600]
[weights.in.module_1]
mass = 60
place = "back"
places = "nose"
[weights.in.module_2]
mass = 60
mass_spread = 1
at = "W1"
places = ["nose", "back"]
place_spread = 5
[weights.load.driver]
mass = 80
at = [1300, 350, 700]
[weights.place.nose]
at = "F1"
holds = 2
[weights.place.back]
at = [300, 0, 500]
[weights.spring.front]
rate = 60
ratio = 0.6
tyre_rate = 200
damper = 2500
[weights.spring.rear]
rate = 30
damper_ratio = 0.9
[weights.brakes]
front_share = 0.6
valve_from = "0.3 g"
valve_slope = 0.4
regeneration = 1.5
park_force = 3000
[pack]
series = 4
window = [0.1, 0.9]
inverter_volts = [100, 250]
charger_volts = [100, 250]
power = "20 kW"
station = 300
front_end = 2000
rear_end = -800
junction = "W1"
past = "line"
[pack.module]
like = "355 mm, 12 in series"
peak_current = 200
[pack.bay.boot]
box = ["W1", [900, 200, 700]]
cooled = "bottom"
[pack.keep_out.hump]
box = [[0, 0, 0], [10, 10, 10]]
"""
NUMBERS: list[Any] = [
    0, -0.0, -1, 1e-300, 5e-324, 1e-9, 1e-3, 3, 17.5, 250, 1e4, 1e9, 1e15, 1e150, 1e300, 1.7e308, float("nan"),
    float("inf"), -float("inf"), 2**63, -(2**70), True, False,
]  # fmt: skip
TEXTS: list[Any] = [
    "", " ", "0", "-0", "nan", "inf", "1e400", "1e-400", "14 3/16 in", "-2-1/2 in", "3/0 in", "11 ga", "1:0", "5 %",
    "1 MPa", "1 lbf", "90°", "\u00bd in", "１２", "W1", "car.W1", "web", "car.web", "corner", "plate", "left", "front",
    "M10", "M0", "1/4 in", "slot", "brake", "桁", "x" * 500, "\u202e", "#panic()", "[/b]", "a\nb", "..", "../../etc",
    "free", "A4", "Letter", "inch", "level", "tape",
]  # fmt: skip
SHAPES: list[Any] = [
    [], {}, [[]], [0, 0, 0], [1e9, 0, 0], ["W1"], ["W1", "W1"], ["W1", "W2", "W3"], ["F1", "F2", "F3", "F4"],
    [[0, 0, 0], [0, 0, 0]], [[0, 380, 380], [200, 420, 520]], [{}], {"W1": {}}, ["1 in", "2 in", "3 in"], [None, 1],
]  # fmt: skip
WORTH = [
    "0", "-1", "1e-9", "412", "1e9", "1e300", "nan", "inf", "", "90", "180", "179.9999", "-90", "14 3/16 in", "1:2",
    "5 %", "412 left", "412 right", "120 rear", "0 0 0", "1 2", "60 402 460", "x", "½", "1e400",
]  # fmt: skip


def change_any(folder: Path, dice: Random) -> tuple[str, ...]:
    """Set one to three keys anywhere, or put in one to three readings; what was set, in words.

    Most values are refused at the door: two times in three, others are tried till one is let in for the stations.
    """
    whole, rows = ((folder / name).read_text(encoding="utf-8") for name in ("build.toml", "readings.csv"))
    tries = 40 if dice.random() < 0.67 else 1
    for _ in range(tries):
        build, lines = tomllib.loads(whole), rows.splitlines()
        if dice.random() < 0.5:
            _merge(build, tomllib.loads(MORE))
            build["bracket"]["corner"]["panel"]["lid"] = {}
        done = [
            _row(lines, dice) if dice.random() < 0.35 else _key(build, dice)
            for _ in range(dice.choice([1, 1, 1, 2, 3]))
        ]
        (folder / "build.toml").write_text(tomlkit.dumps(_without_none(build)), encoding="utf-8")
        (folder / "readings.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        try:
            load(folder)
        except BuildProblems:
            continue
        break
    return tuple(done)


def _merge(into: Table, more: Table) -> None:
    for key, value in more.items():
        if isinstance(value, dict) and isinstance(into.get(key), dict):
            _merge(into[key], value)
        else:
            into[key] = value


def _without_none(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _without_none(v) for k, v in value.items() if v is not None}
    if isinstance(value, list):
        return [_without_none(v) for v in value if v is not None]
    return value


def _key(build: Table, dice: Random) -> str:
    spots = [
        (path, table, name, field)
        for path, table, model in _tables("", build, Build)
        if model is not Build
        for name, field in ((f.alias or n, f) for n, f in model.model_fields.items())
    ]
    # every model gets its turn, however many instances it has
    wanted = dice.choice(sorted({path.rsplit(".", 1)[0] for path, *_ in spots}))
    path, table, name, _ = dice.choice([spot for spot in spots if spot[0].rsplit(".", 1)[0] == wanted])
    old = table.get(name)
    chance = dice.random()
    if chance < 0.05 and name in table:
        del table[name]
        return f"{path}.{name} gone"
    if chance < 0.12 and isinstance(old, (list, dict)) and old:
        table[name] = old * 2 if isinstance(old, list) else {"twice": old}
        return f"{path}.{name} twice"
    if chance < 0.3 and isinstance(old, (int, float)) and not isinstance(old, bool):
        table[name] = old * dice.choice([-1, 0, 1e-6, 0.1, 10, 25.4, 1e6])
    else:
        table[name] = dice.choice(dice.choice([NUMBERS, NUMBERS, TEXTS, TEXTS, SHAPES]))
    return f"{path}.{name} = {table[name]!r:.60}"


def _tables(path: str, table: Any, model: type[BaseModel]) -> list[tuple[str, Table, type[BaseModel]]]:
    """Every table of the build with the model it is read by."""
    if not isinstance(table, dict):
        return []
    found: list[tuple[str, Table, type[BaseModel]]] = [(path, table, model)]
    for name, field in model.model_fields.items():
        inner, key = _models(field.annotation), field.alias or name
        value = table.get(key)
        if value is None or inner is None or name == "readings":
            continue
        if isinstance(value, list):
            for one in value:
                found += _tables(f"{path}.{key}", one, inner)
        elif isinstance(value, dict) and "dict" in str(field.annotation):
            for one_name, one in value.items():
                found += _tables(f"{path}.{key}.{one_name}", one, inner)
        else:
            found += _tables(f"{path}.{key}", value, inner)
    return found


def _models(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _models(part))), None)


def _row(lines: list[str], dice: Random) -> str:
    names = [*(f"{face}{number}" for face in "WFE" for number in "1234"), "web", "end", "car.W1", "no.such", "Q"]
    kind = dice.choice([*sorted(KINDS), "length", "", "Tape"])
    count = dice.choice([1, 2, 2, 2, 3, 4, 0])
    cells = [kind, " ".join(dice.choice(names) for _ in range(count)), dice.choice(WORTH)]
    if dice.random() < 0.4:
        cells += [dice.choice(["", "tape", "caliper", "nothing"]), dice.choice(["", *WORTH]),
                  dice.choice(["", "car", "unit"])]  # fmt: skip
    text = ", ".join(cells)
    lines.insert(dice.randint(1, len(lines)), text)
    return text
