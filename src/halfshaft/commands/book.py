"""The build book."""

from __future__ import annotations

import typer
from rich.console import Console
from rich.text import Text

from halfshaft.book.station import write_book
from halfshaft.commands.common import BuildDir, Json, say, worked
from halfshaft.cut import Unwritable
from halfshaft.cut.typeset import Unprintable


def book(folder: BuildDir, as_json: Json = False) -> None:
    """The build book, as a PDF and as one page for the browser, into DIR/out/book."""
    study = worked(folder, "cut", as_json)
    try:
        paper, page = write_book(study)
    except (Unwritable, Unprintable) as why:
        Console(stderr=True, highlight=False).print(Text(f"no book was written: {why}", "bold red"))
        raise typer.Exit(1) from None

    def show(out: Console) -> None:
        out.print(Text(f"{paper}\n{page}", style="bold"))

    say(as_json, lambda: {"pdf": str(paper), "html": str(page)}, show)
