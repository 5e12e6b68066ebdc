"""The build book and the build's revisions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer
from rich.console import Console
from rich.text import Text

from halfshaft.commands.common import BuildDir, Json, print_table, say, worked
from halfshaft.crew import Crew
from halfshaft.cut import Unwritable
from halfshaft.cut.typeset import Unprintable
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.book.kit import Kit


def make_book(study: Study, crew: Crew) -> tuple[Path, Path]:
    """Both files of the book; exit code 1, in words, where they cannot be written."""
    from halfshaft.book.station import write_book

    try:
        return write_book(study, crew)
    except (Unwritable, Unprintable) as why:
        fail(f"no book was written: {why}")


def fail(words: str) -> NoReturn:
    """Words in red, and exit code 1."""
    Console(stderr=True, highlight=False).print(Text(words, "bold red"))
    raise typer.Exit(1) from None


def book(folder: BuildDir, as_json: Json = False) -> None:
    """The build book, as a PDF and as one page for the browser, into DIR/out/book."""
    with Crew() as crew:
        paper, page = make_book(worked(folder, "cut", as_json, crew), crew)

    def show(out: Console) -> None:
        out.print(Text(f"{paper}\n{page}", style="bold"))

    say(as_json, lambda: {"pdf": str(paper), "html": str(page)}, show)


def freeze(
    folder: BuildDir,
    note: Annotated[str, typer.Option("--note", help="a sentence that is kept with it")] = "",
    as_json: Json = False,
) -> None:
    """Keep the build as it stands: inputs, results, files and their hashes, into DIR/revisions."""
    from halfshaft.revisions import freeze as freezing
    from halfshaft.revisions.plain import revision

    with Crew() as crew:
        study = worked(folder, "cut", as_json, crew)
        make_book(study, crew)
    make_kit(study)
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
    from halfshaft.book.compare_pages import revisions_table
    from halfshaft.revisions import freeze as freezing
    from halfshaft.revisions.plain import revision

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
        lines = [f"{one.folder.name}: {d.path} is {d.what}" for one in found for d in one.damage]
        told = "\n".join(lines)
        fail(f"damaged on the disk:\n{told}\nPut the files back from a copy, or freeze the build anew.")


def _compared(folder: Path, names: tuple[str, str], as_json: bool) -> None:
    from halfshaft.book import compare_pages as pages
    from halfshaft.book.page import book_html
    from halfshaft.cut.files import write_all
    from halfshaft.revisions.compare import compare
    from halfshaft.revisions.freeze import chosen
    from halfshaft.revisions.plain import comparison

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


def make_kit(study: Study) -> Kit:
    """The kit of a study whose files and book are written; exit code 1, in words, where it cannot be."""
    from halfshaft.book.kit import write_kit

    try:
        return write_kit(study)
    except (Unwritable, Unprintable) as why:
        fail(f"no kit was written: {why}")


def kit(
    folder: BuildDir,
    readings: Annotated[
        Path | None, typer.Option("--readings", help="the form, filled in on another car, to be judged")
    ] = None,
    as_json: Json = False,
) -> None:
    """All it takes to make the parts for another car of the kind, with readings that show if it is like this one."""
    if readings is not None:
        _judged_form(folder, readings, as_json)
        return
    with Crew() as crew:
        study = worked(folder, "cut", as_json, crew)
        make_book(study, crew)
    made = make_kit(study)
    controls = study.controls if study.controls is not None and study.controls.rows else None
    foreseen = controls.foreseen if controls is not None else None

    def show(out: Console) -> None:
        out.print(Text(f"{made.folder}: {len(made.files)} files", style="bold"))
        if controls is None:
            out.print(Text("Fewer than three holes of brackets are located on the car: no control readings.", "yellow"))
        else:
            count, share = len(controls.rows), 100 * controls.foreseen
            out.print(Text(f"{count} control readings foresee {share:.0f} % of what cars of the kind differ by."))

    say(as_json, lambda: {"folder": str(made.folder), "files": list(made.files), "foreseen": foreseen}, show)


def _judged_form(folder: Path, form: Path, as_json: bool) -> None:
    from halfshaft.book.control_form import read_form
    from halfshaft.control import judge
    from halfshaft.plain_control import verdict
    from halfshaft.tables_control import verdict_table

    study = worked(folder, "control", as_json)
    units = study.build.build.units
    controls = study.controls
    if controls is None or not controls.rows:
        fail("fewer than three holes of brackets are located on the car: there is nothing to control")
    try:
        found = judge(controls, read_form(form.read_text(encoding="utf-8-sig"), controls, units), units)
    except (OSError, UnicodeDecodeError) as why:
        fail(f"{form}: cannot be read ({getattr(why, 'strerror', None) or 'it is no plain text'})")
    except ValueError as why:
        fail(
            "\n".join(
                f"{form.name} {line}" if line.startswith("line ") else f"{form.name}: {line}"
                for line in str(why).splitlines()
            )
        )

    def show(out: Console) -> None:
        print_table(out, verdict_table(found, units))
        for words in found.words:
            out.print(Text(words, style="" if found.alike else "yellow"))

    say(as_json, lambda: verdict(found), show)
