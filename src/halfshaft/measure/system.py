"""Equations between points, faces and bodies in; predictions, a sparse Jacobian and stepped states out.

Unknowns are small steps from a `State`: three per point in its own body's axes, three per face (two tilts along
`tangents`, in radians, then the distance), six per body other than the root (rotation vector in root axes applied on
the left, then shift).
Formulas: docs/measure.md.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from halfshaft.geometry.pose import turn
from halfshaft.measure.equations import FORMULAS, LINEAR, Sight, Slopes, cross

Array = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Equation:
    """One scalar observation; `value` and `sigma` in `unit` ('mm' or 'deg').

    `row` is the index into Build.readings, or -1 - j for the j-th listed point of a face. `part` is 0..2 for 'given'
    (x, y, z) and 'mirror' (x, y, z), else 0. `frame` is the body in whose axes it is said, -1 when none is needed.
    """

    row: int
    part: int
    kind: str
    points: tuple[int, ...]
    faces: tuple[int, ...]
    frame: int
    value: float
    sigma: float
    unit: str


@dataclass(frozen=True, eq=False)
class Group:
    """Equations of one formula that share working axes: one body's own (`across` False) or the root's."""

    formula: str
    across: bool
    rows: Ints
    points: Ints  # (k, s)
    faces: Ints  # (k, q)
    frame: Ints  # (k,) body that gives axis and origin; -1 when none
    axis: Array  # (k, 3) in the frame's own axes
    factor: Array  # (k, 2)


@dataclass(frozen=True, eq=False)
class Layout:
    """Where each unknown sits and which entries of the Jacobian exist."""

    size: int
    point_at: Ints
    face_at: Ints
    pose_at: Ints
    groups: tuple[Group, ...]
    slot: Ints  # entry of the Jacobian for each computed value
    indices: Ints
    indptr: Ints


@dataclass(frozen=True, eq=False)
class Network:
    """Points, faces and bodies by index, and the equations between them; names are qualified ('car.RL3')."""

    body_names: tuple[str, ...]
    root: int
    point_names: tuple[str, ...]
    point_body: Ints
    face_names: tuple[str, ...]
    face_body: Ints
    equations: tuple[Equation, ...]
    layout: Layout
    values: Array  # (m,)
    sigmas: Array  # (m,)

    @property
    def size(self) -> int:
        """Number of unknowns n."""
        return self.layout.size

    @property
    def point_at(self) -> Ints:
        return self.layout.point_at

    @property
    def face_at(self) -> Ints:
        return self.layout.face_at

    @property
    def pose_at(self) -> Ints:
        """Start column of each body's pose; -1 for the root."""
        return self.layout.pose_at


@dataclass(frozen=True, eq=False)
class State:
    """Values of all unknowns: points and faces in their own body's axes; a pose brings a body to the root."""

    points_mm: Array  # (P, 3)
    normals: Array  # (F, 3)
    distances_mm: Array  # (F,)
    rotations: Array  # (B, 3, 3)
    shifts_mm: Array  # (B, 3)


def bodies_of(network: Network, equation: Equation) -> frozenset[int]:
    """Bodies whose points, faces or frame an equation touches."""
    found = {int(network.point_body[i]) for i in equation.points} | {int(network.face_body[i]) for i in equation.faces}
    return frozenset(found | {equation.frame} if equation.frame >= 0 else found)


def assemble(
    body_names: Sequence[str],
    root: int,
    point_names: Sequence[str],
    point_body: Sequence[int],
    face_names: Sequence[str],
    face_body: Sequence[int],
    equations: Sequence[Equation],
) -> Network:
    """A network from its pieces. Raises ValueError for a kind that has no formula."""
    pb, fb = np.asarray(point_body, dtype=np.intp), np.asarray(face_body, dtype=np.intp)
    point_at = 3 * np.arange(len(pb), dtype=np.intp)
    face_at = 3 * len(pb) + 3 * np.arange(len(fb), dtype=np.intp)
    pose_at = np.full(len(body_names), -1, dtype=np.intp)
    at = 3 * (len(pb) + len(fb))
    for body in range(len(body_names)):
        if body != root:
            pose_at[body] = at
            at += 6
    groups = _groups(equations, pb, fb)
    slot, indices, indptr = _pattern(groups, len(equations), at, point_at, face_at, pose_at, pb, fb)
    return Network(
        tuple(body_names),
        root,
        tuple(point_names),
        pb,
        tuple(face_names),
        fb,
        tuple(equations),
        Layout(at, point_at, face_at, pose_at, groups, slot, indices, indptr),
        np.array([e.value for e in equations], dtype=float),
        np.array([e.sigma for e in equations], dtype=float),
    )


