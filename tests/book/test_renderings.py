"""The book on paper and as a page: the same words, legible, to scale, nothing fetched."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from halfshaft.book.model import (
    Beside,
    Block,
    Book,
    Grid,
    Judged,
    Judgements,
    Picture,
    Points,
    Section,
    Tick,
    Ticks,
    Words,
    told,
)
from halfshaft.book.page import book_html
from halfshaft.book.sheets import MARGIN_MM, book_pdf, book_source
from halfshaft.book.station import book_of
from halfshaft.cut.drawing import SMALL_PT, THIN_MM, Drawing, Label, Stroke, block, line
from halfshaft.study import Study
from halfshaft.tables import Table

NASTY = ('a <b>&amp; "c" #d $e* [f]', "100 % \\ back_slash.and/dots_in_a_very_long_name", "½ ± 3 °, Ø 12")


def nasty() -> Book:
    drawing = Drawing((60.0, 30.0), (block((5, 5), 40, 20), Label(np.array([25.0, 15.0]), NASTY[2])), 1.0)
    table = Table(NASTY[0], ("x", NASTY[1]), ((NASTY[2], "1.234 mm"), (NASTY[1], NASTY[0])), (0,), ("bad", "care"))
    blocks: tuple[Block, ...] = (
        *(Words(NASTY[0], kind) for kind in ("plain", "small", "bold", "care", "head")),
        Points(NASTY, True),
        Points(NASTY),
        Grid(table, NASTY[1]),
        Grid(Table("", ("", ""), (("a", "b"),))),
        Grid(Table("Empty", ("a",), (), empty=NASTY[2])),
        Picture(drawing, NASTY[0], NASTY[1]),
        Beside((Picture(drawing),), (Grid(table),), 80.0),
        Judgements((Judged("STOP", *NASTY),)),
        Ticks(NASTY[0], (Tick(NASTY[1], NASTY[2]), Tick(NASTY[2], NASTY[0], sign=True))),
    )
    sections = (Section("one", NASTY[0], blocks), Section("two", NASTY[1], blocks, wide=True))
    return Book(NASTY[0], NASTY[1], NASTY[2], "metric", "Letter", (Words(NASTY[0]),), sections)


class _Read(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.asked: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in ("style", "script")
        self.asked += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href", "data", "action")]

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def bare(words: str) -> str:
    """Without what a line break may add or take; the paper's typesetter joins some letters."""
    for joined, apart in (("ﬁ", "fi"), ("ﬂ", "fl"), ("ﬀ", "ff"), ("ﬃ", "ffi"), ("ﬄ", "ffl")):
        words = words.replace(joined, apart)
    return re.sub(r"[-\s\u0002\u200b\ufffe\u00ad]+", "", words)


def of_paper(data: bytes) -> str:
    return bare("".join(page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(data)))


def of_page(text: str) -> tuple[str, list[str]]:
    reader = _Read()
    reader.feed(text)
    return bare("".join(reader.words)), reader.asked


@pytest.fixture(scope="module")
def book(corner: Study) -> Book:
    return book_of(corner)


@pytest.mark.parametrize("which", ["nasty", "starter"])
def test_paper_and_page_hold_every_word_and_number_of_the_book(which: str, book: Book) -> None:
    shown = nasty() if which == "nasty" else book
    paper, (page, asked) = of_paper(book_pdf(shown)), of_page(book_html(shown))
    for piece in told(shown):
        assert bare(piece) in page
        assert bare(piece) in paper
    assert all(one.startswith("#") for one in asked)


def test_a_page_jumps_only_to_sections_that_are_there(book: Book) -> None:
    text = book_html(book)
    jumps = set(re.findall(r'href="#([^"]+)"', text))
    assert jumps == {section.key for section in book.sections}
    assert jumps <= set(re.findall(r'id="([^"]+)"', text))
    assert "url(" not in text
    assert "<script" not in text


def drawings(blocks: tuple[Block, ...]) -> list[Drawing]:
    found = []
    for one in blocks:
        if isinstance(one, Picture):
            found.append(one.drawing)
        if isinstance(one, Beside):
            found += drawings((*one.left, *one.right))
    return found


