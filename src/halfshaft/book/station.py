"""The build book. A worked study in; the book's model, and its two files in out/book, out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from halfshaft.book import chapters, sheet_chapter
from halfshaft.book.cautions import FIRST, KINDS
from halfshaft.book.entry_chapter import entry_lacking, entry_sections
from halfshaft.book.fit_up import check_line, fit_up_drawing, letters_words, places_table
from halfshaft.book.model import Block, Book, Grid, Picture, Points, Section, Words
from halfshaft.book.order import inspection, order_of_work
from halfshaft.book.page import book_html
from halfshaft.book.sheets import book_pdf, room_mm
from halfshaft.build.units import format_mass
from halfshaft.checks import Severity
from halfshaft.crew import ALONE, Crew
from halfshaft.cut.drawing import Drawing
from halfshaft.cut.files import write_all
from halfshaft.cut.station import is_refused
from halfshaft.study import Study
from halfshaft.tables import Table
from halfshaft.tables_buy import buy_table, total_words
from halfshaft.tables_control import built_table, built_words
from halfshaft.weights.words import mass_words

PDF, PAGE = "book.pdf", "book.html"
FOLDER = "book"
_DRAWING, _BRACKETS = "fit-up drawing", "pages of brackets"


def write_book(study: Study, crew: Crew = ALONE) -> tuple[Path, Path]:
    """Both files in out/book; raises files.Unwritable, and typeset.Unprintable."""
    book = book_of(study, crew)
    folder = study.folder / "out" / FOLDER
    crew.ahead(PAGE, partial(book_html, book))
    paper = book_pdf(book)
    write_all(folder, {PDF: paper, PAGE: crew.take(PAGE, partial(book_html, book)).encode("utf-8")})
    return folder / PDF, folder / PAGE


def begin_drawings(study: Study, crew: Crew) -> None:
    """Have the drawings of a study whose brackets are done begun on another core; `book_of` takes them."""
    crew.ahead(_DRAWING, partial(fit_up_drawing, study, study.build.book.projection, _room(study)))
    crew.ahead(_BRACKETS, _bracket_pages(study))


def _bracket_pages(study: Study) -> Callable[[], list[Section]]:
    return partial(chapters.bracket_sections, study, study.build.shop.kerf_mm, room_mm(study.build.shop.paper))


def book_of(study: Study, crew: Crew = ALONE) -> Book:
    """Everything that stands in the book."""
    told, build = study.build.book, study.build
    room = room_mm(build.shop.paper)
    begin_drawings(study, crew)
    found: list[Section | None] = [
        _cautions(),
        chapters.open_things(study),
        chapters.measured(study),
        _fit_up(study, crew),
        *entry_sections(study, room),
        _built(study),
        *crew.take(_BRACKETS, _bracket_pages(study)),
        chapters.mounts(study),
        chapters.pack(study),
        chapters.weights(study),
        chapters.road(study),
        _buy(study),
        chapters.cut_list(study),
        sheet_chapter.sheets(study, room),
        sheet_chapter.paths(study),
        Section("order", "Order of work", (Words(_HOLDS), *order_of_work(study))),
        Section("inspection", "Inspection and sign-off", (Words(_LOOK), *inspection(study))),
        chapters.assumed(study),
        Section("checks", "Checks that hold", (chapters.passed(study),)),
        chapters.sources(study),
    ]
    return Book(
        told.title or build.build.name,
        told.revision,
        told.by,
        build.build.units,
        build.shop.paper,
        tuple(_cover(study)),
        tuple(section for section in found if section is not None),
    )


_HOLDS = (
    "In this order. At a hold point work rests until somebody has looked and signed. Where a maker's handbook or the "
    "local code asks for another order, theirs holds."
)
_LOOK = (
    "Write what was read on the line. What is off goes into as_built.csv; the next revision says what it moves: see "
    "docs/book.md."
)


def _cover(study: Study) -> list[Block]:
    build = study.build
    out: list[Block] = []
    if build.book.job:
        out.append(Words(build.book.job))
    if build.build.note:
        out.append(Words(build.build.note, "bold"))
    out += [Words(FIRST, "care"), Grid(_summary(study)), Picture(_check_lengths(), "", _CHECK)]
    return out


_CHECK = "Measure both lines once printed. Where either is off by over 0.3 mm, drawings marked 1 : 1 are not to scale."


def _check_lengths() -> Drawing:
    level = check_line((4.0, 30.0), 100.0, False, "100 mm")
    upright = check_line((116.0, 54.0), 50.0, True, "50 mm")
    return Drawing((126.0, 58.0), (*level, *upright), 1.0)


def _summary(study: Study) -> Table:
    """The whole job in a few rows."""
    units = study.build.build.units
    failed = [c for c in study.checks if not c.ok]
    stops = sum(1 for c in failed if c.severity is Severity.STOP)
    cautions = sum(1 for c in failed if c.severity is Severity.CAUTION)
    rows = [("judged", f"{len(study.checks)} checks: {stops} say stop, {cautions} ask for care")]
    measured = study.measured
    slips = f", {len(measured.suspects)} taken for slips" if measured.suspects else ""
    rows.append(("measured", f"{len(measured.points)} points by {len(measured.readings)} readings{slips}"))
    for bracket in study.brackets.values():
        if is_refused(bracket):
            rows.append((f"bracket {bracket.name}", "refused, not to be cut"))
            continue
        chance = f", {100 * bracket.fit.passes:.1f} % chance of fit" if bracket.fit else ""
        rows.append(
            (f"bracket {bracket.name}", f"{format_mass(bracket.mass_kg, units)}, {len(bracket.folds)} folds{chance}")
        )
    if study.pack is not None:
        pack = study.pack
        rows.append(("pack", f"{pack.usable_wh / 1000.0:.1f} kWh usable, {pack.mean_v:.0f} V, {pack.modules} modules"))
    empty = study.weights.empty if study.weights is not None else None
    if empty is not None:
        rows.append(("weight, empty", f"{mass_words(empty.mass_kg, units)}, {100 * empty.front_share:.0f} % in front"))
    if study.road is not None and study.road.drives:
        from halfshaft.build.moving_units import format_way

        first = study.road.drives[0]
        rows.append(("range", f"{format_way(first.range_m, units)}, {first.name}"))
    return Table("The job in short", ("", ""), tuple(rows))


def _cautions() -> Section:
    blocks: list[Block] = [Words(FIRST)]
    for name, rows in KINDS:
        blocks += [Words(name, "head"), Points(tuple(rows))]
    return Section("cautions", "Cautions", tuple(blocks))


def _room(study: Study) -> tuple[float, float]:
    return room_mm(study.build.shop.paper)[0], 190.0


def _fit_up(study: Study, crew: Crew) -> Section | None:
    draw = partial(fit_up_drawing, study, study.build.book.projection, _room(study))
    found = crew.take(_DRAWING, draw)
    lacking = entry_lacking(study)
    if found is None and lacking is None:
        return None
    blocks: list[Block] = []
    if found is not None:
        blocks += [Picture(found.drawing, "", found.note), Points(tuple(letters_words(found.letters, study)))]
    if lacking is not None:
        blocks.append(lacking)
    if found is not None:
        blocks.append(Grid(places_table(study, found.letters)))
    if study.setting is not None:
        failed = [c for c in study.setting.checks if not c.ok]
        if failed:
            blocks.append(chapters.judged(failed, study.build.build.units))
    return Section("fit-up", "Fit-up", tuple(blocks))


def _built(study: Study) -> Section | None:
    found = study.built
    if found is None:
        return None
    blocks: list[Block] = [*(Words(words) for words in built_words(found)), Grid(built_table(found))]
    failed = [c for c in found.checks if not c.ok]
    if failed:
        blocks.append(chapters.judged(failed, study.build.build.units))
    return Section("built", "As built", tuple(blocks))


def _buy(study: Study) -> Section | None:
    found = study.needs
    if found is None:
        return None
    currency = study.build.book.currency
    blocks: list[Block] = [
        Grid(
            buy_table(found, currency), "A price is told by [buy.NAME] with covers = the row's name; see docs/book.md."
        ),
        Words(total_words(found, currency), "bold"),
    ]
    if found.checks:
        blocks.append(chapters.judged(found.checks, study.build.build.units))
    return Section("buy", "Parts to buy", tuple(blocks))
