"""Sheets in a real browser: parts laid, dragged into each other and told, put on another sheet, saved and undone."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from halfshaft.build import load
from tests.bench.conftest import Bench, settled

RACK = """
[stock.rack]
sheet = "plate"
size = ["700 mm", "400 mm"]
count = 2
rolling = "length"
"""


def _middle(page: Page, number: int) -> tuple[float, float]:
    box = page.locator(".hn-part .hn-dot").nth(number).bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_parts_are_laid_moved_by_hand_told_when_they_clash_and_kept(
    page: Page, small_folder: Path, open_bench: Callable[..., Bench]
) -> None:
    toml = small_folder / "build.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + RACK, encoding="utf-8")
    bench = open_bench(small_folder)
    page.goto(bench.address + "sheets")
    settled(page)
    page.get_by_role("button", name="Lay the parts on sheets").click()
    parts = page.locator(".hn-part")
    parts.nth(1).wait_for(timeout=60_000)
    count = parts.count()
    expect(page.get_by_text("nothing clashes")).to_be_visible()
    expect(page.get_by_text("Laid by the bench")).to_be_visible()
    assert (small_folder / "out" / "sheets" / "stock.rack-1.svg").is_file()

    # one dragged over another: both are shown, and in words
    (x0, y0), (x1, y1) = _middle(page, 0), _middle(page, 1)
    page.mouse.move(x0, y0)
    page.mouse.down()
    for step in range(1, 7):
        page.mouse.move(x0 + (x1 - x0) * step / 6, y0 + (y1 - y0) * step / 6)
        page.wait_for_timeout(30)  # a drag is a slow thing
    page.mouse.up()
    expect(page.locator(".hn-part.hn-bad")).to_have_count(2)
    expect(page.get_by_text(re.compile(r"^\d clash(es)?$"))).to_be_visible()
    page.get_by_role("button", name="Back to what was worked").click()
    expect(page.get_by_text("nothing clashes")).to_be_visible()

    # without a mouse: put on the other sheet, turned, moved
    page.get_by_role("combobox", name="part").click()
    page.get_by_role("option").first.click()
    page.get_by_role("combobox", name="lies on").click()
    page.get_by_role("option", name="stock.rack 2").click()
    expect(page.locator(".hn-part[aria-label*='stock.rack 2']")).to_have_count(1)
    page.get_by_role("button", name="1 mm right").click()
    page.get_by_role("button", name="1 mm up").click()
    expect(page.get_by_text("nothing clashes")).to_be_visible()
    page.get_by_role("button", name="Save this layout").click()
    expect(page.get_by_text("Parts lie as they were put by hand.")).to_be_visible(timeout=60_000)
    told = load(small_folder).sheets
    assert told is not None
    assert len(told.laid) == count
    assert {row.sheet for row in told.laid} == {"stock.rack 1", "stock.rack 2"}
    assert (small_folder / "out" / "sheets" / "stock.rack-2.svg").is_file()

    page.get_by_role("button", name="undo parts laid by hand").click()
    expect(page.get_by_role("button", name="redo parts laid by hand")).to_be_enabled()
    assert load(small_folder).sheets is None

    page.get_by_role("button", name="Lay them again").click()
    page.get_by_role("button", name="stock.rack 1 is cut").click()
    expect(page.get_by_role("button", name="undo stock.rack 1 is cut")).to_be_enabled()
    build = load(small_folder)
    assert build.stock["rack"].count == 1
    assert build.sheets is not None
    assert len(build.sheets.done) == count
    assert "rack_1_left" in build.offcut
