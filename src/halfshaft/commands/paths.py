"""The torch's way over the sheets."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.console import Console

from halfshaft import plain_paths, tables, tables_paths
from halfshaft.commands.common import BuildDir, Json, print_settle, print_table, say, worked

Every = Annotated[bool, typer.Option("--cuts", help="also every cut of every sheet, in its order")]


def path(folder: BuildDir, cuts: Every = False, as_json: Json = False) -> None:
    """The tool path of every sheet as code for the table, into DIR/out/sheets: order, time, what it takes."""
    study = worked(folder, "sheets", as_json)
    units = study.build.build.units
    found = study.paths
    assert found is not None

    def show(out: Console) -> None:
        print_table(out, tables_paths.paths_table(found, units))
        print_table(out, tables_paths.taken_table(found))
        if cuts:
            for sheet in found.sheets:
                print_table(out, tables_paths.cuts_table(sheet, units))
        print_settle(out, found.checks, units, (*tables_paths.PATH_CAUTIONS, *tables.CAUTIONS))

    say(as_json, lambda: plain_paths.paths(found), show)
