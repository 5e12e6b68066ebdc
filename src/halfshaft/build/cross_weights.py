"""What [weights] says of points, places and itself. The table and a resolver in, whole names and faults out."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from halfshaft.build.catalogue.weights import load_indices
from halfshaft.build.cross_fitup import Resolver
from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.tables import Tables
from halfshaft.build.weights import BrakesInput, ItemInput, WeighingInput, WeightsInput

if TYPE_CHECKING:
    from halfshaft.build.schema import Build

_HERE: Keys = ("weights",)
MOST_MOVABLE = 40  # each is a choice among places: the search stays short


def weights_names(told: WeightsInput, build: Build, tables: Tables, values: dict[str, Any], resolve: Resolver) -> None:
    """Put whole names into `values`, the plain table of `told`; add a fault to `tables` for what cannot be."""
    if wheelbase_of(told, build) is None:
        tables.fault(_HERE, "[weights] does not say the wheelbase", 'Write wheelbase = "2.5 m"')
    if told.before is None and told.after is None:
        write = "Write [weights.before] or [weights.after] with corners or axles"
        tables.fault(_HERE, "the car has not been on scales", write)
    for key in ("before", "after"):
        weighing = getattr(told, key)
        if weighing is not None:
            _weighing(weighing, (*_HERE, key), tables)
    if told.before is None and (told.out or told.into):
        table = "out" if told.out else "in"
        write = "Write [weights.before], or take the ledger away: [weights.after] has it all in it"
        tables.fault((*_HERE, table), "a ledger without the car that it starts from", write)
    _pack(told, build, tables)
    for key, index in (("tyre_front", told.tyre_front), ("tyre_rear", told.tyre_rear)):
        known = load_indices()
        if index is not None and index not in known:
            write = f"Write the number before the speed letter on the tyre, {known[0]} to {known[-1]}"
            tables.fault((*_HERE, key), f"the load index {index} is not in the table", write)
    for name, place in told.place.items():
        if isinstance(place.at, str):
            values["place"][name]["at"] = resolve.point(place.at, (*_HERE, "place", name, "at"))
    for table, name, one in told.items:
        _item(table, name, one, told, tables, values[table][name], resolve)
    _room(told, tables)
    if told.brakes is not None:
        _brakes(told.brakes, tables)


def wheelbase_of(told: WeightsInput, build: Build) -> float | None:
    """The wheelbase as told here, or in [mounts] or [car]."""
    if told.wheelbase_mm is not None:
        return told.wheelbase_mm
    if build.mounts is not None and build.mounts.wheelbase_mm is not None:
        return build.mounts.wheelbase_mm
    if build.car is not None and build.car.given("wheelbase_mm"):
        return build.car.wheelbase_mm
    return None


def counts_pack(told: WeightsInput, build: Build) -> bool:
    """Whether the ledger takes the modules from the pack's layout: as told, or where nothing else can hold them."""
    if build.pack is None or not build.pack.bay:
        return False
    if told.pack is not None:
        return told.pack == "layout"
    return told.before is not None and told.after is None and not told.into


def _pack(told: WeightsInput, build: Build, tables: Tables) -> None:
    """The pack's modules are weighed once: by its layout or by rows of the ledger."""
    bays = build.pack is not None and bool(build.pack.bay)
    if told.pack == "layout" and not bays:
        write = 'Write [pack] with its bays, or pack = "rows"'
        tables.fault((*_HERE, "pack"), "no layout to take the modules from", write)
    if told.pack == "layout" and told.before is None:
        tables.fault((*_HERE, "pack"), "a ledger without the car that it starts from", "Write [weights.before]")
    if told.pack is None and bays and told.into and told.before is not None:
        found = "whether the modules of [pack] are among the things in [weights.in] is not told"
        write = 'Write pack = "rows" where they are, or pack = "layout" to have them added from [pack]'
        tables.fault(_HERE, found, write)


def _weighing(told: WeighingInput, path: Keys, tables: Tables) -> None:
    if (told.corners_kg is None) == (told.axles_kg is None):
        write = "Write corners = [front left, front right, rear left, rear right], or axles = [front, rear]"
        tables.fault(path, "a weighing wants corners or axles, one of them", write)
        return
    key, readings = ("corners", told.corners_kg) if told.corners_kg is not None else ("axles", told.axles_kg)
    assert readings is not None
    if min(readings) <= 0.0 or sum(readings) > 1e5:
        tables.fault((*path, key), f"{key}: found {', '.join(f'{one:g}' for one in readings)} kg", "Write each over 0")
        return
    if told.tilt is not None and told.cog_height_mm is not None:
        tables.fault((*path, "cog_height"), "the height is told twice", "Keep the tilt or cog_height")
    if told.tilt is not None and told.tilt.other_axle_kg >= sum(readings):
        found = f"one axle shows {told.tilt.other_axle_kg:g} kg of a car of {sum(readings):g} kg"
        tables.fault((*path, "tilt", "other_axle"), found, "Write what the axle on the ground shows, both wheels")


def _item(
    table: str, name: str, one: ItemInput, told: WeightsInput, tables: Tables, values: dict[str, Any], resolve: Resolver
) -> None:
    path: Keys = (*_HERE, table, name)
    if (one.at is None) == (one.place is None):
        write = "Write at = [1200, 0, 450], a point, or place = one of [weights.place]"
        tables.fault(path, f"where '{name}' is, is told {'not at all' if one.at is None else 'twice'}", write)
    if isinstance(one.at, str):
        values["at"] = resolve.point(one.at, (*path, "at"))
    for key, places in (("place", (one.place,) if one.place is not None else ()), ("places", one.places)):
        for place in places:
            if place not in told.place:
                near = nearest(place, told.place)
                write = f"Write '{near[0]}'" if near else f"Write [weights.place.{place}] with at"
                tables.fault((*path, key), f"the place {shown(place)} is not known", write)
    if one.places and table != "in":
        tables.fault((*path, "places"), f"'{name}' does not go in", "Only things under [weights.in] may be moved")


def _room(told: WeightsInput, tables: Tables) -> None:
    """No place holds more than it can of what goes in and rides along."""
    here = Counter(one.place for table, _, one in told.items if one.place is not None and table != "out")
    for name, count in here.items():
        if name in told.place and count > told.place[name].holds:
            found = f"the place '{name}' holds {told.place[name].holds}, but {count} things are in it"
            tables.fault((*_HERE, "place", name), found, "Write holds = so many, or put some elsewhere")
    movable = sum(bool(one.places) for one in told.into.values())
    if movable > MOST_MOVABLE:
        tables.fault((*_HERE, "in"), f"{movable} things that may be moved", f"Keep to {MOST_MOVABLE}")


def _brakes(told: BrakesInput, tables: Tables) -> None:
    path: Keys = (*_HERE, "brakes")
    if (told.knee_m_s2 is None) != (told.slope is None):
        write = 'Write valve_from = "0.3 g" and valve_slope = 0.4'
        tables.fault(path, "a valve wants where it begins and what it lets by", write)
    if told.slippery > told.friction:
        tables.fault((*path, "slippery"), "the slippery road grips better than the dry one", "Write the smaller here")
