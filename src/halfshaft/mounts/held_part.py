"""A part held at bolts, lying on seats, loaded at bolts: a mesh with its groups and cases in; motion and reactions out.

The stiffness is factored once; a load at a group of rings is a sum of six unit loads, so a case costs next to nothing
but where it presses on a seat.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from halfshaft.mounts.contact import Give, settled, spread
from halfshaft.mounts.elastic import Body
from halfshaft.mounts.tet_mesh import TetMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_PRESSED = 0.05  # of a bolted ring's stiffness: 10 MPa press a part of steel in by a hundredth of a millimetre
_ENOUGH = 1e-3


@dataclass(frozen=True, eq=False)
class Push:
    """A load on rings together: force (3,) in N and moment (3,) in N mm about `about_mm` (3,), root axes."""

    rings: tuple[str, ...]
    force_n: Array
    moment_nmm: Array
    about_mm: Array


@dataclass(frozen=True, eq=False)
class Case:
    """Pushes that act together."""

    name: str
    pushes: tuple[Push, ...]


@dataclass(frozen=True, eq=False)
class Answer:
    """What a case does: displacement (nodes, 3); force (3,) on the part from each held ring and each seat, by name;
    `rounds` that the seats took, 0 where there are none."""

    case: str
    moved_mm: Array
    reactions_n: Mapping[str, Array]
    rounds: int


@dataclass(eq=False)
class HeldPart:
    """A meshed part with rings that hold it ('ring <hole>' in the mesh) and seats under it ('seat <panel>').

    A held ring is carried by springs of `bolted_n_mm3`, as stiff as the stack that its bolt clamps. `seats` maps a
    group to the normal (3,) out of what it lies on; a seat presses only.
    Source: minimum of potential energy; contact as penalty, P. Wriggers, Computational Contact Mechanics, 2006.
    """

    mesh: TetMesh
    held: Sequence[str]
    seats: Mapping[str, Array]
    bolted_n_mm3: float
    youngs_mpa: float = 210_000.0
    poisson: float = 0.3
    spots: int = 12  # of the seats that are worked beforehand
    body: Body = field(init=False)

    def __post_init__(self) -> None:
        if not self.held:
            raise ValueError("a part is held at one bolt at least and loaded at another")
        self.body = Body(
            self.mesh, self.youngs_mpa, self.poisson, {f"ring {name}": self.bolted_n_mm3 for name in self.held}
        )
        self._units: dict[tuple[str, ...], tuple[Array, Array, Array, Array]] = {}
        self._read, self._give, self._owner = self._seat_rows()
        self._known: Give | None = None

    def answer(self, case: Case, progress: Callable[[], None] = lambda: None) -> Answer:
        """One case. Raises ValueError for a ring that the mesh lacks, a moment that no ring can take, or where the
        seats do not settle."""
        load, free = self._free(case)
        rounds, pressure = 0, np.zeros(len(self._give))
        if len(self._give):
            gap = np.asarray(self._read @ free)

            def effect(press: Array) -> Array:
                progress()
                return np.asarray(self._read @ self.body.solved((self._read.T @ press)[:, None])[:, 0])

            if float(gap.min()) < 0.0:
                pressure, rounds = settled(gap, self._spread_give(), self._give, effect, _ENOUGH)
                load = load + self._read.T @ pressure
        # one correction brings any start to the answer
        free = self.body.bettered(free, load)
        moved = self.body.moved_mm(free)
        reactions = {name: self.body.spring_force_n(moved, f"ring {name}") for name in self.held}
        for number, (group, normal) in enumerate(self.seats.items()):
            own = self._owner == number
            reactions[group] = float(pressure[own] @ self._areas[own]) * np.asarray(normal)
        return Answer(case.name, moved, reactions, rounds)

    def traction(self, push: Push) -> Array:
        """Traction (corners, 3) in MPa at the mesh's corners that a push spreads over its rings, linear over them."""
        shapes, _, share, middle = self._unit(push.rings)
        moment = np.asarray(push.moment_nmm) + np.cross(np.asarray(push.about_mm) - middle, push.force_n)
        return np.asarray(np.tensordot(share @ np.array([*push.force_n, *moment]), shapes, axes=1))

    def load(self, case: Case) -> Array:
        """The case's load (unknowns,)."""
        return self._free(case)[0]

    def _free(self, case: Case) -> tuple[Array, Array]:
        load, free = np.zeros(self.body.unknowns), np.zeros(self.body.unknowns)
        for push in case.pushes:
            shapes, columns, share, middle = self._unit(push.rings)
            moment = np.asarray(push.moment_nmm) + np.cross(np.asarray(push.about_mm) - middle, push.force_n)
            parts = share @ np.array([*push.force_n, *moment])
            groups = [f"ring {name}" for name in push.rings]
            load += self.body.traction(groups, np.tensordot(parts, shapes, axes=1))
            free += columns @ parts
        return load, free

    def _unit(self, rings: tuple[str, ...]) -> tuple[Array, Array, Array, Array]:
        """Shapes (6, corners, 3) of traction over rings, their unknowns (n, 6), what shares make a resultant (6, 6),
        and the middle (3,) that moments are about."""
        if rings not in self._units:
            groups = [f"ring {name}" for name in rings]
            missing = [g for g in groups if g not in self.mesh.groups]
            if missing or not rings:
                raise ValueError(f"nothing is loaded at {', '.join(missing) or 'no ring'}")
            corners = self.mesh.corners_mm
            weight = np.zeros(len(corners))
            pairs = sparse.csr_matrix((len(corners), len(corners)))
            for group in groups:
                hats = self.body.weights(group)[: len(corners)]
                pairs = pairs + hats
                weight += np.asarray(hats.sum(axis=0)).ravel()
            middle = np.asarray(weight @ corners / float(weight.sum()), dtype=float)
            arm = corners - middle
            shapes: Array = np.empty((6, *corners.shape))
            for axis, unit in enumerate(np.eye(3)):
                shapes[axis], shapes[3 + axis] = unit, np.cross(unit, arm)
            resultant = np.zeros((6, 6))
            for at, shape in enumerate(shapes):
                force = pairs @ shape
                resultant[:, at] = [*force.sum(axis=0), *np.cross(arm, force).sum(axis=0)]
            loads = np.column_stack([self.body.traction(groups, shape) for shape in shapes])
            share = np.asarray(np.linalg.inv(resultant), dtype=float)
            self._units[rings] = (shapes, self.body.solved(loads), share, middle)
        return self._units[rings]

    def _seat_rows(self) -> tuple[sparse.csr_matrix, Array, Ints]:
        rows, gives, owners, areas, self._spots = [], [], [], [], np.empty((0, 3))
        spots = []
        for number, (group, normal) in enumerate(self.seats.items()):
            hats = self.body.weights(group)
            ids = np.unique(self.mesh.skin[self.mesh.groups[group]])
            own = hats[:, ids].tocsc()
            area = np.asarray(own[: len(self.mesh.corners_mm)].sum(axis=0)).ravel()
            rows.append(sparse.vstack([own * float(c) for c in normal]).T)
            gives.append(area / (_PRESSED * self.bolted_n_mm3))
            areas.append(area)
            owners.append(np.full(len(ids), number))
            spots.append(self.mesh.corners_mm[ids])
        if not rows:
            self._areas = np.empty(0)
            empty = sparse.csr_matrix((0, self.body.unknowns))
            return empty, np.empty(0), np.empty(0, dtype=np.int64)
        self._areas = np.concatenate(areas)
        self._spots = np.vstack(spots)
        return sparse.vstack(rows).tocsr(), np.concatenate(gives), np.concatenate(owners)

    def _spread_give(self) -> Give:
        if self._known is None:
            picked = spread(self._spots, self.spots)
            columns = self.body.solved(np.asarray(self._read[picked].T.todense()))
            patterns = np.zeros((len(self._give), len(picked)))
            patterns[picked, np.arange(len(picked))] = 1.0
            self._known = Give.of(patterns, np.asarray(self._read @ columns))
        return self._known
