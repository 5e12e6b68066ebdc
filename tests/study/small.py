"""A small whole build that is quick to work: a frame corner of three faces, one bracket over it, a box, an opening."""

from __future__ import annotations

from pathlib import Path

# where the points truly lie: a web that leans out, a flange that falls to the front, an end face out of square
SPOTS = {
    "W1": (60.0, 402.0, 460.0), "W2": (180.0, 402.0, 460.0), "W3": (60.0, 396.0, 400.0), "W4": (180.0, 396.0, 400.0),
    "F1": (60.0, 360.0, 503.0), "F2": (180.0, 360.0, 497.0), "F3": (60.0, 300.0, 503.0), "F4": (180.0, 300.0, 497.0),
    "E1": (254.0, 350.0, 460.0), "E2": (252.0, 310.0, 460.0), "E3": (252.0, 350.0, 420.0), "E4": (250.0, 310.0, 420.0),
}  # fmt: skip
TAPED = ["W1 F1", "W2 F2", "W3 F4", "W4 F3", "F2 E1", "F4 E2", "W2 E3", "W4 E4", "E1 E4", "W1 W4", "F1 F4"]

BUILD = """\
[build]
name = "corner"
units = "metric"

[shop]
kerf = 1.5

[sheet.plate]
thickness = 4
pivot_depth = 0.7

[body.car.point]
W1 = { side = "left" }
W2 = {}
W3 = {}
W4 = {}
F1 = {}
F2 = {}
F3 = {}
F4 = {}
E1 = {}
E2 = {}
E3 = {}
E4 = {}
[body.car.face.web]
points = ["W1", "W2", "W3", "W4"]
looks = "left"
[body.car.face.flange]
points = ["F1", "F2", "F3", "F4"]
looks = "up"
[body.car.face.end]
points = ["E1", "E2", "E3", "E4"]
looks = "front"

[obstacle.line]
box = [[100, 500, 300], [140, 520, 320]]

[bracket.corner]
sheet = "plate"
folds = [{ between = ["web", "flange"] }, { between = ["flange", "end"] }]
[bracket.corner.panel.web]
face = "web"
holes = [{ at = "W1", bolt = "M10" }, { at = "W2", bolt = "M10" }]
[bracket.corner.panel.flange]
face = "flange"
holes = [{ at = "F1", bolt = "M10" }, { at = "F2", bolt = "M10", shape = "slot", slot_length = 5 }]
[bracket.corner.panel.end]
face = "end"
holes = [{ at = "E1", bolt = "M8" }]

[opening.way]
face = "web"
hole = "W1"
hole_diameter = 11
edge = ["W3", "W4"]
centre = [120, 400, 430]
width = 40
height = 25
"""


def readings() -> str:
    """Station, offset and height of each point and some tapes, as read to the half millimetre."""
    rows = ["reading, points, value, with, spread, frame, note"]
    for name, (x, y, z) in SPOTS.items():
        rows += [f"station, {name}, {x:g}", f"offset, {name}, {y:g} left", f"height, {name}, {z:g}"]
    for pair in TAPED:
        a, b = (SPOTS[name] for name in pair.split())
        apart = sum((p - q) ** 2 for p, q in zip(a, b, strict=True)) ** 0.5
        rows.append(f"tape, {pair}, {round(2 * apart) / 2:g}")
    return "\n".join(rows) + "\n"


def write(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(BUILD, encoding="utf-8")
    (folder / "readings.csv").write_text(readings(), encoding="utf-8")
    return folder