def _groups(equations: Sequence[Equation], point_body: Ints, face_body: Ints) -> tuple[Group, ...]:
    gathered: dict[tuple[str, bool, int], list[tuple[int, Equation, int]]] = defaultdict(list)
    for index, eq in enumerate(equations):
        formula = "linear" if (eq.kind, eq.part) in LINEAR else eq.kind
        if formula not in FORMULAS:
            raise ValueError(f"no formula for a reading of kind '{eq.kind}'")
        frame = int(face_body[eq.faces[0]]) if formula == "onface" else eq.frame
        bodies = {int(point_body[i]) for i in eq.points} | {int(face_body[i]) for i in eq.faces}
        if frame >= 0:
            bodies.add(frame)
        gathered[formula, len(bodies) > 1, len(eq.points)].append((index, eq, frame))
    out = []
    for (formula, across, _), found in gathered.items():
        axis = np.zeros((len(found), 3))
        factor = np.zeros((len(found), 2))
        for k, (_, eq, _) in enumerate(found):
            which, factor[k, 0], factor[k, 1] = LINEAR.get((eq.kind, eq.part), (2, 0.0, 0.0))
            axis[k, which] = 1.0
        out.append(
            Group(
                formula,
                across,
                np.array([i for i, _, _ in found], dtype=np.intp),
                np.array([e.points for _, e, _ in found], dtype=np.intp).reshape(len(found), -1),
                np.array([e.faces for _, e, _ in found], dtype=np.intp).reshape(len(found), -1),
                np.array([f for _, _, f in found], dtype=np.intp),
                axis,
                factor,
            )
        )
    return tuple(out)


