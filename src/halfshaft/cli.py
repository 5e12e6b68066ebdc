"""The command line: parses what was asked, calls the study, prints tables for people or JSON for programs."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar
from rich.table import Table as Printed
from rich.text import Text

from halfshaft import __version__, plain, plain_pack, tables, tables_pack, tables_weights
from halfshaft.build import BuildProblems, load, new_build
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Check, worst_first
from halfshaft.cut import Unwritable
from halfshaft.fold.coupon import pivot_from_coupon, read_table
from halfshaft.study import Study, Until, driven, work

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    help="From shop readings to folded brackets that fit and hold: measure, fold, mounts, cut.",
    pretty_exceptions_enable=False,
)
BuildDir = Annotated[Path, typer.Argument(help="the build folder, with build.toml and readings.csv", metavar="DIR")]
Json = Annotated[bool, typer.Option("--json", help="print JSON for programs in place of tables")]
_STYLE = {"bad": "bold red", "care": "yellow", "good": "green", "": ""}


def main() -> None:
    """Entry of the `halfshaft` command; faults of the builder's files end in exit code 1, never in a traceback."""
    try:
        app()
    except BrokenPipeError:
        sys.exit(0)


def _out() -> Console:
    return Console(highlight=False)


def _print(out: Console, table: tables.Table, *, only: Iterable[int] | None = None) -> None:
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


def _print_checks(out: Console, checks: Iterable[Check], units: UnitSystem, title: str) -> None:
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


def _told(problems: BuildProblems, as_json: bool) -> None:
    if as_json:
        rows = [{"file": p.file, "line": p.line, "found": p.found, "write": p.write} for p in problems.problems]
        print(json.dumps({"problems": rows}, indent=2))
        return
    err = Console(stderr=True, highlight=False)
    count = len(problems.problems)
    err.print(Text(f"{count} thing{'s' if count > 1 else ''} to put right before the build can be worked:", "bold red"))
    for problem in problems.problems:
        err.print(Text(f"  {problem}"))


def _study(folder: Path, until: Until, as_json: bool) -> Study:
    err = Console(stderr=True, highlight=False)
    try:
        if as_json or not err.is_terminal:
            return work(folder, until=until)
        look = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
        with Bar(*look, console=err, transient=True) as bar:
            task = bar.add_task("", total=1.0)

            def tell(share: float, words: str) -> None:
                bar.update(task, completed=share, description=words)

            return work(folder, until=until, progress=tell)
    except BuildProblems as problems:
        _told(problems, as_json)
        raise typer.Exit(1) from None
    except Unwritable as why:
        err.print(Text(f"nothing was written: {why}", "bold red"))
        raise typer.Exit(1) from None


def _say(as_json: bool, values: Callable[[], Any], show: Callable[[Console], None]) -> None:
    if as_json:
        print(json.dumps(values(), indent=2, ensure_ascii=False, allow_nan=False))
    else:
        show(_out())


@app.callback(invoke_without_command=True)
def _root(version: Annotated[bool, typer.Option("--version", help="print the version")] = False) -> None:
    if version:
        print(f"halfshaft {__version__}")
        raise typer.Exit


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="an empty folder, or one to make", metavar="DIR")],
    demo: Annotated[bool, typer.Option("--demo", help="the invented demonstration build, worked out in full")] = False,
) -> None:
    """Write a commented build folder to start from."""
    try:
        new_build(folder, demo=demo)
    except BuildProblems as problems:
        _told(problems, False)
        raise typer.Exit(1) from None
    out = _out()
    out.print(Text(f"{folder} holds build.toml and readings.csv: read their comments and put your own in."))
    out.print(Text(f"Then: halfshaft run {folder}"))


@app.command()
def run(folder: BuildDir, as_json: Json = False) -> None:
    """Work everything, into DIR/out."""
    study = _study(folder, "cut", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        _print(out, tables.suspects_table(study.measured), only=(0, 1, 2, 4))
        _print(out, tables.unlocated_table(study.measured))
        _print(out, tables.brackets_table(study.brackets.values(), units))
        failed = [c for c in study.checks if not c.ok]
        _print_checks(out, failed, units, "To settle, worst first")
        assert study.files is not None
        _print(out, tables.files_table(study.files))
        worked = sum(study.seconds.values())
        out.print(Text(f"{len(study.files.files)} files in {study.files.folder}, worked in {worked:.1f} s"))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))
        out.print(Text(f"To see it and work on it in the browser: halfshaft open {folder}", style="bold"))

    _say(as_json, lambda: _everything(study), show)


