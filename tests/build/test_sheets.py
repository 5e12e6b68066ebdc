"""[stock], [offcut] and [sheets]: what reads, and what is told where it cannot be."""

from pathlib import Path

import pytest

from halfshaft.build import BuildProblems, load

HEAD = '[build]\nname = "b"\n\n[body.car.point]\nP = {}\n\n[sheet.plate]\nthickness = "3/16 in"\n\n'


def read(folder: Path, text: str):
    (folder / "build.toml").write_text(HEAD + text, encoding="utf-8")
    (folder / "readings.csv").write_text("reading,points,value\n", encoding="utf-8")
    return load(folder)


def test_sheets_and_offcuts_read_in_any_unit(tmp_path: Path) -> None:
    build = read(
        tmp_path,
        """
[stock.big]
sheet = "plate"
size = ["8 ft", "4 ft"]
count = 2
rolling = 45
clamp = [{ side = "left", reach = "2 in", start = 100, end = "300 mm" }]
[offcut.bit]
sheet = "plate"
outline = [[0, 0], ["40 cm", 0], [400, 300]]
[sheets]
gap = "3/8 in"
first = ["frame plate"]
laid = [{ part = "a", copy = 2, sheet = "offcut.bit", at = ["1 in", 30], turn = 90 }]
""",
    )
    assert build.stock["big"].size_mm == pytest.approx((2438.4, 1219.2))
    assert build.stock["big"].clamp[0].reach_mm == pytest.approx(50.8)
    assert build.offcut["bit"].outline[1] == pytest.approx((400.0, 0.0))
    assert build.sheets is not None
    assert build.sheets.gap_mm == pytest.approx(9.525)
    assert build.sheets.laid[0].copy_ == 2
    assert build.sheets.laid[0].at_mm == pytest.approx((25.4, 30.0))


@pytest.mark.parametrize(
    ("text", "found", "write"),
    [
        ('[stock.s]\nsheet = "plat"\nsize = [1000, 500]', "the sheet 'plat' is not known", "plate"),
        ('[stock.s]\nsheet = "plate"\nsize = [1000, 5]', "a sheet of 1000 x 5 mm", "length and width"),
        ('[stock.s]\nsheet = "plate"\nsize = [1000]', "size", ""),
        (
            '[stock.s]\nsheet = "plate"\nsize = [1000, 500]\nclamp = [{ side = "left", reach = 1200 }]',
            "covers the whole sheet",
            "how far",
        ),
        (
            '[stock.s]\nsheet = "plate"\nsize = [1000, 500]\n'
            'clamp = [{ side = "left", reach = 20, start = 300, end = 200 }]',
            "ends before it starts",
            "start",
        ),
        ('[stock.s]\nsheet = "plate"\nsize = [1000, 500]\nrolling = "across"', "rolling", ""),
        ('[offcut.o]\nsheet = "plate"', "has no shape", "outline"),
        ('[offcut.o]\nsheet = "plate"\ndxf = "a.dxf"\noutline = [[0,0],[90,0],[0,90]]', "an outline and a drawing", ""),
        ('[offcut.o]\nsheet = "plate"\noutline = [[0,0],[100,100],[100,0],[0,100]]', "crosses itself", "in turn"),
        ('[offcut.o]\nsheet = "plate"\noutline = [[0,0],[100,100]]', "enclose no sheet", "in turn"),
        (
            '[offcut.o]\nsheet = "plate"\noutline = [[0,0],[100,0],[0,100]]\nopenings = [[[80,80],[130,80],[80,130]]]',
            "reaches over the edge",
            "",
        ),
        (
            '[offcut.o]\nsheet = "plate"\noutline = [[0,0],[300,0],[0,300]]\n'
            "openings = [[[20,20],[90,20],[20,90]], [[30,30],[95,25],[25,95]]]",
            "run into each other",
            "one hole",
        ),
        ('[offcut.o]\nsheet = "plate"\ndxf = "gone.dxf"', "there is no file", "in the folder"),
        ('[offcut.o]\nsheet = "plate"\ndxf = "../gone.dxf"', "outside the build folder", ""),
        ('[offcut.o]\nsheet = "plate"\ndxf = "gone.svg"', "is no DXF", ""),
        ('[sheets]\ntemplates = "plte"', "the sheet 'plte' is not known", "plate"),
        ('[sheets]\nfirst = ["bracket", "bracket"]', "stands twice", "once"),
        ('[sheets]\nlaid = [{ part = "a", sheet = "offcut.x", at = [1, 2] }]', "'offcut.x' is not known", ""),
        (
            '[sheets]\nlaid = [{ part = "a", sheet = "stock.plate 1", at = [1, 2] }, '
            '{ part = "a", sheet = "stock.plate 1", at = [9, 2] }]',
            "laid twice",
            "copy = 2",
        ),
    ],
)
def test_what_cannot_be_is_told_with_its_line_and_what_to_write(
    tmp_path: Path, text: str, found: str, write: str
) -> None:
    with pytest.raises(BuildProblems) as told:
        read(tmp_path, text + "\n")
    faults = told.value.problems
    assert any(found in f"{p.found} {p.write}" and write in p.write for p in faults), [str(p) for p in faults]
    assert all(p.line >= 9 for p in faults)
