"""Room for the half-shafts themselves: flanges, wheels and what stands still in; how near each shaft comes, out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fitup.exact import Clearance, Part, Thing, clearances
from halfshaft.fitup.halfshaft import pairs_of
from halfshaft.fitup.model import Placed, Scene
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import rod_hull, union
from halfshaft.geometry.nearest import body

_IN_HUB_MM = 60.0  # the outer joint and its stub sit in the knuckle, past which this looks no farther


def shaft_clearances(scene: Scene, pose: Pose, things: Sequence[Thing]) -> list[Clearance]:
    """Each half-shaft at a place of the unit against each thing, over the wheel's whole travel, the nearest first.

    Between two heights of the travel the room taken is the convex hull of the shaft at both. Empty where the scene says
    nothing of shafts. Raises ValueError as `halfshaft.shafts` does.
    """
    told = scene.shaft_body
    if told is None or not scene.wheels or not scene.unit.outputs:
        return []
    asked = [Thing(t.name, t.body, told.clearance_mm) for t in things if t.name not in told.past]
    parts = []
    for flange, wheel in pairs_of(scene.unit, scene.wheels):
        inner = pose.apply(flange.centre_mm)
        run = np.asarray(wheel.centre_mm, dtype=float) - inner
        length = np.linalg.norm(run, axis=1, keepdims=True)
        if np.any(length <= _IN_HUB_MM):
            continue
        rods = [(inner, inner + way) for way in run * (1.0 - _IN_HUB_MM / length)]
        steps = [rod_hull(both, told.diameter_mm / 2.0) for both in pairwise(rods)] or [
            rod_hull(rods, told.diameter_mm / 2.0)
        ]
        parts.append(Part(f"{flange.side} half-shaft", body(union(steps))))
    return clearances(parts, Pose.identity(), asked) if parts and asked else []


def shaft_room_checks(scene: Scene, place: Placed) -> tuple[Check, ...]:
    """Judges how near a half-shaft comes to what stands still, at its nearest through the travel."""
    told = scene.shaft_body
    if told is None or not place.shaft_nearest:
        return ()
    row = default("fitup.shaft_clearance")
    source = row.source if told.clearance_assumed else Source(Origin.BUILDER, "half-shaft joints")
    return (
        Check(
            "fitup", "half-shafts", f"Room from a half-shaft to {place.shaft_nearest} through the travel", source,
            Severity.STOP,
            "Move the unit or reroute what is in the way; a shaft that touches saws through line, panel or itself. "
            "Turn the shafts by hand through the whole travel before driving.",
            place.shaft_gap_mm, told.clearance_mm, "mm", Good.AT_LEAST,
        ),
    )  # fmt: skip
