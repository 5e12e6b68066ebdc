"""Faces through located points: a state in, normals and distances out, the sign by the way each looks."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build, FaceWay
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
    best: tuple[float, Array, float] | None = None
    triples = list(combinations(range(len(points)), 3))
    if len(triples) > _MOST_TRIPLES:
        chosen = np.random.default_rng(0).choice(len(triples), _MOST_TRIPLES, replace=False)
        triples = [triples[i] for i in chosen]
    for triple in triples:
        at = list(triple)
        a, b, c = points[at]
        normal = np.cross(b - a, c - a)
        size = float(np.linalg.norm(normal))
        if size < 1e-3 * max(float(np.linalg.norm(b - a)), float(np.linalg.norm(c - a))) ** 2 or size < 1.0:
            continue
        for sign in (1.0, -1.0):
            n, d = _fitted(points, standoff, spread, look, sign * normal / size, at)
            cost = float(costs((points @ n - d - standoff) / spread, 2.0).sum())
            if look is not None:
                cost += 0.5 * (1.0 - float(n @ look))
            if best is None or cost < best[0]:
                best = (cost, n, d)
    return None if best is None else (best[1], best[2])


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
    points: Array, standoff: Array, spread: Array, look: Array | None, normal: Array, first: list[int]
) -> tuple[Array, float]:
    """Normal (3,) and distance of least robust misfit from a start; `look` steadies points that lie nearly in a line.

    The points in `first` alone count in the first step.
    """
    n, d = normal, float(np.mean((points @ normal - standoff)[first]))
    weight = np.zeros(len(points))
    weight[first] = 1.0
    for _ in range(_STEPS):
        basis = tangents(n[None, :])[0]
        root = np.sqrt(weight) / spread
        slopes = np.column_stack([points @ basis, -np.ones(len(points))]) * root[:, None]
        off = (standoff - points @ n + d) * root
        if look is not None:
            slopes = np.vstack([slopes, np.column_stack([basis / _LOOK_RAD, np.zeros(3)])])
            off = np.concatenate([off, (look - n) / _LOOK_RAD])
        step = np.linalg.lstsq(slopes, off, rcond=None)[0]
        step[:2] *= min(1.0, 0.5 / max(float(np.linalg.norm(step[:2])), 1e-12))
        n = n + basis @ step[:2]
        n = n / np.linalg.norm(n)
        d = float(np.average(points @ n - standoff, weights=np.maximum(weight, 1e-6)))
        weight = (4.0 / (4.0 + ((points @ n - d - standoff) / spread) ** 2)) ** 2
    return n, d
