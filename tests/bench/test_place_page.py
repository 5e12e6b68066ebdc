"""Place in a real browser: the unit dragged and stepped with its numbers told; places, windows, the way in played."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from halfshaft.build import load, save_values
from tests.bench.conftest import WORK_MS, Bench, at_rest, on_screen, settled
from tests.fitup.test_scene import write_folder

ROOM = ".hp-lines"


SCENE = """[fitup.piece.wing]
box = [[-40, 170, 60], [40, 400, 140]]
[fitup.joint]
angle = 40
travel_angle = 60
stroke = 400
[fitup.trial.far_back]
shift = [-500, 0, 0]
"""


@pytest.fixture
def place(page: Page, demo_folder: Path, open_bench: Callable[..., Bench]) -> Bench:
    page.set_default_timeout(WORK_MS)
    bench = open_bench(demo_folder)
    page.goto(bench.address + "place")
    settled(page)
    page.locator(ROOM).wait_for()
    return bench


def number(told: Locator, about: str) -> float:
    """The first number of the line about something."""
    rows = re.split(r"\n", told.inner_text())
    return float(re.findall(r"-?\d+(?:\.\d+)?", rows[rows.index(about) + 1])[0])


def test_the_unit_is_stepped_and_dragged_with_its_room_and_joints_told(page: Page, place: Bench) -> None:
    told = page.locator(ROOM)
    before = number(told, "over the ground")
    page.get_by_role("radio", name="20 mm").click()
    page.get_by_role("button", name="up", exact=True).click()
    expect(page.get_by_text("from where it was mocked up: up 20 mm")).to_be_visible()
    page.wait_for_function("() => !document.querySelector('.hp-old')")
    assert number(told, "over the ground") == pytest.approx(before + 20.0, abs=0.2)
    for about in ("left half-shaft", "right half-shaft", "least room"):
        expect(told).to_contain_text(about)

    at_rest(page, ".hs-canvas")
    x, y = on_screen(page, ".hs-canvas", "piece:motor")[0]
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 6):
        page.mouse.move(x + 6 * step, y - 4 * step)
        page.wait_for_timeout(40)  # a drag is a slow thing
    page.mouse.up()
    expect(page.get_by_text("from where it was mocked up")).not_to_have_text("from where it was mocked up: up 20 mm")
    page.get_by_role("button", name="As mocked up").click()
    expect(page.get_by_text("as it was mocked up", exact=True)).to_be_visible()


def test_places_windows_and_the_way_in_come_from_one_button_and_the_begin_is_saved(
    page: Page, tmp_path: Path, open_bench: Callable[..., Bench]
) -> None:
    # one rail, a wing that reaches through it, a search of a few millimetres: what is looked at here is the page
    folder = write_folder(tmp_path, SCENE)
    save_values(folder, {"fitup.shift": [2.0, 2.0, 2.0]})
    place = open_bench(folder)
    page.set_default_timeout(WORK_MS)
    page.goto(place.address + "place")
    settled(page)
    page.locator(ROOM).wait_for()
    page.get_by_role("radio", name="1 mm").click()
    page.get_by_role("button", name="rearward").click()
    expect(page.get_by_text("from where it was mocked up: ")).to_contain_text("9 mm forward")
    page.get_by_role("button", name="Search from here").click()
    page.locator(".hp-place").first.wait_for()
    begin = load(folder).fitup
    assert begin is not None
    assert begin.begin_mm == pytest.approx((9.0, 0.0, 0.0), abs=0.01)
    aside = page.locator(".hp-place", has_text="far_back")
    expect(aside).to_contain_text("into tank")
    expect(page.locator(".hp-window")).to_have_count(1)
    expect(page.locator(".hp-way")).to_contain_text("up 7")
    page.get_by_role("button", name="Play it").click()
    page.wait_for_function("() => Number(document.querySelector('.hs-slider-row [role=slider]').ariaValueNow) > 3")
    expect(page.locator(".hp-way .hp-here")).to_have_count(1)
    page.get_by_role("button", name="Play it").click()
    aside.click()
    expect(page.locator(".hp-place.hs-here")).to_contain_text("far_back")


def test_a_build_without_members_says_what_to_write(page: Page, small_folder: Path, open_bench: Callable[..., Bench]):
    bench = open_bench(small_folder)
    page.goto(bench.address + "place")
    settled(page)
    expect(page.get_by_text("Write [fitup] in build.toml")).to_be_visible()
