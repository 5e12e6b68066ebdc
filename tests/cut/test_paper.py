"""Paper templates measured as a builder would: on the printed page, pixel by pixel."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from shapely import union_all
from shapely.geometry import box

from halfshaft.build import Build, BuildProblems, load
from halfshaft.build.paper import PaperCheckInput
from halfshaft.cut.paper import paper_pdf
from halfshaft.cut.tiles import Paper, row_letters, tiling
from halfshaft.cut.typeset import SIZES_MM
from halfshaft.fold.lay import laid
from tests.cut.parts import plate
from tests.study import small

DPI = 300
MM = DPI / 25.4  # pixels


@cache
def page(paper: str, number: int, scale: tuple[float, float] = (1.0, 1.0)) -> np.ndarray:
    """Page as red, green, blue (rows, columns, 3)."""
    document = pypdfium2.PdfDocument(paper_pdf(laid(plate()), 1.5, paper, scale))
    return np.asarray(document[number].render(scale=DPI / 72.0).to_pil().convert("RGB"), dtype=int)


def runs(dark: np.ndarray) -> list[tuple[int, int]]:
    """Start and end of each run of True."""
    edge = np.diff(np.concatenate([[0], dark.astype(int), [0]]))
    return list(zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1), strict=True))


def black(image: np.ndarray) -> np.ndarray:
    return image.max(axis=2) < 110


def tick_positions(strip: np.ndarray, along: int, least_mm: float) -> np.ndarray:
    """Middles, in mm along the axis, of lines square to it that are at least so long."""
    length = np.array([max((b - a for a, b in runs(line)), default=0) for line in np.moveaxis(strip, along, 0)])
    return np.array([(a + b) / 2.0 for a, b in runs(length > least_mm * MM)]) / MM


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("number", [1, 2])
def test_the_check_lengths_measure_100_mm_and_4_in_both_ways(paper: str, number: int) -> None:
    image = black(page(paper, number))
    height = image.shape[0]
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
    across = tick_positions(image[height - int(20 * MM) : height - int(10 * MM)], 1, 4.0)
    assert across[1] - across[0] == pytest.approx(100.0, abs=0.1)
    assert across[2] - across[0] == pytest.approx(101.6, abs=0.1)
    up = tick_positions(image[height - int(130 * MM) :, int(10 * MM) : int(21 * MM)], 0, 4.0)
    assert up[-1] - up[1] == pytest.approx(100.0, abs=0.1)
    assert up[-1] - up[0] == pytest.approx(101.6, abs=0.1)


def crosses(image: np.ndarray) -> np.ndarray:
    """Middles (n, 2) in mm of the alignment crosses: arms of 8 mm both ways, in black."""
    dark = black(image)
    found = []
    for row in range(dark.shape[0]):
        for a, b in runs(dark[row]):
            if abs((b - a) / MM - 8.0) < 0.4:
                column = (a + b) // 2
                upright = [r for r in runs(dark[:, column]) if r[0] <= row < r[1]]
                if upright and 7.6 < (upright[0][1] - upright[0][0]) / MM < 8.4:
                    found.append(((a + b) / 2.0 / MM, sum(upright[0]) / 2.0 / MM))
    unique: list[tuple[float, float]] = []
    for spot in found:
        if not any(np.hypot(spot[0] - u[0], spot[1] - u[1]) < 2.0 for u in unique):
            unique.append(spot)
    return np.array(sorted(unique, key=lambda s: s[1]))


def blue_middle(image: np.ndarray, lower: bool) -> np.ndarray:
    """Middle of the box about the blue lines in the upper or lower half of the page, mm."""
    blue = (image[:, :, 2] - image[:, :, 0]) > 80
    half = image.shape[0] // 2
    rows, columns = np.nonzero(blue[half:] if lower else blue[:half])
    at = np.array([(columns.min() + columns.max() + 1) / 2.0, (rows.min() + rows.max() + 1) / 2.0])
    return (at + np.array([0, half if lower else 0])) / MM


def test_holes_on_two_sheets_lie_right_when_the_crosses_meet() -> None:
    first, second = page("A4", 1), page("A4", 2)
    marks_a, marks_b = crosses(first), crosses(second)
    assert len(marks_a) == len(marks_b) == 3
    hole_a = blue_middle(first, lower=True) - marks_a.mean(axis=0)
    blue = (second[:, :, 2] - second[:, :, 0]) > 80
    rows, columns = np.nonzero(blue)
    slot = np.array([columns.min() + columns.max() + 1, rows.min() + rows.max() + 1]) / 2.0 / MM
    hole_b = slot - marks_b.mean(axis=0)
    # drawn: A1 at (30, 40), the slot's middle at (240, 90)
    assert np.linalg.norm(hole_b - hole_a) == pytest.approx(np.hypot(210.0, 50.0), abs=0.15)


def test_a_printer_that_stretches_is_corrected_both_ways() -> None:
    image = black(page("A4", 1, (1.02, 0.99)))
    height = image.shape[0]
    across = tick_positions(image[height - int(20 * MM) : height - int(10 * MM)], 1, 4.0)
    up = tick_positions(image[height - int(130 * MM) :, int(10 * MM) : int(21 * MM)], 0, 4.0)
    # what the page holds, times what the printer does to it, is 100 mm
    assert (across[1] - across[0]) * 1.02 == pytest.approx(100.0, abs=0.15)
    assert (up[-1] - up[1]) * 0.99 == pytest.approx(100.0, abs=0.15)


def test_a_page_that_lies_is_corrected_along_the_sheets_own_sides() -> None:
    long = plate(width=255.0, height=150.0)
    spread = tiling(long, "A4", (1.02, 0.99))
    assert spread.landscape
    # across the page as it lies is along the sheet's long side
    assert spread.scale == (0.99, 1.02)


@pytest.mark.parametrize(("width", "scale"), [(610.0, (1.0, 1.0)), (914.0, (1.004, 0.9935))])
def test_long_check_lengths_of_a_roll_are_right_to_a_tenth_of_a_mm_as_printed(
    width: float, scale: tuple[float, float]
) -> None:
    # common practice: rolls of 24 in and 36 in are sold as 610 mm and 914 mm
    part = laid(plate(width=1300.0, height=420.0))
    spread = tiling(part, Paper.roll(width), scale)
    assert len(spread.tiles) == 1
    whole = pypdfium2.PdfDocument(paper_pdf(part, 1.5, Paper.roll(width), scale))[1]
    wide, high = whole.get_size()
    assert (wide * 25.4 / 72.0, high * 25.4 / 72.0) == pytest.approx(spread.page_mm, abs=0.01)

    def strip(left: float, low: float, right: float, top: float) -> np.ndarray:
        """The page between mm from its lower left, at 300 dpi."""
        off = (left * 72 / 25.4, low * 72 / 25.4, wide - right * 72 / 25.4, high - top * 72 / 25.4)
        image = whole.render(scale=DPI / 72.0, grayscale=True, crop=off).to_numpy()
        return np.asarray(image.reshape(image.shape[:2]) < 110)

    across_mm, along_mm = spread.check_mm
    assert across_mm >= 500.0
    assert along_mm >= 1000.0
    across = tick_positions(strip(0.0, 10.0, width, 20.0), 1, 4.0)
    up = tick_positions(strip(10.0, 0.0, 21.0, spread.page_mm[1]), 0, 4.0)
    # what the page holds, times what the printer makes of it
    hundreds = (across - across[0]) * scale[0]
    assert np.abs(hundreds - across_mm).min() < 0.1
    assert np.abs(hundreds - 100.0).min() < 0.1
    assert np.abs((up[-1] - up) * scale[1] - along_mm).min() < 0.1


def test_a_part_longer_than_any_page_goes_on_pieces_that_overlap() -> None:
    spread = tiling(plate(width=6200.0, height=300.0), Paper.roll(610.0))
    assert len(spread.tiles) == 2
    windows = [box(t.x_mm, t.y_mm, t.x_mm + spread.window_mm[0], t.y_mm + spread.window_mm[1]) for t in spread.tiles]
    assert spread.figure.difference(union_all(windows)).area < 1e-6
    assert spread.page_mm[1] <= 5080.0  # ISO 32000-1, annex C: 14 400 units of 1/72 in


def test_a_small_part_takes_little_of_the_roll() -> None:
    spread = tiling(plate(), Paper.roll(914.0))
    assert len(spread.tiles) == 1
    assert spread.page_mm[1] < 180.0 + 60.0


def shop_build(tmp_path: Path, line: str, units: str = "metric") -> Build:
    folder = small.write(tmp_path / "build")
    text = (folder / "build.toml").read_text(encoding="utf-8")
    text = text.replace("[shop]", f"[shop]\n{line}").replace('units = "metric"', f'units = "{units}"')
    (folder / "build.toml").write_text(text, encoding="utf-8")
    return load(folder)


def test_what_the_builder_measured_corrects_the_templates(tmp_path: Path) -> None:
    told = shop_build(tmp_path, 'paper_check = { across = "99.2 mm", along = "100.5 mm" }').shop
    assert told.paper_check is not None
    scale = told.paper_check.scale("metric")
    assert scale == pytest.approx((0.992, 1.005))
    image = black(page(told.paper, 1, scale))
    height = image.shape[0]
    across = tick_positions(image[height - int(20 * MM) : height - int(10 * MM)], 1, 4.0)
    up = tick_positions(image[height - int(130 * MM) :, int(10 * MM) : int(21 * MM)], 0, 4.0)
    # the printer that made 99.2 mm of 100 mm makes 100 mm of it now
    assert (across[1] - across[0]) * 0.992 == pytest.approx(100.0, abs=0.1)
    assert (up[-1] - up[1]) * 1.005 == pytest.approx(100.0, abs=0.1)


def test_one_way_measured_corrects_that_way_alone_and_inch_builds_read_the_4_in_length(tmp_path: Path) -> None:
    told = shop_build(tmp_path / "a", 'paper_check = { along = "100.4 mm" }').shop.paper_check
    assert told is not None
    assert told.scale("metric") == pytest.approx((1.0, 1.004))
    # 4 in are 101.6 mm
    inch = PaperCheckInput(across="3.98 in", along="101.2 mm")
    assert inch.scale("inch") == pytest.approx((3.98 / 4.0, 101.2 / 101.6))


@pytest.mark.parametrize("line", [
    'paper_check = { across = "99.2 mm", along = "149 mm" }',
    'paper_check = { across = "3.98 in", along = "4.26 in", length = "4 in" }',
    "roll_width = 60",
])  # fmt: skip
def test_a_length_that_no_printer_makes_is_told_with_its_line(tmp_path: Path, line: str) -> None:
    with pytest.raises(BuildProblems) as raised:
        shop_build(tmp_path, line)
    (told,) = raised.value.problems
    assert told.line is not None
    key = line.partition(" ")[0]
    assert key == "roll_width" or "a printer errs by less than 5 %" in told.found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_pages_have_the_size_of_the_paper(paper: str) -> None:
    # ISO 216: A4 210 x 297 mm; ANSI/ASME Y14.1: Letter 8.5 x 11 in
    image = page(paper, 1)
    size = sorted((image.shape[0] / MM, image.shape[1] / MM))
    assert size == pytest.approx({"A4": [210.0, 297.0], "Letter": [215.9, 279.4]}[paper], abs=0.2)
    assert sorted(SIZES_MM[paper]) == pytest.approx(size, abs=0.2)


@pytest.mark.parametrize(("width", "height"), [(120.0, 100.0), (620.0, 330.0), (1400.0, 90.0)])
def test_tiles_cover_the_part_whole_and_none_is_idle(width: float, height: float) -> None:
    spread = tiling(plate(width=width, height=height))
    windows = [box(t.x_mm, t.y_mm, t.x_mm + spread.window_mm[0], t.y_mm + spread.window_mm[1]) for t in spread.tiles]
    assert spread.figure.difference(union_all(windows)).area < 1e-6
    assert all(window.intersects(spread.figure) for window in windows)


def test_no_part_takes_more_sheets_than_a_plain_upright_grid() -> None:
    part = plate(width=620.0, height=330.0)
    upright = np.ceil((620 - 12) / (177 - 12)) * np.ceil((330 - 12) / (249 - 12))
    assert len(tiling(part).tiles) <= upright


def test_a_printer_scale_that_no_printer_has_is_refused() -> None:
    with pytest.raises(ValueError, match="measure again"):
        tiling(plate(), "A4", (1.3, 1.0))


def test_rows_are_counted_in_letters() -> None:
    assert [row_letters(i) for i in (0, 25, 26, 27)] == ["A", "Z", "AA", "AB"]


@pytest.mark.parametrize(("units", "wanted", "never"), [
    ("inch", ["3/16 in", "1/64 in"], ["0.3 mm", "4.8 mm", "4.76 mm"]),
    ("metric", ["4.76 mm", "0.3 mm"], ["3/16"]),
])  # fmt: skip
def test_lengths_on_paper_are_told_in_the_units_of_the_build(units: str, wanted: list[str], never: list[str]) -> None:
    part = replace(plate(), thickness_mm=4.7625)  # 3/16 x 25.4
    document = pypdfium2.PdfDocument(paper_pdf(laid(part), 1.5, "Letter", units=units))
    read = " ".join(page.get_textpage().get_text_range() for page in document)
    assert all(words in read for words in wanted)
    assert not any(words in read for words in never)
