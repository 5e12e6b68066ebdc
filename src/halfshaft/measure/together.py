"""Several points at once, all others held: many starts in, the places each settles at and what it costs out.

A state may be wrong in several points that agree with each other; then no point alone has a better place. Here a few
points that hang together are thrown anew and settled jointly, many throws side by side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.measure.equations import FORMULAS, Sight
from halfshaft.measure.robust import LIMIT, costs
from halfshaft.measure.system import Group, Network, State, root_points_mm

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_HEARD = 0.7  # part of the readings that a throw hears until the last limit
_KICK_MM = 40.0
_QUIET = 0.25  # part of the throws that hear all


@dataclass(frozen=True, eq=False)
class Thrown:
    """Points (k, f, 3) in own axes; poses (k, 3, 3) and (k, 3) of the body that moves; costs (k,)."""

    places_mm: Array
    rotations: Array
    shifts_mm: Array
    cost: Array


@dataclass(frozen=True, eq=False)
class _Part:
    """Equations of one group that touch what is free; `slot` (e, s) index among the free points, -1 where held."""

    group: Group
    slot: Ints
    spots: Array  # (e, s, 3) in working axes as held
    turns: Array  # (e, s, 3, 3) own axes of each point to working axes, where its body stands still
    shifts: Array  # (e, s, 3)
    normals: Array
    distances: Array
    axis: Array
    origin: Array
    factor: Array
    first: int  # of its rows among all rows
    values: Array
    sigmas: Array
    moves: Bools  # (e, s) points, (e, q) faces and (e,) frames of the body that moves
    face_moves: Bools
    frame_moves: Bools
    own_normals: Array  # (e, q, 3), (e, 3) in the axes of that body
    own_axis: Array


def settle_together(
    network: Network,
    state: State,
    use: Bools,
    free: Ints,
    starts_mm: Array,
    rng: np.random.Generator | None = None,
    limits: Sequence[float] = (200.0, 60.0, 20.0, 8.0, LIMIT),
    steps: int = 5,
    body: int = -1,
    poses: tuple[Array, Array] | None = None,
    keep: int = 0,
) -> Thrown:
    """Settle the points `free` (f,) jointly from each of `starts_mm` (k, f, 3), own axes.

    With `body` its pose settles too, from `poses` (k, 3, 3) and (k, 3) or from where it stands; `free` then holds all
    points of it that count. With `rng` three throws in four hear a random part of the readings until the last limit,
    so that some go without the slips (consensus after M. A. Fischler and R. C. Bolles, CACM 24, 1981, from memory).
    With `keep` only so many of the cheapest, and the first, go on once half the limits are through.
    """
    parts, rows = _parts(network, state, use, free, body)
    x = np.array(starts_mm, dtype=float)
    k, f = x.shape[:2]
    if poses is None:
        at = max(body, 0)
        poses = (np.repeat(state.rotations[at][None], k, axis=0), np.repeat(state.shifts_mm[at][None], k, axis=0))
    turned, shifted = poses[0].copy(), poses[1].copy()
    ears = None
    if rng is not None:
        ears = (rng.random((k, rows)) < _HEARD) | (np.arange(k) < 1 + _QUIET * k)[:, None]
    size = 3 * f + (6 if body >= 0 else 0)
    eye = np.arange(size)
    cost = np.zeros(k)
    for number, limit in enumerate(limits):
        if keep and 2 * number in (len(limits), len(limits) + 1) and k > keep:
            full = _cost(parts, rows, x, turned, shifted, body, limit, None)[0]
            chosen = np.append(0, 1 + np.argsort(full[1:])[: keep - 1])
            x, turned, shifted = x[chosen], turned[chosen], shifted[chosen]
            ears = ears[chosen] if ears is not None else None
            k = keep
        heard = ears if limit != limits[-1] else None
        damping = np.full(k, 1e-3)
        cost, matrix, pull = _cost(parts, rows, x, turned, shifted, body, limit, heard)
        for _ in range(steps):
            lifted = matrix.copy()
            diag = np.einsum("kii->ki", matrix)
            lifted[:, eye, eye] += damping[:, None] * np.maximum(diag, 1e-3 * np.median(diag)) + 1e-9
            move = np.linalg.solve(lifted, pull[..., None])[..., 0]
            step = move[:, : 3 * f].reshape(k, f, 3)
            length = np.linalg.norm(step, axis=2, keepdims=True)
            new_x = x + step * np.minimum(1.0, 1000.0 / np.maximum(length, 1e-9))
            new_turned, new_shifted = turned, shifted
            if body >= 0:
                angle = np.linalg.norm(move[:, 3 * f : 3 * f + 3], axis=1, keepdims=True)
                spin = move[:, 3 * f : 3 * f + 3] * np.minimum(1.0, 0.7 / np.maximum(angle, 1e-9))
                new_turned, new_shifted = turns_of(spin) @ turned, shifted + move[:, 3 * f + 3 :]
            new_cost, new_matrix, new_pull = _cost(parts, rows, new_x, new_turned, new_shifted, body, limit, heard)
            ok = new_cost <= cost
            gained = float(np.max(cost - new_cost, initial=0.0))
            x = np.where(ok[:, None, None], new_x, x)
            turned = np.where(ok[:, None, None], new_turned, turned)
            shifted = np.where(ok[:, None], new_shifted, shifted)
            cost = np.where(ok, new_cost, cost)
            matrix = np.where(ok[:, None, None], new_matrix, matrix)
            pull = np.where(ok[:, None], new_pull, pull)
            damping = np.clip(np.where(ok, damping / 8.0, damping * 10.0), 1e-9, 1e4)
            if gained < 1e-3:
                break
    return Thrown(x, turned, shifted, cost)


def turns_of(rotvec_rad: Array) -> Array:
    """Rodrigues' formula for many rotation vectors (k, 3) at once."""
    angle = np.linalg.norm(rotvec_rad, axis=1)[:, None, None]
    x, y, z = rotvec_rad.T
    nought = np.zeros_like(x)
    k = np.array([[nought, -z, y], [z, nought, -x], [-y, x, nought]]).transpose(2, 0, 1)
    return np.asarray(np.eye(3) + np.sinc(angle / np.pi) * k + 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2 * (k @ k))