def test_no_letter_is_under_8_points_and_no_line_thinner_than_a_printer_holds(book: Book) -> None:
    assert min(float(size) for size in re.findall(r"size: ([\d.]+)pt", book_source(book))) >= 8.0
    every = [d for section in book.sections for d in drawings(section.blocks)] + drawings(book.cover)
    assert every
    for drawing in every:
        for mark in drawing.marks:
            if isinstance(mark, Label):
                assert mark.size_pt >= SMALL_PT
            elif isinstance(mark, Stroke) and mark.colour and mark.colour != mark.fill:
                assert mark.thick_mm >= THIN_MM


def ink(data: bytes, page: int, dpi: int = 300) -> np.ndarray:
    picture = pypdfium2.PdfDocument(data)[page].render(scale=dpi / 72.0, grayscale=True).to_numpy()
    return np.asarray(picture[:, :, 0] if picture.ndim == 3 else picture) < 128


def centres(dark: np.ndarray) -> np.ndarray:
    """Middles, in pixels, of the runs of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(int), [0]])))
    return np.asarray((edges[::2] + edges[1::2] - 1) / 2.0)


def test_the_check_lengths_are_true_within_a_tenth_of_a_millimetre(corner: Study, book: Book) -> None:
    dark = ink(book_pdf(book), 0)
    mm = 300.0 / 25.4
    # the end strokes stand 6 mm tall: the only straight runs of ink so tall beside the upright line itself
    tall = np.array([_longest(column) for column in dark.T])
    ends = centres((tall >= 5.5 * mm) & (tall <= 6.8 * mm))
    spans = np.abs(ends[:, None] - ends[None, :]) / mm
    assert np.min(np.abs(spans - 100.0)) <= 0.1
    wide = np.array([_longest(row) for row in dark])
    rows = centres((wide >= 5.5 * mm) & (wide <= 6.8 * mm))
    spans = np.abs(rows[:, None] - rows[None, :]) / mm
    assert np.min(np.abs(spans - 50.0)) <= 0.1


def _longest(run: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], run.astype(int), [0]])))
    return int(max(edges[1::2] - edges[::2], default=0))


def test_nothing_is_printed_beyond_the_margins(book: Book) -> None:
    data = book_pdf(book)
    mm = 100.0 / 25.4
    for page in range(len(pypdfium2.PdfDocument(data))):
        columns = np.flatnonzero(ink(data, page, 100).any(axis=0))
        assert columns.min() >= (MARGIN_MM - 2.0) * mm
        assert columns.max() <= ink(data, page, 100).shape[1] - (MARGIN_MM - 2.0) * mm


def test_equal_books_are_equal_files(book: Book) -> None:
    assert book_pdf(book) == book_pdf(book)


def test_the_book_says_what_it_must(corner: Study, book: Book) -> None:
    keys = [section.key for section in book.sections]
    for wanted in (
        "cautions",
        "open",
        "measured",
        "fit-up",
        "bracket-corner",
        "buy",
        "cut-list",
        "order",
        "inspection",
    ):
        assert wanted in keys
    words = " ".join(told(book))
    for wanted in ("High voltage", "local code", "licensed", "HOLD until", "Signed off", "Brakes", "near batteries"):
        assert wanted in words
    for check in corner.checks:
        if not check.ok:
            assert check.title in words
    for one in corner.assumed:
        assert one.where in words


def test_the_fit_up_drawing_tells_the_places_of_the_outermost_holes(corner: Study, book: Book) -> None:
    section = next(one for one in book.sections if one.key == "fit-up")
    (drawing,) = drawings(section.blocks)
    # C and D are the flange's holes: the one farthest forward, the one farthest from the centre line
    points = {name.partition(".")[2]: point.xyz_mm for name, point in corner.measured.points.items()}
    assert f"{max(abs(points[n][0]) for n in 'CDEF'):.1f}" in drawing.words
    assert f"{max(abs(points[n][1]) for n in 'CDEF'):.1f}" in drawing.words
    assert {"seen from the left", "seen from above", "seen from the front", "A"} <= set(drawing.words)


def test_a_line_drawn_to_scale_is_as_long_in_the_page(tmp_path: Path) -> None:
    drawing = Drawing((120.0, 10.0), (line((10.0, 5.0), (110.0, 5.0)),), 1.0)
    text = book_html(Book("t", "", "", "metric", "A4", (Picture(drawing),)))
    assert 'viewBox="0 0 120 10" width="120mm"' in text
    assert "M10,5L110,5" in text
