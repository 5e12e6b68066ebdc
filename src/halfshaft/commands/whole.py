"""The whole job, its files and its judgements."""

from __future__ import annotations

from functools import partial
from time import perf_counter

from rich.console import Console
from rich.text import Text

from halfshaft import plain, plain_study, tables, tables_sheets
from halfshaft.build import Build
from halfshaft.commands.book import make_book, make_kit
from halfshaft.commands.common import BuildDir, Json, print_checks, print_table, say, worked
from halfshaft.crew import Crew
from halfshaft.study import Study


def run(folder: BuildDir, as_json: Json = False) -> None:
    """Work everything, into DIR/out."""
    start = perf_counter()
    with Crew() as crew:
        study = worked(folder, "cut", as_json, crew, partial(_beside, crew))
        make_book(study, crew)
    kit = make_kit(study)
    took = perf_counter() - start
    units = study.build.build.units

    def show(out: Console) -> None:
        print_table(out, tables.suspects_table(study.measured), only=(0, 1, 2, 4))
        print_table(out, tables.unlocated_table(study.measured))
        print_table(out, tables.brackets_table(study.brackets.values(), units))
        failed = [c for c in study.checks if not c.ok]
        print_checks(out, failed, units, "To settle, worst first")
        if study.sheets is not None:
            print_table(out, tables_sheets.sheets_table(study.sheets, units), only=(0, 3, 4, 5, 6, 7, 8))
        assert study.files is not None
        print_table(out, tables.files_table(study.files))
        out.print(Text(f"{len(study.files.files)} files in {study.files.folder}, worked in {took:.1f} s"))
        out.print(
            Text(f"The build book is in {study.folder / 'out' / 'book'}, the kit for another car in {kit.folder}")
        )
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))
        out.print(Text(f"To see it and work on it in the browser: halfshaft open {folder}", style="bold"))

    say(as_json, lambda: plain_study.everything(study), show)


def _beside(crew: Crew, known: Build | Study) -> None:
    """What the book wants of the brackets is begun as soon as they are done."""
    if isinstance(known, Study) and not known.shapes and known.brackets.keys() == known.build.bracket.keys():
        from halfshaft.book.station import begin_drawings

        begin_drawings(known, crew)


def cut(folder: BuildDir, as_json: Json = False) -> None:
    """Cut files, paper templates and shop sheets, into DIR/out."""
    study = worked(folder, "cut", as_json)
    assert study.files is not None
    files = study.files

    def show(out: Console) -> None:
        print_table(out, tables.files_table(files))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    say(as_json, lambda: plain_study.files(study), show)


def checks(folder: BuildDir, as_json: Json = False) -> None:
    """Every judgement with its source, worst first, and everything assumed."""
    study = worked(folder, "fold", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        print_checks(out, study.checks, units, "Checks, worst first")
        print_table(out, tables.assumed_table(study.assumed))

    say(as_json, lambda: plain.judged(study), show)
