"""What [stock], [offcut] and [sheets] say that cannot be. Build, tables and folder in, faults added to the tables."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from shapely.geometry import Polygon

from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.sheets import OffcutInput, SheetsInput, StockInput
from halfshaft.build.tables import Tables

if TYPE_CHECKING:
    from halfshaft.build.schema import Build

_LEAST_MM, _MOST_MM = 20.0, 20_000.0
_MOST_ROWS = 100
LARGEST_DXF_BYTES = 50_000_000


def sheet_rows(build: Build, tables: Tables, folder: Path) -> None:
    """Add a fault for each row of [stock], [offcut] and [sheets] that cannot be."""
    for table, count in (("stock", len(build.stock)), ("offcut", len(build.offcut))):
        if count > _MOST_ROWS:
            tables.fault((table,), f"{count} rows", f"Write {_MOST_ROWS} or fewer")
    for name, stock in build.stock.items():
        path: Keys = ("stock", name)
        _common(build, tables, path, stock)
        if not all(_LEAST_MM <= side <= _MOST_MM for side in stock.size_mm):
            found = f"a sheet of {stock.size_mm[0]:g} x {stock.size_mm[1]:g} mm"
            tables.fault((*path, "size"), found, 'Write length and width: size = ["2500 mm", "1250 mm"]')
        else:
            _clamps(tables, path, stock, *stock.size_mm)
    for name, offcut in build.offcut.items():
        path = ("offcut", name)
        _common(build, tables, path, offcut)
        _outline(tables, path, offcut, folder)
    if build.sheets is not None:
        _sheets(build, tables, build.sheets)


def _common(build: Build, tables: Tables, path: Keys, told: StockInput | OffcutInput) -> None:
    _listed(tables, (*path, "sheet"), told.sheet, list(build.sheet))


def _clamps(tables: Tables, path: Keys, told: StockInput | OffcutInput, length: float, width: float) -> None:
    for number, clamp in enumerate(told.clamp):
        here: Keys = (*path, "clamp", number)
        along, across = (width, length) if clamp.side in ("left", "right") else (length, width)
        if clamp.reach_mm >= across:
            tables.fault((*here, "reach"), "the strip covers the whole sheet", "Write how far it reaches in")
        start, end = clamp.start_mm or 0.0, along if clamp.end_mm is None else clamp.end_mm
        if not start < end:
            tables.fault(here, "the strip ends before it starts", "Write start, then end, along the side")


def _outline(tables: Tables, path: Keys, told: OffcutInput, folder: Path) -> None:
    if bool(told.outline) == (told.dxf is not None):
        found = "an outline and a drawing" if told.outline else "no shape"
        tables.fault(path, f"the offcut has {found}", 'Write outline = [[0, 0], [400, 0], [400, 300]] or dxf = "a.dxf"')
        return
    if told.dxf is not None:
        _drawing(tables, (*path, "dxf"), told.dxf, folder)
        return
    for number, ring in enumerate((told.outline, *told.openings)):
        here: Keys = (*path, "openings", number - 1) if number else (*path, "outline")
        if len(ring) < 3 or not (shape := Polygon(ring)).is_valid or shape.area < _LEAST_MM**2:
            found = f"{len(ring)} corner(s) that enclose no sheet" if len(ring) < 3 else "an edge that crosses itself"
            tables.fault(here, found, "Write the corners in turn round the piece, each once")
            return
    whole = Polygon(told.outline)
    if any(not whole.contains(Polygon(ring)) for ring in told.openings):
        tables.fault((*path, "openings"), "an opening that reaches over the edge", "Write it as part of the outline")
    elif not Polygon(told.outline, told.openings).is_valid:
        tables.fault((*path, "openings"), "openings that run into each other", "Write what is one hole as one opening")
    x0, y0, x1, y1 = whole.bounds
    if max(x1 - x0, y1 - y0) > _MOST_MM:
        tables.fault((*path, "outline"), f"a piece {max(x1 - x0, y1 - y0):g} mm long", "Write its corners in mm")
    _clamps(tables, path, told, x1 - x0, y1 - y0)


def _drawing(tables: Tables, path: Keys, name: str, folder: Path) -> None:
    way = PurePosixPath(name.replace("\\", "/"))
    if way.is_absolute() or ".." in way.parts or re.match(r"[A-Za-z]:", name) or "\x00" in name or len(name) > 200:
        tables.fault(path, f"the drawing {shown(name)} lies outside the build folder", "Put the file beside build.toml")
        return
    if way.suffix.lower() != ".dxf":
        tables.fault(path, f"{shown(name)} is no DXF", "Save the piece's outline as DXF")
        return
    file = folder / way
    if not file.is_file():
        near = nearest(way.name, [p.name for p in folder.glob("*.dxf")])
        tables.fault(path, f"there is no file {shown(name)}", f"Write '{near[0]}'" if near else "Put it in the folder")
    elif file.stat().st_size > LARGEST_DXF_BYTES:
        tables.fault(path, f"{shown(name)} is too large", "Save the outline alone")


def _sheets(build: Build, tables: Tables, told: SheetsInput) -> None:
    here: Keys = ("sheets",)
    if told.templates is not None:
        _listed(tables, (*here, "templates"), told.templates, list(build.sheet))
    if len(set(told.first)) < len(told.first):
        tables.fault((*here, "first"), "a kind of part stands twice", "Write each once")
    names = sheet_names(build)
    seen: set[tuple[str, int]] = set()
    for number, laid in enumerate(told.laid):
        if laid.sheet not in names and laid.sheet.rpartition(" ")[0] not in names:
            near = nearest(laid.sheet, names)
            write = f"Write '{near[0]}'" if near else "Write 'offcut.NAME', or 'stock.NAME 1' for the first of a stock"
            tables.fault((*here, "laid", number, "sheet"), f"the sheet {shown(laid.sheet)} is not known", write)
        if (laid.part, laid.copy_) in seen:
            tables.fault((*here, "laid", number), f"{shown(laid.part)} is laid twice", "Write copy = 2 for the second")
        seen.add((laid.part, laid.copy_))


def sheet_names(build: Build) -> list[str]:
    """Names that a laid part may give as its sheet; of a stock the first one's."""
    bought = [f"stock.{name}" for name in build.sheet]
    return [
        *(f"offcut.{name}" for name in build.offcut),
        *dict.fromkeys([*(f"stock.{n}" for n in build.stock), *bought]),
    ]


def _listed(tables: Tables, path: Keys, name: str, known: list[str]) -> None:
    if name in known:
        return
    near = nearest(name, known)
    write = f"Write '{near[0]}'" if near else f"There are: {', '.join(known) or 'none'}"
    tables.fault(path, f"the sheet {shown(name)} is not known", write)
