"""Tool paths of a build's sheets. Nested sheets in; for each its path with checks, and the files for the table, out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from halfshaft.build.left_out import left_out
from halfshaft.build.moving_units import format_feed
from halfshaft.build.schema import Build, Cutter
from halfshaft.build.units import MM_PER_INCH, format_sheet
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Origin, worst_first
from halfshaft.cut import cautions
from halfshaft.cut.files import Names
from halfshaft.cut.nest.model import CutSheet, Sheets
from halfshaft.cut.path.gcode import code_text
from halfshaft.cut.path.model import OnSheet, SheetPath, Stock
from halfshaft.cut.path.sheet import sheet_path
from halfshaft.fold.said import said_checks
from halfshaft.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class Paths:
    """The path of every sheet, in the order of the sheets, and the name of its file, without a folder."""

    sheets: tuple[SheetPath, ...]
    files: tuple[str, ...]
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]

    @property
    def seconds(self) -> float:
        return sum(sheet.estimate.seconds for sheet in self.sheets)

    @property
    def cost(self) -> float | None:
        """Cost of cutting all, None where the shop gave no price."""
        told = [sum(sheet.estimate.cost.values()) for sheet in self.sheets if sheet.estimate.cost]
        return sum(told) if told else None


def paths_of(build: Build, sheets: Sheets, progress: Progress | None = None) -> Paths:
    """No paths for a torch that is guided by hand. Raises Stopped where `progress` does."""
    if build.shop.cutter is Cutter.HAND:
        return Paths((), (), (), ())
    tell = progress or silent
    found, names, files = [], Names(), []
    for number, sheet in enumerate(sheets.sheets):
        tell(number / len(sheets.sheets), sheet.blank.name)
        found.append(sheet_path(_stock(sheet), _parts(sheet), build.shop, build.cutter))
        files.append(f"{names.take(sheet.blank.name)}.{build.cutter.code.ending}")
    checks = said_checks(worst_first(c for path in found for c in path.checks), build.build.units)
    idle = set() if build.cutter.tabs else {"cutter.tab_width"}
    idle |= set() if build.cutter.marker else {"cutter.mark_feed", "cutter.mark_height", "cutter.mark_lift"}
    assumed = [row for row in left_out(build.cutter, "cutter") if found and row.where not in idle]
    for path in found:
        setup = path.setup
        thick = format_sheet(setup.thickness_mm, build.build.units)
        words = f"{format_feed(setup.feed_mm_min, build.build.units)} in {path.stock.material}, {thick}"
        if setup.feed_source.origin is not Origin.BUILDER:
            assumed.append(Assumed("cutter.setting", words, setup.feed_source))
    return Paths(tuple(found), tuple(files), checks, tuple(dict.fromkeys(assumed)))


def path_files(build: Build, paths: Paths) -> Mapping[str, bytes]:
    """Code of every sheet by file name. A sheet that a check stops gets none."""
    out: dict[str, bytes] = {}
    for path, name in zip(paths.sheets, paths.files, strict=True):
        if not path.stopped:
            zero = np.array(path.stock.outline.bounds[:2])
            text = code_text(path.cuts, path.setup, build.cutter.code, build.build.units, zero, _head(build, path))
            out[name] = text.encode("ascii")
    return out


def _stock(sheet: CutSheet) -> Stock:
    blank = sheet.blank
    no_go = tuple(Polygon(ring) for ring in blank.clamps_mm)
    return Stock(blank.name, blank.metal, blank.key.thickness_mm, blank.key.material, no_go)


def _parts(sheet: CutSheet) -> list[OnSheet]:
    out = []
    for one in sheet.laid:
        name = one.part.name if one.part.quantity == 1 else f"{one.part.name} no. {one.copy}"
        out.append(OnSheet(name, one.figures))
    return out


def _decimal(length_mm: float, units: UnitSystem) -> str:
    """As the control shows it: no fractions."""
    return f"{length_mm:.2f} mm" if units == "metric" else f"{length_mm / MM_PER_INCH:.3f} in"


def _head(build: Build, path: SheetPath) -> list[str]:
    setup, units = path.setup, build.build.units
    words = [
        f"{build.build.name}: sheet {path.stock.name}",
        f"{path.stock.material}, {format_sheet(setup.thickness_mm, units)}; {setup.process}",
        f"zero: lower left corner of the sheet; kerf {_decimal(setup.kerf_mm, units)} is in the path: compensation off",
        f"{path.estimate.pierces} pierces, about {path.estimate.seconds / 60.0:.1f} min",
    ]
    x0, y0 = path.stock.outline.bounds[:2]
    for name, (x, y), wide in path.drill[:20]:
        at = f"X {_decimal(x - x0, units)}, Y {_decimal(y - y0, units)}"
        words.append(f"drill by hand: {name}, {_decimal(wide, units)} at {at}")
    return [*words, "run it in the air first, torch off; " + cautions.PAPER_SHORT]
