"""From the builder's words to modules, strings, bays and keep-outs, and what was assumed for what they leave out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from halfshaft.build import Build
from halfshaft.build.catalogue import _table, default
from halfshaft.build.catalogue.pack import CellRow, ModuleRow, cell, module, pack_share
from halfshaft.build.pack import BatteryInput, BayInput
from halfshaft.checks import Assumed, Check, Origin, Severity, Source
from halfshaft.geometry import mesh
from halfshaft.measure.model import Measured
from halfshaft.measure.obstacles import obstacles_of, points_of
from halfshaft.pack.bay import Bay, Keep, bay_of_corners, bay_of_points
from halfshaft.pack.block import Block
from halfshaft.pack.chemistry import chemistry_of
from halfshaft.pack.layout import Wish
from halfshaft.pack.strings import Cells, Strings, aged

Array = NDArray[np.float64]
T = TypeVar("T")
STATION = "pack"
_PLACES = Source(Origin.DERIVED, "places of measured points")
LONGEST_MM = 6000.0
_FAR = 1e5  # mm: past any car


def left_out(model: BaseModel, where: str) -> list[Assumed]:
    """Every value of a table, and of tables in it, that came from a row of defaults."""
    found: list[Assumed] = []
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        key = f"{where}.{field.alias or name}"
        inner = value.items() if isinstance(value, dict) else ()
        found += [one for n, v in inner if isinstance(v, BaseModel) for one in left_out(v, f"{key}.{n}")]
        more = field.json_schema_extra
        if isinstance(more, dict) and "default_row" in more and name not in model.model_fields_set:
            row = default(str(more["default_row"]))
            found.append(Assumed(key, f"{row.value:g} {row.unit}".strip(), row.source))
    return found


def strings_of(told: BatteryInput) -> tuple[Strings, Strings, Block, str, list[Assumed]]:
    """The pack new and old, its module as a thing to place and by name, and what was assumed.

    Raises KeyError for rows that are not in the catalogue.
    """
    own, assumed = told.module, left_out(told, "pack")
    row: ModuleRow | None = module(own.like) if own.like is not None else None
    name = own.chemistry or (row.chemistry if row is not None else "")
    chemistry = cell(name)

    def of(key: str, given: T | None, listed: T | None, usual: T | None = None, source: Source | None = None) -> T:
        if given is not None:
            return given
        value = listed if listed is not None else usual
        if value is None:
            raise ValueError(f"the module has no {key}")
        why = row.source if row is not None and listed is not None else source
        if why is not None:
            assumed.append(Assumed(f"pack.module.{key}", _words(value), why))
        return value

    series = of("series", own.series, row.series if row else None)
    charge = of("charge", own.charge_ah, row.charge_ah if row else None)
    mass = of("mass", own.mass_kg, row.mass_kg if row else None)
    usual = chemistry.ohm_ah * series / charge
    ohm = of("resistance", own.resistance_ohm, row.resistance_ohm if row else None, usual, chemistry.source)
    rates = chemistry.source
    heat = float(default("pack.heat").value)
    assumed.append(Assumed("heat of a module", f"{heat:g} J/kg K", default("pack.heat").source))
    cells = Cells(
        chemistry_of(chemistry),
        series,
        charge,
        ohm,
        of("peak_current", own.peak_a, None, chemistry.peak_rate * charge, rates),
        of("lasting_current", own.lasting_a, None, chemistry.lasting_rate * charge, rates),
        of("charge_current", own.charge_a, None, chemistry.charge_rate * charge, rates),
        heat * mass,
    )
    block = Block(
        np.array(of("size", own.size_mm, row.size_mm if row else None), dtype=float),
        mass,
        np.array(of("minus", own.minus_mm, row.minus_mm if row else None), dtype=float),
        np.array(of("plus", own.plus_mm, row.plus_mm if row else None), dtype=float),
        of("terminal_face", own.terminal_face, row.terminal_face if row else None),
        told.terminal_mm,
        of("may_look_up", own.may_look_up, row.may_look_up if row else None, ("top",), _UPRIGHT),
        own.cools or (row.cools if row is not None else ""),
    )
    window = told.window or chemistry.window
    if told.window is None:
        assumed.append(Assumed("pack.window", f"{window[0]:g} to {window[1]:g}", chemistry.source))
    (gives, why_gives), (takes, why_takes) = pack_share("discharge"), pack_share("charge")
    assumed.append(Assumed("current out against temperature", "a curve", why_gives))
    assumed.append(Assumed("current in against temperature", "a curve", why_takes))
    assumed.append(Assumed("resistance by charge and temperature", "a table", chemistry.resistance_source))
    new = Strings(cells, told.series, told.parallel, window, gives, takes)
    return new, _old(told, chemistry, new, assumed), block, own.like or f"module of {name}", assumed


_UPRIGHT = Source(Origin.COMMON_PRACTICE, "upright unless the maker says otherwise; no published source")


def _old(told: BatteryInput, row: CellRow, new: Strings, assumed: list[Assumed]) -> Strings:
    for key, given, usual in (("left", told.left, row.faded), ("grown", told.grown, row.grown)):
        if given is None:
            assumed.append(Assumed(f"pack.{key}", f"{usual:g}", row.source))
    return aged(new, told.left or row.faded, told.grown or row.grown)


def _words(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.4g}"
    return (
        ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in value)
        if isinstance(value, tuple)
        else str(value)
    )


def wishes() -> tuple[Wish, ...]:
    """What answers are weighed by, in the order of the catalogue."""
    keys = ("station", "side", "height", "cables", "bays")
    return tuple(Wish(name, *(float(row[key]) for key in keys)) for name, row in _table("pack_wishes").items())


def places_of(
    told: BatteryInput, build: Build, measured: Measured, folder: Path
) -> tuple[tuple[Bay, ...], tuple[Keep, ...], Array | None, list[Check]]:
    """Bays and keep-outs in the root's axes, where the strings end, and STOP checks for what cannot be placed."""
    checks: list[Check] = []

    def tried(about: str, make: Callable[[], T]) -> T | None:
        try:
            return make()
        except (ValueError, KeyError) as why:
            words = str(why.args[0] if why.args else why)
            checks.append(
                Check(STATION, about, "Cannot be placed", _PLACES, Severity.STOP, f"{words}. It is left out.",
                      failed_outright=True)
            )  # fmt: skip
            return None

    def spot(place: str | tuple[float, float, float]) -> Array:
        if isinstance(place, str):
            return np.asarray(points_of([place], build, measured, 1)[0][0])
        return np.array(place, dtype=float)

    def box(places: tuple[str | tuple[float, float, float], ...]) -> mesh.MeshSolid:
        pose, size = bay_of_corners(*(spot(place) for place in places))
        return mesh.moved(mesh.box(np.zeros(3), size), pose)

    bays = [tried(f"bay {name}", partial(_bay, name, bay, spot)) for name, bay in told.bay.items()]
    keeps: list[Keep] = []
    for name, out in told.keep_out.items():
        solid = tried(f"keep-out {name}", partial(box, out.box))
        if solid is not None:
            keeps.append(Keep(name, solid, out.room_mm))
    obstacles, more = obstacles_of(build, measured, folder)
    checks += more
    keeps += [
        Keep(one.name, one.solid, max(one.clearance_mm, told.keep_mm)) for one in obstacles if one.name not in told.past
    ]
    if told.front_end_mm is not None:
        line = told.front_end_mm - told.front_zone_mm
        keeps.append(Keep("front crash zone", mesh.box([line, -_FAR, -_FAR], [line + _FAR, _FAR, _FAR]), 0.0))
    if told.rear_end_mm is not None:
        line = told.rear_end_mm + told.rear_zone_mm
        keeps.append(Keep("rear crash zone", mesh.box([line - _FAR, -_FAR, -_FAR], [line, _FAR, _FAR]), 0.0))
    place = told.junction
    junction = tried("junction of the strings", partial(spot, place)) if place is not None else None
    return tuple(bay for bay in bays if bay is not None), tuple(keeps), junction, checks


def _bay(name: str, told: BayInput, spot: Callable[[str | tuple[float, float, float]], Array]) -> Bay:
    if told.box:
        pose, size = bay_of_corners(*(spot(place) for place in told.box))
    else:
        corner, along, across = (spot(place) for place in told.floor)
        pose, size = bay_of_points(corner, along, across, told.height_mm or 0.0)
    if float(size.max()) > LONGEST_MM:
        raise ValueError(
            f"the bay {name} is {size.max():.0f} mm long: tell it in pieces of {LONGEST_MM:.0f} mm or less"
        )
    return Bay(name, pose, size, told.wall_mm, told.cooled or "", told.cables)
