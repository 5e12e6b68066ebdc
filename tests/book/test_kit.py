"""The kit: control readings that tell another car from the first, the form filled in, what the car became."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from halfshaft.book.control_form import form_csv, read_form
from halfshaft.book.kit import FORM, write_kit
from halfshaft.build import BuildProblems, new_build
from halfshaft.build.as_built import FILE, as_built
from halfshaft.build.kit import KitInput
from halfshaft.control import Controls, built_of, controls_of, judge
from halfshaft.control.other_car import among
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from halfshaft.study import Study, work


@pytest.fixture(scope="module")
def controls(corner: Study) -> Controls:
    assert corner.controls is not None
    return corner.controls


def nominal(controls: Controls) -> dict[int, float]:
    return {row.number: row.nominal for row in controls.rows}


def test_a_car_like_the_first_is_called_alike(controls: Controls) -> None:
    found = judge(controls, nominal(controls), "metric")
    assert found.alike
    assert not any(hole.out for hole in found.holes)


def test_a_row_left_empty_is_not_called_alike(controls: Controls) -> None:
    read = nominal(controls)
    del read[1]
    found = judge(controls, read, "metric")
    assert not found.alike
    assert found.words[0].startswith("Not read yet: 1.")


def test_tolerances_come_from_the_room_that_bolts_have(controls: Controls) -> None:
    room = dict(zip(controls.points, controls.room_mm, strict=True))
    for row in controls.rows:
        if row.kind == "tape":
            assert row.most == pytest.approx(room[row.names[0]] + room[row.names[1]])


def test_what_is_foreseen_is_what_the_block_formula_of_gaussians_says(controls: Controls) -> None:
    # S - S J' (J S J' + R)^-1 J S in one step, by numpy, against readings taken up one at a time
    index = {name: at for at, name in enumerate(controls.points)}
    tapes = [row for row in controls.rows if row.kind == "tape"]
    slopes = np.zeros((len(tapes), 3 * len(index)))
    for at, row in enumerate(tapes):
        i, j = (index[name] for name in row.names)
        way = controls.xyz_mm[j] - controls.xyz_mm[i]
        way = way / np.linalg.norm(way)
        slopes[at, 3 * i : 3 * i + 3], slopes[at, 3 * j : 3 * j + 3] = -way, way
    s = controls.covariance
    left = s - s @ slopes.T @ np.linalg.solve(slopes @ s @ slopes.T + np.diag([t.spread**2 for t in tapes]), slopes @ s)
    free = among(controls.xyz_mm)
    share = 1.0 - np.trace(free @ left @ free) / np.trace(free @ s @ free)
    assert controls.foreseen == pytest.approx(share, abs=1e-9)


def test_a_rigid_move_of_the_whole_car_is_no_difference(controls: Controls) -> None:
    free = among(controls.xyz_mm)
    move = np.cross(np.array([0.01, -0.02, 0.015]), controls.xyz_mm) + np.array([5.0, -3.0, 2.0])
    assert np.abs(free @ move.ravel()).max() < 1e-9


def test_a_hole_that_lies_elsewhere_is_named_with_what_to_do(controls: Controls) -> None:
    there = controls.xyz_mm.copy()
    there[0] += [6.0, 0.0, 0.0]
    where = dict(zip(controls.points, there, strict=True))
    read = nominal(controls)
    for row in controls.rows:
        if row.kind == "tape":
            read[row.number] = float(np.linalg.norm(where[row.names[1]] - where[row.names[0]]))
    found = judge(controls, read, "metric")
    assert not found.alike
    assert any(row.state == "off" for row in found.rows)
    assert any("take it again" in words for words in found.words)
    # as far as the tapes can tell, what they put elsewhere is what was put elsewhere
    worst = max(found.holes, key=lambda hole: hole.by_mm)
    assert worst.by_mm > 1.0


def test_the_form_filled_in_is_read_back(controls: Controls) -> None:
    lines = form_csv(controls, "metric").splitlines()
    lines[1] += "512.5"
    lines[2] += '"50,9 cm"' if controls.rows[1].unit == "mm" else "91"
    got = read_form("\n".join(lines), controls, "metric")
    assert got[1] == pytest.approx(512.5)
    if controls.rows[1].unit == "mm":
        assert got[2] == pytest.approx(509.0)
    assert set(got) == {1, 2}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "it is empty"),
        ("a,b\n1,2\n", "no column 'number'"),
        ("number,read\n99,5\n", "line 2: there is no control reading '99'"),
        ("number,read\n1,5 bananas\n", "line 2:"),
        ("number,read\n1,5\n1,6\n", "line 3: reading 1 stands twice"),
    ],
)
def test_a_form_with_faults_is_told_by_line(controls: Controls, text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read_form(text, controls, "metric")


def test_the_kit_holds_files_book_and_form_and_keeps_a_form_begun(corner: Study) -> None:
    made = {p.relative_to(corner.folder / "out" / "kit").as_posix() for p in (corner.folder / "out" / "kit").rglob("*")}
    wanted = {
        "cut/corner/corner.dxf",
        "templates/corner/corner-paper.pdf",
        "book/book.pdf",
        "control-readings.pdf",
        FORM,
    }
    assert wanted <= made
    form = corner.folder / "out" / "kit" / FORM
    before = form.read_bytes()
    lines = before.splitlines()
    form.write_bytes(b"\n".join([lines[0], lines[1] + b"123.4", *lines[2:]]))
    write_kit(corner)
    assert b"123.4" in form.read_bytes()
    form.write_bytes(before)


SPOTS = {
    "car": [(0, 400, 500), (400, 420, 480), (0, -400, 500), (400, -410, 470), (-300, 80, 540), (-300, -80, 590)],
    "unit": [(30, 200, 210), (20, -200, 215), (250, 300, 400), (250, -310, 430), (-200, 50, 380), (60, 15, 540)],
}


def hang(folder: Path) -> tuple[Study, Pose]:
    """Two bodies known from drawings, mocked up by tapes; then hung 6 mm and half a degree off, and taped again."""
    lines = ['[build]\nname = "two bodies"\n[body.car]\nroot = true']
    rows = ["reading, points, value"]
    for body, spots in SPOTS.items():
        lines += [f"[body.{body}.point]", *(f"{body[0].upper()}{n} = {{}}" for n in range(len(spots)))]
        rows += [f"given, {body[0].upper()}{n}, {x} {y} {z}" for n, (x, y, z) in enumerate(spots)]
    car, unit = (np.array(SPOTS[name], dtype=float) for name in ("car", "unit"))
    rng = np.random.default_rng(7)

    def taped(there: np.ndarray) -> list[str]:
        return [
            f"tape, U{i} C{j}, {np.linalg.norm(there[i] - car[j]) + rng.normal(0.0, 0.5):.1f}"
            for i in range(len(unit))
            for j in range(4)
        ]

    middle = unit.mean(axis=0)
    rotation = np.asarray(turn([0.0, 0.0, math.radians(0.5)]))
    move = Pose(rotation, middle - rotation @ middle + np.array([4.0, -3.0, 3.3]))
    folder.mkdir()
    (folder / "build.toml").write_text("\n".join(lines) + "\n")
    (folder / "readings.csv").write_text("\n".join([*rows, *taped(unit)]) + "\n")
    (folder / FILE).write_text("\n".join([rows[0], *taped(move.apply(unit))]) + "\n")
    return work(folder, until="measure"), move


def test_as_built_readings_tell_where_the_unit_moved(tmp_path: Path) -> None:
    study, move = hang(tmp_path / "b")
    found = built_of(study.build, as_built(study.folder), study.measured, {})
    (body,) = found.bodies
    assert body.name == "unit"
    assert body.turned_deg == pytest.approx(0.5, abs=0.25)
    for point in body.points:
        truth = move.apply(study.measured.points[point.name].xyz_mm) - study.measured.points[point.name].xyz_mm
        assert np.linalg.norm(point.moved_mm - truth) < 4.0 * max(point.spread_mm, 0.3)


def test_faults_of_as_built_are_told_by_file_and_line(tmp_path: Path) -> None:
    folder = tmp_path / "b"
    new_build(folder)
    (folder / FILE).write_text("reading, points, value\ntape, A NOBODY, 12\n")
    with pytest.raises(BuildProblems) as told:
        as_built(folder)
    assert told.value.problems[0].file == FILE
    assert told.value.problems[0].line == 2


def test_readings_are_no_more_than_the_builder_wants(corner: Study) -> None:
    told = corner.build.model_copy(update={"kit": KitInput(readings=2)})
    few = controls_of(told, corner.measured, corner.brackets)
    assert len([row for row in few.rows if row.kind == "tape"]) == 2
    (check,) = few.checks
    assert check.ok == (few.foreseen >= 0.9)
    assert "Let [kit] readings be more than 2" in check.do
    # what the builder wrote is no more assumed
    assert {row.where for row in few.assumed} == {
        f"kit.{key}" for key in ("other_car", "local", "together", "foreseen")
    }


def test_too_few_holes_on_the_car_are_told_where_brackets_are_wanted(corner: Study) -> None:
    found = controls_of(corner.build, corner.measured, {})
    assert found.rows == ()
    assert not found.checks[0].ok
    bare = corner.build.model_copy(update={"bracket": {}})
    assert controls_of(bare, corner.measured, {}).checks == ()
