"""Exact clearance of a unit: bodies and a pose in, signed clearance and the nearest things by name out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfshaft.fitup.model import Array
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, moved, overlap
from halfshaft.geometry.nearest import Body, gap, inside, skin_feet

_SPOTS = 400
_LEAST_SIDE_MM = 1.0


@dataclass(frozen=True, eq=False)
class Part:
    """A piece of the unit, in its axes, and how far it sways."""

    name: str
    body: Body
    sway_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class Thing:
    """What stands still, and the clearance it asks for."""

    name: str
    body: Body
    clearance_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class Clearance:
    """Between one part and one thing, sway taken off: `room_mm` is what is left of it past the clearance asked for."""

    part: str
    thing: str
    distance_mm: float
    room_mm: float
    spot_mm: Array
    other_spot_mm: Array


def signed_mm(part: Body, pose: Pose, thing: Body) -> tuple[float, Array, Array]:
    """Distance of a body at a pose from one at rest, and a spot (3,) on each; negative where they overlap.

    Of an overlap it is how deep the deepest spot of the body lies under the thing's skin: the deepest among the
    overlap's corners and spots between them, so too shallow by a tenth of the overlap's length at most, and exact where
    a corner is deepest.
    """
    found = gap(part, pose, thing, Pose.identity())
    if found.distance_mm > 0.0:
        enclosed = inside(thing, pose.apply(part.seeds_mm)).any()
        if not enclosed and not inside(part, pose.inverse().apply(thing.seeds_mm)).any():
            return found.distance_mm, found.spot_mm, found.other_spot_mm
    shared = overlap(moved(part.solid, pose), thing.solid)
    if shared.empty:
        return 0.0, found.spot_mm, found.other_spot_mm
    spots = _spots(shared)
    depth, _ = skin_feet(thing, spots)
    at = int(np.argmax(depth))
    return -float(depth[at]), spots[at], spots[at]


def _spots(shared: MeshSolid) -> Array:
    corners, _ = shared.triangles
    side = max(float(np.ptp(corners, axis=0).max()) / 10.0, _LEAST_SIDE_MM)
    fine = MeshSolid(shared.kernel.refine_to_length(side)).triangles[0]
    low, high = shared.bounds_mm
    lattice = np.stack(np.meshgrid(*np.linspace(low, high, 6).T, indexing="ij"), axis=-1).reshape(-1, 3)
    # where one is inside the other the deepest spot may be away from every skin
    from_inside = lattice[inside(_bare(shared), lattice)]
    return np.vstack([corners[:: len(corners) // _SPOTS + 1], fine[:: len(fine) // _SPOTS + 1], from_inside])


def _bare(solid: MeshSolid) -> Body:
    corners, triangles = solid.triangles
    return Body(solid, None, corners, triangles, corners[:1])


def least_apart_mm(part: Body, pose: Pose, thing: Body) -> float:
    """A bound from boxes: the two are at least so far apart."""
    low, high = part.solid.bounds_mm
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    at = pose.apply(corners)
    other_low, other_high = thing.solid.bounds_mm
    away = np.maximum(np.maximum(other_low - at.max(axis=0), at.min(axis=0) - other_high), 0.0)
    return float(np.linalg.norm(away))


def clearances(parts: Sequence[Part], pose: Pose, things: Sequence[Thing], every: bool = False) -> list[Clearance]:
    """Clearances at one pose, the one with the least room first.

    Pairs that boxes show to be farther than the nearest are left out, unless `every` is asked for.
    """
    pairs = sorted(
        ((least_apart_mm(p.body, pose, t.body), p, t) for p in parts for t in things),
        key=lambda pair: pair[0] - pair[1].sway_mm - pair[2].clearance_mm,
    )
    out: list[Clearance] = []
    least, room = np.inf, np.inf
    for apart, part, thing in pairs:
        bound = apart - part.sway_mm
        if not every and bound >= least and bound - thing.clearance_mm >= room:
            continue
        distance, spot, other = signed_mm(part.body, pose, thing.body)
        distance -= part.sway_mm
        least, room = min(least, distance), min(room, distance - thing.clearance_mm)
        out.append(Clearance(part.name, thing.name, distance, distance - thing.clearance_mm, spot, other))
    return sorted(out, key=lambda c: c.room_mm)
