"""Mounts as a builder meets them: a small build with [mounts] worked by the study and shown by the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from halfshaft.cli import app
from halfshaft.memory import Memory
from halfshaft.study import work
from tests.study import small

MOUNTS = """
[mounts]
motor_torque = 60
ratio = 8
mass = 70
centre = [120, 200, 450]
inertia = [2, 2, 2]
[mounts.rubber.own]
stiffness = [2000, 2000, 2000]
turn_stiffness = [20, 20, 20]
[mounts.mount.fore]
at = [180, 380, 450]
axis = "up"
rubber = "own"
joint.web = { bolts = "W1 W2", bolt = "M12", face = "web", thickness = 8, wall = 4, surface = "C" }
[mounts.mount.aft]
at = [60, 330, 500]
axis = "up"
rubber = "own"
joint.top = { bolts = "F1 F3", bolt = "M12", face = "flange", thickness = 8, wall = 4 }
[mounts.mount.end]
at = [252, 60, 440]
axis = "up"
rubber = "own"
weld.seam = { along = ["E3", "E1", "E2"], throat = 4, wall = 6 }
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = small.write(tmp_path_factory.mktemp("held") / "build")
    path = made / "build.toml"
    path.write_text(path.read_text() + MOUNTS)
    return made


def test_mounts_have_tables_for_people_and_json_for_programs(folder: Path) -> None:
    shown = CliRunner().invoke(app, ["mounts", str(folder), "--all"], env={"COLUMNS": "200"})
    assert shown.exit_code == 0, shown.output
    for words in ("Forces on the mounts", "Mount fore, worst first", "gives way first", "launch", "licensed engineer"):
        assert words in shown.output
    told = json.loads(CliRunner().invoke(app, ["mounts", str(folder), "--json"]).output)
    assert [m["name"] for m in told["mounts"]] == ["fore", "aft", "end"]
    assert len(told["cases"]) == len(told["mounts"][0]["force_n"])
    assert all(check["source"] for mount in told["mounts"] for check in mount["checks"])


def test_checks_and_assumed_values_of_mounts_join_the_first_page_and_are_remembered(folder: Path) -> None:
    memory = Memory()
    first = work(folder, until="cut", memory=memory)
    assert first.mounts is not None
    assert first.mounts.held
    assert {c for c in first.checks if c.station == "mounts"} == set(first.mounts.checks)
    assert any(a.where == "mounts.bump" for a in first.assumed)
    again = work(folder, until="cut", memory=memory)
    assert again.mounts is first.mounts


def test_a_build_without_mounts_is_told_what_to_write(tmp_path: Path) -> None:
    bare = small.write(tmp_path / "bare")
    shown = CliRunner().invoke(app, ["mounts", str(bare)])
    assert shown.exit_code == 1
    assert "write the torque and each mount" in " ".join((shown.output + shown.stderr).split())
