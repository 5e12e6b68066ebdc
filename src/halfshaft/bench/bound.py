"""What the other process does with a finished study: book and kit, a revision, two revisions compared."""

from __future__ import annotations

from halfshaft.crew import Crew
from halfshaft.cut import Unwritable
from halfshaft.cut.files import write_all
from halfshaft.cut.typeset import Unprintable
from halfshaft.study import Study


def make_book(study: Study, crew: Crew) -> None:
    """Book and kit into folder/out. Raises Unwritable, and BuildProblems of as_built.csv."""
    from halfshaft.book.kit import write_kit
    from halfshaft.book.station import write_book

    try:
        write_book(study, crew)
        write_kit(study)
    except Unprintable as why:
        raise Unwritable(str(why)) from None


def keep(note: str, study: Study, crew: Crew) -> None:
    """Book, kit and a revision of it all. Raises as `make_book`."""
    from halfshaft.revisions.freeze import freeze

    make_book(study, crew)
    freeze(study, note)


def compared(old: str, new: str, study: Study, _: Crew) -> None:
    """The page of two revisions into folder/out/compared/OLD-to-NEW. Raises Unwritable where that cannot be made."""
    from halfshaft.book.compare_pages import comparison_book
    from halfshaft.book.page import book_html
    from halfshaft.revisions.compare import compare
    from halfshaft.revisions.freeze import chosen

    try:
        found = compare(chosen(study.folder, old), chosen(study.folder, new))
    except ValueError as why:
        raise Unwritable(str(why)) from None
    page = book_html(comparison_book(found, study.build.shop.paper)).encode("utf-8")
    write_all(study.folder / "out" / "compared" / f"{old}-to-{new}", {"compared.html": page})