@app.command()
def measure(folder: BuildDir, as_json: Json = False) -> None:
    """Points and faces from the readings, slips, and what to measure next."""
    study = _study(folder, "measure", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        _print(out, tables.readings_table(study.measured, units))
        _print(out, tables.points_table(study.measured, units))
        _print(out, tables.suspects_table(study.measured), only=(0, 1, 2, 4))
        _print(out, tables.unlocated_table(study.measured))
        _print(out, tables.next_table(study.measure_next, units))
        _print_checks(out, [c for c in study.measured.checks if not c.ok], units, "To settle, worst first")

    _say(
        as_json,
        lambda: plain.measured(study.measured) | {"measure_next": plain.next_readings(study.measure_next)},
        show,
    )


@app.command()
def fitup(folder: BuildDir, as_json: Json = False) -> None:
    """Places where the unit can sit, what must be cut for them, and the way in."""
    study = _study(folder, "fitup", as_json)
    units = study.build.build.units
    found = study.fit_up
    if found is None:
        told = "build.toml has no [fitup]: write the unit's pieces and the frame's members, see docs/build.md"
        Console(stderr=True, highlight=False).print(Text(told, "bold red"))
        raise typer.Exit(1)
    files = study.fit_up_files
    assert files is not None

    def show(out: Console) -> None:
        _print(out, tables.places_table(found, units))
        _print(out, tables.limits_table(found))
        _print(out, tables.windows_table(found, units))
        _print(out, tables.way_table(found))
        _print_checks(out, [c for c in (*found.checks, *files.checks) if not c.ok], units, "To settle, worst first")
        _print(out, tables.files_table(files))
        out.print(Text(tables.take_words(found), style="bold"))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    _say(as_json, lambda: plain.fit_up(found), show)


@app.command()
def fold(folder: BuildDir, as_json: Json = False) -> None:
    """Folded brackets on the measured faces, with their checks and the chance that they fit."""
    study = _study(folder, "fold", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        _print(out, tables.brackets_table(study.brackets.values(), units))
        for bracket in study.brackets.values():
            _print(out, tables.folds_table(bracket, units))
            if bracket.gussets:
                _print(out, tables.gussets_table(bracket, units))
            for words in bracket.fit.remedies if bracket.fit else ():
                out.print(Text(f"  {words}"))
        failed = [c for b in study.brackets.values() for c in b.checks if not c.ok]
        _print_checks(out, failed, units, "To settle, worst first")

    _say(as_json, lambda: {"brackets": [plain.bracket(b) for b in study.brackets.values()]}, show)


@app.command()
def mounts(
    folder: BuildDir,
    every: Annotated[bool, typer.Option("--all", help="every check of each mount, and the load cases")] = False,
    as_json: Json = False,
) -> None:
    """Loads on the unit, what each mount carries and what gives way first; how the unit moves and shakes."""
    study = _study(folder, "mounts", as_json)
    units = study.build.build.units
    found = study.mounts
    if found is None:
        told = "build.toml has no [mounts]: write the torque and each mount, see docs/build.md"
        Console(stderr=True, highlight=False).print(Text(told, "bold red"))
        raise typer.Exit(1)

    def show(out: Console) -> None:
        if every:
            _print(out, tables.load_cases_table(found, units))
        if found.held:
            _print(out, tables.mount_forces_table(found, units))
            for mount in found.mounts:
                _print(out, tables.mount_checks_table(mount, units, None if every else 10))
            _print(out, tables.modes_table(found))
            _print(out, tables.motion_table(found, units))
            _print(out, tables.members_table(found))
            _print(out, tables.mounts_table(found, units))
        _print_checks(out, [c for c in found.checks if not c.ok], units, "To settle, worst first")
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    _say(as_json, lambda: plain.mounts(found), show)


@app.command()
def weights(folder: BuildDir, as_json: Json = False) -> None:
    """What the car weighs before and after, axles, springs, brakes, and what to move where."""
    study = _study(folder, "weights", as_json)
    units = study.build.build.units
    found = study.weights
    if found is None:
        told = "build.toml has no [weights]: write the track, [weights.before] and the ledger, see docs/build.md"
        Console(stderr=True, highlight=False).print(Text(told, "bold red"))
        raise typer.Exit(1)

    def show(out: Console) -> None:
        for table in (tables_weights.ledger_table, tables_weights.states_table, tables_weights.loads_table):
            _print(out, table(found, units))
        _print(out, tables_weights.springs_table(found, units))
        _print(out, tables_weights.brakes_table(found))
        _print(out, tables_weights.moves_table(found, units))
        _print_checks(out, [c for c in found.checks if not c.ok], units, "To settle, worst first")
        for words in tables_weights.WEIGHT_CAUTIONS:
            out.print(Text(words, style="yellow"))

    _say(as_json, lambda: plain.weights(found), show)


@app.command()
def pack(
    folder: BuildDir,
    layout: Annotated[int, typer.Option(help="which layout to tell module by module", min=1)] = 1,
    as_json: Json = False,
) -> None:
    """Cells and strings, volts and power, where the modules go and what holds them."""
    study = _study(folder, "pack", as_json)
    units = study.build.build.units
    found = study.pack
    if found is None:
        told = "build.toml has no [pack]: write its module, series and bays, see docs/build.md"
        Console(stderr=True, highlight=False).print(Text(told, "bold red"))
        raise typer.Exit(1)

    def show(out: Console) -> None:
        for table in (tables_pack.pack_table, tables_pack.volts_table, tables_pack.limits_table):
            _print(out, table(found, units))
        _print(out, tables_pack.answers_table(found, units))
        if found.laid is not None and found.laid.answers:
            _print(out, tables_pack.modules_table(found, units, layout))
            _print(out, tables_pack.retention_table(found, units, layout))
        _print_checks(out, [c for c in found.checks if not c.ok], units, "To settle, worst first")
        for words in tables_pack.PACK_CAUTIONS:
            out.print(Text(words, style="yellow"))

    _say(as_json, lambda: plain_pack.pack(found), show)


@app.command()
def road(folder: BuildDir, as_json: Json = False) -> None:
    """Range with its band, acceleration, slopes, heat on a climb, charging."""
    err = Console(stderr=True, highlight=False)
    try:
        build, found = driven(folder)
    except BuildProblems as problems:
        _told(problems, as_json)
        raise typer.Exit(1) from None
    if found is None:
        err.print(
            Text("build.toml has no [car]: write its mass, tyre, motor, gear and pack, see docs/road.md", "bold red")
        )
        raise typer.Exit(1)
    units = build.build.units

    def show(out: Console) -> None:
        _print(out, tables.range_table(found, units))
        _print(out, tables.band_table(found))
        for table in (tables.energy_table, tables.pull_table, tables.weather_table):
            _print(out, table(found, units))
        _print(out, tables.climb_table(found, units))
        _print(out, tables.charging_table(found, units))
        _print_checks(out, [c for c in found.checks if not c.ok], units, "To settle, worst first")
        for words in tables.ROAD_CAUTIONS:
            out.print(Text(words, style="yellow"))

    _say(as_json, lambda: plain.road(found), show)


@app.command()
def roadload(
    a: Annotated[str, typer.Option("--a", help="constant part: 135.7 (N) or '30.5 lbf'")],
    c: Annotated[str, typer.Option("--c", help="square part: 0.4788 (N/(m/s)²) or '0.0215 lbf/mph2'")],
    mass: Annotated[str, typer.Option("--mass", help="test mass: 1650 (kg) or '3625 lb'")],
    b: Annotated[str, typer.Option("--b", help="linear part: 0.1512 (N/(m/s)) or '0.0152 lbf/mph'")] = "0",
    drive: Annotated[float | None, typer.Option(help="efficiency between pack and wheels, 0 to 1, both ways")] = None,
    drive_map: Annotated[
        Path | None, typer.Option(help="or a map of it: CSV, 'km/h' and wheel powers in kW first, then a row a speed")
    ] = None,
    charger: Annotated[float, typer.Option(help="efficiency from wall to pack, 0 to 1")] = 1.0,
    aux: Annotated[str, typer.Option(help="auxiliaries: 250 (W) or '0.25 kW'")] = "0",
    back: Annotated[float, typer.Option(help="share of the braking that goes to the motor, 0 to 1")] = 0.9,
    rotating: Annotated[float, typer.Option(help="share of the mass that wheels and rotor add")] = 0.03,
    usable: Annotated[str | None, typer.Option(help="usable energy, for the range: '60 kWh'")] = None,
    cycle: Annotated[
        list[str] | None,
        typer.Option(help="wltc, wltc-2, wltc-3a, nedc, udds, hwfet, us06, or a CSV file; again for more"),
    ] = None,
    speed: Annotated[list[str] | None, typer.Option(help="steady speed: '90 km/h', '55 mph'; again for more")] = None,
    headwind: Annotated[str, typer.Option(help="'10 km/h', below nought from behind")] = "0",
    as_json: Json = False,
) -> None:
    """Use and range of a car told by its road load alone, to put measured cars against."""
    # a builder who never asks for it does not wait for it
    from halfshaft.road.ask import Wrong, asked
    from halfshaft.road.label import printed_of

    try:
        rows = asked(
            a=a, b=b, c=c, mass=mass, drive=drive, drive_map=drive_map, charger=charger, aux=aux, back=back,
            rotating=rotating, usable=usable, cycles=tuple(cycle or ()), speeds=tuple(speed or ()), headwind=headwind,
        )  # fmt: skip
    except Wrong as why:
        if as_json:
            print(json.dumps({"problems": [{"found": line} for line in why.lines]}, indent=2, ensure_ascii=False))
        else:
            for line in why.lines:
                Console(stderr=True, highlight=False).print(Text(line, "bold red"))
        raise typer.Exit(1) from None
    show_table = tables.plain_use_table(rows, "metric")
    label = printed_of(rows)

    def show(out: Console) -> None:
        _print(out, show_table)
        if label is not None:
            out.print(Text(tables.printed_words(label)))

    _say(as_json, lambda: {"drives": plain.plain_use(rows), "label": plain.printed(label)}, show)


@app.command()
def cut(folder: BuildDir, as_json: Json = False) -> None:
    """Cut files, paper templates and shop sheets, into DIR/out."""
    study = _study(folder, "cut", as_json)
    assert study.files is not None
    files = study.files

    def show(out: Console) -> None:
        _print(out, tables.files_table(files))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    _say(as_json, lambda: _files(study), show)


@app.command()
def checks(folder: BuildDir, as_json: Json = False) -> None:
    """Every judgement with its source, worst first, and everything assumed."""
    study = _study(folder, "fold", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        _print_checks(out, study.checks, units, "Checks, worst first")
        _print(out, tables.assumed_table(study.assumed))

    _say(as_json, lambda: _judged(study), show)


@app.command()
def coupon(
    folder: BuildDir,
    sheet: Annotated[str, typer.Argument(help="name of the sheet in build.toml")],
    table: Annotated[Path, typer.Argument(help="the coupon's table, filled in after folding")],
    as_json: Json = False,
) -> None:
    """The shop's own pivot depth of a sheet, from a folded test coupon."""
    try:
        build = load(folder)
    except BuildProblems as problems:
        _told(problems, as_json)
        raise typer.Exit(1) from None
    err = Console(stderr=True, highlight=False)
    if sheet not in build.sheet:
        err.print(Text(f"build.toml has no sheet '{sheet}'; it has {', '.join(build.sheet) or 'none'}", "bold red"))
        raise typer.Exit(1)
    try:
        found = pivot_from_coupon(read_table(_table_text(table)), build.sheet[sheet])
    except ValueError as why:
        for line in str(why).splitlines():
            err.print(Text(f"{table.name} {line}" if line.startswith("line ") else f"{table.name}: {line}", "bold red"))
        raise typer.Exit(1) from None

    def show(out: Console) -> None:
        for fold_name, angle, depth in found.each_mm:
            out.print(Text(f"  {fold_name}: turned {angle:.1f}°, depth {depth:.2f} mm"))
        out.print(Text(f"Depth of the pivot: {found.value_mm:.2f} mm ± {found.spread_mm:.2f}. Write in build.toml:"))
        out.print(Text(f'  [sheet.{sheet}]\n  pivot_depth = "{max(found.value_mm, 0.0):.2f} mm"', style="bold"))
        for words in found.words:
            out.print(Text(words, style="yellow"))

    _say(
        as_json,
        lambda: {"pivot_depth_mm": found.value_mm, "spread_mm": found.spread_mm, "mind": list(found.words)},
        show,
    )


def _table_text(path: Path) -> str:
    """The text of a table. Raises ValueError in plain words where there is none to read."""
    if path.is_dir():
        raise ValueError("is a folder; give the coupon's table itself, a .csv file")
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise ValueError("is not there; `halfshaft run` puts a table to fill in beside each coupon") from None
    except UnicodeDecodeError:
        raise ValueError("is not plain text; save the table as CSV (text, values parted by commas)") from None
    except OSError as why:
        raise ValueError(f"cannot be read: {why.strerror}") from None


@app.command(name="open")
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


def _judged(study: Study) -> dict[str, Any]:
    return {"checks": [plain.check(c) for c in study.checks], "assumed": [plain.assumed(a) for a in study.assumed]}


def _files(study: Study) -> dict[str, Any]:
    assert study.files is not None
    return {"files": [{"path": f.path, "kind": f.kind, "part": f.part, "bytes": f.bytes} for f in study.files.files]}


def _everything(study: Study) -> dict[str, Any]:
    return {
        "measured": plain.measured(study.measured),
        "measure_next": plain.next_readings(study.measure_next),
        "brackets": [plain.bracket(b) for b in study.brackets.values()],
        "mounts": plain.mounts(study.mounts) if study.mounts is not None else None,
        "weights": plain.weights(study.weights) if study.weights is not None else None,
        "pack": plain_pack.pack(study.pack) if study.pack is not None else None,
        "road": plain.road(study.road) if study.road is not None else None,
        **_judged(study),
        **_files(study),
        "seconds": study.seconds,
    }
