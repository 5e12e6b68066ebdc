"""'halfshaft sheets' as a builder meets it: laid, told, a sheet taken off the stock, faults in plain words."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from halfshaft.build import load, new_build
from halfshaft.cli import app

RACK = """
[stock.rack]
sheet = "plate"
size = ["700 mm", "400 mm"]
count = 2
cost = 40
rolling = "length"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_build(tmp_path / "small")
    toml = tmp_path / "small" / "build.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + RACK, encoding="utf-8")
    return tmp_path / "small"


def test_parts_are_laid_and_a_sheet_that_was_cut_is_taken_off_the_stock(folder: Path) -> None:
    done = CliRunner().invoke(app, ["sheets", str(folder), "--json"])
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    (sheet,) = told["sheets"]
    assert sheet["sheet"] == "stock.rack 1"
    assert {part["part"] for part in sheet["parts"]} == {"corner", "coupon.plate"}
    # yield by hand: what the parts weigh over what the sheet does, holes aside
    assert 0.0 < sheet["parts_kg"] / sheet["sheet_kg"] <= sheet["of_sheet"] + 1e-9
    assert told["no_place"] == []
    assert all(check["ok"] for check in told["checks"])
    out = folder / "out" / "sheets"
    assert {p.suffix for p in out.iterdir() if p.is_file()} >= {".svg", ".dxf", ".csv", ".toml"}

    again = CliRunner().invoke(app, ["sheets", str(folder), "--cut", "stock.rack 1"])
    assert again.exit_code == 0, again.output
    build = load(folder)
    assert build.stock["rack"].count == 1
    assert build.sheets is not None
    assert set(build.sheets.done) == {"corner", "coupon.plate"}
    assert (folder / "rack_1_left.dxf").is_file()
    assert "no part to cut from sheet" in again.output
    assert not list(out.glob("*.svg"))  # what is done has no picture any more


def test_a_sheet_that_is_not_there_changes_nothing_and_is_told(folder: Path) -> None:
    before = (folder / "build.toml").read_bytes()
    done = CliRunner().invoke(app, ["sheets", str(folder), "--cut", "stock.rack 5"])
    assert done.exit_code == 1
    assert "there are: 'stock.rack 1'" in " ".join(done.output.split())
    assert (folder / "build.toml").read_bytes() == before