def _pattern(
    groups: Sequence[Group],
    rows: int,
    size: int,
    point_at: Ints,
    face_at: Ints,
    pose_at: Ints,
    point_body: Ints,
    face_body: Ints,
) -> tuple[Ints, Ints, Ints]:
    """For each value that `_values` gives, its entry in the Jacobian; entries that meet are summed there.

    Poses of the root have no column: they go to a column past the end, which is cut off.
    """
    three, six = np.arange(3), np.arange(6)
    where_row: list[Ints] = []
    where_column: list[Ints] = []

    def put(group: Group, start: Ints, offsets: Ints) -> None:
        columns = np.where(start[:, None] >= 0, start[:, None] + offsets, size)
        where_row.append(np.repeat(group.rows, len(offsets)))
        where_column.append(columns.ravel())

    for group in groups:
        for s in range(group.points.shape[1]):
            put(group, point_at[group.points[:, s]], three)
        for q in range(group.faces.shape[1]):
            put(group, face_at[group.faces[:, q]], three)
        if group.across:
            for s in range(group.points.shape[1]):
                put(group, pose_at[point_body[group.points[:, s]]], six)
            for q in range(group.faces.shape[1]):
                put(group, pose_at[face_body[group.faces[:, q]]], six)
            put(group, np.where(group.frame >= 0, pose_at[group.frame], -1), six)
    if not where_row:
        return np.zeros(0, np.intp), np.zeros(0, np.intp), np.zeros(rows + 1, np.intp)
    key = np.concatenate(where_row) * (size + 1) + np.concatenate(where_column)
    entries, slot = np.unique(key, return_inverse=True)
    keep = entries % (size + 1) < size
    number = np.where(keep, np.cumsum(keep) - 1, int(keep.sum()))
    indptr = np.searchsorted(entries[keep] // (size + 1), np.arange(rows + 1))
    return number[slot].astype(np.intp), (entries[keep] % (size + 1)).astype(np.intp), indptr.astype(np.intp)


def tangents(normals: Array) -> Array:
    """Two unit directions (F, 3, 2) square to each normal (F, 3); the tilts of a face are counted along them.

    Source: T. Duff et al., Building an Orthonormal Basis, Revisited, JCGT 6(1), 2017.
    """
    x, y, z = normals[:, 0], normals[:, 1], normals[:, 2]
    sign = np.where(z >= 0.0, 1.0, -1.0)
    a = -1.0 / (sign + z)
    b = x * y * a
    first = np.stack([1.0 + sign * x * x * a, sign * b, -sign * x], axis=1)
    second = np.stack([b, sign + y * y * a, -y], axis=1)
    return np.stack([first, second], axis=2)


def root_points_mm(network: Network, state: State) -> Array:
    """All points (P, 3) in root axes."""
    turned = np.einsum("pij,pj->pi", state.rotations[network.point_body], state.points_mm)
    return np.asarray(turned + state.shifts_mm[network.point_body])


def _sight(network: Network, state: State, group: Group, root_points: Array, root_normals: Array) -> Sight:
    if not group.across:
        return Sight(
            state.points_mm[group.points],
            state.normals[group.faces],
            state.distances_mm[group.faces],
            group.axis,
            np.zeros(group.axis.shape),
            group.factor,
        )
    framed = (group.frame >= 0)[:, None]
    return Sight(
        root_points[group.points],
        root_normals[group.faces],
        state.distances_mm[group.faces],
        np.where(framed, np.einsum("kij,kj->ki", state.rotations[group.frame], group.axis), group.axis),
        np.where(framed, state.shifts_mm[group.frame], 0.0),
        group.factor,
    )


def _root_normals(network: Network, state: State) -> Array:
    return np.asarray(np.einsum("fij,fj->fi", state.rotations[network.face_body], state.normals))


def predict(network: Network, state: State, use: Bools | None = None) -> Array:
    """What each equation should read (m,), in its own unit; of a kind that `use` marks nowhere it stays nought."""
    out = np.zeros(len(network.equations))
    root_points, root_normals = root_points_mm(network, state), _root_normals(network, state)
    for group in network.layout.groups:
        if use is not None and not use[group.rows].any():
            continue
        out[group.rows] = FORMULAS[group.formula](_sight(network, state, group, root_points, root_normals)).value
    return out


def _values(network: Network, state: State, group: Group, sight: Sight, slopes: Slopes, basis: Array) -> list[Array]:
    """Chain from working axes to the unknowns, in the order of `_pattern`."""
    out: list[Array] = []
    bodies = network.point_body[group.points]
    face_bodies = network.face_body[group.faces]
    for s in range(group.points.shape[1]):
        gradient = slopes.x[:, s]
        local = np.einsum("kij,ki->kj", state.rotations[bodies[:, s]], gradient) if group.across else gradient
        out.append(local)
    for q in range(group.faces.shape[1]):
        gradient = slopes.n[:, q]
        if group.across:
            gradient = np.einsum("kij,ki->kj", state.rotations[face_bodies[:, q]], gradient)
        tilt = np.einsum("kij,ki->kj", basis[group.faces[:, q]], gradient)
        out.append(np.column_stack([tilt, slopes.d[:, q]]))
    if group.across:
        for s in range(group.points.shape[1]):
            arm = sight.x[:, s] - state.shifts_mm[bodies[:, s]]
            out.append(np.column_stack([cross(arm, slopes.x[:, s]), slopes.x[:, s]]))
        for q in range(group.faces.shape[1]):
            out.append(np.column_stack([cross(sight.n[:, q], slopes.n[:, q]), np.zeros((len(group.rows), 3))]))
        out.append(np.column_stack([cross(sight.axis, slopes.axis), slopes.origin]))
    return [part.ravel() for part in out]


def predict_and_jacobian(network: Network, state: State, use: Bools | None = None) -> tuple[Array, csr_matrix]:
    """`predict` and `jacobian` in one pass; of a kind that `use` marks nowhere both stay nought."""
    layout = network.layout
    value = np.zeros(len(network.equations))
    parts: list[Array] = []
    root_points, root_normals = root_points_mm(network, state), _root_normals(network, state)
    basis = tangents(state.normals)
    for group in layout.groups:
        if use is not None and not use[group.rows].any():
            ends = group.points.shape[1] + group.faces.shape[1]
            parts.append(np.zeros(len(group.rows) * (3 * ends + (6 * ends + 6 if group.across else 0))))
            continue
        sight = _sight(network, state, group, root_points, root_normals)
        slopes = FORMULAS[group.formula](sight)
        value[group.rows] = slopes.value
        parts.extend(_values(network, state, group, sight, slopes, basis))
    count = len(layout.indices)
    weights = np.concatenate(parts) if parts else np.zeros(0)
    data = np.bincount(layout.slot, weights=weights, minlength=count + 1)[:count] if parts else np.zeros(0)
    shape = (len(network.equations), layout.size)
    return value, csr_matrix((data, layout.indices, layout.indptr), shape=shape)


def jacobian(network: Network, state: State) -> csr_matrix:
    """Slopes (m, n) of `predict` along the step of `stepped`, analytic, in the equation's unit per mm or radian."""
    return predict_and_jacobian(network, state)[1]


def stepped(network: Network, state: State, delta: Array) -> State:
    """The state after a step (n,)."""
    points, faces = len(network.point_names), len(network.face_names)
    move = delta[: 3 * points].reshape(points, 3)
    tilt = delta[3 * points : 3 * (points + faces)].reshape(faces, 3)
    normals = state.normals + np.einsum("fij,fj->fi", tangents(state.normals), tilt[:, :2])
    normals = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    rotations, shifts = state.rotations.copy(), state.shifts_mm.copy()
    for body, at in enumerate(network.pose_at):
        if at >= 0:
            rotations[body] = turn(delta[at : at + 3]) @ rotations[body]
            shifts[body] = shifts[body] + delta[at + 3 : at + 6]
    return State(state.points_mm + move, normals, state.distances_mm + tilt[:, 2], rotations, shifts)


def with_equations(network: Network, equations: Sequence[Equation]) -> Network:
    """The same bodies, points and faces under other equations, for asking what readings not taken would say."""
    return assemble(
        network.body_names,
        network.root,
        network.point_names,
        network.point_body.tolist(),
        network.face_names,
        network.face_body.tolist(),
        equations,
    )
