"""Files of the laid-out sheets: pictures, drawings, new offcuts. Sheets in, files in a folder of their own out."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from halfshaft.build.schema import Build
from halfshaft.build.units import length_to_write
from halfshaft.checks import Assumed
from halfshaft.cut.dxf import figures_text
from halfshaft.cut.files import Names, write_all
from halfshaft.cut.layers import Figure
from halfshaft.cut.nest.clear import label
from halfshaft.cut.nest.model import CutSheet, Leftover, Sheets, copy_name
from halfshaft.cut.sheet_picture import sheet_svg
from halfshaft.cut.station import CutFile, CutFiles
from halfshaft.geometry import Contour

FOLDER = "sheets"
OFFCUTS = "offcuts"


def sheet_contents(build: Build, sheets: Sheets) -> dict[str, bytes]:
    """Every file by its path in the folder: a picture and a drawing a sheet, offcuts as drawings, lists."""
    names, out = Names(), {}
    inch = build.build.units == "inch"
    for sheet in sheets.sheets:
        stem = names.take(sheet.blank.name)
        out[f"{stem}.svg"] = sheet_svg(sheet, build.build.units).encode("utf-8")
        figures = [figure for one in sheet.laid for figure in one.figures]
        out[f"{stem}{'-inch' if inch else ''}.dxf"] = figures_text(
            figures, sheet.blank.name, "inch" if inch else "mm"
        ).encode("utf-8")
        for left in sheet.leftovers:
            out[f"{OFFCUTS}/{left.name}.dxf"] = offcut_dxf(left).encode("utf-8")
    if any(sheet.leftovers for sheet in sheets.sheets):
        out["offcuts-to-paste.toml"] = paste_text(build, sheets).encode("utf-8")
    out["parts-on-sheets.csv"] = parts_csv(sheets).encode("utf-8")
    return out


def write_sheets(build: Build, sheets: Sheets, folder: Path, more: Mapping[str, bytes] | None = None) -> CutFiles:
    """Write them into `folder`, with `more` files by relative path; takes away those of an earlier run.

    Raises files.Unwritable where the folder cannot be written; what was there is then as it was.
    """
    contents = {**sheet_contents(build, sheets), **(more or {})}
    kinds = {".svg": "svg", ".dxf": "dxf", ".toml": "offcuts", ".csv": "list"}
    rows = tuple(
        CutFile(path, kinds.get(Path(path).suffix, Path(path).suffix.lstrip(".")), "sheets", len(data))
        for path, data in contents.items()
    )
    gone = write_all(folder, contents)
    assumed: tuple[Assumed, ...] = ()
    return CutFiles(folder, rows, (), assumed, gone)


def offcut_dxf(left: Leftover) -> str:
    """A leftover as a drawing in mm, its lower left at the origin; the file an [offcut] names."""
    low = left.outline_mm.min(axis=0)
    rings = (left.outline_mm, *left.openings_mm)
    figures = [Figure("cut", Contour.of_points(np.asarray(ring) - low)) for ring in rings]
    return figures_text(figures, left.name)


def offcut_row(build: Build, sheet: CutSheet, left: Leftover) -> dict[str, object]:
    """What an [offcut] of this leftover says; its drawing goes beside build.toml."""
    row: dict[str, object] = {"sheet": sheet_name(build, sheet), "dxf": f"{left.name}.dxf"}
    if sheet.blank.rolling_deg is not None:
        row["rolling"] = float(sheet.blank.rolling_deg)
    row["note"] = f"left of {sheet.blank.name}"
    return row


def sheet_name(build: Build, sheet: CutSheet) -> str:
    """The [sheet.NAME] that a blank is of; its thickness where the build has none."""
    table, _, name = sheet.blank.table.partition(".")
    told = build.offcut.get(name) if table == "offcut" else build.stock.get(name)
    if told is not None:
        return told.sheet
    key = sheet.blank.key
    for own, row in build.sheet.items():
        if row.material == key.material and abs(row.thickness_mm - key.thickness_mm) < 0.01:
            return own
    return name


def paste_text(build: Build, sheets: Sheets) -> str:
    """Lines for build.toml that tell every leftover as an offcut."""
    lines = [
        "# What is left once these sheets are cut. Copy the drawings in offcuts/ beside build.toml and paste the rows,",
        "# or let 'halfshaft sheets DIR --cut NAME' do both and take the cut sheet off the stock.",
    ]
    for sheet in sheets.sheets:
        for left in sheet.leftovers:
            size = [length_to_write(float(v), build.build.units) for v in np.ptp(left.outline_mm, axis=0)]
            lines += ["", f"[offcut.{left.name}]  # within {size[0]} x {size[1]}"]
            for key, value in offcut_row(build, sheet, left).items():
                lines.append(f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value:g}")
    return "\n".join(lines) + "\n"


def parts_csv(sheets: Sheets) -> str:
    """Which part lies where: sheet, part, turn, place of its origin."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(("sheet", "part", "what", "turn_deg", "x_mm", "y_mm"))
    for sheet in sheets.sheets:
        for one in sheet.laid:
            x, y = one.shift_mm
            what = f"{one.part.station}: {one.part.why}"
            rows.writerow((sheet.blank.name, label(one), what, f"{one.rotation_deg:.4f}", f"{x:.3f}", f"{y:.3f}"))
    for part, number in sheets.left_out:
        rows.writerow(("none", copy_name(part, number), part.why, "", "", ""))
    return out.getvalue()
