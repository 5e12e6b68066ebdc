"""Where one body stands against others, and how its axes lie in it: a state in, the likeliest poses or axes out.

Many turns are tried at once, each settled with the slips' pull bounded as in robust.py.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry.pose import turn
from halfshaft.measure.equations import FORMULAS, Sight, cross
from halfshaft.measure.robust import LIMIT, costs
from halfshaft.measure.system import Network, State, root_points_mm
from halfshaft.measure.together import turns_of

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

# A wide limit sees far but blurs a few readings among slips into one wrong place; a narrow one needs near starts.
WIDE, NARROW = (400.0, 150.0, 60.0, 25.0, 10.0, LIMIT), (100.0, 60.0, 25.0, 10.0, LIMIT)
_KEEP_AT, _KEEP = 60.0, 60  # from here only the better starts go on
_POSES, _AXES = 6, 3  # told at most


def turns_to_try(rng: np.random.Generator, more: int = 90) -> Array:
    """Rotations (k, 3, 3): as it stands, the square ways a box can lie, and random ones."""
    square = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            matrix = np.eye(3)[list(order)] * np.array(signs)[:, None]
            if np.linalg.det(matrix) > 0.0:
                square.append(matrix)
    square.sort(key=lambda m: -float(np.trace(m)))
    free = [turn(np.pi * rng.uniform(0.2, 1.0) * v / np.linalg.norm(v)) for v in rng.normal(size=(more, 3))]
    return np.array([*square, *free])


def poses_of(
    network: Network, state: State, use: Bools, body: int, rng: np.random.Generator, limits: tuple[float, ...]
) -> list[tuple[float, State]]:
    """States with the body seated, cheapest first, alike ones once; `use` marks the readings across.

    `limits`: how the limit narrows on the way down, WIDE or NARROW.
    """
    rotations = turns_to_try(rng)
    root = root_points_mm(network, state)
    mine: list[int] = []
    others: list[int] = []
    for group in network.layout.groups:
        at = use[group.rows]
        for point in group.points[at].ravel():
            (mine if network.point_body[point] == body else others).append(int(point))
    local = state.points_mm[mine] if mine else np.zeros((1, 3))
    far = root[others] if others else root[network.point_body != body]
    middle = far.mean(axis=0) if len(far) else np.zeros(3)
    arms = np.einsum("kij,j->ki", rotations, local.mean(axis=0))
    shifts = middle - arms
    spread = far.std(axis=0) if len(far) else np.full(3, 100.0)
    rotations = np.concatenate([rotations, rotations])
    shifts = np.concatenate([shifts, shifts + rng.normal(size=shifts.shape) * spread])
    rotations, shifts, cost = _descended(network, state, use, body, rotations, shifts, limits)
    return _likeliest(state, body, rotations, shifts, cost, _POSES)


def axes_of(network: Network, state: State, use: Bools, body: int, mine: Bools) -> list[tuple[float, State]]:
    """States with the body where it is and its axes laid otherwise in it, cheapest first.

    `use` (m,) marks readings that are said along the body's axes, `mine` (P,) its points that are placed.
    """
    rotations = turns_to_try(np.random.default_rng(0)) @ state.rotations[body]
    middle = state.points_mm[mine].mean(axis=0)
    shifts = state.rotations[body] @ middle + state.shifts_mm[body] - rotations @ middle
    rotations, shifts, cost = _descended(network, state, use, body, rotations, shifts, WIDE, axes_alone=True)
    points, planes = network.point_body == body, network.face_body == body
    out = []
    for price, laid in _likeliest(state, body, rotations, shifts, cost, _AXES):
        turned = laid.rotations[body].T @ state.rotations[body]
        shifted = laid.rotations[body].T @ (state.shifts_mm[body] - laid.shifts_mm[body])
        places, normals, distances = state.points_mm.copy(), state.normals.copy(), state.distances_mm.copy()
        places[points] = places[points] @ turned.T + shifted
        normals[planes] = normals[planes] @ turned.T
        distances[planes] += normals[planes] @ shifted
        out.append((price, replace(laid, points_mm=places, normals=normals, distances_mm=distances)))
    return out


def _likeliest(
    state: State, body: int, rotations: Array, shifts: Array, cost: Array, most: int
) -> list[tuple[float, State]]:
    """The cheapest poses, alike ones once."""
    out: list[tuple[float, State]] = []
    for k in np.argsort(cost):
        if any(
            np.linalg.norm(s.rotations[body] - rotations[k]) < 0.03
            and np.linalg.norm(s.shifts_mm[body] - shifts[k]) < 30.0
            for _, s in out
        ):
            continue
        all_rotations, all_shifts = state.rotations.copy(), state.shifts_mm.copy()
        all_rotations[body], all_shifts[body] = rotations[k], shifts[k]
        out.append((float(cost[k]), replace(state, rotations=all_rotations, shifts_mm=all_shifts)))
        if len(out) == most:
            break
    return out


def _descended(
    network: Network,
    state: State,
    use: Bools,
    body: int,
    rotations: Array,
    shifts: Array,
    limits: tuple[float, ...],
    axes_alone: bool = False,
) -> tuple[Array, Array, Array]:
    """Poses settled from each start while the limit narrows, with what they cost.

    With `axes_alone` the body's points and faces stay where they are in the root's axes.
    """
    damping = np.full(len(rotations), 1e-2)
    for limit in limits:
        if limit == _KEEP_AT:
            cost = _seated(network, state, use, body, rotations, shifts, limit, axes_alone)[0]
            keep = np.argsort(cost)[:_KEEP]
            rotations, shifts, damping = rotations[keep], shifts[keep], damping[keep]
        cost, matrix, pull = _seated(network, state, use, body, rotations, shifts, limit, axes_alone)
        for _ in range(6):
            scale = np.einsum("kii->ki", matrix)
            lift = damping[:, None] * scale + 1e-9 * scale.max(axis=1, keepdims=True) + 1e-12
            step = np.linalg.solve(matrix + lift[:, :, None] * np.eye(6), pull[:, :, None])[:, :, 0]
            size = np.linalg.norm(step[:, :3], axis=1, keepdims=True)
            step = step * np.minimum(1.0, 1.0 / np.maximum(size, 1e-9))
            new_rotations = turns_of(step[:, :3]) @ rotations
            new_shifts = shifts + step[:, 3:]
            new_cost, new_matrix, new_pull = _seated(
                network, state, use, body, new_rotations, new_shifts, limit, axes_alone
            )
            ok = new_cost <= cost
            rotations = np.where(ok[:, None, None], new_rotations, rotations)
            shifts = np.where(ok[:, None], new_shifts, shifts)
            cost, matrix = np.where(ok, new_cost, cost), np.where(ok[:, None, None], new_matrix, matrix)
            pull = np.where(ok[:, None], new_pull, pull)
            damping = np.clip(np.where(ok, damping / 8.0, damping * 10.0), 1e-9, 1e4)
    return rotations, shifts, cost


def _seated(
    network: Network,
    state: State,
    use: Bools,
    body: int,
    rotations: Array,
    shifts: Array,
    limit: float,
    axes_alone: bool,
) -> tuple[Array, Array, Array]:
    k = len(rotations)
    cost, matrix, pull = np.zeros(k), np.zeros((k, 6, 6)), np.zeros((k, 6))
    still = root_points_mm(network, state)
    ways = np.einsum("fij,fj->fi", state.rotations[network.face_body], state.normals)
    for group in network.layout.groups:
        at = np.flatnonzero(use[group.rows])
        if len(at) == 0:
            continue
        e = len(at)
        which, faces, frame = group.points[at], group.faces[at], group.frame[at]
        moves = (network.point_body[which] == body) & (not axes_alone)
        turned = np.einsum("kij,esj->kesi", rotations, state.points_mm[which])
        spots = np.where(moves[..., None], turned + shifts[:, None, None, :], still[which])
        face_moves = (network.face_body[faces] == body) & (not axes_alone)
        normals = np.where(
            face_moves[..., None], np.einsum("kij,eqj->keqi", rotations, state.normals[faces]), ways[faces]
        )
        frame_moves, framed = frame == body, frame >= 0
        fixed_axis = np.where(
            framed[:, None], np.einsum("eij,ej->ei", state.rotations[frame], group.axis[at]), group.axis[at]
        )
        axis = np.where(frame_moves[:, None], np.einsum("kij,ej->kei", rotations, group.axis[at]), fixed_axis)
        fixed_origin = np.where(framed[:, None], state.shifts_mm[frame], 0.0)
        origin = np.where(frame_moves[:, None], shifts[:, None, :], fixed_origin)
        slopes = FORMULAS[group.formula](
            Sight(
                spots.reshape(k * e, -1, 3),
                normals.reshape(k * e, -1, 3),
                np.tile(state.distances_mm[faces], (k, 1)),
                axis.reshape(k * e, 3),
                origin.reshape(k * e, 3),
                np.tile(group.factor[at], (k, 1)),
            )
        )
        sigma = network.sigmas[group.rows[at]]
        off = (network.values[group.rows[at]] - slopes.value.reshape(k, e)) / sigma
        gradient = np.zeros((k, e, 6))
        by_point = slopes.x.reshape(k, e, -1, 3) * moves[..., None]
        arm = spots - shifts[:, None, None, :]
        gradient[..., :3] += cross(arm, by_point).sum(axis=2)
        gradient[..., 3:] += by_point.sum(axis=2)
        by_face = slopes.n.reshape(k, e, -1, 3) * face_moves[..., None]
        gradient[..., :3] += cross(normals, by_face).sum(axis=2)
        by_axis = slopes.axis.reshape(k, e, 3) * frame_moves[:, None]
        gradient[..., :3] += cross(axis, by_axis)
        gradient[..., 3:] += slopes.origin.reshape(k, e, 3) * frame_moves[:, None]
        gradient /= sigma[:, None]
        weight = (limit**2 / (limit**2 + off**2)) ** 2
        cost += costs(off, limit).sum(axis=1)
        matrix += np.einsum("ke,kei,kej->kij", weight, gradient, gradient)
        pull += np.einsum("ke,ke,kei->ki", weight, off, gradient)
    return cost, matrix, pull
