"""A whole run leaves long work to who asks for it, and shows what was worked for the very same build."""

from __future__ import annotations

from pathlib import Path

from halfshaft.memory import Memory
from halfshaft.study import Study, work
from tests.pack.test_box import BOX, SHEETS
from tests.pack.test_station import PACK, written

# one module in a box as plain as can be: quick to lay
ONE = PACK.replace("series = 4", "series = 1") + BOX + "lid = false\nstraps = 0\nfeet = 4\n"
STOCK = '[stock.rack]\nsheet = "thin"\nsize = [2000, 1000]\ncount = 3\n'


def on_sheets(study: Study) -> set[str]:
    assert study.sheets is not None
    return {one.part.name for sheet in study.sheets.sheets for one in sheet.laid}


def left_out(study: Study) -> bool:
    return any(check.title == "Boxes are not on the sheets" and not check.ok for check in study.checks)


def test_battery_boxes_stay_on_the_sheets_when_the_book_is_made_after_them(tmp_path: Path) -> None:
    folder = written(tmp_path, SHEETS + STOCK + ONE)
    memory = Memory()
    asked = work(folder, until="sheets", memory=memory)
    boxes = on_sheets(asked)
    assert boxes
    whole = work(folder, until="cut", memory=memory)
    assert on_sheets(whole) == boxes
    assert whole.sheets is asked.sheets
    assert not left_out(whole)

    # another build: nothing is known of it, and that is told
    toml = folder / "build.toml"
    toml.write_text(toml.read_text(encoding="utf-8").replace("30 kW", "31 kW", 1), encoding="utf-8")
    other = work(folder, until="cut", memory=memory)
    assert not on_sheets(other)
    assert left_out(other)