def _parts(network: Network, state: State, use: Bools, free: Ints, body: int) -> tuple[list[_Part], int]:
    order = np.full(len(network.point_names), -1, dtype=np.intp)
    order[free] = np.arange(len(free))
    all_root = root_points_mm(network, state)
    ways = np.einsum("fij,fj->fi", state.rotations[network.face_body], state.normals)
    out: list[_Part] = []
    count = 0
    for group in network.layout.groups:
        slots = order[group.points]
        touched = (slots >= 0).any(axis=1)
        if group.across:
            touched |= (network.face_body[group.faces] == body).any(axis=1) | (group.frame == body) & (body >= 0)
        at = np.flatnonzero(use[group.rows] & touched)
        if len(at) == 0:
            continue
        which, faces, frame = group.points[at], group.faces[at], group.frame[at]
        axis, origin = group.axis[at], np.zeros((len(at), 3))
        turns = np.broadcast_to(np.eye(3), (*which.shape, 3, 3))
        shifts = np.zeros((*which.shape, 3))
        if group.across:
            framed = (frame >= 0)[:, None]
            axis = np.where(framed, np.einsum("kij,kj->ki", state.rotations[frame], axis), axis)
            origin = np.where(framed, state.shifts_mm[frame], 0.0)
            turns = state.rotations[network.point_body[which]]
            shifts = state.shifts_mm[network.point_body[which]]
        rows = group.rows[at]
        moving = body if group.across else -2
        out.append(
            _Part(
                group,
                slots[at],
                (all_root if group.across else state.points_mm)[which],
                turns,
                shifts,
                (ways if group.across else state.normals)[faces],
                state.distances_mm[faces],
                axis,
                origin,
                group.factor[at],
                count,
                network.values[rows],
                network.sigmas[rows],
                network.point_body[which] == moving,
                network.face_body[faces] == moving,
                (frame == moving) & (moving >= 0),
                state.normals[faces],
                group.axis[at],
            )
        )
        count += len(at)
    return out, count


