"""Faces through located points: a state in, normals and distances out, the sign by the way each looks."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build, FaceWay
from halfshaft.measure.equations import cross, lengths
from halfshaft.measure.robust import costs
from halfshaft.measure.system import Network, State, tangents

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

WAY = {
    FaceWay.LEFT: (0.0, 1.0, 0.0),
    FaceWay.RIGHT: (0.0, -1.0, 0.0),
    FaceWay.UP: (0.0, 0.0, 1.0),
    FaceWay.DOWN: (0.0, 0.0, -1.0),
    FaceWay.FRONT: (1.0, 0.0, 0.0),
    FaceWay.REAR: (-1.0, 0.0, 0.0),
}
_MOST_TRIPLES = 20
_POINT_MM = 2.0  # what a point may be off before the faces are settled with everything
_LOOK_RAD = 0.4
_STEPS = 5


def look_of(network: Network, build: Build, face: int) -> Array | None:
    """The way (3,) the builder says a face looks, in its own body's axes."""
    body, _, name = network.face_names[face].partition(".")
    told = build.body.get(body)
    return np.array(WAY[told.face[name].looks]) if told is not None and name in told.face else None


def with_faces(network: Network, build: Build, state: State, use: Bools, known: Bools) -> tuple[State, Bools]:
    """The state with every face that located points of its own body hold, and which faces (F,) those are.

    Three points hold one, or two and more in a line where a bevel is read to it.
    """
    normals, distances = state.normals.copy(), state.distances_mm.copy()
    found = np.zeros(len(network.face_names), dtype=bool)
    rows: dict[int, list[tuple[int, float, float]]] = {}
    for i in np.flatnonzero(use):
        eq = network.equations[i]
        if eq.kind != "onface" or not known[eq.points[0]]:
            continue
        if network.point_body[eq.points[0]] == network.face_body[eq.faces[0]]:
            rows.setdefault(eq.faces[0], []).append((eq.points[0], eq.value, eq.sigma))
    bevelled = {
        f for i in np.flatnonzero(use) if network.equations[i].kind == "bevel" for f in network.equations[i].faces
    }
    for face, told in rows.items():
        points, standoff = state.points_mm[[t[0] for t in told]], np.array([t[1] for t in told])
        look = look_of(network, build, face)
        fitted = _plane(points, standoff, np.array([t[2] for t in told]), look)
        if fitted is None and look is not None and face in bevelled:
            fitted = _through_line(points, standoff, look)
        if fitted is not None:
            normals[face], distances[face] = fitted
            found[face] = True
    return replace(state, normals=normals, distances_mm=distances), found


def _plane(points: Array, standoff: Array, sigma: Array, look: Array | None) -> tuple[Array, float] | None:
    spread = np.hypot(sigma, _POINT_MM)
    triples = list(combinations(range(len(points)), 3))
    if not triples:
        return None
    if len(triples) > _MOST_TRIPLES:
        chosen = np.random.default_rng(0).choice(len(triples), _MOST_TRIPLES, replace=False)
        triples = [triples[i] for i in chosen]
    chosen_points = points[triples]  # (t, 3, 3)
    one, two = chosen_points[:, 1] - chosen_points[:, 0], chosen_points[:, 2] - chosen_points[:, 0]
    normals = cross(one, two)
    size = lengths(normals)
    wide = (size >= 1e-3 * np.maximum(lengths(one), lengths(two)) ** 2) & (size >= 1.0)
    if not wide.any():
        return None
    normals = normals[wide] / size[wide, None]
    first = np.zeros((len(normals), len(points)))
    np.put_along_axis(first, np.asarray(triples)[wide], 1.0, axis=1)
    starts = np.stack([normals, -normals], axis=1).reshape(-1, 3)
    n, d = _fitted(points, standoff, spread, look, starts, np.repeat(first, 2, axis=0))
    cost = costs((n @ points.T - d[:, None] - standoff) / spread, 2.0).sum(axis=1)
    if look is not None:
        cost = cost + 0.5 * (1.0 - n @ look)
    best = int(np.argmin(cost))
    return n[best], float(d[best])


def _through_line(points: Array, standoff: Array, look: Array) -> tuple[Array, float] | None:
    """The plane through points in a line that looks the way told; the bevel turns it about the line later."""
    away = points - points.mean(axis=0)
    _, size, ways = np.linalg.svd(away, full_matrices=False)
    if len(points) < 2 or float(size[0]) < 1.0:
        return None
    normal = look - float(look @ ways[0]) * ways[0]
    length = float(np.linalg.norm(normal))
    if length < 0.1:
        return None
    normal = normal / length
    return normal, float(np.median(points @ normal - standoff))


def _fitted(
    points: Array, standoff: Array, spread: Array, look: Array | None, normals: Array, first: Array
) -> tuple[Array, Array]:
    """Normals (k, 3) and distances (k,) of least robust misfit from as many starts; `look` steadies points that lie
    nearly in a line.

    The points marked 1 in `first` (k, n) alone count in the first step.
    """
    n, weight = normals, first
    d = (n @ points.T - standoff)[first > 0.0].reshape(len(n), 3).mean(axis=1)
    for _ in range(_STEPS):
        basis = tangents(n)
        root = np.sqrt(weight) / spread
        slopes = np.concatenate([points @ basis, np.full((*root.shape, 1), -1.0)], axis=2) * root[:, :, None]
        off = (standoff - n @ points.T + d[:, None]) * root
        if look is not None:
            steady = np.concatenate([basis / _LOOK_RAD, np.zeros((len(n), 3, 1))], axis=2)
            slopes = np.concatenate([slopes, steady], axis=1)
            off = np.concatenate([off, (look - n) / _LOOK_RAD], axis=1)
        least = np.finfo(float).eps * max(slopes.shape[1:])
        step = (np.linalg.pinv(slopes, rcond=least) @ off[:, :, None])[:, :2, 0]
        step = step * np.minimum(1.0, 0.5 / np.maximum(np.linalg.norm(step, axis=1), 1e-12))[:, None]
        n = n + (basis @ step[:, :, None])[:, :, 0]
        n = n / lengths(n)[:, None]
        counts = np.maximum(weight, 1e-6)
        d = ((n @ points.T - standoff) * counts).sum(axis=1) / counts.sum(axis=1)
        weight = (4.0 / (4.0 + ((n @ points.T - d[:, None] - standoff) / spread) ** 2)) ** 2
    return n, d
