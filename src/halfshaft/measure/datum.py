"""What the readings leave open of each body's axes, and how it is held. Equations and slopes in, a datum out.

Every body may be moved in its own axes without any tape noticing, as long as its pose moves against it. Readings of
height, offset, station and given spots notice some of the six moves; the rest is the datum defect of that body. It is
held by the builder's three points (3-2-1) or by inner constraints over the body's points.
Source: P. Meissl, Zusammenfassung und Ausbau der inneren Fehlertheorie eines Punkthaufens, 1969 (inner constraints);
W. F. Caspary, Concepts of Network and Deformation Analysis, UNSW, 1987, chapter 3 (datum defect). From memory.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from halfshaft.geometry.pose import turn
from halfshaft.measure.system import Network, State, bodies_of, tangents

if TYPE_CHECKING:
    from halfshaft.build.schema import Axes

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_OPEN = 1e-8  # a move is open when the readings notice less than this part of what they notice of others


@dataclass(frozen=True, eq=False)
class Reach:
    """Which unknowns the used equations touch, and which bodies hang together."""

    points: Bools
    faces: Bools
    bodies: Bools
    leader: Ints  # (B,) body whose axes stand still for all bodies tied to it: the root where it is among them

    def columns(self, network: Network) -> Bools:
        """Unknowns (n,) that take part."""
        out = np.zeros(network.size, dtype=bool)
        for offset in range(3):
            out[network.point_at[self.points] + offset] = True
            out[network.face_at[self.faces] + offset] = True
        for body, at in enumerate(network.pose_at):
            if at >= 0 and self.bodies[body] and self.leader[body] != body:
                out[at : at + 6] = True
        return out


def reach_of(network: Network, use: Bools) -> Reach:
    """What the equations marked in `use` (m,) touch."""
    bodies = len(network.body_names)
    points = np.zeros(len(network.point_names), dtype=bool)
    faces = np.zeros(len(network.face_names), dtype=bool)
    leader = np.arange(bodies)
    for group in network.layout.groups:
        on = use[group.rows]
        points[group.points[on].ravel()] = True
        faces[group.faces[on].ravel()] = True
        if not group.across:
            continue
        for row in group.rows[on]:
            together = {int(leader[b]) for b in bodies_of(network, network.equations[row])}
            if len(together) == 1:
                continue
            first = int(leader[network.root]) if leader[network.root] in together else min(together)
            leader[np.isin(leader, list(together))] = first
    if leader[network.root] != network.root:
        leader[leader == leader[network.root]] = network.root
    present = np.zeros(bodies, dtype=bool)
    present[network.point_body[points]] = True
    present[network.face_body[faces]] = True
    present[leader[present]] = True
    return Reach(points, faces, present, leader)


@dataclass(frozen=True, eq=False)
class Datum:
    """What stands still: `fixed` columns, and `moves` (n, k) held by inner constraints `hold` (n, k)."""

    fixed: Ints
    moves: Array
    hold: Array
    defect: int
    held: tuple[str, ...]  # in words, a body each
    by_points: frozenset[int]  # bodies of which inner constraints hold some move


def _middle(points_mm: Array) -> tuple[Array, float]:
    """Middle (3,) and typical radius of points (k, 3); a metre where there are too few to tell."""
    if len(points_mm) == 0:
        return np.zeros(3), 1000.0
    middle = points_mm.mean(axis=0)
    radius = float(np.sqrt(np.mean(np.sum((points_mm - middle) ** 2, axis=1))))
    return middle, radius if radius > 1.0 else 1000.0


def body_moves(network: Network, state: State, reach: Reach, body: int) -> Array:
    """Steps (n, 6) that move a body in its own axes; poses of bodies tied together move so that nothing else changes.

    Three turns about its middle, each of one mm at the typical radius, then three shifts of one mm.
    """
    mine = np.flatnonzero(reach.points & (network.point_body == body))
    planes = np.flatnonzero(reach.faces & (network.face_body == body))
    points = state.points_mm[mine]
    middle, radius = _middle(points)
    basis = tangents(state.normals)
    out = np.zeros((network.size, 6))
    rotation, shift = state.rotations[body], state.shifts_mm[body]
    for k in range(6):
        omega, tau = np.zeros(3), np.zeros(3)
        if k < 3:
            omega[k] = 1.0 / radius
            tau = -np.cross(omega, middle)
        else:
            tau[k - 3] = 1.0
        step = np.cross(omega, points) + tau
        for offset in range(3):
            out[network.point_at[mine] + offset, k] = step[:, offset]
        for face in planes:
            at = network.face_at[face]
            normal = state.normals[face]
            out[at : at + 2, k] = basis[face].T @ np.cross(omega, normal)
            out[at + 2, k] = normal @ tau
        world, push = rotation @ omega, rotation @ tau
        if reach.leader[body] != body:
            at = network.pose_at[body]
            out[at : at + 3, k] = -world
            out[at + 3 : at + 6, k] = -push
            continue
        for other in np.flatnonzero((reach.leader == body) & reach.bodies):
            if other == body:
                continue
            at = network.pose_at[other]
            out[at : at + 3, k] = world
            out[at + 3 : at + 6, k] = np.cross(world, state.shifts_mm[other] - shift) + push
    return out


def open_moves(weighted: csr_matrix, moves: Array) -> Array:
    """Combinations (n, k) of `moves` (n, 6) that no used reading notices; independent, of unit length each."""
    noticed = np.asarray(weighted @ moves)
    scale = float(np.max(np.asarray(abs(weighted) @ np.abs(moves)), initial=1e-30))
    # The triangle of a QR keeps the singular values at six by six however many readings there are.
    triangle = np.vstack([np.linalg.qr(noticed, mode="r"), np.zeros((moves.shape[1], moves.shape[1]))])
    _, full, mix = np.linalg.svd(triangle[: max(moves.shape[1], 6)], full_matrices=True)
    return _independent(moves @ mix[full < _OPEN * scale].T)


def _independent(vectors: Array) -> Array:
    if vectors.shape[1] == 0:
        return vectors
    u, size, _ = np.linalg.svd(vectors, full_matrices=False)
    return np.asarray(u[:, size > 1e-9 * max(float(size[0]), 1e-30)])


def _axes_columns(network: Network, axes: Axes, body: int) -> list[int]:
    """Columns of origin x, y, z, along y, z and level z."""
    name = network.body_names[body]
    index = {p: i for i, p in enumerate(network.point_names)}

    def at(point: str) -> int:
        full = point if "." in point else f"{name}.{point}"
        return int(network.point_at[index[full]]) if full in index else -1

    origin, along, level = at(axes.origin), at(axes.along), at(axes.level)
    found = [(origin, 0), (origin, 1), (origin, 2), (along, 1), (along, 2), (level, 2)]
    return [start + offset for start, offset in found if start >= 0]


def datum_of(
    network: Network, state: State, weighted: csr_matrix, reach: Reach, wanted: Mapping[int, Axes | None]
) -> Datum:
    """How the axes of every body are held. `weighted` (used rows, n) slopes over spreads; `wanted` by body index."""
    fixed: list[int] = []
    moves: list[Array] = []
    hold: list[Array] = []
    held: list[str] = []
    by_points: set[int] = set()
    defect = 0
    taking_part = reach.columns(network)
    for body in np.flatnonzero(reach.bodies):
        free = open_moves(weighted, body_moves(network, state, reach, int(body)))
        defect += free.shape[1]
        axes = wanted.get(int(body))
        chosen: list[int] = []
        if axes is not None:
            chosen = _holding(free, [c for c in _axes_columns(network, axes, int(body)) if taking_part[c]])
            if chosen:
                _, size, mix = np.linalg.svd(free[chosen], full_matrices=True)
                free = _independent(free @ mix[len(size) :].T)
        fixed.extend(chosen)
        if free.shape[1]:
            by_points.add(int(body))
            on_points = free.copy()
            on_points[3 * len(network.point_names) :] = 0.0
            enough = np.linalg.matrix_rank(on_points, tol=1e-6) == free.shape[1]
            moves.append(free)
            hold.append(on_points if enough else free)
        held.append(_words(network.body_names[body], len(chosen), free.shape[1], axes))
    empty = np.zeros((network.size, 0))
    return Datum(
        np.array(sorted(fixed), dtype=np.intp),
        np.hstack([empty, *moves]),
        np.hstack([empty, *hold]),
        defect,
        tuple(held),
        frozenset(by_points),
    )


def _holding(free: Array, columns: Sequence[int]) -> list[int]:
    """Of `columns`, in order, those that each hold a further open move."""
    chosen: list[int] = []
    for column in columns:
        trial = free[[*chosen, column]]
        if len(trial) <= free.shape[1] and np.linalg.matrix_rank(trial, tol=1e-6) == len(trial):
            chosen.append(column)
    return chosen


def _words(body: str, by_axes: int, by_inner: int, axes: Axes | None) -> str:
    by_readings = 6 - by_axes - by_inner
    parts = [f"{by_readings} by readings"] if by_readings else []
    if by_axes and axes is not None:
        parts.append(f"{by_axes} by the points {axes.origin}, {axes.along}, {axes.level}")
    if by_inner:
        parts.append(f"{by_inner} by all points together")
    return f"{body}: of six moves, {', '.join(parts)} held"


def moved_body(network: Network, state: State, reach: Reach, body: int, rotation: Array, tau_mm: Array) -> State:
    """A body moved in its own axes by x -> rotation x + tau; poses follow so that nothing else changes. Exact."""
    mine, planes = network.point_body == body, network.face_body == body
    points, normals, distances = state.points_mm.copy(), state.normals.copy(), state.distances_mm.copy()
    points[mine] = points[mine] @ rotation.T + tau_mm
    normals[planes] = normals[planes] @ rotation.T
    distances[planes] = distances[planes] + normals[planes] @ tau_mm
    rotations, shifts = state.rotations.copy(), state.shifts_mm.copy()
    if reach.leader[body] != body:
        rotations[body] = rotations[body] @ rotation.T
        shifts[body] = shifts[body] - rotations[body] @ tau_mm
    else:
        own, at = rotations[body].copy(), shifts[body].copy()
        for other in np.flatnonzero(reach.leader == body):
            if other != body:
                world = own @ rotation @ own.T
                rotations[other] = world @ rotations[other]
                shifts[other] = world @ (shifts[other] - at) + own @ tau_mm + at
    return replace(
        state, points_mm=points, normals=normals, distances_mm=distances, rotations=rotations, shifts_mm=shifts
    )


def set_on_axes(
    network: Network,
    state: State,
    weigh: Callable[[State], csr_matrix],
    reach: Reach,
    wanted: Mapping[int, Axes | None],
) -> State:
    """The same shape, each body moved along its open moves until the builder's points lie on their axes.

    `weigh` gives the slopes over spreads of the used readings at a state.
    """
    for body, axes in wanted.items():
        if axes is None or not reach.bodies[body]:
            continue
        columns = _axes_columns(network, axes, body)
        free = open_moves(weigh(state), body_moves(network, state, reach, body))
        if free.shape[1] == 6 and len(columns) == 6:
            state = _on_frame(network, state, reach, body, columns)
            continue
        for _ in range(40):
            motions = body_moves(network, state, reach, body)
            free = open_moves(weigh(state), motions)
            chosen = _holding(free, columns)
            off = state.points_mm.ravel()[chosen]
            if not chosen or float(np.max(np.abs(off))) < 1e-9:
                break
            mix = np.linalg.lstsq(motions, free, rcond=None)[0]
            step = mix @ np.linalg.lstsq(free[chosen], -off, rcond=None)[0]
            state = _rigid(network, state, reach, body, step)
        state = _facing_forward(network, state, reach, body, columns, free)
    return state


def _spots(state: State, columns: Sequence[int]) -> tuple[Array, Array, Array]:
    """Where the points of origin, along and level are, from their columns."""
    flat = state.points_mm.ravel()
    first, second, third = columns[0], columns[3] - 1, columns[5] - 2
    return flat[first : first + 3], flat[second : second + 3], flat[third : third + 3]


def _on_frame(network: Network, state: State, reach: Reach, body: int, columns: Sequence[int]) -> State:
    """Origin to nought, along on +x, level into the plane z = 0 on the left."""
    origin, along, level = _spots(state, columns)
    x = along - origin
    z = np.cross(x, level - origin)
    if np.linalg.norm(z) < 1e-6 * max(float(np.linalg.norm(x)) ** 2, 1.0):
        return state
    x, z = x / np.linalg.norm(x), z / np.linalg.norm(z)
    rotation = np.vstack([x, np.cross(z, x), z])
    return moved_body(network, state, reach, body, rotation, -rotation @ origin)


def _rigid(network: Network, state: State, reach: Reach, body: int, step: Array) -> State:
    """Apply a combination (6,) of `body_moves` as a finite move; turns are kept to half a radian at a time."""
    mine = np.flatnonzero(reach.points & (network.point_body == body))
    middle, radius = _middle(state.points_mm[mine])
    omega = step[:3] / radius
    shrink = min(1.0, 0.5 / max(float(np.linalg.norm(omega)), 1e-12))
    rotation = turn(omega * shrink)
    return moved_body(network, state, reach, body, rotation, middle - rotation @ middle + step[3:] * shrink)


def _facing_forward(
    network: Network, state: State, reach: Reach, body: int, columns: Sequence[int], free: Array
) -> State:
    """Half a turn about the upright where the readings leave that open and the second point has come to lie behind."""
    if len(columns) < 6:
        return state
    origin, along, _ = _spots(state, columns)
    if along[0] >= origin[0]:
        return state
    mine = np.flatnonzero(reach.points & (network.point_body == body))
    about = np.zeros_like(state.points_mm)
    about[mine] = np.cross(np.array([0.0, 0.0, 1.0]), state.points_mm[mine] - origin)
    on_points, wanted = free[: about.size], about.ravel()
    fit = on_points @ np.linalg.lstsq(on_points, wanted, rcond=None)[0]
    if np.linalg.norm(fit - wanted) > 1e-6 * max(float(np.linalg.norm(wanted)), 1.0):
        return state
    rotation = np.diag([-1.0, -1.0, 1.0])
    return moved_body(network, state, reach, body, rotation, origin - rotation @ origin)
