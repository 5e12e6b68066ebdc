"""Tool paths as plain values for JSON: numbers, text, lists and objects, with the units in the names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from halfshaft.plain import judged

if TYPE_CHECKING:
    from halfshaft.cut.path.model import SheetPath
    from halfshaft.cut.path.station import Paths


def paths(found: Paths) -> dict[str, Any]:
    """Every sheet's file, cuts in their order and estimate, with the checks."""
    sheets = [_sheet(path, name) for path, name in zip(found.sheets, found.files, strict=True)]
    return {
        "sheets": sheets,
        "seconds": found.seconds,
        "cost": found.cost,
        **judged(found),
    }


def _sheet(path: SheetPath, name: str) -> dict[str, Any]:
    setup, told = path.setup, path.estimate
    return {
        "sheet": path.stock.name,
        "file": None if path.stopped else name,
        "process": setup.process,
        "thickness_mm": setup.thickness_mm,
        "material": path.stock.material,
        "kerf_mm": setup.kerf_mm,
        "feed_mm_min": setup.feed_mm_min,
        "pierces": told.pierces,
        "close_pierces": path.close_pierces,
        "cut_mm": told.cut_mm,
        "mark_mm": told.mark_mm,
        "travel_mm": told.travel_mm,
        "seconds": told.seconds,
        "cut_s": told.cut_s,
        "mark_s": told.mark_s,
        "travel_s": told.travel_s,
        "wait_s": told.wait_s,
        "height_s": told.height_s,
        "power_kwh": told.power_kwh,
        "gas_l": told.gas_l,
        "abrasive_kg": told.abrasive_kg,
        "wear_sets": told.wear_sets,
        "cost": dict(told.cost),
        "cuts": [
            {
                "kind": cut.kind,
                "part": cut.part,
                "length_mm": cut.whole.length_mm,
                "feed_mm_min": cut.feed_mm_min,
                "start_mm": [float(v) for v in cut.whole.start_mm],
                "lead_in": cut.lead_in is not None,
            }
            for cut in path.cuts
        ],
        "drill": [{"part": part, "at_mm": list(at), "diameter_mm": wide} for part, at, wide in path.drill],
    }
