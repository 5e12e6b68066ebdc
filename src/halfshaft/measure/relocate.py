"""One point at a time, all others held: where else could each point be? A state in, better places and rivals out.

Every point is tried from many starts at once: mirror images, random spots, where its lengths would have it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from halfshaft.measure.equations import FORMULAS, Sight
from halfshaft.measure.robust import LIMIT, costs
from halfshaft.measure.system import Group, Network, State, root_points_mm

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Tried:
    """For each asked point (p,): places (p, k, 3) it settled at, their costs (p, k); the first start is as it was."""

    points: Ints
    places_mm: Array
    cost: Array


@dataclass(frozen=True, eq=False)
class _Part:
    group: Group
    at: Ints  # rows within the group
    slot: int
    owner: Ints  # which of the asked points
    gather: csr_matrix  # (p, rows): sums over the rows of each point


def _parts(network: Network, use: Bools, order: Ints, count: int) -> list[_Part]:
    out = []
    for group in network.layout.groups:
        for slot in range(group.points.shape[1]):
            owner = order[group.points[:, slot]]
            at = np.flatnonzero((owner >= 0) & use[group.rows])
            if len(at):
                ones = csr_matrix((np.ones(len(at)), (owner[at], np.arange(len(at)))), shape=(count, len(at)))
                out.append(_Part(group, at, slot, owner[at], ones))
    return out


def try_places(
    network: Network,
    state: State,
    use: Bools,
    points: Ints,
    starts_mm: Array,
    limits: tuple[float, ...] = (200.0, 60.0, 20.0, 8.0, LIMIT),
    steps: int = 4,
    rng: np.random.Generator | None = None,
) -> Tried:
    """Settle each of `points` (p,) from each of `starts_mm` (p, k, 3), own axes, by its readings in `use` (m,).

    With `rng` all starts but the first ten hear a random part of the readings until the last limit, so that some
    go without the slips (consensus after M. A. Fischler and R. C. Bolles, CACM 24, 1981, from memory).
    """
    order = np.full(len(network.point_names), -1, dtype=np.intp)
    order[points] = np.arange(len(points))
    parts = _parts(network, use, order, len(points))
    x = np.array(starts_mm, dtype=float)
    damping = np.full(x.shape[:2], 1e-3)
    heard = _heard(parts, x.shape[1], rng) if rng is not None else None
    for limit in limits:
        if limit == limits[-1]:
            heard = None
        cost, matrix, pull = _cost(network, state, parts, points, x, limit, heard)
        for _ in range(steps):
            diag = np.einsum("pkii->pki", matrix)
            lift = damping[..., None] * diag.max(axis=2, keepdims=True) + 1e-12
            move = np.linalg.solve(matrix + lift[..., None] * np.eye(3), pull[..., None])[..., 0]
            size = np.linalg.norm(move, axis=2, keepdims=True)
            move = move * np.minimum(1.0, 1000.0 / np.maximum(size, 1e-9))
            trial = x + move
            new_cost, new_matrix, new_pull = _cost(network, state, parts, points, trial, limit, heard)
            ok = new_cost <= cost
            x = np.where(ok[..., None], trial, x)
            cost = np.where(ok, new_cost, cost)
            matrix = np.where(ok[..., None, None], new_matrix, matrix)
            pull = np.where(ok[..., None], new_pull, pull)
            damping = np.clip(np.where(ok, damping / 8.0, damping * 10.0), 1e-9, 1e4)
    best = _cost(network, state, parts, points, x, LIMIT)[0]
    return Tried(points, x, best)


def _heard(parts: list[_Part], starts: int, rng: np.random.Generator) -> list[Array]:
    """Ones and noughts (e, k) for each part: which readings each start hears."""
    out = []
    for part in parts:
        ears = (rng.random((len(part.at), starts)) > 0.35).astype(float)
        ears[:, :10] = 1.0
        out.append(ears)
    return out


def _cost(
    network: Network,
    state: State,
    parts: list[_Part],
    points: Ints,
    x: Array,
    limit: float,
    heard: list[Array] | None = None,
) -> tuple[Array, Array, Array]:
    p, k = x.shape[:2]
    cost = np.zeros((p, k))
    matrix = np.zeros((p, k, 3, 3))
    pull = np.zeros((p, k, 3))
    bodies = network.point_body[points]
    root = np.einsum("pij,pkj->pki", state.rotations[bodies], x) + state.shifts_mm[bodies][:, None, :]
    all_root = root_points_mm(network, state)
    normals = np.einsum("fij,fj->fi", state.rotations[network.face_body], state.normals)
    for number, part in enumerate(parts):
        group, at, e = part.group, part.at, len(part.at)
        which = group.points[at]
        spots = (all_root if group.across else state.points_mm)[which]
        spots = np.repeat(spots[:, None], k, axis=1)
        spots[:, :, part.slot] = (root if group.across else x)[part.owner]
        faces = group.faces[at]
        framed = (group.frame[at] >= 0)[:, None]
        axis, origin = group.axis[at], np.zeros((e, 3))
        if group.across:
            axis = np.where(framed, np.einsum("kij,kj->ki", state.rotations[group.frame[at]], axis), axis)
            origin = np.where(framed, state.shifts_mm[group.frame[at]], 0.0)

        def many(values: Array) -> Array:
            return np.repeat(values, k, axis=0)

        slopes = FORMULAS[group.formula](
            Sight(
                spots.reshape(e * k, -1, 3),
                many((normals if group.across else state.normals)[faces]),
                many(state.distances_mm[faces]),
                many(axis),
                many(origin),
                many(group.factor[at]),
            )
        )
        rows = group.rows[at]
        sigma = network.sigmas[rows][:, None]
        off = (network.values[rows][:, None] - slopes.value.reshape(e, k)) / sigma
        gradient = slopes.x[:, part.slot].reshape(e, k, 3) / sigma[..., None]
        if group.across:
            gradient = np.einsum("eij,eki->ekj", state.rotations[bodies[part.owner]], gradient)
        weight = (limit**2 / (limit**2 + off**2)) ** 2
        each = costs(off, limit)
        if heard is not None:
            weight, each = weight * heard[number], each * heard[number]
        outer = weight[..., None, None] * gradient[..., :, None] * gradient[..., None, :]
        cost += part.gather @ each
        matrix += (part.gather @ outer.reshape(e, -1)).reshape(p, k, 3, 3)
        pull += (part.gather @ ((weight * off)[..., None] * gradient).reshape(e, -1)).reshape(p, k, 3)
    return cost, matrix, pull


def starts_for(
    network: Network, state: State, points: Ints, known: Bools, rng: np.random.Generator, count: int = 24
) -> Array:
    """Starts (p, count, 3): as it is, mirrored along each axis and in the best plane of its body, and random spots."""
    out = np.empty((len(points), count, 3))
    for i, point in enumerate(points):
        here = state.points_mm[point]
        mates = np.flatnonzero(known & (network.point_body == network.point_body[point]))
        cloud = state.points_mm[mates] if len(mates) else state.points_mm
        low, high = cloud.min(axis=0) - 100.0, cloud.max(axis=0) + 100.0
        out[i] = rng.uniform(low, high, size=(count, 3))
        out[i, 0] = here
        out[i, 1] = here * (1.0, -1.0, 1.0)
        middle = cloud.mean(axis=0)
        for axis in range(3):
            out[i, 2 + axis] = here
            out[i, 2 + axis, axis] = 2.0 * middle[axis] - here[axis]
    return out
