"""What the mounts carry, as plain values for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mount, Mounts
    from halfshaft.mounts.resize import Resized
    from halfshaft.mounts.stiffness_choice import StiffnessChoice
from halfshaft.plain import check, judged, numbers


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
        **judged(one),
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
