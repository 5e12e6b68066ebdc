"""What book, kit and freezing cost beside the work they tell of.

Run: python benchmarks/book_speed.py. The demonstration, worked in the same run: processor time of each and its share of
the study's; the bar is ten seconds for the book on a machine with nothing else to do.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from halfshaft.book.kit import write_kit
from halfshaft.book.page import book_html
from halfshaft.book.sheets import book_pdf
from halfshaft.book.station import book_of, write_book
from halfshaft.build import new_build
from halfshaft.revisions.freeze import freeze
from halfshaft.study import work

T = TypeVar("T")


def timed(call: Callable[[], T]) -> tuple[T, float]:
    start = time.process_time()
    return call(), time.process_time() - start


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "build"
        new_build(folder, demo=True)
        study, whole = timed(lambda: work(folder))
        book, model = timed(lambda: book_of(study))
        _, paper = timed(lambda: book_pdf(book))
        _, page = timed(lambda: book_html(book))
        _, both = timed(lambda: write_book(study))
        _, kit = timed(lambda: write_kit(study))
        _, first = timed(lambda: freeze(study))
        _, again = timed(lambda: freeze(study))
    print(f"study worked to its cut files: {whole:.1f} s of processor time")
    rows = (
        ("sections, tables, drawings", model), ("  on paper", paper), ("  as a page", page), ("book, both files", both),
        ("kit", kit), ("freeze", first), ("freeze, nothing changed", again),
    )  # fmt: skip
    for words, seconds in rows:
        print(f"{words:28} {seconds:6.2f} s   {seconds / whole:6.3f} of the study")
    print("the book is within its ten seconds" if both < 10.0 else "THE BOOK IS OVER ITS TEN SECONDS")


if __name__ == "__main__":
    main()
