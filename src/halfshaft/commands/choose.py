"""Packs, ratios, tyres and motors weighed against each other."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar
from rich.text import Text

from halfshaft import plain_choose, tables_choose
from halfshaft.build import BuildProblems
from halfshaft.commands.common import BuildDir, Json, print_checks, print_table, say, tell_problems
from halfshaft.progress import Progress, silent
from halfshaft.study import choices


def choose(
    folder: BuildDir,
    cluster: Annotated[
        str, typer.Option(help="drive them on a Dask cluster: its address, 'tcp://machine:8786'", metavar="ADDRESS")
    ] = "",
    processes: Annotated[int, typer.Option(help="processes on this machine; 0 is one for each processor", min=0)] = 0,
    as_json: Json = False,
) -> None:
    """Packs, ratios, tyres and motors against each other, and what no other beats; goes on where it was stopped."""
    err = Console(stderr=True, highlight=False)

    def work(tell: Progress) -> None:
        build, found, where = choices(folder, cluster=cluster, processes=processes, progress=tell)
        units = build.build.units

        def show(out: Console) -> None:
            print_table(out, tables_choose.picks_table(found, units))
            print_table(out, tables_choose.unbeaten_table(found, units))
            print_checks(out, [c for c in found.checks if not c.ok], units, "To settle, worst first")
            for words in tables_choose.CHOOSE_CAUTIONS:
                out.print(Text(words, style="yellow"))
            out.print(Text(f"Written: {', '.join(str(path) for path in where)}"))

        say(as_json, lambda: plain_choose.choice(found), show)

    from halfshaft.choose.cluster import NoCluster
    from halfshaft.choose.workers import Ended

    try:
        if as_json or not err.is_terminal:
            work(silent)
            return
        look = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
        with Bar(*look, console=err, transient=True) as bar:
            task = bar.add_task("", total=1.0)
            work(lambda share, words: bar.update(task, completed=share, description=words))
    except BuildProblems as problems:
        tell_problems(problems, as_json)
        raise typer.Exit(1) from None
    except (NoCluster, ValueError) as why:
        err.print(Text(f"{str(why)[:1].upper()}{str(why)[1:]}", "bold red"))
        raise typer.Exit(1) from None
    except Ended as why:
        err.print(Text(f"Stopped: {why}. The same command goes on where this one was.", "bold red"))
        raise typer.Exit(1) from None
    except OSError as why:
        err.print(Text(f"Cannot write to {folder / 'out' / 'choose'}: {why.strerror or why}", "bold red"))
        raise typer.Exit(1) from None
    except KeyboardInterrupt:
        err.print(Text("Stopped. The same command goes on where this one was.", "yellow"))
        raise typer.Exit(130) from None
