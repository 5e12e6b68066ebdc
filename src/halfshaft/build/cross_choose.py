"""What [choose] says of keys, values, cycles and chargers. The table and the build in, faults out."""

from __future__ import annotations

from collections.abc import Mapping
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING

from halfshaft.build.catalogue import NotListed
from halfshaft.build.catalogue import road as rows
from halfshaft.build.choices import parts_of
from halfshaft.build.choose import ChooseInput, PartInput
from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.tables import Tables

if TYPE_CHECKING:
    from halfshaft.build.schema import Build

_HERE: Keys = ("choose",)


def choose_names(told: ChooseInput, build: Build, tables: Tables, folder: Path) -> None:
    """Add a fault to `tables` for what cannot be."""
    if build.car is None:
        if "car" not in tables.values:
            tables.fault(_HERE, "[choose] without [car]", "Write [car] with tyre, motor, gear and pack")
        return
    _names(told, build, tables, folder)
    whole = [_part(name, part, tables) for name, part in told.part.items()]
    if not told.part:
        tables.fault(_HERE, "nothing to choose from", "Write [choose.part.NAME] with key and values, or options")
    if not all(whole):
        return
    counts = [len(part.option) or len(part.values) + (part.steps or 0) for part in told.part.values()]
    if prod(counts) > told.most:
        found = f"{' x '.join(map(str, counts))} = {prod(counts)} variants"
        tables.fault((*_HERE, "part"), found, f"Write fewer values, or most = {prod(counts)} in [choose]")
        return
    try:
        parts_of(told, build.car, build.pack, build.build.units)
    except ValueError as why:
        for fault in str(why).split("\n\n"):
            name, option, words = fault.split("\n", 2)
            found, cut, write = words.partition(": ")
            path: Keys = (*_HERE, "part", name)
            path = (*path, "option", option) if told.part[name].option else path
            tables.fault(path, words if not cut else found, write[:1].upper() + write[1:] if cut else "Look at the key")


def _names(told: ChooseInput, build: Build, tables: Tables, folder: Path) -> None:
    stations = build.road.station if build.road is not None else {}
    if told.station is not None and told.station not in stations:
        near = nearest(told.station, stations)
        write = f"Write '{near[0]}'" if near else "Write [road.station.NAME] with power, current and volts"
        tables.fault((*_HERE, "station"), f"the charger {shown(told.station)} is not known", write)
    if told.cycle is not None:
        if told.cycle.lower().endswith(".csv"):
            if not (folder / told.cycle).is_file() or "/" in told.cycle or "\\" in told.cycle:
                found = f"there is no file {shown(told.cycle)} in the build folder"
                tables.fault((*_HERE, "cycle"), found, "Put the file beside build.toml")
            return
        try:
            rows.cycle_text(told.cycle)
        except NotListed as why:
            tables.fault((*_HERE, "cycle"), str(why), "Write one of these, or a CSV file beside build.toml")


def _part(name: str, part: PartInput, tables: Tables) -> bool:
    """Whether a part is told in one way, and wholly."""
    path: Keys = (*_HERE, "part", name)
    faults = len(tables.problems)
    span = (part.least is not None, part.most is not None, part.steps is not None)
    told: Mapping[str, bool] = {"values": bool(part.values), "from, to, steps": any(span), "options": bool(part.option)}
    if sum(told.values()) != 1:
        found = f"'{name}' has {' and '.join(key for key, there in told.items() if there) or 'nothing to choose'}"
        write = "Write key with values, key with from, to and steps, or [choose.part.NAME.option.NAME]"
        tables.fault(path, found, write)
    elif any(span) and not all(span):
        tables.fault(path, f"'{name}' has a range that is not whole", "Write from, to and steps")
    elif any(span) and part.least is not None and part.most is not None and not part.least < part.most:
        tables.fault(path, f"'{name}' goes from {part.least:g} to {part.most:g}", "Write the smaller as from")
    if (part.key is None) == (not part.option):
        write = "Take key away" if part.option else 'Write key = "car.gear.ratio" and such'
        tables.fault(path, f"'{name}' says its keys {'twice' if part.option else 'not at all'}", write)
    count = len(part.values) + (part.steps or 0)
    if isinstance(part.cost, tuple) and (part.option or len(part.cost) != count):
        tables.fault((*path, "cost"), f"{len(part.cost)} costs for {count} values", "Write one cost, or one for each")
    for title, one in part.option.items():
        if not one.set and part.key is None and one.mass_kg == 0.0 and one.cost == 0.0:
            found = f"the option '{title}' changes nothing"
            tables.fault((*path, "option", title), found, 'Write set = { "car.gear.ratio" = 9.1 }, mass or cost')
    return len(tables.problems) == faults
