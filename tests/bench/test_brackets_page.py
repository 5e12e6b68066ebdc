"""The brackets page in a real browser: made from nothing, folded, changed, refused, cut and taken away."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import ezdxf
import ezdxf.recover
import pytest
from PIL import Image, ImageChops
from playwright.sync_api import Locator, Page, expect

from halfshaft.build import load, save_values
from tests.bench.conftest import Bench, at_rest, on_screen, redrawn, settled

Opened = Callable[..., Bench]
VIEW = ".hs-canvas"
PATIENCE_MS = 90_000  # 3D views are drawn by the processor here, and it may be busy


def show(page: Page, bench: Bench, query: str = "") -> None:
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{bench.address}brackets{query}")
    page.locator(".hb-list").wait_for()
    settled(page)


def picture(page: Page) -> Image.Image:
    """The 3D view as it is drawn."""
    return Image.open(io.BytesIO(page.locator(".hs-scene-frame canvas").screenshot())).convert("RGB")


def changed_share(before: Image.Image, after: Image.Image) -> float:
    """Share of pixels that differ plainly."""
    grey = ImageChops.difference(before, after).convert("L").point(lambda v: 255 if v > 24 else 0)
    return grey.histogram()[255] / (grey.width * grey.height)


def still(page: Page) -> Image.Image:
    """The 3D view once it is drawn no more."""
    at_rest(page, VIEW)
    now = picture(page)
    colours = now.resize((40, 40)).getcolors(1600)
    assert colours is None or len(colours) > 8, "hardly anything is drawn"
    return now


def option(page: Page, field: str, words: str) -> None:
    """Pick from a drop-down."""
    page.get_by_label(field, exact=True).first.click()
    page.get_by_role("option", name=words, exact=True).click()


def section(page: Page, words: str) -> None:
    page.get_by_role("tab", name=words).click()


def hole_cells(page: Page, hole: str) -> Locator:
    return page.locator("tr", has=page.get_by_text(hole, exact=True)).locator("td")


@pytest.fixture
def bare_bench(small_folder: Path, open_bench: Opened) -> Bench:
    """Points and faces, no bracket yet."""
    save_values(small_folder, {("bracket", "corner"): None})
    return open_bench(small_folder)


def test_from_picks_in_lists_to_a_downloaded_dxf_with_the_holes_asked_for(page: Page, bare_bench: Bench) -> None:
    show(page, bare_bench)
    page.get_by_role("button", name="New bracket").first.click()
    page.get_by_label("name", exact=True).fill("made_here")
    for face in ("car.web", "car.flange"):
        page.get_by_role("button", name=face).click()
        expect(page.get_by_role("button", name=f"✓ {face}")).to_be_visible()
    for panel, point in (("web", "E"), ("web", "F"), ("flange", "C"), ("flange", "D")):
        own = page.locator(".hs-panel", has_text=f"Panel {panel}")
        own.get_by_role("button", name=f"{point}, on the face").click()
        # each pick draws the panels again: the next one is made on what is drawn then
        expect(own.get_by_role("button", name=f"✓ {point}, on the face")).to_be_visible()
        expect(own.get_by_label(f"bolt at {point}", exact=True).first).to_be_visible()
    option(page, "bolt at C", "M8")
    page.get_by_role("button", name="Make the bracket").click()
    expect(page.locator(".hb-card")).to_contain_text("made_here")
    settled(page)
    told = load(bare_bench.folder).bracket["made_here"]
    assert {p: [(h.at, h.bolt) for h in v.holes] for p, v in told.panel.items()} == {
        "web": [("car.E", "M10"), ("car.F", "M10")],
        "flange": [("car.C", "M8"), ("car.D", "M10")],
    }
    expect(page.locator(".hb-flat svg circle").first).to_be_visible()

    section(page, "Files")
    page.get_by_role("button", name="Write the cut files").click()
    with page.expect_download() as handed:
        page.get_by_role("button", name="download made_here.dxf").click()
    drawing, auditor = ezdxf.recover.readfile(handed.value.path())
    assert not auditor.errors
    across = sorted(round(2 * c.dxf.radius, 3) for c in drawing.modelspace().query("CIRCLE"))
    # ISO 273:1979, medium series: M8 in 9 mm, M10 in 11 mm
    assert across == [9.0, 11.0, 11.0, 11.0]

    with page.expect_download() as packed:
        page.get_by_role("button", name=re.compile("zipped")).first.click()
    names = zipfile.ZipFile(packed.value.path()).namelist()
    assert {Path(n).suffix for n in names} >= {".dxf", ".svg", ".pdf", ".step"}


def test_a_face_tapped_in_the_3d_view_becomes_a_panel(page: Page, bare_bench: Bench) -> None:
    show(page, bare_bench)
    page.get_by_role("button", name="New bracket").first.click()
    still(page)
    told = page.locator(".hb-told")
    # a point lies on the face too, and is preferred to it: then the next spot
    for x, y in on_screen(page, VIEW, "face:car.web"):
        before = told.inner_text()
        page.mouse.click(x, y)
        expect(told).not_to_have_text(before)
        expect(told).to_contain_text(re.compile(r"(face|point) car\."))  # not while it is drawn
        if "face car.web" in told.inner_text():
            break
    expect(page.get_by_role("button", name="✓ car.web")).to_be_visible()


def test_the_slider_folds_the_metal_in_the_3d_view(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    expect(page.locator(".hb-flat svg")).to_be_visible()
    folded = still(page)
    redrawn(page, VIEW, page.get_by_role("button", name="Flat", exact=True).click)
    flat = still(page)
    assert changed_share(folded, flat) > 0.02
    page.locator('.q-slider [tabindex="0"]').focus()

    slider = page.locator(".hs-slider-row [role=slider]")

    def half_way() -> None:
        while int(slider.get_attribute("aria-valuenow") or 0) < 40:
            page.keyboard.press("ArrowRight")

    redrawn(page, VIEW, half_way)
    half = still(page)
    assert changed_share(flat, half) > 0.005
    assert changed_share(folded, half) > 0.005
    redrawn(page, VIEW, page.get_by_role("button", name="Folded", exact=True).click)
    assert changed_share(folded, still(page)) < 0.002


def test_another_bolt_bores_another_hole_and_undo_brings_the_first_back(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    section(page, "Folds and holes")
    # ISO 273:1979, medium series
    expect(hole_cells(page, "web.E").nth(3)).to_have_text("Ø 11.0 mm")
    section(page, "Change")
    option(page, "bolt at E", "M12")
    settled(page)
    section(page, "Folds and holes")
    expect(hole_cells(page, "web.E").nth(3)).to_have_text("Ø 13.5 mm")
    assert load(small_bench.folder).bracket["corner"].panel["web"].holes[0].bolt == "M12"
    page.get_by_role("button", name="undo bolt at E").click()
    expect(hole_cells(page, "web.E").nth(3)).to_have_text("Ø 11.0 mm")
    assert load(small_bench.folder).bracket["corner"].panel["web"].holes[0].bolt == "M10"


def test_lengths_follow_the_units_at_once(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    section(page, "Folds and holes")
    expect(hole_cells(page, "web.E").nth(3)).to_have_text("Ø 11.0 mm")
    page.get_by_role("button", name="show metric or inch").click()
    expect(hole_cells(page, "web.E").nth(3)).to_have_text("Ø 7/16 in")


def test_a_slot_and_its_length_are_set_and_drawn(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    section(page, "Change")
    option(page, "hole at E", "slot")
    page.get_by_label("slot, centre to centre").fill("1/4 in")
    page.get_by_label("slot, centre to centre").press("Enter")
    section(page, "Folds and holes")
    expect(hole_cells(page, "web.E").nth(3)).to_have_text("11.0 mm × 17.4 mm")
    hole = load(small_bench.folder).bracket["corner"].panel["web"].holes[0]
    assert (hole.shape, hole.slot_length_mm) == ("slot", pytest.approx(6.35))


def test_a_length_that_cannot_be_read_is_told_and_nothing_is_saved(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    section(page, "Change")
    before = (small_bench.folder / "build.toml").read_bytes()
    page.get_by_label("thickness of sheet plate").fill("thick")
    page.get_by_label("thickness of sheet plate").press("Enter")
    expect(page.get_by_text("Not changed").first).to_be_visible()
    assert (small_bench.folder / "build.toml").read_bytes() == before


def test_a_refused_bracket_says_why(page: Page, small_folder: Path, open_bench: Opened) -> None:
    # a web and a flange that are one and the same plane do not meet in a fold
    save_values(small_folder, {("bracket", "corner", "panel", "flange", "face"): "web"})
    show(page, open_bench(small_folder))
    expect(page.locator(".hb-card")).to_contain_text("refused")
    expect(page.locator(".hs-pair .hs-edge-bad").first).to_contain_text("corner is refused")
    expect(page.locator(".hs-pair .hs-edge-bad").first).to_contain_text("parallel")
    section(page, "Files")
    expect(page.get_by_role("button", name="Write the cut files")).to_be_visible()


def test_words_of_the_builder_are_text_and_never_markup(page: Page, small_folder: Path, open_bench: Opened) -> None:
    nasty = "<script>document.title='harmed'</script><img src=x onerror=\"document.title='harmed'\">"
    save_values(
        small_folder,
        {
            ("bracket", "corner", "what"): nasty,
            ("body", "car", "face", "web", "what"): nasty,
            ("body", "car", "point", "E", "what"): nasty,
            ("obstacle", "line"): {"box": [[0, 300, 40], [200, 304, 46]], "what": nasty, "hidden": True},
        },
    )
    show(page, open_bench(small_folder))
    expect(page.get_by_text("<script>document.title").first).to_be_visible()
    for words in ("Change", "Folds and holes", "Files", "Fit and checks"):
        section(page, words)
        page.wait_for_timeout(300)
    for words in ("face car.web", "point car.E", "in the way: line"):
        page.get_by_label("or from the list").fill(words)
        page.get_by_role("option", name=words, exact=True).click()
        expect(page.locator(".hb-told")).to_contain_text("<script>")
    assert "harmed" not in page.title()
    assert page.locator("img[src=x]").count() == 0


def test_a_deleted_bracket_is_brought_back_by_undo(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    before = (small_bench.folder / "build.toml").read_bytes()
    section(page, "Change")
    page.get_by_role("button", name="Delete corner").click()
    expect(page.locator(".hb-card")).to_have_count(0)
    page.get_by_role("button", name="undo delete bracket corner").click()
    expect(page.locator(".hb-card")).to_have_count(1)
    assert (small_bench.folder / "build.toml").read_bytes() == before


def test_everything_that_can_be_tapped_is_in_the_list_too(page: Page, small_bench: Bench) -> None:
    show(page, small_bench)
    told = page.locator(".hb-told")
    page.get_by_label("or from the list").fill("fold web")
    page.get_by_role("option", name="fold web-flange").click()
    expect(told).to_contain_text("fold web-flange")
    expect(told).to_contain_text("bridges, hand force")
    page.locator('.hb-flat [aria-label="hole web.E"]').click()
    expect(told).to_contain_text("hole web.E")
    expect(told).to_contain_text("from the stop")
    page.locator('.hb-flat [aria-label="fold web-flange"]').focus()
    page.keyboard.press("Enter")
    expect(told).to_contain_text("fold web-flange")


def test_a_check_leads_to_its_bracket_and_a_remedy_is_done_by_its_button(page: Page, demo_bench: Bench) -> None:
    page.set_default_timeout(120_000)
    page.goto(f"{demo_bench.address}brackets")
    page.wait_for_selector(".hb-card >> text=take care", timeout=240_000)
    show(page, demo_bench, "?about=bracket%20rear")
    expect(page.locator(".hb-card.hs-here")).to_contain_text("rear")
    page.get_by_role("button", name=re.compile("^Stand panel lip off")).click()
    page.get_by_role("button", name=re.compile("^undo Stand panel lip off")).wait_for()
    assert load(demo_bench.folder).bracket["rear"].panel["lip"].standoff_mm > 1.0
    # what it hits is told in the view and on the card
    page.get_by_role("button", name="front_left_first_try").click()
    expect(page.get_by_text("✖ ear hits hidden_gusset")).to_be_visible()
