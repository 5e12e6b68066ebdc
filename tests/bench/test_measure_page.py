"""The measure page in a real browser: readings typed, judged, put right, and what they make known seen in space."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.measure_rows import line_of
from halfshaft.bench.measure_words import in_case, matches, names_for, natural
from halfshaft.build import BuildProblems, add_reading, load, remove_reading
from halfshaft.build.readings import known_in
from tests.bench.conftest import WAIT_MS, Bench, at_rest, redrawn, settled, wait_until

expect.set_options(timeout=WAIT_MS)


def _opened(page: Tab, bench: Bench) -> None:
    page.goto(bench.address + "measure")
    page.wait_for_selector(".hs-m", timeout=4 * WAIT_MS)
    settled(page)


def _told(page: Tab):
    return page.locator(".hs-entry-told")


def _cell(page: Tab, name: str):
    return page.locator(f".hs-entry-{name} input")


def _row(page: Tab, text: str):
    return page.locator("tr.hs-m").filter(has_text=text)


def _file(bench: Bench) -> str:
    return (bench.folder / "readings.csv").read_text()


def _at(page: Tab) -> str:
    return page.evaluate("document.activeElement.closest('[class*=hs-entry-]')?.className || ''")


def _type(page: Tab, *cells: str) -> None:
    """Cells from the first on, by keys alone."""
    for number, text in enumerate(cells):
        if number:
            page.keyboard.press("Tab")
        page.keyboard.type(text)


def test_a_slip_typed_in_is_named_before_and_after_it_is_saved_and_undo_takes_it_back(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    before = _file(small_bench)
    _cell(page, "reading").focus()
    _type(page, "tape", "A D", "14 3/16 in")
    # A D is taped as 170 in the file of the starter build; 14 3/16 in is 360.4 mm
    expect(_told(page)).to_contain_text("looks like a slip")
    expect(_told(page)).to_contain_text("long: measure again")
    page.keyboard.press("Enter")
    wait_until(lambda: "tape, A D, 14 3/16 in" in _file(small_bench))
    expect(_told(page)).to_contain_text("it is set aside and changes nothing")
    slip = page.locator("tr.hs-m-bad")
    expect(slip).to_have_count(1)
    expect(slip.locator("input")).to_have_value("14 3/16 in")
    expect(slip).to_contain_text("slip")
    expect(page.locator(".hs-lists")).to_contain_text("tape A D")
    page.get_by_role("button", name="undo").click()
    wait_until(lambda: _file(small_bench) == before)
    expect(page.locator("tr.hs-m-bad")).to_have_count(0)


def test_a_row_is_typed_saved_and_the_next_begun_by_keyboard_alone(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    _cell(page, "reading").focus()
    # names in small letters, the kind begun only, the value an inch fraction in a metric build: 7 1/8 in is 181.0 mm
    _type(page, "tap", "c f", "7 1/8 in", "", "second try")
    expect(_told(page)).to_contain_text("agrees")
    expect(_told(page)).to_contain_text("->")
    page.keyboard.press("Enter")
    wait_until(lambda: "tape, C F, 7 1/8 in, , , , second try" in _file(small_bench))
    expect(_told(page)).to_contain_text("holes of corner among themselves")
    assert "hs-entry-reading" in _at(page)
    expect(_cell(page, "reading")).to_have_value("tape")
    expect(_cell(page, "points")).to_have_value("")
    _type(page, "caliper", "E")
    expect(_cell(page, "points")).to_have_value("E")
    page.keyboard.press("Escape")
    expect(_cell(page, "points")).to_have_value("")
    assert "hs-entry-reading" in _at(page)


def test_tab_completes_a_name_that_is_begun(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    _cell(page, "reading").focus()
    _type(page, "onface", "D fl")
    expect(_cell(page, "reading")).to_have_value("onface")
    expect(page.locator(".hs-entry-points")).to_contain_text("ange")
    page.keyboard.press("Tab")
    expect(_cell(page, "points")).to_have_value("D flange")


def test_a_row_that_cannot_be_read_is_told_and_not_saved(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    before = _file(small_bench)
    _cell(page, "reading").focus()
    _type(page, "tape", "A", "12 parsecs")
    page.keyboard.press("Enter")
    expect(_told(page)).to_contain_text("not saved")
    expect(_told(page)).to_contain_text("wants 2 points")
    expect(_told(page)).to_contain_text("parsecs")
    expect(_cell(page, "value")).to_have_value("12 parsecs")
    assert _file(small_bench) == before


def test_a_new_point_is_made_only_when_the_builder_says_so(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    _cell(page, "reading").focus()
    _type(page, "tape", "A N1", "80")
    expect(_told(page)).to_contain_text("N1 is new: 2 more readings hold it")
    page.keyboard.press("Enter")
    ask = page.get_by_role("button", name="N1 is a new point of car: save")
    expect(ask).to_be_focused()
    assert "N1" not in _file(small_bench)
    page.keyboard.press("Enter")
    wait_until(lambda: "tape, A N1, 80" in _file(small_bench))
    assert "N1" in load(small_bench.folder).body["car"].point
    expect(page.locator(".hs-lists")).to_contain_text("Not located yet")
    expect(_row(page, "A N1")).to_contain_text("waits")


def test_a_bare_number_is_saved_in_the_units_on_show(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    expect(page.locator("tr.hs-m").first).to_contain_text(" mm")
    page.get_by_role("button", name="show metric or inch").click()
    expect(page.locator("tr.hs-m").first).to_contain_text(" in")
    _cell(page, "reading").focus()
    _type(page, "tape", "A D", "6 11/16")
    expect(_told(page)).to_contain_text("6 11/16 in")
    page.keyboard.press("Enter")
    wait_until(lambda: "tape, A D, 6 11/16 in" in _file(small_bench))


def test_a_value_is_changed_in_its_place_and_a_row_taken_away_and_both_undone(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    before = _file(small_bench)
    value = _row(page, "C D").locator("input")
    value.fill("161.5")
    value.press("Enter")
    wait_until(lambda: "tape, C D, 161.5" in _file(small_bench))
    page.get_by_role("button", name="take away tape E F").click()
    wait_until(lambda: "tape, E F" not in _file(small_bench))
    expect(page.get_by_role("button", name="take away tape E F")).to_have_count(0)
    page.get_by_role("button", name="undo").click()
    page.get_by_role("button", name="undo value of tape C D").click()
    wait_until(lambda: _file(small_bench) == before)
    expect(_row(page, "C D").locator("input")).to_have_value("160.5")


def test_a_value_that_cannot_be_read_is_refused_in_its_place(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    before = _file(small_bench)
    value = _row(page, "C D").locator("input")
    value.fill("wide")
    value.press("Enter")
    expect(page.get_by_text("Not changed.")).to_be_visible()
    expect(value).to_have_value("160.5")
    assert _file(small_bench) == before


def test_a_reading_to_take_next_goes_into_the_line(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    page.get_by_role("button", name="Take it").first.click()
    expect(_cell(page, "reading")).not_to_have_value("")
    expect(_cell(page, "points")).not_to_have_value("")
    expect(_cell(page, "value")).to_be_focused()


def _pixels(page: Tab) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(page.locator(".hs-scene canvas").screenshot())).convert("RGB"))


VIEW = ".hs-scene[data-drawn]"


def test_a_view_at_rest_is_drawn_no_more(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    page.locator(VIEW).wait_for()
    at_rest(page, VIEW, 1200)  # more than twenty times what it takes to draw it once a turn
    redrawn(page, VIEW, page.locator(".hs-scene-views").get_by_role("button", name="top", exact=True).click)


def test_the_view_draws_and_each_direction_draws_something_else(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    page.locator(VIEW).wait_for()
    seen = {}
    for name in ("front", "left", "top", "corner"):
        redrawn(page, VIEW, page.locator(".hs-scene-views").get_by_role("button", name=name, exact=True).click)
        pixels = _pixels(page)[70:]  # below the buttons
        ground = pixels[-1, -1]
        off = np.abs(pixels.astype(int) - ground.astype(int)).max(axis=2) > 24
        assert off.mean() > 0.01, f"hardly anything is drawn from the {name}"
        assert len(np.unique(pixels.reshape(-1, 3), axis=0)) > 20
        seen[name] = pixels
    for a, b in pairwise(seen):
        assert (seen[a] != seen[b]).any(axis=2).mean() > 0.01, f"{a} and {b} look alike"


def test_a_point_is_picked_from_the_list_without_a_pointer(page: Tab, small_bench: Bench):
    _opened(page, small_bench)
    page.get_by_text("Points and faces as a list").focus()
    page.locator(".hs-points .q-item").focus()
    page.keyboard.press("Enter")
    point = page.locator(".hs-points").get_by_role("button", name="C", exact=True)
    point.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".hs-picked")).to_contain_text("at 95 %")
    expect(page.locator(".hs-scene")).to_contain_text("C")
    page.get_by_role("button", name="Put in the line").click()
    expect(_cell(page, "points")).to_have_value("C ")


def test_the_demo_with_its_hundreds_of_rows_is_searched_and_its_slips_put_right(page: Tab, demo_bench: Bench):
    page.goto(demo_bench.address + "measure")
    page.wait_for_selector(".hs-m", timeout=8 * WAIT_MS)
    expect(page.locator(".hs-readings .hs-title")).to_contain_text("slips", timeout=8 * WAIT_MS)
    # the demo's readings.csv says itself that three slips are hidden in it
    expect(page.locator("tr.hs-m-bad")).to_have_count(3)
    page.get_by_label("search the readings").fill("HL2")
    expect(page.locator("tr.hs-m-bad")).to_have_count(0)
    shown = page.locator("tr.hs-m").all_inner_texts()
    assert shown
    assert all("HL2" in text for text in shown)
    page.get_by_label("search the readings").fill("")
    before = _file(demo_bench)
    take = page.locator(".hs-readings").get_by_role("button", name="Take the proposal").first
    expect(take).to_be_visible()
    take.click()
    wait_until(lambda: _file(demo_bench) != before, 60)
    old, new = before.splitlines(), _file(demo_bench).splitlines()
    assert len(old) == len(new)
    (changed,) = [line for was, line in zip(old, new, strict=True) if was != line]
    assert "was " in changed


def test_a_row_is_found_again_by_its_text_after_lines_moved(small_folder: Path):
    build = load(small_folder)
    reading = build.readings[5]
    add_reading(small_folder, {"reading": "tape", "points": "A B", "value": "160"}, after_line=build.readings[0].line)
    assert line_of(small_folder, reading) == reading.line + 1
    remove_reading(small_folder, reading.line + 1)
    with pytest.raises(BuildProblems, match="no longer there"):
        line_of(small_folder, reading)


def test_names_are_offered_as_they_may_stand(small_folder: Path):
    known = known_in(load(small_folder))
    assert names_for(known, "onface", 0) == ["A", "B", "C", "D", "E", "F"]
    assert names_for(known, "onface", 1) == ["flange", "web"]
    assert names_for(known, "bevel", 0) == ["flange", "web"]
    assert matches(["RL2", "FRL", "RL10"], "rl") == ["RL2", "RL10", "FRL"]
    assert sorted(["RL10", "RL2", "A"], key=natural) == ["A", "RL2", "RL10"]
    assert in_case(["rl3", "Rl4", "x"], ["RL3", "RL4", "rl4"]) == ["RL3", "Rl4", "x"]


@pytest.mark.parametrize("name", ["<script>bad()</script>", "<img src=x onerror=bad()>"])
def test_markup_in_a_note_is_shown_as_text(page: Tab, small_folder: Path, open_bench: Callable[..., Bench], name: str):
    add_reading(small_folder, {"reading": "tape", "points": "A B", "value": "160", "note": name})
    _opened(page, open_bench(small_folder))
    expect(page.locator(".hs-m-note").filter(has_text=name)).to_be_visible()
    assert page.locator(".hs-m-note script, .hs-m-note img").count() == 0
