"""Whether a piece comes off the unit where it stands: piece, rest of the unit and what is about in; its way off out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.fitup.collide import Around, advance
from halfshaft.fitup.moves import Leg
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, boxes_meet, depth_along_mm, moved, overlap

Array = NDArray[np.float64]

_BEYOND_MM = 10.0  # farther than its own size, so that it is off its studs
_LOOKS = 24
_SAME_MM3 = 1.0
_WAYS = tuple(sign * axis for axis in np.eye(3) for sign in (1.0, -1.0))


@dataclass(frozen=True, eq=False, slots=True)
class Retreat:
    """A straight way off: unit vector (3,) in the unit's axes, and how far."""

    way: Array
    length_mm: float


def free_ways(piece: MeshSolid, rest: MeshSolid) -> list[Retreat]:
    """Those of six ways, along the unit's axes, in which a piece leaves the rest of the unit without meeting it more.

    Those that lead away from its middle come first. What the two share where they are bolted together may only shrink.
    """
    (low, high), (rest_low, rest_high) = piece.bounds_mm, rest.bounds_mm
    outward = (low + high) / 2.0 - (rest_low + rest_high) / 2.0
    out = []
    bolted = overlap(piece, rest).volume_mm3
    for way in sorted(_WAYS, key=lambda way: -float(way @ outward)):
        length = depth_along_mm(piece, way) + _BEYOND_MM
        least = bolted
        for share in np.arange(1, _LOOKS + 1) / _LOOKS:
            there = moved(piece, Pose(np.eye(3), share * length * way))
            shared = overlap(there, rest).volume_mm3 if boxes_meet(there, rest) else 0.0
            if shared > least + _SAME_MM3:
                break
            least = min(least, shared)
        else:
            out.append(Retreat(way, length))
    return out


def comes_off(piece: Around, pose: Pose, ways: list[Retreat], room_mm: float) -> Retreat | None:
    """The first of the ways that is clear of all about, or None; `room_mm` is asked for as far as the pose has it."""
    here = piece.clear_mm(pose)
    for retreat in ways:
        move = Leg(pose, retreat.length_mm * (pose.rotation @ retreat.way), np.zeros(3))
        if advance(move, piece, min(room_mm, 0.8 * here), here) >= 1.0:
            return retreat
    return None
