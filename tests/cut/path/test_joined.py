"""From a build folder to code on disk: the small build, worked and read by a control of its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from halfshaft import plain_paths, tables_paths
from halfshaft.build import BuildProblems, load
from halfshaft.build.schema import Cutter
from halfshaft.cut.path.station import path_files, paths_of
from halfshaft.study import Study, work
from tests.cut.path import shop_floor
from tests.cut.path.rs274 import run
from tests.study import small

CUTTER = """
[cutter]
lead_in = 4
[cutter.code]
torch_on = "M64 P1"
torch_off = "M65 P1"
ending = "tap"
[cutter.price]
hour = 45
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = small.write(tmp_path_factory.mktemp("paths") / "build")
    with (folder / "build.toml").open("a", encoding="utf-8") as build:
        build.write(CUTTER)
    return work(folder, until="sheets")


def test_the_code_on_disk_cuts_every_part_of_the_sheet(study: Study) -> None:
    assert study.paths is not None
    assert study.sheets is not None
    for path, name, sheet in zip(study.paths.sheets, study.paths.files, study.sheets.sheets, strict=True):
        text = (study.folder / "out" / "sheets" / name).read_text(encoding="ascii")
        steps = run(text, path.setup.rapid_mm_min, ("M64 P1", "M65 P1"))
        assert shop_floor.faults(steps, path.stock.outline, path.setup.edge_clear_mm + path.setup.kerf_mm / 2.0) == []
        gone = shop_floor.swath(shop_floor.burns(steps), path.setup.kerf_mm)
        for one in sheet.laid:
            figures = tuple(figure for figure in one.figures if figure.layer in ("bore", "slit", "cut"))
            whole = shapely.Polygon(figures[-1].shape.flattened_mm(1e-3))
            came = shop_floor.dropped(path.stock.outline, gone, whole.buffer(-4.0))
            wanted = shop_floor.reachable(figures, path.setup.kerf_mm, path.setup.least_hole_mm)
            # a slit that ends on a relief leaves a cusp without end: judged by how thick what differs is
            assert came.symmetric_difference(wanted).buffer(-0.01).is_empty
        assert sum(step.seconds for step in steps) == pytest.approx(path.estimate.seconds, rel=1e-3)


def test_tables_and_json_tell_the_same_time_and_cost(study: Study) -> None:
    assert study.paths is not None
    told = plain_paths.paths(study.paths)
    assert told["seconds"] == pytest.approx(sum(sheet["seconds"] for sheet in told["sheets"]))
    assert told["cost"] == pytest.approx(45.0 * told["seconds"] / 3600.0)
    rows = tables_paths.paths_table(study.paths, "metric").rows
    assert [row[1] for row in rows] == [sheet["file"] for sheet in told["sheets"]]
    assert tables_paths.paths_table(study.paths, "inch").rows[0][2].endswith("in/min")
    assert any(row[0] == "in all, of what has a price" for row in tables_paths.taken_table(study.paths).rows)
    assert len(tables_paths.cuts_table(study.paths.sheets[0], "inch").rows) == len(told["sheets"][0]["cuts"])


def test_what_is_not_told_is_listed_with_its_source(study: Study) -> None:
    assert study.paths is not None
    named = {row.where for row in study.paths.assumed}
    assert {"cutter.rapid", "cutter.good_side", "cutter.setting"} <= named
    assert not {"cutter.lead_in", "cutter.tab_width", "cutter.mark_feed"} & named
    assert all(check in study.checks for check in study.paths.checks)


def test_a_torch_guided_by_hand_gets_no_code(study: Study) -> None:
    assert study.sheets is not None
    by_hand = study.build.model_copy(update={"shop": study.build.shop.model_copy(update={"cutter": Cutter.HAND})})
    paths = paths_of(by_hand, study.sheets)
    assert paths.sheets == ()
    assert path_files(by_hand, paths) == {}
    assert tables_paths.paths_table(paths, "metric").rows == ()


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        ('[cutter.code]\ntorch_on = "G1 X5"', "would move the machine"),
        ('[cutter.code]\ntorch_on = "light it"', "no line of code"),
        ('[cutter.code]\ntorch_on = "M5"', "torch_on and torch_off are both 'M5'"),
        ('[[cutter.setting]]\nthickness = 4\nfeed = "fast"', "not a feed"),
        ('[[cutter.setting]]\nthickness = 4\nfeed = 2000\nmaterial = "mild stel S275"', "mild stel S275"),
        ("[cutter]\nlead_inn = 4", "lead_inn"),
        (
            "[[cutter.setting]]\nthickness = 4\nfeed = 2000\npierce_height = 1\ncut_height = 2",
            "the pierce is lower than the cut",
        ),
    ],
)
def test_faults_are_told_by_line(tmp_path: Path, lines: str, found: str) -> None:
    folder = small.write(tmp_path / "build")
    text = (folder / "build.toml").read_text(encoding="utf-8")
    (folder / "build.toml").write_text(f"{text}\n{lines}\n", encoding="utf-8")
    with pytest.raises(BuildProblems) as raised:
        load(folder)
    told = [problem for problem in raised.value.problems if found in f"{problem.found} {problem.write}"]
    assert told, [str(problem) for problem in raised.value.problems]
    assert told[0].line is not None
    assert told[0].line > len(text.splitlines())


def test_marks_of_the_part_are_not_lost_when_a_name_is_etched(study: Study) -> None:
    assert study.sheets is not None
    marked = study.build.model_copy(update={"cutter": study.build.cutter.model_copy(update={"marker": True})})
    paths = paths_of(marked, study.sheets)
    strokes = sum(
        float(np.linalg.norm(np.diff(figure.shape.points_mm, axis=0), axis=1).sum())
        for sheet in study.sheets.sheets
        for one in sheet.laid
        for figure in one.figures
        if figure.layer == "mark"
    )
    assert strokes > 0.0
    assert sum(path.estimate.mark_mm for path in paths.sheets) == pytest.approx(strokes, rel=1e-3)
