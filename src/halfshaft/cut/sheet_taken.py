"""A sheet that has been cut: what then changes in the build. Build and sheet in, values and drawings to save out.

The sheet leaves the stock, what is left of it becomes an offcut with a drawing beside build.toml, and its parts count
as done, so that nothing is cut twice.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from halfshaft.build.lines import Path as Keys
from halfshaft.build.save import save_values
from halfshaft.build.schema import Build
from halfshaft.build.whole import write_whole
from halfshaft.cut.nest.clear import label
from halfshaft.cut.nest.model import Sheets
from halfshaft.cut.sheet_files import offcut_dxf, offcut_row


def taken(build: Build, sheets: Sheets, name: str) -> tuple[dict[str | Keys, Any], dict[str, bytes]]:
    """Values by path for `save_values`, and files by name for the build folder, once the sheet `name` is cut.

    Raises ValueError, naming the sheets there are, where no part lies on such a sheet; also where a stop forbids the
    cut, and where the sheet is of a usual size that the build does not tell: then which was cut must be told first.
    """
    sheet = next((one for one in sheets.sheets if one.blank.name == name), None)
    if sheet is None:
        names = ", ".join(f"'{one.blank.name}'" for one in sheets.sheets) or "none"
        raise ValueError(f"no part lies on a sheet '{name}'; there are: {names}")
    about = f"sheet {name}"
    stops = [c for c in sheets.checks if not c.ok and (c.about == about or c.about.startswith(f"{about},"))]
    if any(check.severity.value == "stop" for check in stops):
        raise ValueError(f"'{name}' may not be cut as it is laid: {stops[0].title.lower()}. {stops[0].do}")
    table, _, key = sheet.blank.table.partition(".")
    if sheet.blank.assumed:
        raise ValueError(f"'{name}' is no sheet of the build: tell it first, [{sheet.blank.table}] with sheet and size")
    changes: dict[str | Keys, Any] = {}
    files: dict[str, bytes] = {}
    if table == "offcut":
        changes["offcut", key] = None
    elif (count := build.stock[key].count) is not None:
        changes["stock", key, "count"] = max(0, count - 1)
    for left in sheet.leftovers:
        changes["offcut", left.name] = offcut_row(build, sheet, left)
        files[f"{left.name}.dxf"] = offcut_dxf(left).encode("utf-8")
    told = build.sheets
    gone = [label(one) for one in sheet.laid]
    cut = {(one.part.name, one.copy) for one in sheet.laid}
    before = [name for name in (told.done if told else ()) if name not in gone]
    changes["sheets", "done"] = [*before, *gone]
    rows = {(row.part, row.copy_): (row.sheet, row.turn_deg, row.at_mm) for row in (told.laid if told else ())}
    if cut & set(rows):
        changes["sheets", "laid"] = laid_rows({copy: row for copy, row in rows.items() if copy not in cut})
    return changes, files


def save_taken(folder: Path, build: Build, sheets: Sheets, name: str) -> tuple[str, ...]:
    """Do it in the folder: drawings first, then build.toml in one move. Gives the names of the new offcuts.

    Raises ValueError as `taken` does, BuildProblems and OSError where the folder cannot be written.
    """
    changes, files = taken(build, sheets, name)
    for file, data in files.items():
        write_whole(folder / file, data)
    save_values(folder, changes)
    return tuple(Path(file).stem for file in files)


def laid_rows(rows: Mapping[tuple[str, int], tuple[str, float, tuple[float, float]]]) -> list[dict[str, Any]]:
    """Parts laid by hand as build.toml tells them: part and copy -> sheet, turn and place, in mm and degrees."""
    out: list[dict[str, Any]] = []
    for (part, copy), (sheet, turn, at) in rows.items():
        row: dict[str, Any] = {"part": part}
        if copy != 1:
            row["copy"] = copy
        row |= {"sheet": sheet, "at": [f"{at[0]:.3f} mm", f"{at[1]:.3f} mm"], "turn": f"{turn % 360.0:.4f} deg"}
        out.append(row)
    return out
