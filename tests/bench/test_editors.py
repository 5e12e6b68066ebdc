"""Every editor of a bracket, and of meshes, walked in a browser: from a tap to what stands in build.toml."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.meshes import LARGEST_MESH_BYTES
from halfshaft.build import load
from halfshaft.build.schema import BracketInput
from tests.bench.conftest import Bench, settled, wait_until


def _change(page: Tab, bench: Bench) -> None:
    page.goto(bench.address + "brackets")
    page.locator(".hb-card").first.wait_for()
    settled(page)
    page.get_by_role("tab", name="Change").click()
    page.get_by_label("held by").first.wait_for()


def _corner(bench: Bench) -> BracketInput:
    return load(bench.folder).bracket["corner"]


def _pick(page: Tab, field: str, words: str) -> None:
    settled(page)  # a list that is open is closed when the fields are drawn for another bracket
    page.get_by_label(field, exact=True).first.click()
    page.get_by_role("option", name=words, exact=True).click()


def _type(page: Tab, field: str, text: str) -> None:
    page.get_by_label(field, exact=True).fill(text)
    page.get_by_label(field, exact=True).press("Enter")


def test_a_lip_a_twin_a_stiffener_and_a_gusset_from_tap_to_file_and_back_by_undo(page: Tab, small_bench: Bench):
    before = (small_bench.folder / "build.toml").read_text()
    _change(page, small_bench)
    _pick(page, "cut for", "both sides: a mirrored one too")
    wait_until(lambda: _corner(small_bench).twin)

    page.get_by_label("its height").fill("3/4 in")
    page.get_by_role("button", name="Add the stiffener").click()
    wait_until(lambda: "rib" in _corner(small_bench).stiffener)
    _pick(page, "rib along the", "edge toward up")
    wait_until(lambda: _corner(small_bench).stiffener["rib"].edge == "up")
    rib = _corner(small_bench).stiffener["rib"]
    # 1 in is 25.4 mm exactly
    assert (rib.on, rib.height_mm) == ("web", pytest.approx(0.75 * 25.4))

    page.get_by_label("reaching").fill("30 mm")
    page.get_by_role("button", name="Add the gusset").click()
    wait_until(lambda: len(_corner(small_bench).gusset) == 1)
    _pick(page, "gusset1 at", "both ends of it")
    wait_until(lambda: _corner(small_bench).gusset[0].ends)
    expect(page.get_by_text("gusset1 and gusset2, between web and flange")).to_be_visible()  # drawn anew by now

    flange = page.locator(".hs-panel", has=page.get_by_text("Panel flange", exact=True)).last
    settled(page)
    flange.get_by_label("held by").click()
    page.get_by_role("option", name="a lip that hooks on an edge").click()
    wait_until(lambda: _corner(small_bench).panel["flange"].lip)
    _type(page, "depth of the lip", "1 in")
    wait_until(lambda: _corner(small_bench).panel["flange"].lip_depth_mm == pytest.approx(25.4))

    text = (small_bench.folder / "build.toml").read_text()
    assert [line for line in before.splitlines() if "#" in line and line not in text.splitlines()] == []
    for _ in range(7):
        undo = page.locator('button[aria-label^="undo "]')
        told = undo.get_attribute("aria-label")
        undo.click()
        expect(undo.or_(page.locator('button[aria-label="undo"]'))).not_to_have_attribute("aria-label", told or "")
    assert (small_bench.folder / "build.toml").read_text() == before


def test_a_cover_is_bolted_on_and_taken_off(page: Tab, small_bench: Bench):
    _change(page, small_bench)
    page.get_by_role("button", name="Add the plate").click()
    wait_until(lambda: len(_corner(small_bench).join) == 1)
    join = _corner(small_bench).join[0]
    assert (join.on, join.cover) == ("web", "lid")
    expect(page.get_by_text("lid, bolted on web")).to_be_visible()
    page.get_by_role("button", name="no plate lid").click()
    wait_until(lambda: not _corner(small_bench).join)


def test_an_outline_is_typed_as_corners_and_emptied_again(page: Tab, small_bench: Bench):
    _change(page, small_bench)
    page.get_by_text("Outline of web: left to the bench").click()
    field = page.get_by_label("corners of web", exact=True)
    field.fill("A\nB\nF\nE")
    field.blur()
    wait_until(lambda: _corner(small_bench).panel["web"].outline == ("car.A", "car.B", "car.F", "car.E"))
    settled(page)  # what is typed while the field takes over what was saved may be lost
    # two corners are no outline: it is told, and what stood stays
    field.fill("A\nB")
    field.blur()
    expect(page.get_by_text("Not changed").first).to_be_visible()
    assert len(_corner(small_bench).panel["web"].outline) == 4
    expect(field).to_have_value("A\nB\nF\nE")
    field.fill("")
    field.blur()
    wait_until(lambda: not _corner(small_bench).panel["web"].outline)


def _stl(triangles: int) -> bytes:
    return bytes(80) + struct.pack("<I", triangles) + bytes(50 * triangles)


def test_a_mesh_is_taken_in_and_other_kinds_and_sizes_are_not(page: Tab, small_bench: Bench, tmp_path: Path):
    page.goto(small_bench.address + "start")
    settled(page)
    chooser = page.locator('input[type="file"]')

    def bring(name: str, data: bytes) -> None:
        path = tmp_path / name
        path.write_bytes(data)
        chooser.set_input_files(str(path))

    bring("tank.stl", _stl(4))
    expect(page.get_by_text("tank.stl, 0 kB")).to_be_visible()
    assert (small_bench.folder / "tank.stl").read_bytes() == _stl(4)
    bring("tank.STL.exe", b"MZ")
    expect(page.get_by_text("It is not taken").first).to_be_visible()
    bring("page.stl", b"<html><script>alert(1)</script></html>")
    expect(page.get_by_text("what is in it is no STL and no STEP")).to_be_visible()
    bring("large.stl", _stl(LARGEST_MESH_BYTES // 50 + 1))
    expect(page.get_by_text("STL or STEP, up to 15 MB").first).to_be_visible()
    assert sorted(path.name for path in small_bench.folder.iterdir() if path.is_file()) == [
        "build.toml",
        "readings.csv",
        "tank.stl",
    ]


def test_two_taps_right_after_each_other_both_count(page: Tab, small_bench: Bench):
    """No wait between them: the second one lands while the page is still taking in the first."""
    page.goto(small_bench.address + "brackets")
    page.locator(".hb-card").first.wait_for()
    settled(page)
    page.get_by_role("button", name="New bracket").first.click()
    page.get_by_role("button", name="car.web").first.wait_for()
    both = """names => names.forEach(name => [...document.querySelectorAll('.hb-pick button')]
      .find(one => one.innerText.endsWith(name)).click())"""
    page.evaluate(both, ["car.web", "car.flange"])
    for face in ("car.web", "car.flange"):
        expect(page.get_by_role("button", name=f"✓ {face}")).to_be_visible()
    page.evaluate(both, ["E, on the face", "F, on the face"])
    for point in ("E", "F"):
        expect(page.get_by_role("button", name=f"✓ {point}, on the face").first).to_be_visible()
