"""The tests' own control: it refuses what a control refuses, and the checks built on it can fail."""

from __future__ import annotations

import math

import pytest
import shapely

from tests.cut.path import shop_floor
from tests.cut.path.rs274 import Wrong, run

HEAD = "G21 G90\n"


def test_lengths_arcs_and_times_by_hand() -> None:
    text = HEAD + "G0 X10 Y0\nM3\nG4 P0.5\nG1 X20 F600\nG3 X10 Y10 I-10 J0\nG2 X10 Y10 I5 J0\nM5\nG0 X0 Y0\nM2\n"
    steps = run(text, 6000.0)
    lengths = [step.length for step in steps]
    assert lengths == pytest.approx([10.0, 0.0, 10.0, 5.0 * math.pi, 10.0 * math.pi, math.sqrt(200.0)])
    # 10 mm at 600 mm/min is a second; 10 mm at 6000 mm/min a tenth
    assert [step.seconds for step in steps[:4]] == pytest.approx([0.1, 0.5, 1.0, 0.5 * math.pi])
    assert [step.on for step in steps] == [False, True, True, True, True, False]
    assert steps[3].sweep == pytest.approx(math.pi / 2.0)
    assert steps[4].sweep == pytest.approx(-2.0 * math.pi)  # a whole turn: start and end are one


def test_inches_increments_line_numbers_and_comments_are_read() -> None:
    steps = run("N10 G20 G91 (a note)\nN20 G0 X1 Y2 ; another\nN30 G1 X-.5 F10\nM30\n", 6000.0)
    assert steps[-1].end == pytest.approx((12.7, 50.8, 0.0))
    assert steps[-1].seconds == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("G21 G90\nG1 X5\nM2", "no feed"),
        ("G21 G90\nG0 G1 X5 F10\nM2", "two words of the group"),
        ("G21 G90 G1 F100\nX10\nG2 X20 Y0 I5.01 J0\nM2", "radii"),
        ("G21 G90 G1 F100\nG2 X20 Y0\nM2", "without a centre"),
        ("G90\nG0 X5\nM2", "before units"),
        ("G21 G90\nM3\nM2", "ends with the torch on"),
        ("G21 G90\nM3\nM3\nM2", "already"),
        ("G21 G90\nG0 X1 X2\nM2", "stands twice"),
        ("G21 G90\nG0 X5", "does not end"),
        ("G21 G90\nM2\nG0 X5", "after the end"),
        ("G21 G90\nG0 X5 here\nM2", "no word"),
        ("G21 G90\nG41\nM2", "has no place here"),
        ("G21 G90\nM64 P1\nM2", "M64"),
    ],
)
def test_what_a_control_refuses_is_refused(text: str, words: str) -> None:
    with pytest.raises(Wrong, match=words):
        run(text, 6000.0)


SQUARE = HEAD + "G0 X9 Y9\n{lit}G1 X31 F600\nY31\nX9\nY9\n{out}G0 X0 Y0\nM2\n"


def test_a_rapid_with_the_torch_on_and_a_cut_off_the_sheet_are_seen() -> None:
    sheet = shapely.box(0, 0, 40, 40)
    good = run(SQUARE.format(lit="M3\n", out="M5\n"), 6000.0)
    assert shop_floor.faults(good, sheet, 2.0) == []
    lit = run(SQUARE.format(lit="M3\n", out="G0 X20\nM5\n"), 6000.0)
    assert any("rapid with the torch on" in fault for fault in shop_floor.faults(lit, sheet, 2.0))
    dark = run(SQUARE.format(lit="", out=""), 6000.0)
    assert any("nothing on" in fault for fault in shop_floor.faults(dark, sheet, 2.0))
    assert any("leaves the sheet" in fault for fault in shop_floor.faults(good, sheet, 9.5))


def test_a_part_cut_a_twentieth_of_a_mm_too_small_is_seen() -> None:
    sheet, wanted = shapely.box(0, 0, 40, 40), shapely.box(10, 10, 30, 30)
    burns = shop_floor.burns(run(SQUARE.format(lit="M3\n", out="M5\n"), 6000.0))
    # the path is 1 mm outside the part: right for a kerf of 2 mm
    right = shop_floor.dropped(sheet, shop_floor.swath(burns, 2.0), wanted)
    assert shop_floor.apart(right, wanted) < 1e-6
    small = shop_floor.dropped(sheet, shop_floor.swath(burns, 2.1), wanted)
    assert shop_floor.apart(small, wanted) == pytest.approx(0.05 * math.sqrt(2.0), abs=1e-6)  # at its corners
    assert wanted.buffer(-0.01).intersection(shop_floor.swath(burns, 2.1)).area > 1.0
