"""The build book and the build's revisions."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, NoReturn

import typer
from rich.console import Console
from rich.text import Text

from halfshaft.commands.common import BuildDir, Json, print_table, say, worked
from halfshaft.cut import Unwritable
from halfshaft.cut.typeset import Unprintable
from halfshaft.study import Study


def make_book(study: Study) -> tuple[Path, Path]:
    """Both files of the book; exit code 1, in words, where they cannot be written."""
    from halfshaft.book.station import write_book

    try:
        return write_book(study)
    except (Unwritable, Unprintable) as why:
        fail(f"no book was written: {why}")


def fail(words: str) -> NoReturn:
    """Words in red, and exit code 1."""
    Console(stderr=True, highlight=False).print(Text(words, "bold red"))
    raise typer.Exit(1) from None


def book(folder: BuildDir, as_json: Json = False) -> None:
    """The build book, as a PDF and as one page for the browser, into DIR/out/book."""
    paper, page = make_book(worked(folder, "cut", as_json))

    def show(out: Console) -> None:
        out.print(Text(f"{paper}\n{page}", style="bold"))

    say(as_json, lambda: {"pdf": str(paper), "html": str(page)}, show)


def freeze(
    folder: BuildDir,
    note: Annotated[str, typer.Option("--note", help="a sentence that is kept with it")] = "",
    as_json: Json = False,
) -> None:
    """Keep the build as it stands: inputs, results, files and their hashes, into DIR/revisions."""
    from halfshaft.book import freeze as freezing
    from halfshaft.book.plain_compare import revision

    study = worked(folder, "cut", as_json)
    make_book(study)
    try:
        done = freezing.freeze(study, note)
    except Unwritable as why:
        fail(f"nothing was frozen: {why}")

    def show(out: Console) -> None:
        kept = done.revision
        if done.new:
            out.print(
                Text(f"{kept.folder}: {len(kept.hashes)} files, fingerprint {kept.fingerprint[:12]}", style="bold")
            )
        else:
            out.print(Text(f"Nothing changed since {kept.folder.name}; nothing was frozen.", style="bold"))

    say(as_json, lambda: {"new": done.new, **revision(done.revision)}, show)


def revisions(
    folder: BuildDir,
    compare: Annotated[
        tuple[str, str] | None, typer.Option("--compare", help="two of them: what changed, what must be cut again")
    ] = None,
    as_json: Json = False,
) -> None:
    """Revisions that were frozen, each looked over file by file; two of them compared."""
    from halfshaft.book import freeze as freezing
    from halfshaft.book.compare_pages import revisions_table
    from halfshaft.book.plain_compare import revision

    if compare is not None:
        _compared(folder, compare, as_json)
        return
    found = freezing.revisions(folder)
    say(
        as_json,
        lambda: {"revisions": [revision(r) for r in found]},
        lambda out: print_table(out, revisions_table(found)),
    )
    if any(not one.whole for one in found):
        names = ", ".join(one.folder.name for one in found if not one.whole)
        fail(f"damaged on the disk: {names}. Put the files back from a copy, or freeze the build anew.")


def _compared(folder: Path, names: tuple[str, str], as_json: bool) -> None:
    from halfshaft.book import compare_pages as pages
    from halfshaft.book.compare import compare
    from halfshaft.book.freeze import chosen
    from halfshaft.book.page import book_html
    from halfshaft.book.plain_compare import comparison
    from halfshaft.cut.files import write_all

    try:
        found = compare(chosen(folder, names[0]), chosen(folder, names[1]))
        page = book_html(pages.comparison_book(found, "A4")).encode("utf-8")
        out_folder = folder / "out" / "compared" / f"{found.old.folder.name}-to-{found.new.folder.name}"
        write_all(out_folder, {"compared.html": page})
    except (ValueError, Unwritable) as why:
        fail(str(why))

    def show(out: Console) -> None:
        for table in (pages.parts_table, pages.said_table, pages.moved_table, pages.checks_table):
            print_table(out, table(found))
        for words in found.because:
            out.print(Text(words))
        out.print(Text(f"With pictures: {out_folder / 'compared.html'}", style="bold"))

    say(as_json, lambda: comparison(found), show)
