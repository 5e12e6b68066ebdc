"""Tables of the laid-out sheets, as rows of text for the command line and the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfshaft.build.units import format_length, format_mass
from halfshaft.build.value import UnitSystem
from halfshaft.tables import Table

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets


def sheets_table(sheets: Sheets, units: UnitSystem) -> Table:
    """Every sheet that is cut: how much of it becomes parts, what is kept, mass and cost."""
    rows = []
    for sheet in sheets.sheets:
        length, width = (sheet_length(v, units) for v in sheet.blank.size_mm)
        kept = ", ".join(left.name for left in sheet.leftovers)
        rows.append(
            (
                sheet.blank.name,
                str(sheet.blank.key),
                f"{length} x {width}",
                str(len(sheet.laid)),
                f"{100 * sheet.of_sheet:.0f} %",
                f"{100 * sheet.of_used:.0f} %",
                format_mass(sheet.parts_kg, units),
                "" if sheet.cost is None else f"{sheet.cost:.2f}",
                kept,
            )
        )
    columns = ("sheet", "of", "size", "parts", "of the sheet", "of what is used", "mass of parts", "cost", "kept")
    return Table("Sheets to cut", columns, tuple(rows), (3, 4, 5, 6, 7), empty="no part to cut from sheet")


def parts_table(sheets: Sheets, units: UnitSystem) -> Table:
    """Every part and where it lies."""
    from halfshaft.cut.nest.clear import label
    from halfshaft.cut.nest.model import copy_name

    rows, mood = [], []
    for sheet in sheets.sheets:
        for one in sheet.laid:
            x, y = (format_length(v, units) for v in one.shift_mm)
            turn = f"{one.rotation_deg:.4g}°"
            rows.append((label(one), one.part.station, one.part.why, sheet.blank.name, turn, f"{x}, {y}"))
            mood.append("")
    for part, number in sheets.left_out:
        name = copy_name(part, number)
        rows.append((name, part.station, part.why, "no place", "", ""))
        mood.append("bad")
    columns = ("part", "kind", "what", "sheet", "turned", "its origin")
    return Table("Parts on sheets", columns, tuple(rows), (4, 5), tuple(mood), empty="none")


def total_words(sheets: Sheets, units: UnitSystem) -> str:
    """One line: how many sheets, what they weigh, what they cost."""
    count = len(sheets.sheets)
    mass = format_mass(sum(sheet.parts_kg for sheet in sheets.sheets), units)
    costs = [sheet.cost for sheet in sheets.sheets if sheet.cost is not None]
    whole = f"{count} sheet{'s' if count != 1 else ''}, {len(sheets.laid)} parts of {mass}"
    if not costs:
        return whole
    some = "" if len(costs) == count else f", {count - len(costs)} without a price"
    return f"{whole}, {sum(costs):.2f} of metal used up{some}"


def sheet_length(value_mm: float, units: UnitSystem) -> str:
    """Of a sheet, to the millimetre."""
    return format_length(value_mm, units) if units == "inch" else f"{value_mm:.0f} mm"
