"""build.toml written on the bench: rows to begin with, faults by line, nothing lost to somebody else's change."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.build_text import TABLES, write_text
from halfshaft.build import BuildProblems, load, new_build
from halfshaft.build.examples import example
from tests.bench.conftest import Bench, settled


@pytest.mark.parametrize("table", TABLES)
def test_rows_to_begin_with_are_of_their_table_alone(table: str):
    assert list(tomllib.loads(example(table))) == [table]


@pytest.mark.parametrize("table", ["obstacle", "mounts", "pack", "stock", "offcut", "cutter", "book", "buy"])
def test_the_starter_reads_with_the_rows_that_lean_on_nothing_else(tmp_path: Path, table: str):
    new_build(tmp_path / "build")
    path = tmp_path / "build" / "build.toml"
    path.write_text(f"{path.read_text()}\n{example(table)}")
    assert getattr(load(path.parent), table)


def test_a_text_that_was_changed_meanwhile_is_not_written_over(small_folder: Path):
    path = small_folder / "build.toml"
    began = path.read_text()
    path.write_text(began + "# from an editor\n")
    with pytest.raises(BuildProblems, match="changed since you began"):
        write_text(small_folder, "build.toml", began, began + "# from the bench\n")
    assert path.read_text() == began + "# from an editor\n"


def test_the_build_is_written_and_mended_as_text(page: Tab, small_folder: Path, open_bench: Callable[..., Bench]):
    path = small_folder / "build.toml"
    right = path.read_bytes().replace(b"\n", b"\r\n")  # as some editors write it
    path.write_bytes(right.replace(b'cutter = "plasma"', b'cutter = "scissors"'))
    readings = small_folder / "readings.csv"
    read = readings.read_bytes()
    readings.write_bytes(read + b"tape, A ZZ, 412\n")
    page.goto(open_bench(small_folder).address)
    expect(page.get_by_text("cannot be worked as it stands")).to_be_visible()
    page.get_by_role("link", name="Mend it in the text").click()
    area = page.get_by_label("text of build.toml")
    area.fill(area.input_value().replace("scissors", "plasma"))
    page.get_by_role("button", name="Save the text").click()
    expect(page.get_by_text("Saved.")).to_be_visible()
    page.get_by_role("radio", name="readings.csv").click()
    rows = page.get_by_label("text of readings.csv")
    rows.fill(rows.input_value().replace("tape, A ZZ, 412\n", ""))
    page.get_by_role("button", name="Save the text").click()
    expect(page.get_by_text("cannot be worked as it stands")).to_be_hidden()
    assert readings.read_bytes() == read
    settled(page)
    assert path.read_bytes() == right

    page.locator("a.hs-tab", has_text="Mounts").click()
    page.get_by_role("link", name="Write [mounts]").click()
    expect(area).to_have_value(re.compile(re.escape(example("mounts")) + "$"))
    expect(area).to_be_focused()  # then the page rests
    area.fill(area.input_value().replace("95 kg", "many"))
    page.get_by_role("button", name="Save the text").click()
    expect(page.get_by_text("Not saved")).to_be_visible()
    # a passing word in the page's own ink: the library would have it white
    expect(page.locator(".hs-toast").first).to_have_css("color", "rgb(25, 30, 35)")
    assert path.read_bytes() == right
    area.fill(area.input_value().replace("many", "95 kg"))
    page.get_by_role("button", name="Save the text").click()
    expect(page.get_by_text("Saved.")).to_be_visible()
    assert load(small_folder).mounts
    page.get_by_label("undo build.toml written").click()
    expect(page.get_by_label("redo build.toml written")).to_be_enabled()
    assert path.read_bytes() == right
