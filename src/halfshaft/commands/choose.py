"""Packs, ratios, tyres and motors weighed against each other."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from halfshaft import plain_choose, tables_choose
from halfshaft.build import BuildProblems
from halfshaft.commands.common import BuildDir, Json, print_settle, print_table, say, tell_problems, telling
from halfshaft.progress import Progress
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
            print_settle(out, found.checks, units, tables_choose.CHOOSE_CAUTIONS)
            out.print(Text(f"Written: {', '.join(str(path) for path in where)}"))

        say(as_json, lambda: plain_choose.choice(found), show)

    from halfshaft.choose.cluster import NoCluster
    from halfshaft.choose.workers import Ended

    try:
        with telling(err, as_json) as tell:
            work(tell)
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
