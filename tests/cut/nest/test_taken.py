"""A sheet that was cut leaves the stock, its rest becomes an offcut, and the next layout uses that."""

from pathlib import Path

import ezdxf
import pytest
import shapely

from halfshaft.build import load
from halfshaft.cut.dxf import outline_of
from halfshaft.cut.nest.station import nest
from halfshaft.cut.sheet_files import write_sheets
from halfshaft.cut.sheet_picture import sheet_svg
from halfshaft.cut.sheet_taken import save_taken
from tests.cut.nest.cases import rectangle

BUILD = """\
[build]
name = "b"
seed = 3

[body.car.point]
P = {}

[sheet.plate]
thickness = 5

[stock.rack]              # what stands there
sheet = "plate"
size = [600, 400]
count = 2
cost = 60
rolling = "length"

[offcut.bit]
sheet = "plate"
outline = [[0, 0], [200, 0], [200, 120], [0, 120]]

[sheets]
laid = [{ part = "a", sheet = "stock.rack 1", at = [30, 30] }]
"""
PARTS = [rectangle("a", 300, 200), rectangle("b", 120, 60)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "build.toml").write_text(BUILD, encoding="utf-8")
    (tmp_path / "readings.csv").write_text("reading,points,value\n", encoding="utf-8")
    return tmp_path


def test_a_sheet_that_was_cut_is_gone_and_its_rest_is_an_offcut(folder: Path) -> None:
    build = load(folder)
    found = nest(build, folder, PARTS)
    assert {s.blank.name: [one.part.name for one in s.laid] for s in found.sheets} == {
        "stock.rack 1": ["a"],
        "offcut.bit": ["b"],
    }
    kept = save_taken(folder, build, found, "stock.rack 1")
    after = load(folder)
    assert after.stock["rack"].count == 1
    assert after.sheets is not None
    assert after.sheets.done == ("a",)
    assert after.sheets.laid == ()
    assert kept == ("rack_1_left",)
    assert after.offcut["rack_1_left"].rolling == 0.0
    assert "# what stands there" in (folder / "build.toml").read_text(encoding="utf-8")
    # the drawing has the leftover's very area, read by another library
    left = next(s for s in found.sheets if s.blank.name == "stock.rack 1").leftovers[0]
    assert outline_of(folder / "rack_1_left.dxf").area == pytest.approx(left.metal.area, rel=1e-6)
    # and the next part goes on it
    again = nest(after, folder, [*PARTS, rectangle("c", 180, 150)])
    assert {s.blank.name: [one.part.name for one in s.laid] for s in again.sheets} == {
        "offcut.bit": ["b"],
        "offcut.rack_1_left": ["c"],
    }
    assert all(c.ok for c in again.checks)


def test_copies_that_were_cut_are_counted_each(folder: Path) -> None:
    build = load(folder)
    many = [rectangle("wall", 300, 200, quantity=3)]
    found = nest(build, folder, many)
    first = found.sheets[0]
    names = {f"wall no. {one.copy}" for one in first.laid}
    assert 0 < len(names) < 3
    save_taken(folder, build, found, first.blank.name)
    after = load(folder)
    assert after.sheets is not None
    assert set(after.sheets.done) == names
    again = nest(after, folder, many)
    assert {f"wall no. {one.copy}" for one in again.laid} | names == {"wall no. 1", "wall no. 2", "wall no. 3"}
    assert not {f"wall no. {one.copy}" for one in again.laid} & names


def test_the_rest_of_an_offcut_takes_its_place(folder: Path) -> None:
    build = load(folder)
    save_taken(folder, build, nest(build, folder, PARTS), "offcut.bit")
    after = load(folder)
    assert set(after.offcut) == {"bit_left"}
    assert after.stock["rack"].count == 2


def test_a_sheet_that_is_not_laid_is_told_with_those_that_are(folder: Path) -> None:
    build = load(folder)
    before = (folder / "build.toml").read_bytes()
    with pytest.raises(ValueError, match=r"there are: 'offcut\.bit', 'stock\.rack 1'"):
        save_taken(folder, build, nest(build, folder, PARTS), "stock.rack 7")
    assert (folder / "build.toml").read_bytes() == before


def test_a_sheet_of_a_usual_size_must_be_told_first(folder: Path) -> None:
    text = BUILD.partition("[stock.rack]")[0]
    (folder / "build.toml").write_text(text, encoding="utf-8")
    build = load(folder)
    with pytest.raises(ValueError, match=r"tell it first, \[stock.plate\]"):
        save_taken(folder, build, nest(build, folder, PARTS), "stock.plate 1")


