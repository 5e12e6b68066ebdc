"""Results as plain values for JSON: numbers, text, lists and objects, with the units in the names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from halfshaft.checks import Assumed, Check
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.measure.next_best import NextReading

if TYPE_CHECKING:
    from halfshaft.fitup.model import Placed
    from halfshaft.fitup.sections import SectionNumbers
    from halfshaft.fitup.station import FitUp
    from halfshaft.mounts.model import Mount, Mounts
    from halfshaft.mounts.resize import Resized
    from halfshaft.mounts.stiffness_choice import StiffnessChoice
    from halfshaft.road.curves import Curve
    from halfshaft.road.label import Printed
    from halfshaft.road.model import Drive, Plug, Road
    from halfshaft.road.plain_car import PlainUse
    from halfshaft.weights.model import State, Weights


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


def fit_up(one: FitUp) -> dict[str, Any]:
    """Places, windows, way in and checks of the unit."""

    def place(at: Placed) -> dict[str, Any]:
        return {
            "label": at.label,
            "fits": at.fits,
            "rotation": numbers(at.pose.rotation),
            "shift_mm": numbers(at.pose.shift_mm),
            "cuts": [
                {"member": c.member, "removed_mm3": c.removed_mm3, "section_lost": c.section_lost} for c in at.cuts
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
        "checks": [check(c) for c in one.checks],
        "assumed": [assumed(a) for a in one.assumed],
    }


def mounts(one: Mounts) -> dict[str, Any]:
    """Load cases, forces on each mount, motion, modes, joints and checks."""
    cases = one.cases.cases if one.cases is not None else ()
    return {
        "cases": [
            {
                "name": c.name,
                "kind": c.kind,
                "force_n": numbers(c.force_n),
                "moment_nmm": numbers(c.moment_nmm),
                "felt_g": numbers(c.field_g),
                "words": c.words,
                "source": str(c.source),
            }
            for c in cases
        ],
        "unit": None
        if one.body is None
        else {
            "mass_kg": one.body.mass_kg,
            "centre_mm": numbers(one.body.centre_mm),
            "inertia_kg_mm2": numbers(one.body.inertia_kg_mm2),
        },
        "held": one.held,
        "mounts": [_mount(mount) for mount in one.mounts],
        "modes": None
        if one.modes is None
        else {
            "frequency_hz": numbers(one.modes.frequency_hz),
            "moves_in": list(one.modes.names),
            "energy": numbers(one.modes.energy),
            "damping_ratio": numbers(one.modes.damping_ratio),
        },
        "stiffness_choice": None if one.choice is None else _choice(one.choice),
        "motion": [
            {"piece": m.piece, "moved_mm": m.moved_mm, "case": m.case, "sway_mm": m.sway_mm}
            for m in (one.motion.pieces if one.motion is not None else ())
        ],
        "least_room": None
        if one.closest is None
        else [
            {"piece": c.piece, "thing": c.thing, "case": c.case, "distance_mm": c.distance_mm, "asked_mm": c.asked_mm}
            for c in one.closest
        ],
        "thinnest": None if one.thinnest is None else [_resized(r) for r in one.thinnest],
        "cut_members": None
        if one.members is None
        else [
            {
                "member": m.member,
                "along_mm": m.along_mm,
                "bending_left": numbers(m.kept.bending),
                "shear_left": numbers(m.kept.shear),
                "twist_left": numbers(m.kept.twist),
                "bearing_left": numbers(m.bearing),
                "bracket": m.bracket,
                "to_bring_it_back": m.plated.words if m.plated is not None else "",
            }
            for m in one.members
        ],
        "checks": [check(c) for c in one.checks],
        "assumed": [assumed(a) for a in one.assumed],
    }


def _choice(one: StiffnessChoice) -> dict[str, Any]:
    return {
        "factor": numbers(one.factor),
        "frequency_hz": numbers(one.frequency_hz),
        "sag_mm": numbers(one.sag_mm),
        "cases": list(one.cases),
        "travel_used": numbers(one.most_used),
        "refused": list(one.refused),
    }


def _resized(one: Resized) -> dict[str, Any]:
    return {
        "bracket": one.bracket,
        "as_drawn_mm": one.as_drawn_mm,
        "least_mm": one.least_mm,
        "words": one.words,
        "tried": [
            {
                "thickness_mm": t.thickness_mm,
                "mass_kg": t.mass_kg,
                "use": t.use if np.isfinite(t.use) else None,
                "first": t.first,
                "holds": t.holds,
                "refused": t.refused,
            }
            for t in one.trials
        ],
    }


def _mount(one: Mount) -> dict[str, Any]:
    return {
        "name": one.name,
        "bracket": one.bracket,
        "centre_mm": numbers(one.bushing.centre_mm),
        "force_n": numbers(one.force_n),
        "moment_nmm": numbers(one.moment_nmm),
        "gives_way_first": check(one.weakest) if one.weakest is not None else None,
        "change": one.change,
        "stress": None
        if one.stress is None
        else {
            "throat_mm": one.stress.throat_mm,
            "gives_way_first": one.stress.first.place,
            "use": numbers(one.stress.first.use),
            "cases": [
                {
                    "case": c.case,
                    "place": c.worst.place,
                    "stress_mpa": numbers(c.worst.stress_mpa),
                    "use": numbers(c.worst.use),
                    "moved_mm": numbers(c.moved_mm),
                }
                for c in one.stress.cases
            ],
        },
        "joints": [
            {
                "name": joint.seat.name,
                "side": joint.seat.side,
                "bolts": list(joint.seat.bolts),
                "bolt": joint.seat.bolt.label,
                "into": joint.seat.into,
                "torque_nm": joint.seat.preload.torque_nm,
                "cases": list(joint.cases),
                "pull_n": numbers(joint.pull_n),
                "shear_n": numbers(joint.shear_n),
            }
            for joint in one.joints
        ],
        "checks": [check(c) for c in one.checks],
    }


def road(one: Road) -> dict[str, Any]:
    """Road load, range with its band, pull, weather, the climb, charging and checks."""
    pull, weather, up = one.pull, one.weather, one.climb
    return {
        "road_load": {
            "a_n": float(one.inputs.load.a_n),
            "b_n_s_m": float(one.inputs.load.b_n_s_m),
            "c_n_s2_m2": float(one.inputs.load.c_n_s2_m2),
            "mass_kg": float(one.inputs.load.mass_kg),
            "rolling": one.rolling,
            "drag_area_m2": one.drag_area_m2,
            "spread": numbers(one.coast.spread) if one.coast is not None else None,
            "times_missed_s": numbers(one.coast.missed_s) if one.coast is not None else None,
        },
        "drives": [_drive(d) for d in one.drives],
        "pull": {name: numbers(value) for name, value in vars(pull).items()},
        "weather": None
        if weather is None
        else {
            "temperature_c": numbers(weather.temperature_c),
            "speed_m_s": numbers(weather.speed_m_s),
            "range_m": numbers(weather.range_m),
            "cycle": weather.cycle,
            "cycle_range_m": numbers(weather.cycle_range_m),
            "cycle_range_without_cabin_m": numbers(weather.cycle_no_cabin_m),
        },
        "range_by_speed": _curve(one.over_speed, "speed_m_s"),
        "range_by_temperature": _curve(one.over_temperature, "temperature_c"),
        "climb": {
            "grade": up.grade,
            "ended": up.ended,
            "held_back_after_s": numbers(up.held_back_s),
            "lasting_speed_m_s": numbers(one.climb_lasting_m_s),
            "time_s": numbers(_few(up.time_s)),
            "speed_m_s": numbers(_few(up.speed_m_s)),
            "motor_c": numbers(_few(up.motor_c)),
            "pack_c": numbers(_few(up.pack_c)),
            "charge": numbers(_few(up.charge)),
        },
        "charging": [_plug(p) for p in one.plugs],
        "checks": [check(c) for c in one.checks],
        "assumed": [assumed(a) for a in one.assumed],
    }


def _curve(one: Curve | None, along: str) -> dict[str, Any] | None:
    """Range along something, with its 5th and 95th hundredth."""
    if one is None:
        return None
    ends = {"low_m": numbers(one.low_m), "high_m": numbers(one.high_m)}
    return {along: numbers(one.along), "range_m": numbers(one.range_m), **ends}


def _drive(one: Drive) -> dict[str, Any]:
    band = one.band
    return {
        "name": one.name,
        "kind": one.kind,
        "distance_m": one.distance_m,
        "seconds": one.seconds,
        "use_wh_km": numbers(1000.0 * one.wh_m),
        "wall_wh_km": numbers(1000.0 * one.wall_wh_m),
        "range_m": numbers(one.range_m),
        "band": None
        if band is None
        else {
            "low_m": numbers(band.low_m),
            "high_m": numbers(band.high_m),
            "from": [{"what": s.words, "share": s.share, "one_spread_m": numbers(s.one_spread_m)} for s in band.shares],
            "together": band.rest,
        },
        "parts_wh_km": {name: 1000.0 * value for name, value in one.parts_wh_m.items()},
        "taken_up_braking_wh_km": 1000.0 * one.back_wh_m,
        "most_pull_w": one.most_pull_w,
        "motor_short_s": one.motor_short_s,
        "pack_short_s": one.pack_short_s,
        "up_m": one.up_m,
        "down_m": one.down_m,
    }


def _plug(one: Plug) -> dict[str, Any]:
    run = one.run
    return {
        "name": one.name,
        "kind": one.kind,
        "most_w": one.wall_w,
        "ten_to_eighty_s": numbers(one.ten_eighty_s),
        "ten_to_full_s": numbers(one.ten_full_s),
        "ten_minutes_m": numbers(one.ten_minutes_m),
        "each_ten_minutes_m": numbers(one.each_ten_m),
        "drawn_10_80_wh": one.drawn_10_80_wh,
        "ended": run.ended,
        "ended_at": float(run.charge[-1]),
        "charges_cold": one.cold is not None,
        "charge": numbers(_few(run.charge)),
        "time_s": numbers(_few(run.time_s)),
        "power_w": numbers(_few(run.watts)),
        "pack_c": numbers(_few(run.pack_c)),
    }


def _few(values: Any, most: int = 101) -> Any:
    """A long row thinned to at most so many, both ends kept."""
    count = len(values)
    return values if count <= most else values[np.unique(np.linspace(0, count - 1, most).round().astype(int))]


def weights(one: Weights) -> dict[str, Any]:
    """Ledger, the car in its states, springs, brakes, park brake, moves and checks."""
    agreed, parked = one.agreed, one.parked
    return {
        "ledger": [
            {
                "table": line.table,
                "name": line.name,
                "mass_kg": line.mass_kg,
                "spread_kg": line.spread_kg,
                "at_mm": numbers(line.at_mm),
                "place": line.place,
                "sprung": line.sprung,
            }
            for line in one.ledger
        ],
        "states": [_state(state) for state in one.states],
        "scales_less_ledger": None
        if agreed is None
        else {
            "total_front_rear_kg": numbers(agreed.missing_kg),
            "spread_kg": numbers(agreed.missing_spread_kg),
            "chance": agreed.chance,
        },
        "springs": [{name: numbers(getattr(s, name)) for name in s.__slots__} for s in one.springs],
        "brakes": [
            {
                "state": b.state,
                "regeneration": b.regeneration,
                "dry": {"friction": b.dry.friction, "first": b.dry.first, "at_g": b.dry.at_g},
                "slippery": {"friction": b.slippery.friction, "first": b.slippery.first, "at_g": b.slippery.at_g},
                "balanced_g": list(b.balanced_g),
                "deceleration_g": numbers(b.z_g),
                "front_uses": numbers(b.front_used),
                "rear_uses": numbers(b.rear_used),
                "ideal_front_share": numbers(b.ideal_front),
            }
            for b in one.braking
        ],
        "park_brake": None if parked is None else {name: numbers(getattr(parked, name)) for name in parked.__slots__},
        "wanted_front": one.wanted_front,
        "moves": [
            {"to": dict(m.to), "front_share": m.front_share, "side_mm": m.side_mm, "words": m.words} for m in one.moves
        ],
        "checks": [check(c) for c in one.checks],
        "assumed": [assumed(a) for a in one.assumed],
    }


def _state(one: State) -> dict[str, Any]:
    return {
        "name": one.name,
        "mass_kg": one.mass_kg,
        "mass_spread_kg": one.mass_spread_kg,
        "centre_mm": numbers(one.centre_mm),
        "centre_covariance_mm2": numbers(one.centre_covariance_mm2),
        "height_mm": one.height_mm,
        "front_share": one.front_share,
        "front_share_spread": one.front_share_spread,
        "axles_kg": numbers(one.axles_kg),
        "axle_spread_kg": numbers(one.axle_spread_kg),
        "corners_kg": numbers(one.corners_kg),
        "corner_spread_kg": numbers(one.corner_spread_kg),
        "stability_factor": one.stability,
        "stability_factor_spread": one.stability_spread,
    }


def printed(one: Printed | None) -> dict[str, float] | None:
    """Label numbers of a city and a highway cycle, where both were driven."""
    if one is None:
        return None
    return {
        "ac_wh_km": 1000.0 * one.mixed_wh_m,
        "city_mpge": one.city,
        "highway_mpge": one.highway,
        "mixed_mpge": one.mixed,
        "label_city_mpge": one.label_city,
        "label_highway_mpge": one.label_highway,
        "label_mixed_mpge": one.label_mixed,
        "derived_city_mpge": one.derived_city,
        "derived_highway_mpge": one.derived_highway,
    }


def plain_use(rows: Iterable[PlainUse]) -> list[dict[str, Any]]:
    """Use of a car told by its road load, a row a cycle or speed."""
    return [
        {
            "name": one.cycle,
            "distance_m": one.distance_m,
            "seconds": one.seconds,
            "wheels_driving_wh_km": one.pull_wh_km,
            "wheels_braking_wh_km": one.push_wh_km,
            "aux_wh_km": one.aux_wh_km,
            "dc_wh_km": one.dc_wh_km,
            "ac_wh_km": one.wall_wh_km,
            "range_km": None if one.range_m is None else numbers(one.range_m / 1000.0),
            "most_wheel_kw": one.most_kw,
        }
        for one in rows
    ]


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
