"""Every page of the list stands up in a real browser."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.pages import PAGES
from tests.bench.conftest import Bench, settled

NAMELESS = re.compile(r"\s*- (button|textbox|combobox|slider|checkbox|radio|switch|link|tab)( \[[^\]]*\])*:?")
SIZES = [(1280, 800), (820, 1180)]


@pytest.mark.parametrize("size", SIZES)
def test_every_page_fits_the_screen_and_its_targets_fit_a_finger(page: Tab, small_bench: Bench, size: tuple[int, int]):
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for one in PAGES:
        page.goto(small_bench.address + one.path.lstrip("/"))
        settled(page)
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0], f"{one.title} is {wide} px wide on a screen of {size[0]}"
        # WCAG 2.2, 2.5.5 (AAA): targets of at least 44 by 44 CSS pixels, links in a sentence excepted
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, a.hs-tab, a.hs-link, [role=button]')]
            .filter(e => e.offsetParent !== null)
            .map(e => [e.innerText || e.ariaLabel || e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
            .filter(([t, r]) => r.width < 43.5 || r.height < 43.5).map(([t, r]) => `${t} ${r.width}x${r.height}`)"""
        )
        assert small == [], f"{one.title}: {small}"
        told = page.locator("body").aria_snapshot().splitlines()  # as a screen reader is told
        assert [line for line in told if NAMELESS.fullmatch(line)] == [], one.title
        assert any("heading" in line and "[level=1]" in line for line in told), one.title


def test_each_page_is_reached_from_each_other(page: Tab, small_bench: Bench):
    page.goto(small_bench.address)
    for one in PAGES:
        page.locator("a.hs-tab", has_text=one.title).click()
        page.wait_for_url(small_bench.address.rstrip("/") + one.path)
        expect(page.locator("a.hs-here")).to_contain_text(one.title)


def test_nothing_leaves_the_machine(page: Tab, small_bench: Bench):
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    for one in PAGES:
        page.goto(small_bench.address + one.path.lstrip("/"))
        settled(page)
    ours = (small_bench.address, small_bench.address.replace("http:", "ws:"), "data:", "blob:" + small_bench.address)
    assert [url for url in asked if not url.startswith(ours)] == []
    assert any(url.startswith("ws:") for url in asked)


def test_a_build_that_cannot_be_read_is_told(page: Tab, tmp_path: Path, open_bench: Callable[..., Bench]):
    (tmp_path / "build.toml").write_text('[build]\nname = "half\n')
    bench = open_bench(tmp_path)
    page.goto(bench.address)
    expect(page.get_by_text("cannot be worked as it stands")).to_be_visible()
    expect(page.get_by_text("build.toml line 2")).to_be_visible()
