"""The scene of placing, made from a build folder as a builder writes it, against places that were put in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from halfshaft.build import BuildProblems, load
from halfshaft.fitup.scene import scene_of
from halfshaft.measure import measure

SPOTS = {
    "L1": (0, 400, 500), "L2": (800, 420, 500), "L3": (300, 405, 620), "R1": (0, -400, 500), "R2": (800, -420, 500),
    "HL": (20, 600, 380), "WL": (20, 740, 380),
}  # fmt: skip
UNIT = {"OL": (100, 200, 380), "OR": (100, -200, 380), "M1": (150, 60, 560), "M2": (-120, 40, 450)}
WHOLE = """
[build]
name = "scene"
[sheet.plate]
thickness = 5
[body.car]
root = true
[body.car.point]
{car}
[body.unit.point]
{unit}
[obstacle.tank]
box = [[-600, -100, 400], [-400, 100, 600]]
[fitup]
begin = [10, 0, 0]
ground = 140
[fitup.member.left_rail]
section = "channel"
width = 50
height = 100
wall = 3
opens = "right"
along = "L1 L2"
offset = [10, 0]
[fitup.piece.case]
box = [[-150, -180, -100], [150, 180, 200]]
[fitup.piece.ear]
tube = [[0, 180, 0], [0, 240, 0]]
diameter = 40
comes_off = true
[fitup.output.left]
at = "OL"
inward = "OR"
[fitup.wheel.left]
table = [
    [0, [20, 600, 380], [20, 740, 380]],
    ["50 mm", [20, 596, 430], [20, 736, 430]],
    [-50, [20, 596, 330], [20, 736, 330]],
]
"""


def write_folder(path: Path, more: str = "", cut: str = "") -> Path:
    def points(spots: dict[str, tuple[int, int, int]]) -> str:
        return "\n".join(f"{n} = {{ }}" for n in spots)

    text = (
        WHOLE.format(car=points(SPOTS), unit=points(UNIT)).replace(cut, more)
        if cut
        else (WHOLE.format(car=points(SPOTS), unit=points(UNIT)) + more)
    )
    (path / "build.toml").write_text(text)
    rows = ["reading, points, value, with, spread, frame, note"]
    rows += [f"given, {n}, {x} {y} {z}" for n, (x, y, z) in SPOTS.items()]
    # the unit's own axes lie 100, 0, 380 from the car's, not turned
    rows += [f"given, unit.{n}, {x - 100} {y} {z - 380}" for n, (x, y, z) in UNIT.items()]
    rows += [f"height, unit.{n}, {z},,, car" for n, (_, _, z) in UNIT.items()]
    rows += [f"offset, unit.{n}, {abs(y)} {'left' if y > 0 else 'right'},,, car" for n, (_, y, _) in UNIT.items()]
    rows += [f"station, unit.{n}, {abs(x)} {'front' if x >= 0 else 'rear'},,, car" for n, (x, _, _) in UNIT.items()]
    (path / "readings.csv").write_text("\n".join(rows) + "\n")
    return path


def test_a_scene_is_what_was_written(tmp_path: Path) -> None:
    build = load(write_folder(tmp_path))
    scene, checks, assumed = scene_of(build, measure(build), tmp_path)
    assert checks == ()
    assert scene is not None
    roles = {f.name: (f.role, f.clearance_mm) for f in scene.fixed}
    assert roles["left_rail"][0] == "member"
    assert roles["tank"][0] == "keep"
    # the line moved 10 mm to its left: of a line that runs forward that is the car's left, square to it
    along = np.array([800.0, 20.0, 0.0]) / np.hypot(800.0, 20.0)
    left = np.array([-along[1], along[0], 0.0])
    assert scene.members["left_rail"].line_mm[0] == pytest.approx(np.array([0.0, 400.0, 500.0]) + 10.0 * left, abs=0.3)
    pieces = {p.name: p for p in scene.unit.pieces}
    assert pieces["case"].solid.volume_mm3 == pytest.approx(300.0 * 360.0 * 300.0)
    assert pieces["ear"].comes_off
    assert not pieces["case"].comes_off
    (output,) = scene.unit.outputs
    assert output.centre_mm == pytest.approx([0.0, 200.0, 0.0], abs=0.5)
    assert output.axis == pytest.approx([0.0, 1.0, 0.0], abs=1e-2)
    # as mocked up, and 10 mm forward
    assert scene.bounds.begin.apply([0.0, 0.0, 0.0]) == pytest.approx([110.0, 0.0, 380.0], abs=1.0)
    (wheel,) = scene.wheels
    assert wheel.travel_mm == pytest.approx([-50.0, 0.0, 50.0])
    assert scene.ground_clearance_mm == 140.0
    told = {one.where for one in assumed}
    assert "fitup.ground" not in told
    assert {"fitup.member.left_rail.clearance", "fitup.piece.case.sway", "fitup.joint_stroke"} <= told


def test_a_member_on_a_point_that_is_not_located_is_told_and_the_rest_stands(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    rows = (folder / "readings.csv").read_text().splitlines()
    (folder / "readings.csv").write_text("\n".join(r for r in rows if not r.startswith("given, L2")) + "\n")
    build = load(folder)
    scene, checks, _ = scene_of(build, measure(build), folder)
    (check,) = checks
    assert check.about == "member left_rail"
    assert "L2" in check.do
    assert not check.ok
    assert scene is not None
    assert "left_rail" not in scene.members


def test_welds_and_tyres_come_where_they_were_told(tmp_path: Path) -> None:
    more = 'wall = 3\nwelds = [["L3", [300, 405, 460]]]'
    folder = write_folder(tmp_path, more, "wall = 3")
    text = (folder / "build.toml").read_text().replace("[fitup.wheel.left]", '[fitup.wheel.left]\ntyre = "165/80R15"')
    (folder / "build.toml").write_text(text)
    build = load(folder)
    scene, checks, _ = scene_of(build, measure(build), folder)
    assert scene is not None
    assert not checks
    (weld,) = scene.members["left_rail"].welds_mm
    np.testing.assert_allclose(weld, [[300, 405, 620], [300, 405, 460]], atol=0.5)
    tyre = next(one for one in scene.fixed if one.name == "left tyre through its travel")
    assert tyre.swept
    assert scene.shaft_body is not None
    assert tyre.name in scene.shaft_body.past
    # by hand: 15 in rim and twice 80 % of 165, 4 % wider, about (740, 380) and 50 up and down
    radius, half = (15.0 * 25.4 + 2.0 * 0.8 * 165.0) / 2.0, 1.04 * 165.0 / 2.0
    low, high = tyre.solid.bounds_mm
    np.testing.assert_allclose(low[:2], [20.0 - radius, 736.0 - half], atol=1.0)
    np.testing.assert_allclose(high, [20.0 + radius, 740.0 + half, 430.0 + radius], atol=1.0)


@pytest.mark.parametrize(
    ("cut", "more", "found"),
    [
        ('opens = "right"\n', "", "where it opens"),
        ('along = "L1 L2"', 'along = "L1"', "two points or more"),
        ('along = "L1 L2"', 'along = "L1 L9"', "L9"),
        ("wall = 3", "wall = 30", "fill the section"),
        ("wall = 3", 'wall = 3\nwelds = [["L3"]]', "a weld runs along two points"),
        ("wall = 3", 'wall = 3\nwelds = [["L3", "L9"]]', "L9"),
        ("[fitup.wheel.left]", '[fitup.wheel.left]\ntyre = "fat one"', "no tyre's marking"),
        ("diameter = 40\n", "", "wants two spots and a diameter"),
        ('inward = "OR"', 'inward = "OL"', "are one"),
        ("begin = [10, 0, 0]", 'unit = "motor"', "no body to be placed"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_place(tmp_path: Path, cut: str, more: str, found: str) -> None:
    with pytest.raises(BuildProblems) as caught:
        load(write_folder(tmp_path, more, cut))
    (problem,) = caught.value.problems
    assert found in problem.found
    assert problem.write
    assert problem.line > 1
