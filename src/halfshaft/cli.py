"""The command line: every command by name. What they do stands in commands/."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated

import typer

from halfshaft import __version__
from halfshaft.commands import book, car, choose, folder, frame, paths, sheets, whole

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    help="From shop readings to folded brackets that fit and hold: measure, fold, mounts, cut.",
    pretty_exceptions_enable=False,
)


def main() -> None:
    """Entry of the `halfshaft` command; faults of the builder's files end in exit code 1, never in a traceback."""
    try:
        app()
    except BrokenPipeError:
        sys.exit(0)


@app.callback(invoke_without_command=True)
def _root(version: Annotated[bool, typer.Option("--version", help="print the version")] = False) -> None:
    if version:
        print(f"halfshaft {__version__}")
        raise typer.Exit


# in the order in which help lists them
_COMMANDS: dict[str, Callable[..., None]] = {
    "new": folder.new,
    "run": whole.run,
    "measure": frame.measure,
    "fitup": frame.fitup,
    "fold": frame.fold,
    "mounts": frame.mounts,
    "weights": car.weights,
    "pack": car.pack,
    "road": car.road,
    "roadload": car.roadload,
    "choose": choose.choose,
    "sheets": sheets.sheets,
    "path": paths.path,
    "cut": whole.cut,
    "book": book.book,
    "kit": book.kit,
    "freeze": book.freeze,
    "revisions": book.revisions,
    "checks": whole.checks,
    "coupon": frame.coupon,
    "open": folder.open_bench,
}
for _name, _command in _COMMANDS.items():
    app.command(name=_name)(_command)
