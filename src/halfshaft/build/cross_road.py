"""What [car] and [road] say of names, files and each other. The tables in, faults out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path, PurePosixPath

from halfshaft.build.catalogue import NotListed
from halfshaft.build.catalogue import road as rows
from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.road import CarInput, PackInput, RoadInput
from halfshaft.build.tables import Tables

LARGEST_BYTES = 50_000_000
MOST = 30  # cycles, routes, sockets or stations: each is worked


def car_names(car: CarInput, tables: Tables, folder: Path, packed: bool = False, weighed: bool = False) -> None:
    """Add a fault to `tables` for what cannot be; `packed` and `weighed`: [pack] tells the pack, [weights] the mass."""
    here: Keys = ("car",)
    if car.mass_kg is None and not weighed:
        tables.fault(here, "[car] does not say what it weighs", 'Write mass = "1650 kg", or [weights]')
    _listed(tables, (*here, "tyre_kind"), "kind of tyre", car.tyre_kind, rows.tyre_kinds())
    _listed(tables, (*here, "pack", "curve"), "curve of a pack", car.pack.curve, rows.pack_curves())
    if car.shape is not None:
        _listed(tables, (*here, "shape"), "shape", car.shape, rows.shapes())
    _drag(car, tables, here)
    if car.tyre is None and car.wheel_radius_mm is None:
        tables.fault(here, "[car] does not say how large its wheels are", 'Write tyre = "165/80R15" or wheel_radius')
    if car.tyre is not None and not re.match(r"\s*P?\d{3}", car.tyre):
        tables.fault((*here, "tyre"), f"{shown(car.tyre)} is no tyre's marking", "Write for example 165/80R15")
    told = car.coefficients
    if told is not None and told.b_n_s_m < 0.0 and told.b_n_s_m**2 > 4.0 * told.a_n * told.c_n_s2_m2:
        found = "a, b and c would push the car at some speed"
        tables.fault((*here, "coefficients", "b"), found, "Look at the sign and the unit of b")
    if car.coast_down is not None:
        at: Keys = (*here, "coast_down", "runs")
        for number, run in enumerate(car.coast_down.runs):
            if not run.from_kmh > run.to_kmh:
                tables.fault((*at, number), "a coast-down that does not slow down", "Write from above, to below")
        if len({(run.from_kmh, run.to_kmh) for run in car.coast_down.runs}) < 2:
            tables.fault(at, "fewer than two intervals", "Write runs from two speeds or more, three are better")
    motor = car.motor
    if motor.map is not None:
        _file(tables, (*here, "motor", "map"), motor.map, folder, (".csv",))
        if any(value is not None for value in (motor.copper, motor.iron, motor.windage, motor.fixed_w)):
            tables.fault(
                (*here, "motor", "map"), "the motor's losses are told twice", "Keep the map or the four numbers"
            )
    if motor.lasting_power_w is not None and motor.lasting_power_w > motor.power_w:
        tables.fault(
            (*here, "motor", "lasting_power"), "it lasts with more than its peak", "Write the smaller power here"
        )
    if motor.most_c <= motor.holds_back_c or motor.holds_back_c <= motor.coolant_c:
        tables.fault((*here, "motor"), "its temperatures do not rise", "Write coolant < holds_back < most")
    _pack(car.pack, tables, (*here, "pack"), packed)
    if car.pack.full_v is not None and car.pack.volts_v is not None and car.pack.full_v <= car.pack.volts_v:
        tables.fault(
            (*here, "pack", "full_volts"), "full volts are not above the usual ones", "Write volts and full_volts"
        )
    if any(b[0] <= a[0] for a, b in pairwise(car.pack.fast)):
        tables.fault((*here, "pack", "fast"), "charges that do not rise", "Write [[0.1, 50000], [0.8, 20000]]")
    if car.braking.ends_kmh > car.braking.fades_kmh:
        tables.fault((*here, "braking"), "braking ends above where it fades", "Write fades above ends")


_WORKED = (
    "energy",
    "volts",
    "full_volts",
    "curve",
    "resistance",
    "discharge_power",
    "brake_power",
    "charge_current",
    "mass",
)


def _pack(told: PackInput, tables: Tables, here: Keys, packed: bool) -> None:
    """The pack told once: here, or by its modules in [pack]."""
    given = [
        key
        for key in _WORKED
        if told.given(next(n for n, f in PackInput.model_fields.items() if (f.alias or n) == key))
    ]
    if packed and given:
        write = "Take it away here: it is worked from the modules in [pack]"
        tables.fault((*here, given[0]), f"{', '.join(given)} of the pack told twice", write)
    if not packed:
        for key, value, write in (("energy", told.energy_wh, '"42 kWh"'), ("volts", told.volts_v, '"350 V"')):
            if value is None:
                tables.fault(here, f"the pack has no {key}", f"Write {key} = {write}, or [pack] with its modules")


def _drag(car: CarInput, tables: Tables, here: Keys) -> None:
    """One way to tell the drag, and all of it."""
    if car.coefficients is not None and car.coast_down is not None:
        tables.fault((*here, "coefficients"), "road load is told twice", "Keep coefficients or coast_down")
    measured = car.coefficients is not None or car.coast_down is not None
    front = car.frontal_area_m2 is not None or (car.width_mm is not None and car.height_mm is not None)
    ways = [
        car.drag_area_m2 is not None,
        (car.drag is not None or car.shape is not None) and front,
    ]
    if not measured and not any(ways):
        found = "[car] does not say what air it pushes"
        tables.fault(here, found, "Write shape, width and height; or drag_area; or a coast_down")
    if car.drag_area_m2 is not None and car.drag is not None:
        tables.fault((*here, "drag"), "the drag is told twice", "Keep drag_area, or drag with frontal_area")


def road_names(road: RoadInput, tables: Tables, folder: Path) -> None:
    """Add a fault to `tables` for what cannot be."""
    here: Keys = ("road",)
    for number, name in enumerate(road.cycles):
        path: Keys = (*here, "cycles", number)
        if name.lower().endswith(".csv"):
            _file(tables, path, name, folder, (".csv",))
            continue
        try:
            rows.cycle_text(name)
        except NotListed as why:
            tables.fault(path, str(why), "Write one of these, or a CSV file beside build.toml")
    for name, route in road.route.items():
        _file(tables, (*here, "route", name, "file"), route.file, folder, (".gpx",))
    for number, speed in enumerate(road.speeds_kmh):
        if not 1.0 <= speed <= 400.0:
            tables.fault(
                (*here, "speeds", number), f"a steady speed of {speed:g} km/h", "Write speeds from 1 to 400 km/h"
            )
    for key in ("cycles", "route", "socket", "station"):
        if len(getattr(road, key)) > MOST:
            tables.fault((*here, key), f"{len(getattr(road, key))} of them", f"Keep to {MOST}")


def _listed(tables: Tables, path: Keys, what: str, name: str, known: Iterable[str]) -> None:
    names = list(known)
    if name not in names:
        near = nearest(name, names)
        write = f"Write '{near[0]}'" if near else f"There are: {', '.join(names)}"
        tables.fault(path, f"the {what} {shown(name)} is not known", write)


def _file(tables: Tables, path: Keys, name: str, folder: Path, endings: tuple[str, ...]) -> None:
    way = PurePosixPath(name.replace("\\", "/"))
    if way.is_absolute() or ".." in way.parts or re.match(r"[A-Za-z]:", name) or "\x00" in name or len(name) > 200:
        tables.fault(path, f"the file {shown(name)} lies outside the build folder", "Put the file beside build.toml")
        return
    if way.suffix.lower() not in endings:
        tables.fault(path, f"the file {shown(name)} is no {' or '.join(endings)}", f"Save it as {endings[0]}")
        return
    try:
        there = (folder / way).is_file()
        size = (folder / way).stat().st_size if there else 0
    except (OSError, ValueError):
        there, size = False, 0
    if not there:
        tables.fault(path, f"there is no file {shown(name)} in the build folder", "Put the file beside build.toml")
    elif size > LARGEST_BYTES:
        tables.fault(path, f"the file {shown(name)} is larger than 50 MB", "Save it coarser")
