"""Results as plain values for JSON: numbers, text, lists and objects, with the units in the names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Judged
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.measure.next_best import NextReading

if TYPE_CHECKING:
    from halfshaft.fitup.entry import Entry
    from halfshaft.fitup.model import Placed
    from halfshaft.fitup.sections import SectionNumbers
    from halfshaft.fitup.station import FitUp


def numbers(values: Any) -> Any:
    """Arrays to nested lists; NaN and infinity to None, which JSON lacks."""
    if isinstance(values, np.ndarray):
        return numbers(values.tolist())
    if isinstance(values, (list, tuple)):
        return [numbers(v) for v in values]
    if isinstance(values, (float, np.floating)):
        return float(values) if math.isfinite(values) else None
    return values


def check(one: Check) -> dict[str, Any]:
    return {
        "ok": one.ok,
        "severity": one.severity.value,
        "station": one.station,
        "about": one.about,
        "title": one.title,
        "found": numbers(one.found),
        "limit": numbers(one.limit),
        "margin": numbers(one.margin),
        "unit": one.unit,
        "good": one.good.value,
        "do": one.do,
        "source": str(one.source),
    }


def assumed(one: Assumed) -> dict[str, Any]:
    return {"write": one.where, "value": one.value, "source": str(one.source)}


def judged(one: Judged) -> dict[str, Any]:
    """Every check and everything assumed, of a station or of all."""
    return {"checks": [check(c) for c in one.checks], "assumed": [assumed(a) for a in one.assumed]}


def measured(result: Measured) -> dict[str, Any]:
    """Points, faces, readings, suspects, what is not located and the global test."""
    return {
        "points": [
            {
                "name": p.name,
                "tied": p.tied,
                "xyz_mm": numbers(p.xyz_mm),
                "covariance_mm2": numbers(p.covariance_mm2),
                "ellipsoid_half_axes_mm": numbers(p.ellipsoid_mm[0]),
                "ellipsoid_directions": numbers(p.ellipsoid_mm[1].T),
            }
            for p in result.points.values()
        ],
        "faces": [
            {
                "name": f.name,
                "tied": f.tied,
                "normal": numbers(f.plane.normal),
                "distance_mm": f.plane.distance_mm,
                "points": list(f.points),
            }
            for f in result.faces.values()
        ],
        "readings": [
            {
                "line": r.line,
                "reading": r.label,
                "unit": r.unit,
                "value": numbers(r.value),
                "adjusted": numbers(r.adjusted),
                "residual": numbers(r.residual),
                "spread": numbers(r.spread),
                "redundancy": numbers(r.redundancy),
                "w": numbers(r.w),
                "least_slip_seen": numbers(r.least_seen),
                "used": r.used,
            }
            for r in result.readings
        ],
        "slips": [
            {
                "line": s.line,
                "reading": s.label,
                "slip": numbers(s.slip),
                "unit": s.unit,
                "w": numbers(s.w),
                "kind": s.kind,
                "words": s.words,
            }
            for s in result.suspects
        ],
        "not_located": [
            {"name": u.name, "why": u.why, "take": u.take, "free_directions": u.free_directions}
            for u in result.unlocated
        ],
        "global_test": {
            "degrees_of_freedom": result.global_test.degrees_of_freedom,
            "chi2": numbers(result.global_test.chi2),
            "low": numbers(result.global_test.low),
            "high": numbers(result.global_test.high),
            "ok": result.global_test.ok,
        },
    }


def next_readings(asked: Mapping[str, Iterable[NextReading]]) -> dict[str, list[dict[str, Any]]]:
    """For each bracket the readings to take, in order."""
    return {
        bracket: [
            {
                "reading": r.kind,
                "points": list(r.names),
                "with": r.instrument,
                "expected": numbers(r.expected),
                "unit": r.unit,
                "holes_spread_before_mm": numbers(r.before_mm),
                "holes_spread_after_mm": numbers(r.after_mm),
                "words": r.words,
            }
            for r in readings
        ]
        for bracket, readings in asked.items()
    }


def fit_up(one: FitUp, units: UnitSystem = "metric") -> dict[str, Any]:
    """Places, windows, way in and checks of the unit; words of the way in lengths of `units`."""
    from halfshaft.fitup.station import on_lift

    def place(at: Placed) -> dict[str, Any]:
        return {
            "label": at.label,
            "fits": at.fits,
            "rotation": numbers(at.pose.rotation),
            "shift_mm": numbers(at.pose.shift_mm),
            "cuts": [
                {
                    "member": c.member,
                    "removed_mm3": c.removed_mm3,
                    "section_lost": c.section_lost,
                    "edge_mm": numbers(c.edge_mm),
                    "edge": c.edge,
                    "weld_mm": numbers(c.weld_mm),
                }
                for c in at.cuts
            ],
            "clearance_mm": numbers(at.clearance_mm),
            "nearest": at.nearest,
            "worst_angle_deg": at.worst_angle_deg,
            "plunge_mm": {shaft.side: shaft.plunge_mm for shaft in at.shafts},
            "ground_mm": at.ground_mm,
            "off_centre_mm": at.off_centre_mm,
            "limits": list(at.limits),
        }

    return {
        "places": [place(at) for at in one.placing.places],
        "where_the_search_began": place(one.hand) if one.hand else None,
        "tried": [place(at) for at in one.placing.tried],
        "taken": place(one.chosen) if one.taken and one.chosen else None,
        "blocked_by": list(one.placing.blocked_by),
        **_windows_and_way(one),
        "way_in_on_a_lift": [
            {"words": let_down.step.words, "car_up_mm": numbers(let_down.car_up_mm[-1])}
            for let_down in on_lift(one, units)
        ],
        **judged(one),
    }


def entry(one: Entry) -> dict[str, Any]:
    """Windows and way in of the place that is taken, or the first that was found."""
    return {"place": one.place, "taken": one.taken, **_windows_and_way(one), **judged(one)}


def _windows_and_way(one: FitUp | Entry) -> dict[str, Any]:
    return {
        "windows": [
            {
                "member": w.member,
                "piece": w.piece,
                "corners_mm": numbers(w.corners_mm),
                "removed_mm3": w.removed_mm3,
                "clearance_mm": w.clearance_mm,
                "edges_mm": dict(w.edges_mm),
                "section_before": _section(w.section.before),
                "section_after": _section(w.section.after),
            }
            for w in one.windows
        ],
        "way_in": [{"words": step.words, "pieces_on": list(step.pieces_on)} for step in one.way.steps]
        if one.way
        else [],
        "way_blocked_by": list(one.way.blocked_by) if one.way else [],
    }


def _section(one: SectionNumbers) -> dict[str, float]:
    return {"area_mm2": one.area_mm2, "iu_mm4": one.iu_mm4, "iv_mm4": one.iv_mm4, "j_mm4": one.j_mm4}


def bracket(one: Bracket) -> dict[str, Any]:
    """Panels, folds, parts, chance of fit and checks of one bracket."""
    fit = one.fit
    return {
        "name": one.name,
        "sheet": one.sheet,
        "thickness_mm": one.thickness_mm,
        "mass_kg": one.mass_kg,
        "parts": [
            {
                "name": p.name,
                "size_mm": numbers(np.ptp(p.outline.flattened_mm(), axis=0)),
                "area_mm2": p.outline.area_mm2,
            }
            for p in one.parts
        ],
        "panels": [
            {
                "name": p.name,
                "face": p.face,
                "contact": p.contact,
                "holes": [
                    {"name": h.name, "diameter_mm": h.diameter_mm, "slot_mm": h.slot_mm, "bolt": h.bolt}
                    for h in p.holes
                ],
            }
            for p in one.panels.values()
        ],
        "folds": [
            {
                "name": f.name,
                "between": [f.a, f.b],
                "kind": f.kind,
                "angle_deg": f.angle_deg,
                "way": "up" if f.up else "down",
                "length_mm": f.length_mm,
                "setback_mm": f.setback_mm,
                "bridges": len(f.bridges),
                "hand_force_n": f.hand_force_n,
                "weld_length_mm": f.weld_length_mm,
            }
            for f in one.folds
        ],
        "gussets": [
            {
                "name": g.panel,
                "between": [g.a, g.b],
                "feet_mm": [g.foot_length_mm(g.a), g.foot_length_mm(g.b)],
                "thickness_mm": one.panels[g.panel].thickness_mm,
                "end": g.end,
                "from_end_mm": g.from_end_mm,
                "leg_mm": g.leg_mm,
                "throat_mm": g.throat_mm,
            }
            for g in one.gussets
        ],
        "fold_order": list(one.fold_order),
        "fit": None
        if fit is None
        else {
            "passes": fit.passes,
            "standard_error": fit.standard_error,
            "samples": fit.samples,
            "holes": [{"hole": h.hole, "passes": h.passes, "spoils": h.spoils} for h in fit.holes],
            "mostly_from": fit.mostly_from,
            "remedies": list(fit.remedies),
        },
        "checks": [check(c) for c in one.checks],
    }
