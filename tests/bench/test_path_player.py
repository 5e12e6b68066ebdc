"""The tool path played in a real browser: cut by cut, by the slider, at rest again at its end."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.bench.conftest import Bench, settled


def test_the_torch_runs_stops_and_goes_cut_by_cut(page: Page, small_bench: Bench) -> None:
    page.goto(small_bench.address + "sheets")
    settled(page)
    page.get_by_role("button", name="Lay the parts on sheets").click()
    page.get_by_text("The torch's way over").first.click()
    player = page.locator(".hs-play").first
    words, slider = player.locator(".hs-play-words"), player.locator("input.hs-slide")
    expect(words).to_contain_text("at the sheet's corner")
    player.get_by_role("button", name="Next cut").click()
    expect(words).to_contain_text(re.compile(r"1 of \d+, "))
    player.get_by_role("button", name="Next cut").click()
    expect(words).to_contain_text(re.compile(r"2 of \d+, "))
    player.get_by_role("button", name="20 times as fast").click()
    player.get_by_role("button", name="60 times as fast").click()
    expect(player.get_by_role("button", name="as in the shop")).to_be_visible()

    player.get_by_role("button", name="Play").click()
    before = float(slider.input_value())
    expect(slider).not_to_have_value(str(before))
    player.get_by_role("button", name="Stop").click()
    expect(player.get_by_role("button", name="Play")).to_be_visible()

    slider.press("End")
    expect(words).to_contain_text("done: ")
    player.get_by_role("button", name="Cut before").click()
    expect(words).to_contain_text("outline")
    painted = player.locator("canvas").evaluate(
        "plate => plate.getContext('2d').getImageData(0, 0, plate.width, plate.height).data.some(v => v)"
    )
    assert painted
