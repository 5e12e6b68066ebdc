"""Each kind of check leads from the first page to a page on which the thing that it is about is marked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.bracket_picked import asked_for
from halfshaft.build import add_reading, save_values
from halfshaft.study import Study, work
from tests.bench.conftest import Bench, settled


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    from halfshaft.build import new_build

    folder = tmp_path_factory.mktemp("about") / "small"
    new_build(folder)
    save_values(folder, {("obstacle", "line"): {"box": [[0, 300, 40], [200, 304, 46]]}})
    return work(folder, until="fold")


def test_every_check_of_a_bracket_names_its_bracket(study: Study):
    checks = [check for check in study.checks if check.station == "fold"]
    assert len(checks) > 5
    assert {asked_for(study, "", check.about)[0] for check in checks} == {"corner"}


@pytest.mark.parametrize(
    ("about", "at"),
    [
        ("bracket corner, fold web-flange", "fold:web-flange"),
        ("bracket corner, hole web.E", "hole:web.E"),
        ("corner, panel web, line", "panel:web"),
        ("corner, bolt and socket of hole web.E, line", "hole:web.E"),
        ("corner, line", "obstacle:line"),
        ("bracket corner", ""),
        ("bracket corner, fold no-such", ""),
    ],
)
def test_the_thing_that_a_check_is_about_is_picked(study: Study, about: str, at: str):
    assert asked_for(study, "", about) == ("corner", at)


def test_the_name_of_another_bracket_inside_a_name_is_not_taken(study: Study):
    assert asked_for(study, "", "bracket corner_2") == ("", "")


def test_checks_land_on_what_settles_them(page: Tab, small_folder: Path, open_bench: Callable[..., Bench]):
    # A D is taped as 170 in the starter build
    add_reading(small_folder, {"reading": "tape", "points": "A D", "value": "360"})
    save_values(small_folder, {("body", "car", "point", "N1"): {}})
    bench = open_bench(small_folder)
    page.goto(bench.address)
    settled(page)
    slip = page.locator(".hs-check", has_text="set aside as a slip")
    slip.get_by_text("To Measure").click()
    page.wait_for_url("**/measure?about=*")
    expect(page.locator("tr.hs-m-lit").first).to_contain_text("A D")
    page.go_back()
    page.locator(".hs-check", has_text="not located").get_by_text("To Measure").click()
    expect(page.locator(".hs-lists .hs-mark", has_text="N1")).to_be_visible()
    page.goto(f"{bench.address}measure?about=C")
    expect(page.locator(".hs-picked .hs-strong")).to_have_text("C")
    expect(page.locator("tr.hs-m-lit").first).to_contain_text("C")
    page.goto(f"{bench.address}brackets?about={quote('bracket corner, fold web-flange')}")
    expect(page.locator(".hb-told .hs-title")).to_have_text("fold web-flange")
