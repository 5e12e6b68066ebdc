"""Which part goes on which sheet, and what is told where one has no place."""

from dataclasses import replace
from pathlib import Path

import pytest

from halfshaft.build.schema import About, Build, Sheet
from halfshaft.build.sheets import LaidInput, OffcutInput, SheetsInput, StockInput
from halfshaft.cut.nest.clear import lies
from halfshaft.cut.nest.model import Sheets
from halfshaft.cut.nest.station import nest
from halfshaft.cut.part import SheetPart
from tests.cut.nest.cases import brute_gap, folded, rectangle

HERE = Path(__file__).parent


def build(**more) -> Build:
    sheet = {"plate": Sheet(thickness_mm=5.0, material="mild steel S275")}
    return Build(build=About(name="b", seed=4), sheet=sheet, **more)


def stock(length: float, width: float, **more) -> StockInput:
    return StockInput(sheet="plate", size_mm=(length, width), **more)


def on(found: Sheets) -> dict[str, list[str]]:
    return {sheet.blank.name: sorted(one.part.name for one in sheet.laid) for sheet in found.sheets}


def laid(parts: list[SheetPart], **more) -> Sheets:
    return nest(build(**more), HERE, parts)


def test_offcuts_are_used_before_a_whole_sheet_is_opened() -> None:
    offcut = OffcutInput(sheet="plate", outline=((0, 0), (200, 0), (200, 120), (0, 120)))
    found = laid(
        [rectangle("a", 100, 60), rectangle("b", 300, 200)], stock={"big": stock(500, 400)}, offcut={"bit": offcut}
    )
    assert on(found) == {"offcut.bit": ["a"], "stock.big 1": ["b"]}
    assert not found.left_out


def test_the_cheapest_sheet_that_takes_all_is_chosen() -> None:
    stocks = {
        "dear": stock(400, 300, cost=90.0),
        "cheap": stock(600, 300, cost=50.0),
        "small": stock(150, 100, cost=5.0),
    }
    assert on(laid([rectangle("a", 200, 150)], stock=stocks)) == {"stock.cheap 1": ["a"]}


def test_several_sheets_are_opened_and_counted() -> None:
    found = laid([rectangle(f"p{i}", 180, 90) for i in range(5)], stock={"s": stock(220, 220, count=4)})
    assert [sheet.blank.name for sheet in found.sheets] == ["stock.s 1", "stock.s 2", "stock.s 3"]
    assert [blank.name for blank in found.spare] == ["stock.s 4"]
    for sheet in found.sheets:
        assert brute_gap([lies(one) for one in sheet.laid]) >= sheet.blank.gap_mm
        assert all(one.sheet == found.sheets.index(sheet) for one in sheet.laid)


def test_a_part_too_large_for_every_sheet_is_named_with_what_it_needs() -> None:
    found = laid([rectangle("long", 900, 80)], stock={"s": stock(500, 400)})
    assert [part.name for part, _ in found.left_out] == ["long"]
    told = next(c for c in found.checks if c.about == "part long")
    assert told.severity.value == "stop"
    assert not told.ok
    assert "too small: it needs 916 x 96 mm" in told.do


def test_when_sheets_run_out_it_is_said_that_they_run_out_and_the_first_needed_has_its_place() -> None:
    parts = [rectangle("late", 190, 190, station="template"), rectangle("soon", 150, 150, station="coupon")]
    found = laid(parts, stock={"s": stock(220, 220, count=1)})
    assert on(found) == {"stock.s 1": ["soon"]}
    assert "run out" in next(c for c in found.checks if c.about == "part late").do


def test_the_builder_says_which_kind_comes_first() -> None:
    parts = [rectangle("late", 190, 190, station="template"), rectangle("soon", 150, 150, station="coupon")]
    told = SheetsInput(first=("template",))
    assert on(laid(parts, stock={"s": stock(220, 220, count=1)}, sheets=told)) == {"stock.s 1": ["late"]}


def test_without_a_sheet_of_that_kind_a_usual_size_is_assumed_and_told() -> None:
    found = laid([rectangle("a", 100, 60)])
    assert found.sheets[0].blank.assumed
    assert [row.where for row in found.assumed if "size" in row.where] == ["stock.plate.size"]


def test_a_part_too_long_for_the_smallest_usual_sheet_gets_the_next_usual_one() -> None:
    found = laid([rectangle("next_usual", 2300, 300)])
    assert found.sheets[0].blank.size_mm == (2500.0, 1250.0)
    assert not found.left_out


