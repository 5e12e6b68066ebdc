"""What the car weighs, carries and does on the road."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.text import Text

from halfshaft import plain, plain_pack, plain_road, plain_weights, tables_pack, tables_road, tables_weights
from halfshaft.build import BuildProblems
from halfshaft.commands.common import BuildDir, Json, lacking, print_settle, print_table, say, tell_problems, worked
from halfshaft.study import driven


def weights(folder: BuildDir, as_json: Json = False) -> None:
    """What the car weighs before and after, axles, springs, brakes, and what to move where."""
    study = worked(folder, "weights", as_json)
    units = study.build.build.units
    found = study.weights
    if found is None:
        raise lacking(
            "build.toml has no [weights]: write the track, [weights.before] and the ledger, see docs/build.md"
        )

    def show(out: Console) -> None:
        for table in (tables_weights.ledger_table, tables_weights.states_table, tables_weights.loads_table):
            print_table(out, table(found, units))
        print_table(out, tables_weights.springs_table(found, units))
        print_table(out, tables_weights.brakes_table(found))
        print_table(out, tables_weights.moves_table(found, units))
        print_settle(out, found.checks, units, tables_weights.WEIGHT_CAUTIONS)

    say(as_json, lambda: plain_weights.weights(found), show)


def pack(
    folder: BuildDir,
    layout: Annotated[int, typer.Option(help="which layout to tell module by module", min=1)] = 1,
    as_json: Json = False,
) -> None:
    """Cells and strings, volts and power, where the modules go and what holds them."""
    study = worked(folder, "pack", as_json)
    units = study.build.build.units
    found = study.pack
    if found is None:
        raise lacking("build.toml has no [pack]: write its module, series and bays, see docs/build.md")

    def show(out: Console) -> None:
        for table in (tables_pack.pack_table, tables_pack.volts_table, tables_pack.limits_table):
            print_table(out, table(found, units))
        print_table(out, tables_pack.answers_table(found, units))
        if found.laid is not None and found.laid.answers:
            print_table(out, tables_pack.modules_table(found, units, layout))
            print_table(out, tables_pack.retention_table(found, units, layout))
        checks = list(found.checks)
        if study.boxes is not None:
            print_table(out, tables_pack.boxes_table(study.boxes, units))
            checks += study.boxes.checks
        if study.box_files is not None and study.box_files.files:
            out.print(Text(f"Written: {len(study.box_files.files)} files in {study.box_files.folder}"))
        print_settle(out, checks, units, tables_pack.PACK_CAUTIONS)

    def values() -> dict[str, Any]:
        boxes = None if study.boxes is None else plain_pack.boxes(study.boxes)
        return {**plain_pack.pack(found), "boxes": boxes}

    say(as_json, values, show)


def road(folder: BuildDir, as_json: Json = False) -> None:
    """Range with its band, acceleration, slopes, heat on a climb, charging."""
    err = Console(stderr=True, highlight=False)
    try:
        build, found = driven(folder)
    except BuildProblems as problems:
        tell_problems(problems, as_json)
        raise typer.Exit(1) from None
    if found is None:
        told = "build.toml has no [car]: write its mass, tyre, motor, gear and pack, see docs/road.md"
        if build.car is not None:
            told = "The car's mass is left to [weights], which cannot be worked: 'halfshaft weights' tells why"
        err.print(Text(told, "bold red"))
        raise typer.Exit(1)
    units = build.build.units

    def show(out: Console) -> None:
        print_table(out, tables_road.range_table(found, units))
        print_table(out, tables_road.band_table(found))
        for table in (tables_road.energy_table, tables_road.pull_table, tables_road.weather_table):
            print_table(out, table(found, units))
        print_table(out, tables_road.climb_table(found, units))
        print_table(out, tables_road.charging_table(found, units))
        print_settle(out, found.checks, units, tables_road.ROAD_CAUTIONS)

    say(as_json, lambda: plain_road.road(found), show)


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
    back: Annotated[float | None, typer.Option(help="share of the braking that goes to the motor, 0 to 1")] = None,
    rotating: Annotated[float | None, typer.Option(help="share of the mass that wheels and rotor add")] = None,
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
    from halfshaft.road.plain_car import assumed_of

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
    show_table = tables_road.plain_use_table(rows, "metric")
    label = printed_of(rows)
    listed = assumed_of(back, rotating)

    def show(out: Console) -> None:
        print_table(out, show_table)
        if label is not None:
            out.print(Text(tables_road.printed_words(label)))
        for one in listed:
            out.print(Text(f"assumed: {one.where}: {one.value} ({one.source})", style="dim"))

    def values() -> dict[str, object]:
        drives, shown = plain_road.plain_use(rows), plain_road.printed(label)
        return {"drives": drives, "label": shown, "assumed": [plain.assumed(one) for one in listed]}

    say(as_json, values, show)
