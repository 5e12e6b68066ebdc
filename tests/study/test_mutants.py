"""Spoiled builds through the whole study: worked, refused by a check, or told in words; the builder's files stay."""

from __future__ import annotations

import json
import os
import shutil
import tomllib
from pathlib import Path
from random import Random

import pytest
import tomlkit
from typer.testing import CliRunner

from halfshaft import plain
from halfshaft.build import BuildProblems
from halfshaft.checks import Severity
from halfshaft.cli import app
from halfshaft.cut import Unwritable
from halfshaft.memory import Memory
from halfshaft.study import Study, work
from tests.build.test_mutated import snapshot, spoil
from tests.study import any_key, mutations, small

BATCHES = 6
EACH = int(os.environ.get("HALFSHAFT_MUTANTS", "30")) // BATCHES


def written(folder: Path) -> dict[str, bytes | None]:
    """Everything in the folder but what the study itself puts into out."""
    return {path: data for path, data in snapshot(folder).items() if path.split(os.sep)[0] != "out"}


def outcome(folder: Path, memory: Memory, until: str = "cut") -> Study | tuple[str, ...]:
    """The study, told as the command line tells it, or problems in words; anything else raised goes through."""
    before = written(folder)
    try:
        study = work(folder, until=until, memory=memory)
        rows = [plain.measured(study.measured), plain.next_readings(study.measure_next)]
        rows += [plain.bracket(bracket) for bracket in study.brackets.values()]
        rows += [plain.check(check) for check in study.checks]
        json.dumps(rows, allow_nan=False)
        assert all(bracket.parts or not all(c.ok for c in bracket.checks) for bracket in study.brackets.values())
    except BuildProblems as told:
        return tuple(map(str, told.problems))
    except Unwritable as why:
        return (str(why),)
    finally:
        assert written(folder) == before
        assert not list(folder.rglob(".part-*"))
    return study


@pytest.fixture(scope="module")
def memory() -> Memory:
    return Memory()


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small.write(tmp_path_factory.mktemp("original") / "build")


@pytest.fixture
def folder(original: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(original, tmp_path / "build"))


def rewrite(folder: Path, *keys: str | int, value: object) -> None:
    """Put one value into build.toml."""
    build = tomllib.loads((folder / "build.toml").read_text())
    inner = build
    for key in keys[:-1]:
        inner = inner[key]
    inner[keys[-1]] = value
    (folder / "build.toml").write_text(tomlkit.dumps(build))


def test_the_small_build_itself_is_worked_to_files(folder: Path, memory: Memory) -> None:
    study = outcome(folder, memory)
    assert isinstance(study, Study)
    assert not [check for check in study.checks if not check.ok and check.severity is Severity.STOP]
    assert (folder / "out" / "corner" / "corner.dxf").is_file()


@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_build_that_means_something_hard_is_worked_or_told(
    batch: int, original: Path, memory: Memory, tmp_path: Path
) -> None:
    worked = 0
    for number in range(batch * EACH, (batch + 1) * EACH):
        changed = Path(shutil.copytree(original, tmp_path / str(number)))
        mutations.change(changed, Random(7000 + number))
        worked += isinstance(outcome(changed, memory, "cut" if number % 3 == 0 else "fold"), Study)
    # a mutator whose builds never got past loading would show nothing
    assert worked > EACH // 2


@pytest.mark.parametrize("batch", range(BATCHES // 2))
def test_a_build_with_any_key_or_reading_changed_is_worked_or_told(
    batch: int, original: Path, memory: Memory, tmp_path: Path
) -> None:
    for number in range(batch * EACH, (batch + 1) * EACH):
        changed = Path(shutil.copytree(original, tmp_path / str(number)))
        any_key.change_any(changed, Random(9000 + number))
        outcome(changed, memory, "cut" if number % 3 == 0 else "fold")


def test_a_build_with_spoiled_text_is_worked_or_told(original: Path, memory: Memory, tmp_path: Path) -> None:
    for number in range(5 * EACH):
        changed = Path(shutil.copytree(original, tmp_path / str(number)))
        spoil(changed, Random(8000 + number))
        outcome(changed, memory, "fold")


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        (("panel", "flange", "holes", 1, "boss"), 1e6),
        (("panel", "flange", "holes", 1, "slot_length"), 1e6),
        (("stiffener",), {"rib": {"on": "web", "height": 1e6}}),
    ],
    ids=["boss", "slot", "stiffener"],
)
def test_a_panel_that_no_sheet_is_long_enough_for_is_refused(
    folder: Path, memory: Memory, keys: tuple[str | int, ...], value: object
) -> None:
    rewrite(folder, "bracket", "corner", *keys, value=value)
    study = outcome(folder, memory)
    assert isinstance(study, Study)
    stops = {check.title for check in study.checks if not check.ok and check.severity is Severity.STOP}
    assert "Larger than any sheet" in stops
    assert not (folder / "out" / "corner" / "corner.dxf").exists()


