"""The command line as a builder meets it: from an empty folder to files, and clear words where something is wrong."""

import json
import subprocess
import sys
from functools import partial
from pathlib import Path

import ezdxf
import pytest
from typer.testing import CliRunner

from halfshaft.cli import app
from halfshaft.memory import Memory
from halfshaft.study import work


def halfshaft(*words: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from halfshaft.cli import main; main()", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def memory() -> Memory:
    return Memory()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("builds") / "demo"
    made = halfshaft("new", folder, "--demo")
    assert made.returncode == 0, made.stderr
    return folder


@pytest.fixture(scope="module")
def told(demo: Path) -> dict[str, object]:
    done = halfshaft("run", demo, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_demo_ends_in_cut_files_for_two_front_brackets_and_a_rear_one(demo: Path, told: dict) -> None:
    for part in ("front_left", "front_right", "rear"):
        for ending in (".dxf", ".svg", ".step", "-paper.pdf"):
            assert (demo / "out" / part / f"{part}{ending}").stat().st_size > 500
        assert (demo / "out" / part / "shop-sheet.pdf").read_bytes().startswith(b"%PDF")
        assert not ezdxf.readfile(demo / "out" / part / f"{part}.dxf").audit().errors
    assert {f["path"] for f in told["files"]} <= {
        str(p.relative_to(demo / "out")) for p in (demo / "out").rglob("*") if p.is_file()
    }


def test_the_first_outline_hits_the_hidden_panel_and_gets_nothing_to_cut(demo: Path, told: dict) -> None:
    hits = [c for c in told["checks"] if "hidden_gusset" in c["about"] and not c["ok"]]
    assert [c["severity"] for c in hits] == ["stop"]
    assert "front_left_first_try" in hits[0]["about"]
    assert [p.name for p in (demo / "out" / "front_left_first_try").iterdir()] == ["refused.pdf"]


def test_three_slips_were_hidden_and_three_are_named(told: dict) -> None:
    # the demo's readings.csv hides these three, see demo/make.py
    assert sorted(s["reading"] for s in told["measured"]["slips"]) == [
        "tape WL1 WR2",
        "tape WR2 CM2",
        "tape unit.OL unit.AR2",
    ]


def test_every_check_has_a_source_and_every_assumed_value_a_key_to_write(told: dict) -> None:
    assert all(c["source"] and c["do"] for c in told["checks"])
    assert all(a["write"] and a["source"] for a in told["assumed"])


@pytest.mark.parametrize("station", ["measure", "fold", "cut", "checks"])
def test_each_station_has_a_table_for_people_and_json_for_programs(
    demo: Path, memory: Memory, station: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("halfshaft.commands.common.work", partial(work, memory=memory))
    people, programs = (CliRunner().invoke(app, [station, str(demo), *more]) for more in ((), ("--json",)))
    assert people.exit_code == programs.exit_code == 0, people.output + programs.output
    assert len(people.stdout.splitlines()) > 5
    assert json.loads(programs.stdout)


def test_a_new_build_is_complete_enough_to_run(tmp_path: Path) -> None:
    assert halfshaft("new", tmp_path / "mine").returncode == 0
    done = halfshaft("run", tmp_path / "mine")
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_folder_with_anything_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    done = halfshaft("new", tmp_path)
    assert done.returncode == 1
    assert "not empty" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


def test_all_faults_are_told_at_once_with_file_and_line_and_no_traceback(tmp_path: Path) -> None:
    folder = tmp_path / "build"
    halfshaft("new", folder)
    text = (folder / "build.toml").read_text()
    (folder / "build.toml").write_text(text + '\n[shop.wrong]\nkerff = "1 mm"\n')
    readings = (folder / "readings.csv").read_text()
    (folder / "readings.csv").write_text(readings + "tape, ONLYONE, 12 mm\n")
    before = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
    done = halfshaft("run", folder)
    assert done.returncode == 1
    assert "build.toml line" in done.stderr
    assert f"readings.csv line {len(readings.splitlines()) + 1}" in done.stderr
    assert "Traceback" not in done.stderr
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before


def test_the_same_build_gives_the_same_files(demo: Path, told: dict, memory: Memory) -> None:
    def contents() -> dict[str, bytes]:
        return {
            str(p): p.read_bytes() for p in sorted((demo / "out").rglob("*")) if p.suffix in (".dxf", ".svg", ".step")
        }

    before = contents()
    work(demo, memory=memory)
    assert contents() == before


def test_a_filled_coupon_gives_the_sheets_own_depth(demo: Path, told: dict) -> None:
    tables = list((demo / "out" / "coupons").glob("*-table.csv"))
    assert tables
    empty = halfshaft("coupon", demo, "thin", tables[0])
    assert empty.returncode == 1
    assert "Traceback" not in empty.stderr
    unknown = halfshaft("coupon", demo, "thim", tables[0])
    assert unknown.returncode == 1
    assert "thin" in unknown.stderr
