"""The laid-out sheets as plain values for JSON: numbers, text, lists and objects, with the units in the names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from halfshaft.plain import judged, numbers

if TYPE_CHECKING:
    from halfshaft.cut.nest import CutSheet, Sheets


def sheets(one: Sheets) -> dict[str, Any]:
    """Sheets with parts and leftovers, parts without a place, checks and what was assumed."""
    return {
        "sheets": [_sheet(sheet) for sheet in one.sheets],
        "no_place": [{"part": part.name, "copy": number} for part, number in one.left_out],
        "whole": [blank.name for blank in one.spare],
        "done": list(one.done),
        **judged(one),
    }


def _sheet(sheet: CutSheet) -> dict[str, Any]:
    blank = sheet.blank
    return {
        "sheet": blank.name,
        "material": blank.key.material,
        "thickness_mm": blank.key.thickness_mm,
        "size_mm": list(blank.size_mm),
        "gap_mm": blank.gap_mm,
        "margin_mm": blank.margin_mm,
        "rolling_deg": blank.rolling_deg,
        "assumed": blank.assumed,
        "of_sheet": sheet.of_sheet,
        "of_used": sheet.of_used,
        "parts_kg": sheet.parts_kg,
        "sheet_kg": blank.mass_kg,
        "cost": sheet.cost,
        "parts": [
            {
                "part": one.part.name,
                "copy": one.copy,
                "kind": one.part.station,
                "what": one.part.why,
                "turn_deg": one.rotation_deg,
                "at_mm": list(one.shift_mm),
            }
            for one in sheet.laid
        ],
        "kept": [
            {
                "name": left.name,
                "area_mm2": float(left.metal.area),
                "outline_mm": numbers(left.outline_mm),
                "openings_mm": [numbers(ring) for ring in left.openings_mm],
            }
            for left in sheet.leftovers
        ],
    }
