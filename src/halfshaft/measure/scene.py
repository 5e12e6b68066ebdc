"""What the search for starting values works on: equations in use, bodies they touch, hints, and costs of states."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build
from halfshaft.measure.hints import Hints, anchors, hints_of
from halfshaft.measure.robust import LIMIT, cost_of, misfits
from halfshaft.measure.system import Network, State, bodies_of

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_FEW_OUT, _HINTS_KEPT = 0.01, 0.5


@dataclass(frozen=True, eq=False)
class Scene:
    """The equations in use, the bodies each touches, and what the builder sees by eye.

    `ends` (m, 3) and `sides` (m, 2) are the points and faces of each equation, -1 where it has fewer.
    """

    network: Network
    build: Build
    use: Bools
    bodies: Bools  # (m, B)
    ends: Ints
    sides: Ints
    hints: tuple[Hints, ...]  # by body

    def hint_cost(self, state: State) -> float:
        return sum(h.of(state.points_mm) for h in self.hints)

    def cost(self, state: State, use: Bools) -> float:
        return cost_of(self.network, state, use) + self.hint_cost(state)

    def clean(self, state: State, use: Bools) -> bool:
        """Whether hardly a reading is out and no hint is hurt: a misplaced point puts out several."""
        out = np.abs(misfits(self.network, state)[use]) > LIMIT
        return int(out.sum()) <= max(1, round(_FEW_OUT * len(out))) and self.hint_cost(state) < _HINTS_KEPT

    def within(self, use: Bools, bodies: Bools) -> Bools:
        """Of the equations in `use`, those that touch no other than the bodies given."""
        return use & ~(self.bodies & ~bodies).any(axis=1)

    def between(self, use: Bools, points: Bools, faces: Bools) -> Bools:
        """Of the equations in `use`, those whose points and faces are all in the sets given."""
        there = np.append(points, True)[self.ends].all(axis=1)
        return np.asarray(use & there & np.append(faces, True)[self.sides].all(axis=1))

    def own(self, body: int) -> Bools:
        """Equations in use of one body alone."""
        alone = np.zeros(len(self.network.body_names), dtype=bool)
        alone[body] = True
        return self.within(self.use, alone)

    def columns(self, points: Bools, faces: Bools, poses: Bools) -> Bools:
        """Unknowns (n,) of the points, faces and poses given."""
        network = self.network
        out = np.zeros(network.size, dtype=bool)
        for offset in range(3):
            out[network.point_at[points] + offset] = True
            out[network.face_at[faces] + offset] = True
        for body, at in enumerate(network.pose_at):
            if at >= 0 and poses[body]:
                out[at : at + 6] = True
        return out

    def count_at(self, rows: Bools) -> Array:
        """How many of the equations marked in `rows` (m,) each point (P,) has."""
        ends = self.ends[rows]
        return np.bincount(ends[ends >= 0], minlength=len(self.network.point_names)).astype(float)

    def neighbours(self, use: Bools) -> dict[int, set[int]]:
        """Points that share an equation with each point, itself among them."""
        out: dict[int, set[int]] = {}
        for i in np.flatnonzero(use):
            points = self.network.equations[i].points
            for p in points:
                out.setdefault(p, set()).update(points)
        return out


def scene_of(network: Network, build: Build, use: Bools) -> Scene:
    """The scene of the equations marked in `use` (m,)."""
    used = [network.equations[i] for i in np.flatnonzero(use)]
    hints = [hints_of(network, build, body, anchors(network, used, body)) for body in range(len(network.body_names))]
    bodies = np.zeros((len(network.equations), len(network.body_names)), dtype=bool)
    ends = np.full((len(network.equations), 3), -1, dtype=np.intp)
    sides = np.full((len(network.equations), 2), -1, dtype=np.intp)
    for i, eq in enumerate(network.equations):
        bodies[i, list(bodies_of(network, eq))] = True
        ends[i, : len(eq.points)] = eq.points
        sides[i, : len(eq.faces)] = eq.faces
    return Scene(network, build, use, bodies, ends, sides, tuple(hints))


def blank(network: Network) -> State:
    """A state in which nothing is placed yet."""
    bodies = len(network.body_names)
    return State(
        np.zeros((len(network.point_names), 3)),
        np.tile([0.0, 0.0, 1.0], (len(network.face_names), 1)),
        np.zeros(len(network.face_names)),
        np.tile(np.eye(3), (bodies, 1, 1)),
        np.zeros((bodies, 3)),
    )
