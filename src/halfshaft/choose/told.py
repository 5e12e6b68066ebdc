"""From [choose] to a sweep: options with their values read, the car complete. A build and the weighed car in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from halfshaft.build import Build
from halfshaft.build.choices import Part, parts_of
from halfshaft.build.left_out import left_out
from halfshaft.build.road import CarInput, RoadInput
from halfshaft.build.weighed import Weighed, as_weighed
from halfshaft.choose.model import Sweep
from halfshaft.road.station import files_of

_DEAR = ("pack", "car.pack", "car.motor.power")  # what the pack's own numbers hang on


def sweep_of(build: Build, folder: Path, weighed: Weighed | None) -> Sweep:
    """The sweep of a build. Raises ValueError where it has no [choose] or no [car], or nobody weighed the car."""
    told, car = build.choose, build.car
    if told is None or car is None:
        raise ValueError("the build has no [choose] or no [car]")
    car, from_weights = as_weighed(car, weighed)
    if car.mass_kg is None:
        raise ValueError("the car's mass is left to [weights], which cannot be worked: see its checks")
    road = build.road or RoadInput()
    parts = parts_of(told, car, build.pack, build.build.units)
    # parts that the pack hangs on turn slowest, so that each pack is worked few times
    parts = tuple(sorted(parts, key=lambda part: not _is_dear(part)))
    cycle = told.cycle or (road.cycles[0] if road.cycles else "wltc")
    station = told.station or next(iter(road.station), None)
    gross = build.weights.gross_mass_kg if build.weights is not None else None
    assumed = (*left_out(told, "choose"), *from_weights)
    return Sweep(
        told, car, road, build.pack, parts, _texts(folder, car, road, parts, cycle), cycle, station, gross, assumed
    )


def _is_dear(part: Part) -> bool:
    keys = {".".join((table, *fields)) for option in part.options for table, fields, _ in option.writes}
    return any(key == dear or key.startswith((f"{dear}.", f"{dear}_")) for key in keys for dear in _DEAR)


def _texts(folder: Path, car: CarInput, road: RoadInput, parts: tuple[Part, ...], cycle: str) -> Mapping[str, str]:
    """Files beside build.toml that any variant wants."""
    names = [name for name in files_of(car, RoadInput()) if name.lower().endswith(".csv")]
    names += [cycle] if cycle.lower().endswith(".csv") else []
    for part in parts:
        for option in part.options:
            names += [str(v) for table, fields, v in option.writes if (table, *fields) == ("car", "motor", "map") and v]
    return {
        name: (folder / name).read_bytes().decode("utf-8-sig", errors="replace")
        for name in dict.fromkeys(names)
        if (folder / name).is_file()
    }
