"""What commands share: the study with its progress, tables for people, JSON for programs, faults told in full."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar
from rich.table import Table as Printed
from rich.text import Text

from halfshaft import tables
from halfshaft.build import Build, BuildProblems
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Check, worst_first
from halfshaft.crew import Crew
from halfshaft.cut import Unwritable
from halfshaft.progress import Progress, silent
from halfshaft.study import Study, Until, work

BuildDir = Annotated[Path, typer.Argument(help="the build folder, with build.toml and readings.csv", metavar="DIR")]
Json = Annotated[bool, typer.Option("--json", help="print JSON for programs in place of tables")]
_FILE_WIDTH = 140
_STYLE = {"bad": "bold red", "care": "yellow", "good": "green", "": ""}


def console() -> Console:
    """Where tables for people go; text that is kept in a file is not squeezed to the width of a small screen."""
    out = Console(highlight=False)
    return out if out.is_terminal or "COLUMNS" in os.environ else Console(highlight=False, width=_FILE_WIDTH)


def print_table(out: Console, table: tables.Table, *, only: Iterable[int] | None = None) -> None:
    """A table, or the words for an empty one."""
    if not table.rows:
        out.print(Text(f"{table.title}: {table.empty}", style="dim"))
        return
    columns = list(only) if only is not None else list(range(len(table.columns)))
    printed = Printed(title=table.title, title_justify="left", title_style="bold", header_style="", pad_edge=False)
    for index in columns:
        printed.add_column(table.columns[index], justify="right" if index in table.right else "left", overflow="fold")
    for number, row in enumerate(table.rows):
        style = _STYLE[table.mood[number]] if table.mood else ""
        # Text, so that names from the builder's files are never read as markup
        printed.add_row(*(Text(row[index]) for index in columns), style=style)
    out.print(printed)


def print_checks(out: Console, checks: Iterable[Check], units: UnitSystem, title: str) -> None:
    """Checks as short paragraphs: sentences do not fit in the cells of a table."""
    rows = worst_first(checks)
    if not rows:
        out.print(Text(f"{title}: nothing", style="dim"))
        return
    out.print(Text(title, style="bold"))
    for check in rows:
        style = _STYLE[tables.mood_of(check)]
        head = Text("  " + ("ok" if check.ok else check.severity.value).upper().ljust(8), style=style)
        head.append(f"{check.about}: {check.title}")
        numbers = tables.against(check, units)
        if numbers:
            head.append(f" ({numbers})", style="dim")
        out.print(Padding(head, (0, 0, 0, 0)))
        out.print(Padding(Text(check.do), (0, 0, 0, 10)))
        out.print(Padding(Text(str(check.source), style="dim"), (0, 0, 0, 10)))


def print_settle(out: Console, checks: Iterable[Check], units: UnitSystem, cautions: Iterable[str] = ()) -> None:
    """What fails, worst first, and the usual cautions under it."""
    print_checks(out, [check for check in checks if not check.ok], units, "To settle, worst first")
    for words in cautions:
        out.print(Text(words, style="yellow"))


def tell_problems(problems: BuildProblems, as_json: bool) -> None:
    """Faults of the files, all at once, for people or programs."""
    if as_json:
        rows = [{"file": p.file, "line": p.line, "found": p.found, "write": p.write} for p in problems.problems]
        print(json.dumps({"problems": rows}, indent=2))
        return
    err = Console(stderr=True, highlight=False)
    count = len(problems.problems)
    err.print(Text(f"{count} thing{'s' if count > 1 else ''} to put right before the build can be worked:", "bold red"))
    for problem in problems.problems:
        err.print(Text(f"  {problem}"))


@contextmanager
def telling(err: Console, as_json: bool) -> Iterator[Progress]:
    """A bar that long work moves while the block runs; nothing where no person looks."""
    if as_json or not err.is_terminal:
        yield silent
        return
    look = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Bar(*look, console=err, transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda share, words: bar.update(task, completed=share, description=words)


def worked(
    folder: Path,
    until: Until,
    as_json: bool,
    crew: Crew | None = None,
    meanwhile: Callable[[Build | Study], None] = lambda _: None,
) -> Study:
    """The study up to a station, with progress, on all cores; exit code 1 where the files cannot be worked."""
    if crew is None:
        with Crew() as own:  # before the progress bar, which is a thread
            return worked(folder, until, as_json, own, meanwhile)
    err = Console(stderr=True, highlight=False)
    try:
        with telling(err, as_json) as tell:
            return work(folder, until=until, progress=tell, meanwhile=meanwhile, crew=crew)
    except BuildProblems as problems:
        tell_problems(problems, as_json)
        raise typer.Exit(1) from None
    except Unwritable as why:
        err.print(Text(f"nothing was written: {why}", "bold red"))
        raise typer.Exit(1) from None


def say(as_json: bool, values: Callable[[], Any], show: Callable[[Console], None]) -> None:
    """JSON for programs, else what `show` prints."""
    if as_json:
        print(json.dumps(values(), indent=2, ensure_ascii=False, allow_nan=False))
    else:
        show(console())


def lacking(words: str) -> typer.Exit:
    """To raise where the build does not hold what a command works on; `words` say what to write."""
    Console(stderr=True, highlight=False).print(Text(words, "bold red"))
    return typer.Exit(1)
