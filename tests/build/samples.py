"""Build folders for tests: a small one that uses every kind of table and reading, written as a builder would."""

from __future__ import annotations

from pathlib import Path

BUILD = """\
# my build
[build]
name = "sample"   # a name
units = "metric"

[shop]
kerf = "1/16 in"
lever = "2 ft"
hand_force = "56 lbf"

[instrument.tape]
spread = "1 mm"
per_metre = "0.1 mm/m"
[instrument.angle_finder]
spread = "0.4 deg"

[sheet.plate]
thickness = "3/16 in"
yield = "40 ksi"
[sheet.thin]
thickness = "11 ga"

[body.car]
root = true
datum = { origin = "A", along = "B", level = "C" }
[body.car.point]
A = { side = "right", twin = "C" }
B = { side = "right" }
C = { side = "left", height = "down" }
D = { side = "left" }
E = { height = "up" }
F = { height = "up", end = "front" }
[body.car.face.web]
points = ["A", "B", "E", "F"]
looks = "left"
spread = 0.4
[body.car.face.flange]
points = "A B C D"
looks = "up"
[body.unit.point]
U1 = {}
U2 = {}
U3 = {}

[obstacle.line]
box = [[0, 30, 40], ["8 in", 34, 46]]
[obstacle.shield]
panel = "A B C"
hidden = true

[bracket.corner]
sheet = "plate"
folds = [{ between = ["web", "flange"], start = [0, 0, 0] }]
twin = true
[bracket.corner.panel.web]
face = "web"
holes = [
    { at = "E", bolt = "M10" },
    { at = "F", bolt = "1/2 in", shape = "slot", slot_length = 5 },
]
[bracket.corner.panel.flange]
face = "car.flange"
holes = [{ at = "C", bolt = "M10" }]
outline = ["C", "D", [120, 40, 0], [0, 0, 0]]
[bracket.corner.panel.lid]
through = "C D F"
looks = "up"
[[bracket.corner.join]]
on = "flange"
cover = "lid"
bolts = [{ at = "D", bolt = "M8" }]
[bracket.corner.stiffener.rib]
on = "web"
height = "25 mm"
angle = "60 deg"

[opening.way]
face = "web"
hole = "A"
hole_diameter = 13
edge = ["A", "B"]
centre = [80, 0, 30]
width = 40
height = "1 1/2 in"
"""

READINGS = """\
# what was read
reading, points, value, with, spread, frame, note

tape, A B, 6 5/16 in
tape, C D, 160.5, , 0.5
tape, A U1, "12,5 cm", tape, , , a note
caliper, A E, 62.1
height, C, 0
rise, A E, 62
offset, C, 58 left
offset, A, 0
station, B, 160 front
station, C, 1/4 in rear
angle, A B D, 89.5
slope, A E, 1:12
bevel, web flange, 90
onface, C web, 58
onface, A web
mirror, C A
given, U1, 0 0 0
height, U2, 45, , , car
"""


def write(folder: Path, build: str = BUILD, readings: str = READINGS) -> Path:
    """Write the two files with the line ends as given; the folder is made where it is not there."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_bytes(build.encode("utf-8"))
    (folder / "readings.csv").write_bytes(readings.encode("utf-8"))
    return folder
