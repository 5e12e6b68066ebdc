"""Pack, weights and road in a real browser: a thing dragged moves the loads, a layout is drawn and built, the band."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from halfshaft.build import load
from halfshaft.build.moving_units import format_way
from halfshaft.study import driven
from tests.bench.conftest import Bench, at_rest, on_screen, redrawn, settled
from tests.pack.test_station import PACK, written
from tests.road.builds import write
from tests.weights.cars import folder_of, pickup

MODULE = "[data-thing='in:module_1']"
AFT = """
[pack.bay.aft]
box = [[-300, -200, 400], [300, 200, 520]]
"""


def _axle(page: Page, end: str) -> float:
    words = page.locator(".hw-load", has_text=f"{end} axle").text_content() or ""
    return float(re.findall(r"[\d.]+", words)[0])


def _drag(page: Page, by_px: float) -> None:
    box = page.locator(f"{MODULE} .hw-square").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 7):
        page.mouse.move(x + by_px * step / 6, y)
        page.wait_for_timeout(30)  # a drag is a slow thing
    page.mouse.up()
    expect(page.locator(".hw-plan svg")).to_have_attribute("data-held", "")  # told from where it was let go


def test_a_module_dragged_moves_the_axle_loads_by_the_lever_rule_and_undo_takes_it_back(
    page: Page, tmp_path: Path, open_bench: Callable[..., Bench]
) -> None:
    bench = open_bench(folder_of(pickup(), tmp_path))
    page.goto(bench.address + "weights")
    settled(page)
    page.locator(MODULE).wait_for()
    front, rear = _axle(page, "front"), _axle(page, "rear")
    _drag(page, 240.0)
    told = page.get_by_role("status").filter(has_text="forward")
    expect(told).to_contain_text("55 kg at")
    x = float(re.findall(r"at (-?\d+) mm forward", told.inner_text())[0])
    assert x > 1200.0  # it stood at 900
    # statics: 55 kg moved by dx add 55 dx / 2920 to the front axle and take it from the rear; shown to the kilogram
    more = 55.0 * (x - 900.0) / 2920.0
    assert _axle(page, "front") - front == pytest.approx(more, abs=1.1)
    assert rear - _axle(page, "rear") == pytest.approx(more, abs=1.1)
    page.locator(MODULE).focus()
    page.keyboard.press("ArrowRight")  # no mouse needed: a step of 50 mm
    expect(told).to_contain_text(f"at {x + 50.0:.0f} mm forward")

    page.get_by_role("button", name="Save the places").click()
    expect(page.get_by_role("button", name="undo module_1 moved")).to_be_enabled()
    saved = load(tmp_path).weights
    assert saved is not None
    assert saved.into["module_1"].at == pytest.approx((x + 50.0, 0.0, 520.0), abs=60.0)
    assert saved.into["module_1"].at[0] == pytest.approx(x + 50.0)
    page.get_by_role("button", name="undo module_1 moved").click()
    expect(page.locator(".hw-load", has_text="front axle")).to_contain_text(f"front axle {front:.0f} ")
    again = load(tmp_path).weights
    assert again is not None
    assert again.into["module_1"].place == "rear"


def test_a_mass_typed_in_pounds_is_saved_and_a_suggested_move_is_applied_by_one_tap(
    page: Page, tmp_path: Path, open_bench: Callable[..., Bench]
) -> None:
    bench = open_bench(folder_of(pickup(), tmp_path))
    page.goto(bench.address + "weights")
    settled(page)
    row = page.locator(".hw-ledger")
    cell = row.first.get_by_label("mass").first
    offered = page.get_by_role("button", name="Apply it").first.element_handle()
    split = page.locator(".hw-move").first.text_content()
    cell.fill("300 lb")
    cell.press("Enter")
    expect(page.get_by_role("button", name="undo mass of unit")).to_be_enabled()
    told = load(tmp_path).weights
    assert told is not None
    assert told.into["unit"].mass_kg == pytest.approx(300 * 0.45359237)  # NIST SP 811
    expect(page.locator(".hw-move").first).not_to_have_text(split or "")
    assert offered.evaluate("button => button.isConnected")  # a tap that lands as the work ends is not lost
    page.get_by_role("button", name="Apply it").first.click()
    expect(page.get_by_role("button", name=re.compile("undo module.* moved"))).to_be_enabled()
    moved = load(tmp_path).weights
    assert moved is not None
    assert [one.place for name, one in moved.into.items() if name.startswith("module")].count("front") >= 1


def test_a_layout_is_drawn_in_the_car_and_another_one_is_built(
    page: Page, tmp_path: Path, open_bench: Callable[..., Bench]
) -> None:
    folder = written(tmp_path, PACK + AFT)
    bench = open_bench(folder)
    page.goto(bench.address + "pack")
    settled(page)
    page.get_by_role("button", name="Lay the modules out").click()
    expect(page.locator(".hs-card")).to_have_count(2)
    settled(page)
    at_rest(page, ".hs-canvas")
    spots = on_screen(page, ".hs-canvas", "module:1.1")
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    shades = np.array([picture.getpixel((int(x), int(y))) for x, y in spots[:4]], dtype=float)
    assert (shades[:, 2] > shades[:, 0] + 25.0).any()  # its own blue, not the ground's grey
    redrawn(page, ".hs-canvas", page.locator(".hs-card").nth(1).click)
    page.get_by_role("button", name="Build layout 2").click()
    expect(page.get_by_text("Layout 2 is the one that is built")).to_be_visible()
    built = load(folder).pack
    assert built is not None
    assert built.layout == 2
    expect(page.get_by_text("What fixings hold in a crash, layout 2")).to_be_visible()


def test_the_band_is_that_of_the_station_and_units_switch_live(
    page: Page, tmp_path: Path, open_bench: Callable[..., Bench]
) -> None:
    folder = write(tmp_path)
    _, road = driven(folder)
    assert road is not None
    one = next(drive for drive in road.drives if drive.kind != "steady")
    assert one.band is not None
    bench = open_bench(folder)
    page.goto(bench.address + "road")
    settled(page)
    first = page.locator(".hr-fact").first
    for units in ("metric", "inch"):
        expect(first).to_contain_text(format_way(one.range_m, units))
        low, high = format_way(one.band.low_m, units), format_way(one.band.high_m, units)
        expect(first).to_contain_text(f"{low} to {high}")
        if units == "metric":
            page.get_by_role("button", name="show metric or inch").click()
    expect(page.locator(".hc-band")).to_have_count(2)
    expect(page.get_by_text("steady speed, mph")).to_be_visible()
    bars = page.locator(".hc-bars").first
    expect(bars).to_contain_text(one.band.shares[0].words)
    drawn = page.locator(".hc-chart svg[aria-label^='power into the pack']")
    before = drawn.get_attribute("aria-label")
    page.get_by_role("radio").nth(0).click()
    expect(drawn).not_to_have_attribute("aria-label", str(before))
