"""Room for the half-shafts themselves: flanges, wheels and what is about in; how near each shaft comes, out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fitup.exact import Clearance, Part, Thing, clearances
from halfshaft.fitup.halfshaft import pairs_of
from halfshaft.fitup.model import Array, OutputFlange, Piece, Placed, Scene, ShaftBody
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import moved, rod_hull, union
from halfshaft.geometry.nearest import body
from halfshaft.geometry.segments import apart_mm

_LOOKS = 4  # stretches between two heights


def shaft_clearances(scene: Scene, pose: Pose, things: Sequence[Thing]) -> list[Clearance]:
    """Each half-shaft at a place of the unit against each thing, over the wheel's whole travel, the nearest first.

    Between two heights of the travel the room taken is the convex hull of the shaft at both. The unit's own pieces
    count as well, from 60 mm past the flange on, but for those that the flange sits on. Empty where the scene says
    nothing of shafts. Raises ValueError as `halfshaft.shafts` does.
    """
    told = scene.shaft_body
    if told is None or not scene.wheels or not scene.unit.outputs:
        return []
    asked = [Thing(t.name, t.body, told.clearance_mm) for t in things if t.name not in told.past]
    parts, found = [], []
    for flange, wheel in pairs_of(scene.unit, scene.wheels):
        inner = pose.apply(flange.centre_mm)
        run = np.asarray(wheel.centre_mm, dtype=float) - inner
        length = np.linalg.norm(run, axis=1, keepdims=True)
        if np.any(length <= _in_hub_mm()):
            continue
        rods = [(inner, inner + way) for way in run * (1.0 - _in_hub_mm() / length)]
        steps = [rod_hull(both, told.diameter_mm / 2.0) for both in pairwise(rods)] or [
            rod_hull(rods, told.diameter_mm / 2.0)
        ]
        parts.append(Part(f"{flange.side} half-shaft", body(union(steps))))
        free = [
            (inner + way * _in_hub_mm() / np.linalg.norm(way), end) for way, (_, end) in zip(run, rods, strict=True)
        ]
        found += _to_unit(scene, pose, flange, free, told)
    if parts and asked:
        found += clearances(parts, Pose.identity(), asked)
    return sorted(found, key=lambda one: one.room_mm)


def _to_unit(
    scene: Scene, pose: Pose, flange: OutputFlange, rods: Sequence[tuple[Array, Array]], told: ShaftBody
) -> list[Clearance]:
    """A shaft against those pieces of the unit that its flange does not sit on."""
    lengths = [float((end - start) @ (end - start)) for start, end in rods]
    others = [p for p in scene.unit.pieces if not p.solid.empty and _off(p, flange.centre_mm) > _in_hub_mm()]
    if not others or min(lengths) < 1.0:
        return []
    steps = [rod_hull(both, told.diameter_mm / 2.0) for both in pairwise(rods)] or [
        rod_hull(rods, told.diameter_mm / 2.0)
    ]
    shaft = body(moved(union(steps), pose.inverse()))
    # the unit and the shaft's inner end sway together
    own = [Thing(f"the unit's {p.name}", body(p.solid), told.clearance_mm) for p in others]
    return clearances([Part(f"{flange.side} half-shaft", shaft)], Pose.identity(), own)


def _off(piece: Piece, spot_mm: Array) -> float:
    """How far a spot lies from the box round a piece."""
    low, high = piece.solid.bounds_mm
    return float(np.linalg.norm(np.maximum(np.maximum(low - spot_mm, spot_mm - high), 0.0)))


def arm_gap(scene: Scene, pose: Pose) -> tuple[float, str]:
    """Least distance in mm of a half-shaft from an arm of its own wheel as both move, and which: endless without arms.

    Both are straight round rods; they are held against each other at each height of the travel and at three between,
    where all ends are taken to go straight.
    """
    told = scene.shaft_body
    least, name = np.inf, ""
    if told is None or not scene.unit.outputs:
        return least, name
    for flange, wheel in pairs_of(scene.unit, scene.wheels) if scene.wheels else ():
        inner = pose.apply(flange.centre_mm)
        joint = _between_heights(np.asarray(wheel.centre_mm, dtype=float))
        run = joint - inner
        length = np.linalg.norm(run, axis=1, keepdims=True)
        if np.any(length <= _in_hub_mm()):
            continue
        end = inner + run * (1.0 - _in_hub_mm() / length)
        shaft = np.stack([np.broadcast_to(inner, end.shape), end], axis=1)
        for arm, rods in wheel.arms.items():
            gaps = apart_mm(shaft[:, None], _between_heights(rods))
            gap = float(gaps.min()) - (told.diameter_mm + wheel.arm_mm) / 2.0
            if gap < least:
                least, name = gap, f"{wheel.side} {arm}"
    return least, name


def _between_heights(rows: Array) -> Array:
    """Rows (n, ...) with three more put in between each two: (4 n - 3, ...)."""
    if len(rows) < 2:
        return rows
    shares = np.arange(_LOOKS).reshape(-1, *([1] * (rows.ndim - 1))) / _LOOKS
    made = [low + shares * (high - low) for low, high in pairwise(rows)]
    return np.concatenate([*made, rows[-1:]])


def shaft_room_checks(scene: Scene, place: Placed) -> tuple[Check, ...]:
    """Judges how near a half-shaft comes to what stands still and to its arms, at its nearest through the travel."""
    told = scene.shaft_body
    if told is None:
        return ()
    row = default("fitup.shaft_clearance")
    source = row.source if told.clearance_assumed else Source(Origin.BUILDER, "half-shaft joints")
    move = (
        "Move the unit or reroute what is in the way; a shaft that touches saws through line, panel or itself. "
        "Turn the shafts by hand through the whole travel before driving."
    )
    look = (
        "Arms are reckoned as straight rods as thick as 'arm' says: look at the true arm, and turn the shafts by "
        "hand through the whole travel before driving."
    )
    fixed, arm = place.shaft_nearest, place.arm_nearest
    room = (
        (fixed, f"Room from a half-shaft to {fixed} through the travel", Severity.STOP, move, place.shaft_gap_mm),
        (arm, f"Room from the half-shaft to the {arm} as both move", Severity.CAUTION, look, place.arm_gap_mm),
    )
    return tuple(
        Check("fitup", "half-shafts", title, source, severity, do, gap_mm, told.clearance_mm, "mm", Good.AT_LEAST)
        for nearest, title, severity, do, gap_mm in room
        if nearest
    )


def _in_hub_mm() -> float:
    """Of a shaft at each joint: what sits in flange and knuckle, past which this looks no farther."""
    return float(default("fitup.shaft_in_hub").value)
