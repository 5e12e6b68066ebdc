"""The pack as plain values for JSON: numbers, text, lists and objects, with the units in the names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from halfshaft.plain import check, judged, numbers

if TYPE_CHECKING:
    from halfshaft.pack.boxes import Boxes
    from halfshaft.pack.model import Answer, Laid, Pack


def pack(one: Pack) -> dict[str, Any]:
    """Strings, energy, volts, power limits, mass, and where places were worked each layout with its modules."""
    strings, limits = one.strings, one.limits
    return {
        "module": one.module,
        "modules": one.modules,
        "series": strings.series,
        "parallel": strings.parallel,
        "cells_in_series": strings.cells_in_series,
        "chemistry": strings.cells.chemistry.name,
        "charge_ah": strings.charge_ah,
        "window": list(strings.window),
        "gross_wh": one.gross_wh,
        "usable_wh": one.usable_wh,
        "old_usable_wh": one.old_usable_wh,
        "mean_v": one.mean_v,
        "least_v": strings.least_v,
        "most_v": strings.most_v,
        "resistance_ohm": one.resistance_ohm,
        "volts": [
            {
                "state": state.name,
                "charge": state.charge,
                "celsius": state.celsius,
                "open_v": state.open_v,
                "loaded_v": state.loaded_v,
                "power_w": state.power_w,
            }
            for state in one.volts
        ],
        "limits": {
            "celsius": numbers(limits.celsius),
            "charge": numbers(limits.charge),
            "out_w": numbers(limits.out_w),
            "lasting_w": numbers(limits.lasting_w),
            "in_w": numbers(limits.in_w),
        },
        "lasting_heat_w": one.lasting_heat_w,
        "lasting_rise_k_min": one.lasting_rise_k_min,
        "modules_kg": one.modules_kg,
        "mass_kg": one.mass_kg,
        "cold": {
            "celsius": numbers(one.cold.celsius),
            "energy_wh": numbers(one.cold.energy_wh),
            "resistance_ohm": numbers(one.cold.resistance_ohm),
            "out_w": numbers(one.cold.out_w),
            "in_w": numbers(one.cold.in_w),
        },
        "places": None if one.laid is None else _laid(one.laid),
        **judged(one),
    }


def _laid(laid: Laid) -> dict[str, Any]:
    return {
        "wanted": laid.wanted,
        "built": laid.number,
        "mass": [
            {
                "bay": lump.name,
                "modules": lump.modules,
                "mass_kg": lump.mass_kg,
                "centre_mm": numbers(lump.centre_mm),
                "inertia_kg_m2": numbers(lump.inertia_kg_m2),
            }
            for lump in laid.lumps
        ],
        "bays": [
            {
                "name": bay.name,
                "size_mm": numbers(bay.size_mm),
                "corner_mm": numbers(bay.pose.shift_mm),
                "axes": numbers(bay.pose.rotation),
                "takes": count,
                "more_ruled_out": sure,
            }
            for bay, (count, sure) in zip(laid.bays, laid.most, strict=True)
        ],
        "keep_outs": [keep.name for keep in laid.keeps],
        "layouts": [_answer(answer) for answer in laid.answers],
    }


def _answer(answer: Answer) -> dict[str, Any]:
    one = answer.layout
    return {
        "weighed_by": one.wish,
        "counts": list(one.counts),
        "centre_mm": numbers(one.centre_mm),
        "cable_mm": one.cable_mm,
        "other_spots_better_by": one.gap,
        "shortest_order": one.shortest,
        "faults": list(answer.faults),
        "modules": [
            {
                "string": module.string + 1,
                "place": module.place + 1,
                "bay": module.bay,
                "corner_mm": numbers(module.corner_mm),
                "size_mm": numbers(module.turn.size_mm),
                "centre_mm": numbers(module.centre_mm),
                "minus_mm": numbers(module.minus_mm),
                "plus_mm": numbers(module.plus_mm),
                "rotation": numbers(module.turn.rotation),
                "up": module.turn.up,
                "length": module.turn.along,
                "terminals": module.turn.terminals,
                "cable_mm": module.cable_mm,
            }
            for module in one.modules
        ],
        "fixings": [
            {
                "bay": hold.bay,
                "modules": hold.modules,
                "mass_kg": hold.mass_kg,
                "along_n": hold.along_n,
                "across_n": hold.across_n,
                "along_g": hold.along_g,
                "across_g": hold.across_g,
            }
            for hold in answer.retention
        ],
    }


def boxes(found: Boxes) -> list[dict[str, Any]]:
    """Each bay's box: inner size, sheet, straps and feet, parts with how many, mass and checks."""
    return [
        {
            "bay": box.bay,
            "inner_mm": numbers(box.inner_mm),
            "corner_mm": numbers(box.pose.shift_mm),
            "axes": numbers(box.pose.rotation),
            "sheet": box.sheet,
            "thickness_mm": box.thickness_mm,
            "mass_kg": box.mass_kg,
            "straps_mm": list(box.straps_mm),
            "feet_mm": list(box.feet_mm),
            "parts": [
                {
                    "name": piece.bracket.name,
                    "what": piece.what,
                    "count": piece.count,
                    "sheet": piece.bracket.sheet,
                    "mass_kg": piece.bracket.mass_kg,
                    "fold_order": list(piece.bracket.fold_order),
                }
                for piece in box.pieces
            ],
            "checks": [check(c) for c in box.checks],
        }
        for box in found.boxes
    ]