def test_an_obstacle_of_a_kilometre_beside_the_bracket_is_one_like_any_other(folder: Path, memory: Memory) -> None:
    rewrite(folder, "obstacle", "line", value={"box": [[-5e5, 407, -5e5], [5e5, 1e6, 5e5]], "clearance": 5.0})
    study = outcome(folder, memory, "fold")
    assert isinstance(study, Study)
    tight = [c for c in study.checks if c.title == "Little room to an obstacle" and c.about.endswith("line")]
    assert tight
    assert all(c.found is not None and 0.0 <= c.found < 5.0 for c in tight)


@pytest.mark.parametrize("kind", ["garbage", "many", "huge", "endless", "no number"])
def test_a_mesh_that_is_none_is_told_in_plain_words(
    folder: Path, memory: Memory, kind: str, recwarn: pytest.WarningsRecorder
) -> None:
    (folder / "part.stl").write_bytes(mutations.MESHES[kind])
    rewrite(folder, "obstacle", "part", value={"mesh": "part.stl"})
    study = outcome(folder, memory, "fold")
    assert isinstance(study, Study)
    assert not recwarn.list
    told = [c.do for c in study.checks if c.about == "obstacle part" and c.title == "Obstacle cannot be placed"]
    assert len(told) == 1
    assert "part.stl" in told[0]
    assert "module" not in told[0]


@pytest.mark.parametrize("side", ["width", "height"])
def test_a_template_that_no_one_can_hold_is_refused(folder: Path, memory: Memory, side: str) -> None:
    rewrite(folder, "opening", "way", side, value=1e6)
    study = outcome(folder, memory)
    assert isinstance(study, Study)
    assert "Template larger than any sheet" in {c.title for c in study.checks if not c.ok}
    assert not list((folder / "out").glob("openings/*"))


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        (("sheet", "plate", "yield"), 1.7e308),
        (("sheet", "plate", "ultimate"), 1e300),
        (("shop", "hand_force"), 5e-324),
        (("shop", "hand_force"), 1e300),
    ],
)
def test_a_value_that_no_metal_or_hand_has_is_told_by_its_key(
    folder: Path, memory: Memory, keys: tuple[str, ...], value: float
) -> None:
    rewrite(folder, *keys, value=value)
    told = outcome(folder, memory)
    assert isinstance(told, tuple)
    assert keys[-1] in told[0]
    assert "Write at" in told[0]


@pytest.mark.parametrize("width", [1e-9, 1.5])
def test_an_opening_no_wider_than_the_cut_is_refused(folder: Path, memory: Memory, width: float) -> None:
    rewrite(folder, "opening", "way", "width", value=width)
    study = outcome(folder, memory)
    assert isinstance(study, Study)
    assert "Opening no wider than the cut" in {check.title for check in study.checks if not check.ok}
    assert not list((folder / "out").glob("openings/*"))


@pytest.mark.parametrize("boss", [5e-324, 1e-9, 1e-3, 2.0])
def test_a_cover_whose_bosses_leave_no_metal_is_refused(folder: Path, memory: Memory, boss: float) -> None:
    bolts = [{"at": "W3", "bolt": "M8", "boss": boss}]
    rewrite(folder, "bracket", "corner", "join", value=[{"on": "web", "cover": "lid", "bolts": bolts}])
    rewrite(folder, "bracket", "corner", "panel", "lid", value={})
    study = outcome(folder, memory)
    assert isinstance(study, Study)
    assert {check.severity for check in study.brackets["corner"].checks if not check.ok} >= {Severity.STOP}
    assert not (folder / "out" / "corner" / "corner.dxf").exists()


@pytest.mark.parametrize("blocked", ["out", "out/corner", "out/corner/corner.dxf/x", "out/openings/opening.way.svg/x"])
def test_a_folder_that_cannot_be_written_is_told_in_words(folder: Path, blocked: str) -> None:
    (folder / blocked).parent.mkdir(parents=True, exist_ok=True)
    (folder / blocked).write_text("mine")
    before = snapshot(folder)
    told = CliRunner().invoke(app, ["run", str(folder)])
    assert told.exit_code == 1
    assert isinstance(told.exception, SystemExit)
    assert "nothing was written" in told.stderr
    # a file in the way is the builder's: it stays, and nothing half-made lies beside it
    assert {path: data for path, data in snapshot(folder).items() if data is not None} == {
        path: data for path, data in before.items() if data is not None
    }


@pytest.mark.parametrize("command", ["run", "measure", "fold", "cut", "checks"])
@pytest.mark.parametrize("case", ["missing", "empty", "garbage", "a file", "half"])
def test_a_folder_that_is_no_build_is_told_in_words(tmp_path: Path, command: str, case: str) -> None:
    folder = tmp_path / "build"
    if case == "a file":
        folder.write_text("mine")
    elif case != "missing":
        folder.mkdir()
    if case in ("garbage", "half"):
        dice = Random(3)
        (folder / "build.toml").write_bytes(dice.randbytes(3000))
        if case == "garbage":
            (folder / "readings.csv").write_bytes(dice.randbytes(3000))
    told = CliRunner().invoke(app, [command, str(folder)])
    assert told.exit_code == 1
    assert isinstance(told.exception, SystemExit)
    assert "put right" in told.stderr
    assert not (folder / "out").exists()
