"""Begin a build folder; open one on the bench."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from halfshaft.build import BuildProblems, new_build
from halfshaft.commands.common import console, tell_problems


def new(
    folder: Annotated[Path, typer.Argument(help="an empty folder, or one to make", metavar="DIR")],
    demo: Annotated[bool, typer.Option("--demo", help="the invented demonstration build, worked out in full")] = False,
) -> None:
    """Write a commented build folder to start from."""
    try:
        new_build(folder, demo=demo)
    except BuildProblems as problems:
        tell_problems(problems, False)
        raise typer.Exit(1) from None
    out = console()
    out.print(Text(f"{folder} holds build.toml and readings.csv: read their comments and put your own in."))
    out.print(Text(f"Then: halfshaft run {folder}"))


def open_bench(
    folder: Annotated[Path, typer.Argument(help="a build folder; empty or not there yet to begin one", metavar="DIR")],
    port: Annotated[int, typer.Option(help="port on this machine; 0 takes a free one", min=0, max=65535)] = 0,
    show: Annotated[bool, typer.Option(help="open the browser too")] = True,
) -> None:
    """Work on the build in the browser, on this machine only; Ctrl+C ends it."""
    # the web library takes a second to load: only who opens the bench waits for it
    from halfshaft.bench.app import PortTaken, serve

    try:
        serve(folder, port, show)
    except PortTaken as why:
        Console(stderr=True, highlight=False).print(Text(str(why), "bold red"))
        raise typer.Exit(1) from None
