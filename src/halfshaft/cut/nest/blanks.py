"""Sheets that a build tells of, as blanks to lay parts on. Build, folder and the kinds wanted in, blanks out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.polygon import orient

from halfshaft.build.catalogue import default, material
from halfshaft.build.schema import Build
from halfshaft.build.sheets import ClampInput, OffcutInput, StockInput
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.cut.dxf import outline_of
from halfshaft.cut.nest.model import Blank
from halfshaft.cut.nest.size import goes_on
from halfshaft.cut.part import SheetKey, SheetPart, sheet_key

Array = NDArray[np.float64]

MANY = 50  # sheets of a stock that is not counted


@dataclass(frozen=True, eq=False)
class Rack:
    """Blanks of one kind of sheet: offcuts, the smallest first, and stocks, each with how many there are."""

    offcuts: tuple[Blank, ...]
    stocks: tuple[tuple[Blank, int], ...]  # the first of each, to be numbered on


def gap_mm(build: Build, thickness_mm: float) -> float:
    """Least distance between two parts' edges. Source: common practice, docs/sheets.md."""
    if build.sheets is not None and build.sheets.gap_mm is not None:
        return build.sheets.gap_mm
    kerfs, thicknesses, least = (float(default(f"sheets.gap_{k}").value) for k in ("kerfs", "thicknesses", "least"))
    return max(kerfs * build.shop.kerf_mm, thicknesses * thickness_mm, least)


def margin_mm(told: float | None, thickness_mm: float) -> float:
    """Least distance of a part from the sheet's edge. Source: common practice, docs/sheets.md."""
    if told is not None:
        return told
    thicknesses, least = (float(default(f"sheets.margin_{k}").value) for k in ("thicknesses", "least"))
    return max(thicknesses * thickness_mm, least)


def racks(
    build: Build, folder: Path, kinds: Mapping[SheetKey, Sequence[SheetPart]]
) -> tuple[dict[SheetKey, Rack], list[Check], list[Assumed]]:
    """What there is to cut each kind from. A kind that the build tells no sheet of gets one of a usual size, the
    smallest that every part of it fits on.

    An offcut whose drawing cannot be read is left out, with a check that says why.
    """
    out: dict[SheetKey, Rack] = {}
    checks: list[Check] = []
    assumed: list[Assumed] = []
    offcuts: list[Blank] = []
    for name, told in build.offcut.items():
        try:
            offcuts.append(_offcut(build, name, told, folder))
        except ValueError as why:
            checks.append(
                Check(
                    "sheets",
                    f"offcut {name}",
                    "Offcut cannot be used",
                    _told("offcut", name),
                    Severity.CAUTION,
                    f"{why}",
                    good=Good.TOLD,
                    failed_outright=True,
                )
            )
    stocks = [(_stock(build, name, stock), stock.count) for name, stock in build.stock.items()]
    for key, parts in kinds.items():
        own = sorted((o for o in offcuts if o.key.fits(key)), key=lambda o: o.metal.area)
        whole = [(blank, MANY if count is None else count) for blank, count in stocks if blank.key.fits(key)]
        if not whole:
            blank, row = _usual(build, key, parts)
            whole.append((blank, MANY))
            assumed.append(row)
        out[key] = Rack(tuple(own), tuple(whole))
    return out, checks, assumed


def _usual(build: Build, key: SheetKey, parts: Sequence[SheetPart]) -> tuple[Blank, Assumed]:
    row = default(f"sheets.size_{'inch' if build.build.units == 'inch' else 'metric'}")
    name = next((n for n in build.sheet if sheet_key(build, n).fits(key)), "")
    table = f"stock.{name or f'{key.thickness_mm:.4g}_mm'}"
    if name in build.stock:
        table += "_bought"
    blanks = [_blank(build, table, key, _box(float(x), float(y)), (), None, (), None) for x, y in row.value]
    blank = next((b for b in blanks if all(goes_on(part, b) for part in parts)), blanks[-1])
    length, width = blank.size_mm
    assumed = Assumed(f"{table}.size", f"{length:g} x {width:g} mm", row.source)
    return replace(blank, assumed=True), assumed


def _stock(build: Build, name: str, told: StockInput) -> Blank:
    length, width = told.size_mm
    ring = _box(length, width)
    blank = _blank(
        build, f"stock.{name}", sheet_key(build, told.sheet), ring, (), told.margin_mm, told.clamp, told.rolling
    )
    return replace(blank, cost=told.cost)


def _offcut(build: Build, name: str, told: OffcutInput, folder: Path) -> Blank:
    """Raises ValueError where the drawing cannot be read."""
    if told.dxf is not None:
        shape = outline_of(folder / told.dxf, build.build.units)
    else:
        shape = Polygon(told.outline, told.openings)
    shape = orient(shape)
    low = np.asarray(shape.bounds[:2])
    rings = [np.asarray(r.coords)[:-1] - low for r in (shape.exterior, *shape.interiors)]
    key = sheet_key(build, told.sheet)
    return _blank(build, f"offcut.{name}", key, rings[0], tuple(rings[1:]), told.margin_mm, told.clamp, told.rolling)


def _blank(
    build: Build,
    table: str,
    key: SheetKey,
    ring: Array,
    openings: tuple[Array, ...],
    margin: float | None,
    clamps: tuple[ClampInput, ...],
    rolling: Literal["length", "width"] | float | None,
) -> Blank:
    length, width = (float(x) for x in np.ptp(ring, axis=0))
    ways = {"length": 0.0, "width": 90.0}
    way = ways[rolling] if isinstance(rolling, str) else rolling
    t = key.thickness_mm
    return Blank(
        table, 1, key, ring, openings, margin_mm(margin, t), gap_mm(build, t),
        tuple(_strip(clamp, length, width) for clamp in clamps), float(default("sheets.clamp_gap").value),
        way, material(key.material).density_kg_m3,
    )  # fmt: skip


def _strip(clamp: ClampInput, length: float, width: float) -> Array:
    along = width if clamp.side in ("left", "right") else length
    start, end = clamp.start_mm or 0.0, along if clamp.end_mm is None else min(clamp.end_mm, along)
    reach = clamp.reach_mm
    x0, y0, x1, y1 = {
        "left": (0.0, start, reach, end), "right": (length - reach, start, length, end),
        "lower": (start, 0.0, end, reach), "upper": (start, width - reach, end, width),
    }[clamp.side]  # fmt: skip
    return np.asarray(box(x0, y0, x1, y1).exterior.coords)[:-1]


def _box(length: float, width: float) -> Array:
    return np.array([[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]])


def _told(table: str, name: str) -> Source:
    return Source(Origin.BUILDER, f"[{table}.{name}]")
