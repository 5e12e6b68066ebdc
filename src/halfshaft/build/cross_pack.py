"""What [pack] says of rows, points and numbers that must fit together. The table and a resolver in, faults out."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from halfshaft.build.catalogue import NotListed
from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.build.catalogue import pack as rows
from halfshaft.build.catalogue.mounts import grade
from halfshaft.build.cross_fitup import Resolver
from halfshaft.build.lines import Path as Keys
from halfshaft.build.pack import BatteryInput, BoxInput, ModuleInput
from halfshaft.build.problems import nearest, shown
from halfshaft.build.tables import Tables

if TYPE_CHECKING:
    from halfshaft.build.schema import Build

MOST_MODULES = 400
MOST_BAYS = 12
_HERE: Keys = ("pack",)
_WANTED = ("chemistry", "series", "charge", "size", "mass", "minus", "plus", "terminal_face")


def pack_names(told: BatteryInput, build: Build, tables: Tables, values: dict[str, Any], resolve: Resolver) -> None:
    """Put whole names into `values`, the plain table of `told`; add a fault to `tables` for what cannot be."""
    _module(told.module, tables)
    if told.series * told.parallel > MOST_MODULES:
        found = f"{told.series} x {told.parallel} modules"
        tables.fault((*_HERE, "series"), found, f"Write {MOST_MODULES} modules or fewer")
    for key, pair in (("window", told.window), ("inverter_volts", told.inverter_v), ("charger_volts", told.charger_v)):
        if pair is not None and not pair[0] < pair[1]:
            tables.fault((*_HERE, key), f"from {pair[0]:g} to {pair[1]:g}", "Write the lower first, then the higher")
    if told.front_end_mm is not None and told.rear_end_mm is not None and told.front_end_mm <= told.rear_end_mm:
        write = "Write stations: forward of the rear axle is above nought"
        tables.fault((*_HERE, "front_end"), "the front end lies behind the rear end", write)
    if isinstance(told.junction, str):
        values["junction"] = resolve.point(told.junction, (*_HERE, "junction"))
    for number, name in enumerate(told.past):
        _listed(tables, (*_HERE, "past", number), "obstacle", name, build.obstacle)
    if len(told.bay) > MOST_BAYS:
        tables.fault((*_HERE, "bay"), f"{len(told.bay)} bays", f"Write {MOST_BAYS} or fewer")
    for name, bay in told.bay.items():
        path: Keys = (*_HERE, "bay", name)
        if bool(bay.box) == bool(bay.floor):
            found = "the bay has a box and a floor" if bay.box else f"the bay '{name}' has no shape"
            tables.fault(path, found, "Write box = two corners, or floor = three corners and height")
        if bay.floor and bay.height_mm is None:
            tables.fault((*path, "floor"), "a floor without a height", 'Write height = "220 mm"')
        _places(tables, path, "box", bay.box, 2, values["bay"][name], resolve)
        _places(tables, path, "floor", bay.floor, 3, values["bay"][name], resolve)
    if told.box is not None:
        _box(told.box, build, tables)
    for name, keep in told.keep_out.items():
        _places(tables, (*_HERE, "keep_out", name), "box", keep.box, 2, values["keep_out"][name], resolve, empty=False)


def _box(told: BoxInput, build: Build, tables: Tables) -> None:
    """Sheets and bolts of boxes are known ones."""
    here: Keys = (*_HERE, "box")
    for number, name in enumerate(told.sheet):
        _listed(tables, (*here, "sheet", number), "sheet", name, build.sheet)
    for key, sheet in (("lid_sheet", told.lid_sheet), ("strap_sheet", told.strap_sheet)):
        if sheet is not None:
            _listed(tables, (*here, key), "sheet", sheet, build.sheet)
    for key, bolt in (("lid_bolt", told.lid_bolt), ("strap_bolt", told.strap_bolt), ("foot_bolt", told.foot_bolt)):
        try:
            bolt_row(bolt)
        except NotListed as why:
            tables.fault((*here, key), str(why), "Write for example M10")
    try:
        grade(told.grade)
    except NotListed as why:
        tables.fault((*here, "grade"), str(why), "Write for example 8.8")
    if told.feet is not None and told.feet % 2:
        tables.fault((*here, "feet"), f"{told.feet} feet", "Write an even number: half of them on each side")


def _places(
    tables: Tables,
    path: Keys,
    key: str,
    told: tuple[Any, ...],
    count: int,
    values: dict[str, Any],
    resolve: Resolver,
    empty: bool = True,
) -> None:
    if not told and empty:
        return
    here: Keys = (*path, key)
    if len(told) != count:
        tables.fault(
            here, f"{len(told)} corner(s)", f"Write {('two', 'three')[count - 2]} points, or spots like [0, -300, 400]"
        )
    elif len(set(told)) < count:
        tables.fault(here, "a corner stands twice", "Write different corners")
    values[key] = [resolve.spot(place, (*here, number)) for number, place in enumerate(told)]


def _module(told: ModuleInput, tables: Tables) -> None:
    here: Keys = (*_HERE, "module")
    if told.like is not None:
        _listed(tables, (*here, "like"), "module", told.like, rows.modules())
    else:
        missing = [key for key in _WANTED if not told.given(_field(key))]
        if missing:
            write = 'Write like = "355 mm, 12 in series" for a usual one, or its own numbers'
            tables.fault(here, f"the module has no {', '.join(missing)}", write)
    if told.chemistry is not None:
        _listed(tables, (*here, "chemistry"), "chemistry of cells", told.chemistry, rows.cells())
    size = told.size_mm
    if size is None and told.like in rows.modules():
        size = rows.module(str(told.like)).size_mm
    if told.size_mm is not None and min(told.size_mm) < 5.0:
        tables.fault((*here, "size"), f"a module {min(told.size_mm):g} mm small", "Write length, width, height")
        return
    for key, spot in (("minus", told.minus_mm), ("plus", told.plus_mm)):
        out = size is not None and spot is not None
        if out and any(not -30.0 <= x <= s + 30.0 for x, s in zip(spot or (), size or (), strict=True)):
            found = f"a terminal at {', '.join(f'{x:g}' for x in spot or ())}, outside the module"
            tables.fault((*here, key), found, "Write it from the module's rear right lower corner")
    if told.minus_mm is not None and told.minus_mm == told.plus_mm:
        tables.fault((*here, "plus"), "both terminals lie in one place", "Write two spots")
    if told.lasting_a is not None and told.peak_a is not None and told.lasting_a > told.peak_a:
        tables.fault((*here, "lasting_current"), "it lasts with more than its peak", "Write the smaller current here")


def _field(key: str) -> str:
    return next(n for n, f in ModuleInput.model_fields.items() if (f.alias or n) == key)


def _listed(tables: Tables, path: Keys, what: str, name: str, known: Iterable[str]) -> None:
    names = list(known)
    if name not in names:
        near = nearest(name, names)
        write = f"Write '{near[0]}'" if near else f"There are: {', '.join(names) or 'none'}"
        tables.fault(path, f"the {what} {shown(name)} is not known", write)
