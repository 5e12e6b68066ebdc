"""The whole job once, as a builder does it: from an empty folder to a file that the cutting table reads."""

from __future__ import annotations

import ezdxf.recover
import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.build import load, new_build, rows_by_line
from tests.bench.conftest import Bench, settled, wait_until


def test_from_an_empty_folder_to_a_dxf_that_the_table_reads(page: Tab, empty_bench: Bench, tmp_path_factory):
    folder = empty_bench.folder
    page.goto(empty_bench.address)
    page.wait_for_url("**/start")
    page.get_by_label("name of the build").fill("Whole job")
    page.get_by_label("thickness, or gauge").fill("3/16 in")
    page.get_by_label("points of the car").fill("A B C D E F")
    page.get_by_role("button", name="Begin the build").click()
    expect(page.locator(".hs-name")).to_have_text("Whole job")

    # a web that looks left and a flange that looks up, as the starter build has them
    for name, looks, points in (("web", "left", "A B E F"), ("flange", "up", "A B C D")):
        page.get_by_label("a flat face, by name").first.fill(name)
        page.get_by_label("it looks, out of the metal").first.click()
        page.get_by_role("option", name=looks, exact=True).click()
        page.get_by_label("points that lie on it").first.fill(points)
        page.get_by_role("button", name="Add the face").first.click()
        expect(page.get_by_text(f"face {name}, looks {looks}")).to_be_visible()

    # its readings too, typed row by row with nothing but keys
    starter = tmp_path_factory.mktemp("starter") / "build"
    new_build(starter)
    rows = [cells for _, cells in rows_by_line(starter).values()]
    page.goto(empty_bench.address + "measure")
    page.locator(".hs-entry-reading input").wait_for()
    for number, cells in enumerate(rows, 1):
        for column in ("reading", "points", "value"):
            page.locator(f".hs-entry-{column} input").fill(cells.get(column, ""))
        page.locator(".hs-entry-value input").press("Enter")
        wait_until(lambda number=number: len(load(folder).readings) == number)
    settled(page)

    page.goto(empty_bench.address + "brackets")
    page.get_by_role("button", name="New bracket").first.click()
    page.get_by_label("name", exact=True).fill("first")
    for face in ("car.web", "car.flange"):
        page.get_by_role("button", name=face).click()
        expect(page.get_by_role("button", name=f"✓ {face}")).to_be_visible()
    for panel, point in (("web", "E"), ("web", "F"), ("flange", "C"), ("flange", "D")):
        own = page.locator(".hs-panel", has_text=f"Panel {panel}")
        own.get_by_role("button", name=f"{point}, on the face").click()
        expect(own.get_by_label(f"bolt at {point}", exact=True).first).to_be_visible()
    page.get_by_role("button", name="Make the bracket").click()
    expect(page.locator(".hb-card")).to_contain_text("fits")
    settled(page)
    expect(page.locator(".hb-card")).not_to_contain_text("refused")
    page.get_by_role("tab", name="Files").click()
    page.get_by_role("button", name="Write the cut files").click()
    with page.expect_download() as handed:
        page.get_by_role("button", name="download first.dxf").click()
    drawing, auditor = ezdxf.recover.readfile(handed.value.path())
    assert auditor.errors == []
    assert auditor.fixes == []
    circles = drawing.modelspace().query("CIRCLE")
    across = sorted(2 * circle.dxf.radius for circle in circles)
    # ISO 273:1979, medium series: M10 in 11 mm
    assert across == pytest.approx([11.0] * 4)
    # holes on one panel are as far apart in the flat as they were taped: both pairs read 160 mm or a little more
    taped = [float(row["value"]) for row in rows if row["reading"] == "tape" and row["points"] in ("C D", "E F")]
    apart = sorted(
        a.dxf.center.distance(b.dxf.center) for number, a in enumerate(circles) for b in list(circles)[number + 1 :]
    )
    for length_mm in taped:
        assert min(abs(length_mm - other) for other in apart) < 1.0
