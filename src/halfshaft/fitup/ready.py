"""A scene made ready for placing: bodies, fields and points out, each made when first asked for and kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from halfshaft.fitup.exact import Part, Thing
from halfshaft.fitup.field import Field, field_of, step_for
from halfshaft.fitup.halfshaft import JointLimits
from halfshaft.fitup.metal import Metal, estimate, grown, line_of, metal_of
from halfshaft.fitup.model import Array, Fixed, Scene, middle_of
from halfshaft.fitup.screen import POINTS, Probe, probe, screen
from halfshaft.fitup.walls import Wall, walls_of
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid
from halfshaft.geometry.nearest import body

JointsAt = JointLimits | Callable[[Pose], tuple[float, float, bool]]
"""Half-shafts made ready; or, of a pose, the worst joint angle, degrees, the plunge, mm, and whether all are fine."""

_MARGIN_MM = 30.0


def joint_numbers(joints: JointsAt | None, turns: Array, shifts: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Worst joint angle in degrees (n,) and whether all are in their limits (n,); without joints all are fine."""
    if joints is None:
        return np.zeros(len(turns)), np.ones(len(turns), dtype=bool)
    if isinstance(joints, JointLimits):
        told = joints(turns, shifts)
        return np.maximum(told.worst_deg, told.worst_travel_deg), told.ok
    answers = [joints(Pose(r, t)) for r, t in zip(turns, shifts, strict=True)]
    return np.array([a for a, _, _ in answers], dtype=float), np.array([fine for _, _, fine in answers], dtype=bool)


