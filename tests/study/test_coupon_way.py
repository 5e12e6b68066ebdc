"""A coupon cut, folded, measured and filled in: its depth takes the place of the default in the next cut."""

from __future__ import annotations

import json
from math import radians, tan
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from halfshaft.cli import app
from halfshaft.study import work
from tests.fold.test_coupon import folded
from tests.study import small

TRUE_MM = 1.3


def halfshaft(*words: object) -> tuple[int, str, str]:
    told = CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": "200"})
    return told.exit_code, told.stdout, told.stderr


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    build = small.write(tmp_path / "build")
    text = (build / "build.toml").read_text()
    (build / "build.toml").write_text(text.replace("pivot_depth = 0.7\n", ""))
    return build


def filled(table: Path) -> None:
    """Every tongue folded to 90 degrees in 4 mm plate, its heights those of slabs turned about the true depth."""
    height, reach = folded(TRUE_MM, 60.0, 60.0, 90.0, t=4.0)
    rows = [
        f"{line.split(',')[0]},4,60,60,90,{height:.4f},{reach:.4f}" if line.startswith("plate.") else line
        for line in table.read_text().splitlines()
    ]
    table.write_text("\n".join(rows))


def test_the_coupons_depth_takes_the_place_of_the_default(folder: Path) -> None:
    first = work(folder)
    table = folder / "out" / "coupons" / "coupon.plate-table.csv"
    assert table.is_file()
    assert any(row.where == "sheet.plate.pivot_depth" for row in first.assumed)
    filled(table)
    code, said, _ = halfshaft("coupon", folder, "plate", table)
    assert code == 0
    line = next(line for line in said.splitlines() if "pivot_depth" in line)
    assert line.strip() == f'pivot_depth = "{TRUE_MM:.2f} mm"'
    code, as_json, _ = halfshaft("coupon", folder, "plate", table, "--json")
    assert json.loads(as_json)["pivot_depth_mm"] == pytest.approx(TRUE_MM, abs=1e-3)

    text = (folder / "build.toml").read_text()
    (folder / "build.toml").write_text(text.replace("thickness = 4\n", f"thickness = 4\n{line}\n"))
    second = work(folder)
    assert not any(row.where == "sheet.plate.pivot_depth" for row in second.assumed)
    assert not any(file.kind == "dxf" and file.part == "coupon.plate" for file in second.files.files)
    before, after = first.brackets["corner"], second.brackets["corner"]
    for old, new in zip(before.folds, after.folds, strict=True):
        assert new.pivot_depth_mm == pytest.approx(TRUE_MM)
        assert new.pivot_depth_mm != pytest.approx(old.pivot_depth_mm, abs=0.05)
    # each side of a fold grows by p tan(theta / 2), docs/folding.md: so do the ways between holes across it in the flat
    fold_old, fold_new = before.folds[0], after.folds[0]
    grown = 2.0 * (TRUE_MM - fold_old.pivot_depth_mm) * tan(radians(fold_new.angle_deg / 2.0))
    assert across(after) - across(before) == pytest.approx(grown, abs=1e-6)


def across(bracket) -> float:  # type: ignore[no-untyped-def]
    """Way between a hole of the web and one of the flange in the flat, square to their fold."""
    part, fold = bracket.parts[0], bracket.folds[0]
    line = part.fold_lines_mm[fold.name]
    along = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    at = {hole.point: hole.centre_mm for hole in part.bores}
    apart = at["car.W1"] - at["car.F1"]
    return float(np.linalg.norm(apart - along * (apart @ along)))


@pytest.mark.parametrize(
    ("spoilt", "words"),
    [
        ("binary", ["is not plain text", "CSV"]),
        ("half", ["line 7: found 'abc' for height_mm; write", "line 8: angle_deg is empty", "line 9: 3 found of 7"]),
        ("blank", ["no folded tongue", "fill in"]),
        ("gone", ["is not there"]),
        ("folder", ["is a folder"]),
    ],
)
def test_a_table_that_cannot_be_read_is_told_in_plain_words(folder: Path, spoilt: str, words: list[str]) -> None:
    work(folder)
    table = folder / "out" / "coupons" / "coupon.plate-table.csv"
    if spoilt == "binary":
        table.write_bytes(bytes(range(256)))
    elif spoilt == "half":
        lines = table.read_text().splitlines()
        lines[6:9] = ["plate.1,4,60,60,90,abc,", "plate.2,4,60,60,,62.1,", "plate.3,4,60"]
        table.write_text("\n".join(lines))
    elif spoilt == "gone":
        table.unlink()
    elif spoilt == "folder":
        table = table.parent
    code, _, err = halfshaft("coupon", folder, "plate", table)
    assert code == 1
    assert "Traceback" not in err
    for one in words:
        assert one in err
    assert table.name in err


def test_a_table_saved_by_a_spreadsheet_with_semicolons_and_decimal_commas_is_read(folder: Path) -> None:
    work(folder)
    table = folder / "out" / "coupons" / "coupon.plate-table.csv"
    height, _ = folded(TRUE_MM, 60.0, 60.0, 90.0, t=4.0)
    cells = ["plate.1", "4,0", "60", "60", "90", f"{height:.3f}".replace(".", ","), ""]
    table.write_bytes(("\ufeff" + ";".join(cells) + "\r\n").encode())
    code, as_json, _ = halfshaft("coupon", folder, "plate", table, "--json")
    assert code == 0
    assert json.loads(as_json)["pivot_depth_mm"] == pytest.approx(TRUE_MM, abs=2e-3)
