"""From readings to brackets that hold."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from halfshaft import plain, plain_mounts, tables, tables_mounts
from halfshaft.build import BuildProblems, load
from halfshaft.commands.common import BuildDir, Json, lacking, print_settle, print_table, say, tell_problems, worked
from halfshaft.fold.coupon import pivot_from_coupon, read_table


def measure(folder: BuildDir, as_json: Json = False) -> None:
    """Points and faces from the readings, slips, and what to measure next."""
    study = worked(folder, "measure", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        print_table(out, tables.readings_table(study.measured, units))
        print_table(out, tables.points_table(study.measured, units))
        print_table(out, tables.suspects_table(study.measured), only=(0, 1, 2, 4))
        print_table(out, tables.unlocated_table(study.measured))
        print_table(out, tables.next_table(study.measure_next, units))
        print_settle(out, study.measured.checks, units)

    say(
        as_json,
        lambda: plain.measured(study.measured) | {"measure_next": plain.next_readings(study.measure_next)},
        show,
    )


def fitup(folder: BuildDir, as_json: Json = False) -> None:
    """Places where the unit can sit, what must be cut for them, and the way in."""
    study = worked(folder, "fitup", as_json)
    units = study.build.build.units
    found = study.fit_up
    if found is None:
        raise lacking("build.toml has no [fitup]: write the unit's pieces and the frame's members, see docs/build.md")
    files = study.fit_up_files
    assert files is not None

    def show(out: Console) -> None:
        print_table(out, tables.places_table(found, units))
        print_table(out, tables.limits_table(found))
        print_table(out, tables.windows_table(found, units))
        print_table(out, tables.way_table(found, units))
        print_settle(out, (*found.checks, *files.checks), units)
        print_table(out, tables.files_table(files))
        out.print(Text(tables.take_words(found), style="bold"))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    say(as_json, lambda: plain.fit_up(found, units), show)


def fold(folder: BuildDir, as_json: Json = False) -> None:
    """Folded brackets on the measured faces, with their checks and the chance that they fit."""
    study = worked(folder, "fold", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        print_table(out, tables.brackets_table(study.brackets.values(), units))
        for bracket in study.brackets.values():
            print_table(out, tables.folds_table(bracket, units))
            if bracket.gussets:
                print_table(out, tables.gussets_table(bracket, units))
            for words in bracket.fit.remedies if bracket.fit else ():
                out.print(Text(f"  {words}"))
        print_settle(out, dict.fromkeys(c for b in study.brackets.values() for c in b.checks), units)

    say(as_json, lambda: {"brackets": [plain.bracket(b) for b in study.brackets.values()]}, show)


def mounts(
    folder: BuildDir,
    every: Annotated[bool, typer.Option("--all", help="every check of each mount, and the load cases")] = False,
    thinnest: Annotated[
        bool,
        typer.Option("--thinnest", help="the thinnest sheet in which each bracket still holds; takes longer"),
    ] = False,
    as_json: Json = False,
) -> None:
    """Loads on the unit, what each mount carries and what gives way first; how the unit moves and shakes."""
    study = worked(folder, "thinnest" if thinnest else "mounts", as_json)
    units = study.build.build.units
    found = study.mounts
    if found is None:
        raise lacking("build.toml has no [mounts]: write the torque and each mount, see docs/build.md")

    def show(out: Console) -> None:
        if every:
            print_table(out, tables_mounts.load_cases_table(found, units))
        if found.held:
            print_table(out, tables_mounts.mount_forces_table(found, units))
            for mount in found.mounts:
                print_table(out, tables_mounts.mount_checks_table(mount, units, None if every else 10))
            print_table(out, tables_mounts.modes_table(found))
            if every:
                print_table(out, tables_mounts.stiffness_table(found))
            print_table(out, tables_mounts.motion_table(found, units))
            print_table(out, tables_mounts.members_table(found))
            print_table(out, tables_mounts.mounts_table(found, units))
            if found.thinnest is not None:
                print_table(out, tables_mounts.thinnest_table(found, units))
        print_settle(out, found.checks, units, tables.CAUTIONS)

    say(as_json, lambda: plain_mounts.mounts(found), show)


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
        tell_problems(problems, as_json)
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

    say(
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