def test_folds_cross_the_rolling_direction() -> None:
    own = folded(rectangle("a", 150, 40), 0.0)  # its fold runs along its length
    for way, turns in (("length", range(45, 136)), ("width", (*range(-45, 46), *range(315, 361)))):
        found = laid([own], stock={"s": stock(400, 300, rolling=way)})
        turn = found.sheets[0].laid[0].rotation_deg
        assert round(turn) % 180 in {t % 180 for t in turns}
        check = next(c for c in found.checks if c.title == "Folds against the rolling direction")
        assert check.ok


def test_where_the_rolling_direction_is_not_told_that_is_noted() -> None:
    found = laid([folded(rectangle("a", 150, 40), 0.0)], stock={"s": stock(400, 300)})
    assert any(c.title == "Rolling direction is not told" for c in found.checks)


def test_what_is_laid_by_hand_stays_and_the_rest_goes_round_it() -> None:
    told = SheetsInput(laid=(LaidInput(part="a", sheet="stock.s 1", at_mm=(150.0, 100.0), turn_deg=90.0),))
    parts = [rectangle("a", 100, 60), rectangle("b", 100, 60), rectangle("c", 100, 60)]
    found = laid(parts, stock={"s": stock(400, 300)}, sheets=told)
    first = next(one for one in found.laid if one.part.name == "a")
    assert (first.rotation_deg, first.shift_mm) == (90.0, (150.0, 100.0))
    assert on(found) == {"stock.s 1": ["a", "b", "c"]}
    assert brute_gap([lies(one) for one in found.laid]) >= 5.0
    assert all(c.ok for c in found.checks)
    assert found.by_hand


def test_a_clash_by_hand_is_a_stop_that_names_both() -> None:
    told = SheetsInput(
        laid=(
            LaidInput(part="a", sheet="stock.s 1", at_mm=(20.0, 20.0)),
            LaidInput(part="b", sheet="stock.s 1", at_mm=(60.0, 40.0)),
        )
    )
    found = laid([rectangle("a", 100, 60), rectangle("b", 100, 60)], stock={"s": stock(400, 300)}, sheets=told)
    bad = [c for c in found.checks if not c.ok and c.severity.value == "stop"]
    assert {c.title for c in bad} == {"Least gap between parts", "Parts that overlap"}
    assert "a and b" in bad[0].about or "a and b" in bad[1].about
    overlap = next(c for c in bad if c.title == "Parts that overlap")
    assert overlap.found == pytest.approx(60.0 * 40.0)  # (120 - 60) x (80 - 40)


def test_wishes_of_parts_and_sheets_that_are_gone_are_told_and_the_part_is_laid_anew() -> None:
    told = SheetsInput(
        laid=(
            LaidInput(part="gone", sheet="stock.s 1", at_mm=(20.0, 20.0)),
            LaidInput(part="a", sheet="stock.s 9", at_mm=(60.0, 40.0)),
        )
    )
    found = laid([rectangle("a", 100, 60)], stock={"s": stock(400, 300, count=2)}, sheets=told)
    lost = [c for c in found.checks if c.title == "Layout by hand does not fit the build"]
    assert {c.about for c in lost} == {"part gone", "part a"}
    assert on(found) == {"stock.s 1": ["a"]}


def test_what_is_done_is_not_laid_again() -> None:
    found = laid([rectangle("a", 100, 60), rectangle("b", 100, 60)], sheets=SheetsInput(done=("a", "ghost")))
    assert [one.part.name for one in found.laid] == ["b"]
    assert found.done == ("a",)
    assert any(c.about == "part ghost" for c in found.checks)


def test_copies_are_laid_each_by_its_number() -> None:
    found = laid([rectangle("a", 100, 60, quantity=3)], stock={"s": stock(400, 300)})
    assert sorted(one.copy for one in found.laid) == [1, 2, 3]


def test_a_drawing_that_cannot_be_read_leaves_its_offcut_out_with_a_word(tmp_path: Path) -> None:
    (tmp_path / "bit.dxf").write_text("no drawing", encoding="utf-8")
    own = build(offcut={"bit": OffcutInput(sheet="plate", dxf="bit.dxf")}, stock={"s": stock(400, 300)})
    found = nest(own, tmp_path, [rectangle("a", 100, 60)])
    assert on(found) == {"stock.s 1": ["a"]}
    assert "cannot be read as DXF" in next(c for c in found.checks if c.about == "offcut bit").do


def test_nothing_to_cut_is_no_sheet() -> None:
    found = laid([])
    assert found.sheets == ()
    assert found.checks == ()


def test_other_kinds_of_sheet_lie_on_their_own() -> None:
    thick = rectangle("thick", 100, 60)
    thick = replace(thick, key=replace(thick.key, thickness_mm=9.0))
    found = laid([rectangle("a", 100, 60), thick])
    assert len(found.sheets) == 2
    assert {sheet.blank.key.thickness_mm for sheet in found.sheets} == {5.0, 9.0}