def test_a_sheet_with_a_clash_is_not_taken(folder: Path) -> None:
    text = BUILD.replace(
        "at = [30, 30] }]", 'at = [30, 30] }, { part = "b", sheet = "stock.rack 1", at = [100, 100] }]'
    )
    (folder / "build.toml").write_text(text, encoding="utf-8")
    build = load(folder)
    with pytest.raises(ValueError, match="may not be cut as it is laid"):
        save_taken(folder, build, nest(build, folder, PARTS), "stock.rack 1")


def test_files_are_written_and_read_back_by_another_library(folder: Path) -> None:
    build = load(folder)
    found = nest(build, folder, PARTS)
    files = write_sheets(build, found, folder / "out" / "sheets")
    assert {f.path for f in files.files} >= {"stock.rack-1.svg", "stock.rack-1.dxf", "offcuts-to-paste.toml"}
    drawing = ezdxf.readfile(folder / "out" / "sheets" / "stock.rack-1.dxf")
    rings = [[(x, y) for x, y, *_ in e.get_points()] for e in drawing.modelspace().query("LWPOLYLINE")]
    assert shapely.Polygon(rings[0]).bounds == pytest.approx((30.0, 30.0, 330.0, 230.0))
    # the pasted rows read as they stand
    paste = (folder / "out" / "sheets" / "offcuts-to-paste.toml").read_text(encoding="utf-8")
    for file in (folder / "out" / "sheets" / "offcuts").iterdir():
        (folder / file.name).write_bytes(file.read_bytes())
    (folder / "build.toml").write_text(BUILD + "\n" + paste, encoding="utf-8")
    assert "rack_1_left" in load(folder).offcut


def test_the_picture_names_every_part_and_its_yield(folder: Path) -> None:
    found = nest(load(folder), folder, PARTS)
    text = sheet_svg(found.sheets[1])
    assert "1  a" in text
    assert "25 % of the sheet" in text  # 300 x 200 of 600 x 400
    assert "rolled this way" in text
    assert "kept: rack_1_left" in text


def test_the_price_of_a_sheet_is_that_of_what_is_used_up(folder: Path) -> None:
    sheet = nest(load(folder), folder, PARTS).sheets[1]
    assert sheet.cost == pytest.approx(60.0 * (1.0 - sheet.kept_mm2 / 240_000.0))
    assert sheet.parts_kg == pytest.approx(0.3 * 0.2 * 0.005 * 7850.0)


@pytest.mark.parametrize(
    ("draw", "area"),
    [
        ("loop", 400.0 * 300.0),
        ("arcs", 100.0 * 100.0 + 3.14159265 * 50.0**2),
        ("hole", 400.0 * 300.0 - 3.14159265 * 40.0**2),
    ],
)
def test_an_offcut_drawn_elsewhere_is_read(tmp_path: Path, draw: str, area: float) -> None:
    drawing = ezdxf.new("R2010")
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    corners = [(10, 10), (410, 10), (410, 310), (10, 310)]
    if draw == "arcs":  # a slot of lines and arcs, drawn in no order
        space.add_line((0, 0), (100, 0))
        space.add_arc((0, 50), 50, 90, 270)
        space.add_line((100, 100), (0, 100))
        space.add_arc((100, 50), 50, 270, 90)
    else:
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            space.add_line(b, a)
    if draw == "hole":
        space.add_circle((200, 150), 40)
    space.add_text("a note")
    drawing.saveas(tmp_path / "bit.dxf")
    assert outline_of(tmp_path / "bit.dxf").area == pytest.approx(area, rel=1e-3)


def test_a_drawing_in_inches_is_read_in_inches(tmp_path: Path) -> None:
    drawing = ezdxf.new("R2010")
    drawing.header["$INSUNITS"] = 1
    drawing.modelspace().add_lwpolyline([(0, 0), (10, 0), (10, 5), (0, 5)], close=True)
    drawing.saveas(tmp_path / "bit.dxf")
    assert outline_of(tmp_path / "bit.dxf").area == pytest.approx(50.0 * 25.4**2)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([((0, 0), (100, 0)), ((100, 0), (100, 100))], "no closed outline"),
        ([], "no lines, arcs or polylines"),
        (
            [
                ((0, 0), (100, 0)),
                ((100, 0), (100, 100)),
                ((100, 100), (0, 100)),
                ((0, 100), (0, 0)),
                ((50, 0), (50, 100)),
            ],
            "cross the outline",
        ),
    ],
)
def test_a_drawing_without_an_outline_says_what_it_lacks(tmp_path: Path, lines, words: str) -> None:
    drawing = ezdxf.new("R2010")
    for a, b in lines:
        drawing.modelspace().add_line(a, b)
    drawing.saveas(tmp_path / "bit.dxf")
    with pytest.raises(ValueError, match=words):
        outline_of(tmp_path / "bit.dxf")
