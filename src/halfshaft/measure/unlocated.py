"""What the readings do not hold: a state and its slopes in, names with why, how free, and the reading to take out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags

from halfshaft.build.schema import Build
from halfshaft.measure.datum import body_moves, open_moves, reach_of
from halfshaft.measure.model import Unlocated
from halfshaft.measure.system import Network, State, jacobian
from halfshaft.measure.words import short_name

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

_OPEN = 1e-9  # of the normal matrix at unit diagonal
_MOVES = 1e-3  # part of an open way that an unknown must have to count as moving


def loose_ends(
    network: Network, build: Build, state: State, use: Bools, points: Bools, faces: Bools, bodies: Bools
) -> tuple[Bools, Bools, Bools, tuple[Unlocated, ...]]:
    """Points (P,), faces (F,), bodies (B,) that stand, and the rest by name."""
    ways = open_ways(network, state, use)
    points, faces, bodies = points.copy(), faces.copy(), bodies.copy()
    out: list[Unlocated] = []
    for body, at in enumerate(network.pose_at):
        if at < 0 or not (network.point_body == body).any():
            continue
        free = 6 if not bodies[body] else _free(ways[at : at + 6])
        if free:
            bodies[body] = False
            out.append(_body(build, network, state, body, points, free))
    loose = np.zeros(len(points), dtype=bool)
    free_of: dict[int, tuple[int, Array]] = {}
    for point, at in enumerate(network.point_at):
        if not points[point]:
            free_of[point] = (3, np.eye(3))
        else:
            free = _free(ways[at : at + 3])
            if free:
                free_of[point] = (free, np.linalg.svd(ways[at : at + 3], full_matrices=False)[0][:, :free])
        loose[point] = point in free_of
    points &= ~loose
    for point, (free, way) in free_of.items():
        out.append(_point(build, network, state, point, free, way, points))
    for face, at in enumerate(network.face_at):
        free = max(3 - _held_on(network, face, points), 1) if not faces[face] else _free(ways[at : at + 3])
        if free:
            faces[face] = False
            out.append(_face(build, network, face, free, points))
    return points, faces, bodies, tuple(out)


def open_ways(network: Network, state: State, use: Bools) -> Array:
    """Steps (n, k) that no used reading notices, the moves of whole bodies taken off; turns at an arm of a metre."""
    rows = np.flatnonzero(use)
    slopes = diags(1.0 / network.sigmas[rows]) @ jacobian(network, state)[rows]
    reach = reach_of(network, use)
    active = reach.columns(network)
    scale = np.ones(network.size)
    for at in network.face_at:
        scale[at : at + 2] = 1e-3
    for at in network.pose_at:
        if at >= 0:
            scale[at : at + 3] = 1e-3
    columns = np.flatnonzero(active)
    if len(columns) == 0:
        return np.zeros((network.size, 0))
    part = (slopes @ diags(scale))[:, columns]
    matrix = (part.T @ part).toarray()
    values, vectors = np.linalg.eigh(matrix)
    null = vectors[:, values < _OPEN * max(float(np.median(np.diag(matrix))), 1e-30)]
    weighted = csr_matrix(slopes)
    if null.shape[1]:
        every = [body_moves(network, state, reach, int(b)) for b in np.flatnonzero(reach.bodies)]
        # only the moves that no reading notices are the datum's to hold; what is open beside them is a loose end
        basis = _spanned([open_moves(weighted, moves)[columns] / scale[columns, None] for moves in every])
        null = null - basis @ (basis.T @ null)
        u, size, _ = np.linalg.svd(null, full_matrices=False)
        null = u[:, size > 1e-5]
        # where a loose point alone ties the body to its axes, the body drifts against the point: told as the point
        null = _least_spread(null, _spanned([moves[columns] / scale[columns, None] for moves in every]))
    out = np.zeros((network.size, null.shape[1]))
    out[columns] = null
    return out


def _spanned(parts: list[Array]) -> Array:
    """Unit columns, square to each other, that span those of all parts."""
    basis, size, _ = np.linalg.svd(np.hstack(parts), full_matrices=False)
    return np.asarray(basis[:, size > 1e-9 * float(size.max(initial=0.0))])


def _least_spread(null: Array, basis: Array) -> Array:
    """Each way less the move of whole bodies that leaves most unknowns at rest: least sum of sizes, reweighted."""
    out = null.copy()
    for k in range(null.shape[1]):
        for _ in range(30):
            weight = 1.0 / np.sqrt(np.abs(out[:, k]) + 1e-9)
            fit = np.linalg.lstsq(weight[:, None] * basis, weight * null[:, k], rcond=None)[0]
            out[:, k] = null[:, k] - basis @ fit
        out[:, k] /= max(float(np.linalg.norm(out[:, k])), 1e-12)
    return out


def _free(block: Array) -> int:
    if block.shape[1] == 0:
        return 0
    size = np.linalg.svd(block, compute_uv=False)
    return int(np.sum(size > max(_MOVES, 0.02 * float(size[0]))) if size[0] > _MOVES else 0)


def _point(build: Build, network: Network, state: State, point: int, free: int, way: Array, held: Bools) -> Unlocated:
    name = network.point_names[point]
    short = short_name(build, name)
    mates = _mates(network, state, point, way, held, free)
    read = sorted({eq.row for eq in network.equations if point in eq.points})
    if not read:
        why = "no reading reaches it"
    elif free == 3:
        why = f"{len(read)} reading{'s' if len(read) > 1 else ''} of it do not hold it in any direction"
    else:
        why = f"its readings leave it free in {'one direction' if free == 1 else 'two directions'}"
    if mates:
        take = "; ".join(f"tape, {short} {short_name(build, m)}" for m in mates)
    else:
        take = f"height, {short}; offset, {short}; station, {short}"
    return Unlocated(name, why, take, free)


def _mates(network: Network, state: State, point: int, way: Array, held: Bools, count: int) -> list[str]:
    """Held points of the same body whose tapes would see the open ways best, one after the other."""
    body = network.point_body[point]
    near = np.flatnonzero(held & (network.point_body == body))
    taken = {p for eq in network.equations if eq.kind == "distance" and point in eq.points for p in eq.points}
    near = np.array([p for p in near if p != point and int(p) not in taken], dtype=np.intp)
    if len(near) == 0:
        return []
    here = state.points_mm[point]
    if count == 3:
        here = state.points_mm[near].mean(axis=0)
        return _spread_out(network, state, near)
    lines = state.points_mm[near] - here
    lines = lines / np.maximum(np.linalg.norm(lines, axis=1, keepdims=True), 1.0)
    left = lines @ way
    out: list[str] = []
    for _ in range(count):
        size = np.linalg.norm(left, axis=1)
        k = int(np.argmax(size))
        if size[k] < 1e-3:
            break
        out.append(network.point_names[near[k]])
        unit = left[k] / size[k]
        left = left - np.outer(left @ unit, unit)
    return out


def _spread_out(network: Network, state: State, near: NDArray[np.intp]) -> list[str]:
    """Up to four held points far from each other and not in one plane: ends for tapes to a point of unknown place."""
    spots = state.points_mm[near]
    middle = spots.mean(axis=0)
    chosen = [int(np.argmax(np.linalg.norm(spots - middle, axis=1)))]
    while len(chosen) < min(4, len(near)):
        away = spots - spots[chosen[0]]
        if len(chosen) > 1:
            basis = np.linalg.qr((spots[chosen[1:]] - spots[chosen[0]]).T)[0]
            away = away - away @ basis @ basis.T
        size = np.linalg.norm(away, axis=1)
        k = int(np.argmax(size))
        if size[k] < 1.0 or k in chosen:
            break
        chosen.append(k)
    return [network.point_names[near[k]] for k in chosen]


def _held_on(network: Network, face: int, held: Bools) -> int:
    """Located points that are read on a face."""
    on = {eq.points[0] for eq in network.equations if eq.kind == "onface" and face in eq.faces}
    return sum(1 for p in on if held[p])


def _face(build: Build, network: Network, face: int, free: int, held: Bools) -> Unlocated:
    name = network.face_names[face]
    short = short_name(build, name)
    good = _held_on(network, face, held)
    why = f"{good} located point{'' if good == 1 else 's'} on it, and a face wants three that are not in one line"
    return Unlocated(
        name, why, f"onface, P {short}, 0 for {max(3 - good, 1)} more located points P away from the others", free
    )


def _body(build: Build, network: Network, state: State, body: int, held: Bools, free: int) -> Unlocated:
    name, root = network.body_names[body], network.body_names[network.root]
    mine = np.flatnonzero(held & (network.point_body == body))
    far = np.flatnonzero(held & (network.point_body == network.root))
    across = sum(1 for eq in network.equations if len({int(network.point_body[p]) for p in eq.points}) > 1)
    why = f"{across} readings between it and others leave its place against {root} open"
    if len(mine) < 3 or len(far) < 3:
        return Unlocated(name, why, f"tape between three points of {name} and three of {root}", free)
    ends, starts = _spread_out(network, state, far)[:3], _spread_out(network, state, mine)[:3]
    pairs = [(s, e) for k, s in enumerate(starts) for e in (ends[k % len(ends)], ends[(k + 1) % len(ends)])]
    take = "; ".join(f"tape, {short_name(build, s)} {short_name(build, e)}" for s, e in pairs[: max(free, 1)])
    return Unlocated(name, why, take, free)