def _cost(
    parts: Sequence[_Part],
    rows: int,
    x: Array,
    turned: Array,
    shifted: Array,
    body: int,
    limit: float,
    heard: Bools | None,
) -> tuple[Array, Array, Array]:
    k, f = x.shape[:2]
    slopes_all = np.zeros((k, rows, f, 3))
    pose_all = np.zeros((k, rows, 6))
    off_all = np.zeros((k, rows))
    for part in parts:
        e, s = part.slot.shape
        spots = np.broadcast_to(part.spots, (k, e, s, 3)).copy()
        for j in range(s):
            on = np.flatnonzero(part.slot[:, j] >= 0)
            local = x[:, part.slot[on, j]]
            if part.group.across:
                still = np.einsum("eij,kej->kei", part.turns[on, j], local) + part.shifts[on, j]
                swung = np.einsum("kij,kej->kei", turned, local) + shifted[:, None]
                local = np.where(part.moves[on, j, None], swung, still)
            spots[:, on, j] = local
        normals = np.broadcast_to(part.normals, (k, *part.normals.shape))
        axis = np.broadcast_to(part.axis, (k, e, 3))
        origin = np.broadcast_to(part.origin, (k, e, 3))
        if part.face_moves.any():
            swung = np.einsum("kij,eqj->keqi", turned, part.own_normals)
            normals = np.where(part.face_moves[..., None], swung, normals)
        if part.frame_moves.any():
            swung = np.einsum("kij,ej->kei", turned, part.own_axis)
            axis = np.where(part.frame_moves[:, None], swung, axis)
            origin = np.where(part.frame_moves[:, None], shifted[:, None], origin)
        slopes = FORMULAS[part.group.formula](
            Sight(
                spots.reshape(k * e, s, 3),
                normals.reshape(k * e, -1, 3),
                np.broadcast_to(part.distances, (k, *part.distances.shape)).reshape(k * e, -1),
                axis.reshape(k * e, 3),
                origin.reshape(k * e, 3),
                np.broadcast_to(part.factor, (k, e, 2)).reshape(k * e, 2),
            )
        )
        here = slice(part.first, part.first + e)
        off_all[:, here] = (part.values - slopes.value.reshape(k, e)) / part.sigmas
        gradient = slopes.x.reshape(k, e, s, 3) / part.sigmas[:, None, None]
        if body >= 0 and part.group.across:
            pose = pose_all[:, here]
            moved = gradient * part.moves[..., None]
            arm = spots - shifted[:, None, None]
            pose[..., :3] += np.cross(arm, moved).sum(axis=2)
            pose[..., 3:] += moved.sum(axis=2)
            if part.face_moves.any():
                tilt = slopes.n.reshape(k, e, -1, 3) / part.sigmas[:, None, None] * part.face_moves[..., None]
                pose[..., :3] += np.cross(normals, tilt).sum(axis=2)
            if part.frame_moves.any():
                by_axis = slopes.axis.reshape(k, e, 3) / part.sigmas[:, None] * part.frame_moves[:, None]
                pose[..., :3] += np.cross(axis, by_axis)
                pose[..., 3:] += slopes.origin.reshape(k, e, 3) / part.sigmas[:, None] * part.frame_moves[:, None]
        if part.group.across:
            still = np.einsum("esij,kesi->kesj", part.turns, gradient)
            if part.moves.any():
                swung = np.einsum("kij,kesi->kesj", turned, gradient)
                still = np.where(part.moves[..., None], swung, still)
            gradient = still
        for j in range(s):
            on = np.flatnonzero(part.slot[:, j] >= 0)
            slopes_all[:, part.first + on, part.slot[on, j]] = gradient[:, on, j]
    flat = slopes_all.reshape(k, rows, 3 * f)
    if body >= 0:
        flat = np.concatenate([flat, pose_all], axis=2)
    weight = (limit**2 / (limit**2 + off_all**2)) ** 2
    each = costs(off_all, limit)
    if heard is not None:
        weight, each = weight * heard, each * heard
    weighted = flat * weight[..., None]
    matrix = weighted.transpose(0, 2, 1) @ flat
    pull = np.einsum("ker,ke->kr", weighted, off_all)
    return each.sum(axis=1), matrix, pull


def thrown(
    state: State, free: Ints, mates: Sequence[Ints], cloud_mm: Array, rng: np.random.Generator, count: int
) -> Array:
    """Throws (count, f, 3) of the points `free`, the first as they are.

    Each point is kicked a little, goes to its image in the plane of three of its `mates`, or anywhere about the
    `cloud_mm` (c, 3).
    """
    low, high = cloud_mm.min(axis=0) - 100.0, cloud_mm.max(axis=0) + 100.0
    out = np.repeat(state.points_mm[free][None], count, axis=0)
    for i, point in enumerate(free):
        fate = rng.random(count)
        anywhere = fate > 0.6
        out[anywhere, i] = rng.uniform(low, high, size=(int(anywhere.sum()), 3))
        near = fate < 0.3
        out[near, i] += rng.normal(scale=_KICK_MM, size=(int(near.sum()), 3))
        if len(mates[i]) < 3:
            continue
        for k in np.flatnonzero(~near & ~anywhere):
            a, b, c = state.points_mm[rng.choice(mates[i], 3, replace=False)]
            normal = np.cross(b - a, c - a)
            size = float(np.linalg.norm(normal))
            if size > 1.0:
                normal = normal / size
                out[k, i] = state.points_mm[point] - 2.0 * float((state.points_mm[point] - a) @ normal) * normal
    out[0] = state.points_mm[free]
    return out
