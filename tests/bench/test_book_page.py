"""Book and Revisions pages: made and frozen in a real browser; nothing strange is shown as a page of the book."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.book_preview import preview
from halfshaft.book.model import Book, Section, Words
from halfshaft.book.page import book_html
from tests.bench.conftest import WORK_MS, Bench, settled

BOOK = Book("a <b> & c", "A", "", "metric", "A4", (), (Section("open", "To settle", (Words("all's well"),)),))


def test_a_page_of_the_book_is_let_through_with_its_jumps() -> None:
    found = preview(book_html(BOOK))
    assert found.jumps == (("book-open", "To settle"),)
    assert '<section id="book-open">' in found.body
    assert "a &lt;b&gt; &amp; c" in found.body
    assert "<nav" not in found.body


@pytest.mark.parametrize(
    "strange",
    [
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        '<p onclick="alert(1)">x</p>',
        '<a href="javascript:alert(1)">x</a>',
        '<a href="https://elsewhere.example">x</a>',
        "<iframe></iframe>",
        "<style>* { display: none }</style>",
        '<p style="position: fixed">x</p>',
        '<p id="app">x</p>',
        "<!-- x -->",
        "<svg><foreignObject></foreignObject></svg>",
        "<svg><![CDATA[<img src=x>]]></svg>",
    ],
)
def test_a_page_that_somebody_else_put_there_is_not_shown(strange: str) -> None:
    text = book_html(BOOK).replace("</main>", f"{strange}</main>")
    with pytest.raises(ValueError, match="which no book has"):
        preview(text)


def test_the_book_is_made_looked_at_and_taken_away(page: Tab, small_bench: Bench) -> None:
    page.goto(small_bench.address + "book")
    settled(page)
    expect(page.get_by_text("Not made yet")).to_be_visible()
    page.get_by_role("button", name="Make the book").click()
    expect(page.locator(".hk-paper h1")).to_have_text("my build", timeout=WORK_MS)
    page.locator(".hk-jumps a", has_text="Cautions").click()
    expect(page.locator("#book-cautions")).to_be_in_viewport()
    with page.expect_download() as taken:
        page.get_by_role("button", name="Take the PDF").click()
    assert Path(taken.value.path()).read_bytes()[:5] == b"%PDF-"
    assert (small_bench.folder / "out" / "kit" / "control-readings.csv").is_file()


def test_a_build_is_frozen_changed_frozen_and_compared_and_damage_is_named(page: Tab, small_bench: Bench) -> None:
    page.goto(small_bench.address + "revisions")
    settled(page)
    freeze = page.get_by_role("button", name="Freeze")
    freeze.click()
    expect(page.locator(".hk-pick").get_by_text("r001")).to_be_visible(timeout=WORK_MS)
    toml = small_bench.folder / "build.toml"
    toml.write_text(toml.read_text().replace('bolt = "M10", frame_hole = 12 }', 'bolt = "M12", frame_hole = 14 }', 1))
    page.get_by_label("a note to keep with it").fill("wider")
    page.get_by_text("changed outside").first.wait_for(timeout=WORK_MS)
    settled(page)
    freeze.click()
    expect(page.locator(".hk-pick").get_by_text("r002")).to_be_visible(timeout=WORK_MS)
    page.get_by_role("button", name="Compare the two picked").click()
    expect(page.locator(".hk-paper")).to_contain_text("wider", timeout=WORK_MS)
    spoiled = small_bench.folder / "revisions" / "r001" / "files" / "corner" / "corner.dxf"
    spoiled.chmod(0o644)
    spoiled.write_bytes(spoiled.read_bytes() + b" ")
    page.get_by_role("button", name="Look them over again").click()
    expect(page.locator(".hk-pick")).to_contain_text("files/corner/corner.dxf changed")
    expect(page.locator(".hk-pick")).to_contain_text("damaged")