@dataclass(frozen=True, eq=False)
class Ready:
    """All that placing asks about a scene. A move is six numbers about the begin pose: shift, mm, turns, degrees."""

    scene: Scene

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        return tuple(Part(p.name, body(p.solid), p.sway_mm) for p in self.scene.unit.pieces if not p.solid.empty)

    @cached_property
    def kept(self) -> tuple[Thing, ...]:
        return tuple(Thing(f.name, body(f.solid), f.clearance_mm) for f in self._of("keep"))

    @cached_property
    def members(self) -> tuple[Thing, ...]:
        return tuple(Thing(f.name, body(f.solid), f.clearance_mm) for f in self._of("member"))

    def _of(self, role: str) -> tuple[Fixed, ...]:
        return tuple(f for f in self.scene.fixed if f.role == role and not f.solid.empty)

    @cached_property
    def member_fixed(self) -> tuple[Fixed, ...]:
        return self._of("member")

    @cached_property
    def lines(self) -> dict[str, Array]:
        return {f.name: line_of(f, self.scene.members) for f in self.member_fixed}

    @cached_property
    def probe(self) -> Probe:
        grow = max((f.clearance_mm for f in self.member_fixed), default=0.0) + 12.0
        return probe(self.scene.unit.pieces, POINTS, grow)

    @cached_property
    def grown_pieces(self) -> dict[tuple[str, float], MeshSolid]:
        """Each piece in the unit's axes, grown by its sway and each clearance that members ask."""
        asked = sorted({f.clearance_mm for f in self.member_fixed})
        return {
            (p.name, by): grown(p.solid, by + p.sway_mm)
            for p in self.scene.unit.pieces
            if not p.solid.empty
            for by in asked
        }

    @cached_property
    def middle_mm(self) -> Array:
        """The middle of the unit's box, in its axes."""
        return middle_of(self.scene.unit.pieces)

    @cached_property
    def region_mm(self) -> tuple[Array, Array]:
        """The box within which the unit stays, lowest and highest corner."""
        bounds = self.scene.bounds
        corners = bounds.begin.apply(self.probe.corners_mm)
        most_turn = np.radians(np.linalg.norm(bounds.turn_deg))
        spread = bounds.shift_mm + self.probe.reach_mm * min(most_turn, 2.0) + _MARGIN_MM
        middle = bounds.begin.apply(self.middle_mm)
        reach = bounds.shift_mm + self.probe.reach_mm + _MARGIN_MM
        low = np.maximum(corners.min(axis=0) - spread, middle - reach)
        high = np.minimum(corners.max(axis=0) + spread, middle + reach)
        return low, high

    def without(self, name: str) -> Ready:
        """The same scene without one kept thing."""
        other = Ready(replace(self.scene, fixed=tuple(f for f in self.scene.fixed if f.name != name)))
        for known in ("parts", "probe", "members", "metal"):
            other.__dict__[known] = getattr(self, known)
        return other

    @cached_property
    def kept_field(self) -> Field:
        """Of what is kept, each thing's clearance taken off."""
        low, high = self.region_mm
        return field_of([(t.body.solid, t.clearance_mm) for t in self.kept], low, high, step_for(low, high))

    @cached_property
    def member_field(self) -> Field:
        """Of the members that may be cut, each one's clearance taken off."""
        low, high = self.region_mm
        return field_of([(t.body.solid, t.clearance_mm) for t in self.members], low, high, step_for(low, high))

    @cached_property
    def metal(self) -> Metal:
        return metal_of(self.member_fixed, self.scene.members, *self.region_mm, self.walls)

    @cached_property
    def walls(self) -> dict[str, tuple[Wall, ...]]:
        """Of the members that may be cut."""
        members = self.scene.members
        return {f.name: walls_of(members[f.name]) for f in self.member_fixed if f.name in members}

    @cached_property
    def limits(self) -> Array:
        """The most of each of the six numbers, either way."""
        return np.concatenate([self.scene.bounds.shift_mm, self.scene.bounds.turn_deg]).astype(float)

    def poses(self, moves: Array) -> tuple[Array, Array]:
        """Turns (n, 3, 3) and shifts (n, 3) of moves (n, 6)."""
        begin = self.scene.bounds.begin
        turns = Rotation.from_rotvec(np.radians(moves[:, 3:])).as_matrix() @ begin.rotation
        middle = begin.apply(self.middle_mm)
        return turns, middle + moves[:, :3] - turns @ self.middle_mm

    def pose(self, move: Array) -> Pose:
        turns, shifts = self.poses(np.asarray(move, dtype=float)[None])
        return Pose(turns[0], shifts[0])

    def move(self, pose: Pose) -> Array:
        """The six numbers of a pose."""
        begin = self.scene.bounds.begin
        turns = Rotation.from_matrix(pose.rotation @ begin.rotation.T).as_rotvec()
        return np.concatenate([pose.apply(self.middle_mm) - begin.apply(self.middle_mm), np.degrees(turns)])

    def ground_mm(self, turns: Array, shifts: Array) -> Array:
        """The unit's lowest point over z = 0 at poses, sway taken off."""
        most = max(p.sway_mm for p in self.parts)
        corners = self.probe.corners_mm.T
        out = np.empty(len(turns))
        for at in range(0, len(turns), 2048):
            part = slice(at, at + 2048)
            out[part] = (turns[part, 2] @ corners).min(axis=1)
        return out + shifts[:, 2] - most

    def room_mm(self, turns: Array, shifts: Array, floor_mm: float = -1e9, cap_mm: float = 1e9) -> Array:
        """Room left to what is kept past its clearance, sway off, as the field tells it."""
        if not self.kept:
            return np.full(len(turns), min(cap_mm, 1e6))
        return screen(self.kept_field, self.probe, turns, shifts, floor_mm, cap_mm)

    def metal_lost(self, turns: Array, shifts: Array) -> tuple[Array, Array, Array]:
        """As `metal.estimate` tells it."""
        return estimate(self.metal, self.probe, turns, shifts)


_READY: WeakKeyDictionary[Scene, Ready] = WeakKeyDictionary()


def ready(scene: Scene) -> Ready:
    """The scene made ready; the same scene again is handed the same.

    Raises ValueError where the unit has no piece.
    """
    if not any(not piece.solid.empty for piece in scene.unit.pieces):
        raise ValueError("the unit has no piece")
    found = _READY.get(scene)
    if found is None:
        # the scene is held by what is made from it: kept no longer than a few scenes
        while len(_READY) >= 4:
            del _READY[next(iter(_READY.keys()))]
        found = _READY[scene] = Ready(scene)
    return found
