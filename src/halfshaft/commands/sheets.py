"""Parts on sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from halfshaft import plain_sheets, tables, tables_sheets
from halfshaft.build import BuildProblems, load
from halfshaft.commands.common import BuildDir, Json, print_settle, print_table, say, tell_problems, worked
from halfshaft.study import Study

Cut = Annotated[
    list[str] | None,
    typer.Option("--cut", help="a sheet that has now been cut, such as 'stock.plate 1': its rest becomes an offcut"),
]


def sheets(folder: BuildDir, cut: Cut = None, as_json: Json = False) -> None:
    """All parts laid on the shop's sheets and offcuts, into DIR/out/sheets."""
    study = worked(folder, "sheets", as_json)
    if cut:
        for name in cut:
            _take(folder, study, name, as_json)
        study = worked(folder, "sheets", as_json)
    units = study.build.build.units
    found, files = study.sheets, study.sheet_files
    assert found is not None
    assert files is not None

    def show(out: Console) -> None:
        print_table(out, tables_sheets.sheets_table(found, units), only=(0, 3, 4, 5, 6, 7, 8))
        print_table(out, tables_sheets.parts_table(found, units), only=(0, 2, 3, 4, 5))
        print_settle(out, found.checks, units)
        print_table(out, tables.files_table(files))
        out.print(Text(tables_sheets.total_words(found, units), style="bold"))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    say(as_json, lambda: plain_sheets.sheets(found), show)


def _take(folder: Path, study: Study, name: str, as_json: bool) -> None:
    """The sheet off the stock, its rest kept as offcuts; exit code 1 where that cannot be."""
    from halfshaft.cut.sheet_taken import save_taken

    err = Console(stderr=True, highlight=False)
    assert study.sheets is not None
    try:
        # the build as it stands now: a sheet before this one may have changed it
        kept = save_taken(folder, load(folder), study.sheets, name)
    except BuildProblems as problems:
        tell_problems(problems, as_json)
        raise typer.Exit(1) from None
    except (ValueError, OSError) as why:
        err.print(Text(f"nothing was changed: {why}", "bold red"))
        raise typer.Exit(1) from None
    words = f"kept as {', '.join(kept)}" if kept else "nothing of it is worth keeping"
    err.print(Text(f"'{name}' is cut: {words}; its parts are done", "bold"))
