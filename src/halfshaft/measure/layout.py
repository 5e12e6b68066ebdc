"""One body in its own axes from its own readings: a scene in, the likeliest shapes out, the best first.

Many layouts start at random (lifted.py), are settled with all readings, and the best are mended (search.py) and get
their faces.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.measure.first_faces import with_faces
from halfshaft.measure.hints import anchors, moved_by_hints
from halfshaft.measure.lifted import Rough, rough_places
from halfshaft.measure.robust import settled
from halfshaft.measure.scene import Scene
from halfshaft.measure.search import hint_costs, hopped, improved, odd_points
from halfshaft.measure.system import State
from halfshaft.measure.together import settle_together

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_MANY, _SMALL = 24, 12  # layouts of a body of so many points; fewer for more
_SIDE_BY_SIDE = 30  # points up to which layouts settle side by side
_TRIES = 3
_RIVAL = 2.5  # of cost: shapes that readings across may still prefer
_ALIKE_MM = 8.0


@dataclass(frozen=True, eq=False)
class Shapes:
    """States that differ in one body only, the likeliest first, and its points (P,) and faces (F,) that are placed."""

    states: tuple[State, ...]
    points: Bools
    faces: Bools


def lay_out(scene: Scene, state: State, body: int, rng: np.random.Generator, most: int) -> Shapes:
    """Up to `most` different shapes of one body."""
    network = scene.network
    own = scene.own(body)
    no_faces = np.zeros(len(network.face_names), dtype=bool)
    no_poses = np.zeros(len(network.body_names), dtype=bool)
    plain = scene.between(own, network.point_body == body, no_faces)
    points = scene.count_at(plain) > 0.0
    if not points.any():
        return Shapes((state,), points, no_faces)
    index = np.flatnonzero(points)
    rough = _rough(scene, plain, index, body)
    columns = scene.columns(points, no_faces, no_poses)
    pool: list[tuple[float, State]] = []
    for _ in range(_TRIES):
        pool = _distinct([*pool, *_laid(scene, state, plain, columns, index, rough, rng)], index, most + 1)
        best = improved(scene, pool[0][1], plain, columns, points, rng, rounds=2)
        pool[0] = (scene.cost(best, plain), best)
        if not odd_points(scene, best, plain, points).any() and scene.hints[body].of(best.points_mm) < 0.5:
            break
    finished = []
    faces = no_faces
    for _, shape in _distinct(pool, index, most):
        fitted, faces = with_faces(network, scene.build, shape, own, points)
        faces = faces & (network.face_body == body)
        both = scene.between(own, points, faces) if faces.any() else plain
        columns = scene.columns(points, faces, no_poses)
        trial = settled(network, fitted, both, columns, limits=(60.0, 20.0, 8.0, 4.0)) if faces.any() else shape
        trial = improved(scene, trial, both, columns, points, rng)
        trial = hopped(scene, trial, both, columns, points, rng)
        finished.append((scene.cost(trial, both), trial))
        if scene.clean(trial, both):
            break
    return Shapes(tuple(s for _, s in _distinct(finished, index, most)), points, faces)


def _laid(
    scene: Scene, state: State, plain: Bools, columns: Bools, index: Ints, rough: Rough, rng: np.random.Generator
) -> list[tuple[float, State]]:
    """Layouts from random starts with what each costs."""
    network = scene.network
    body = int(network.point_body[index[0]])
    anchored = anchors(network, [network.equations[i] for i in np.flatnonzero(plain)], body)
    layouts = int(np.clip(_MANY * (_SMALL / len(index)) ** 1.5, 1, _MANY))
    places = rough_places(rough, rng, layouts)
    if layouts > 1 and len(index) <= _SIDE_BY_SIDE:
        found = settle_together(network, state, plain, index, places, limits=(60.0, 25.0, 10.0, 4.0))
        places = moved_by_hints(scene.hints[body], anchored, index, found.places_mm)
        places = places[np.argsort(found.cost + hint_costs(scene, state, index, places))[:8]]
    else:
        places = moved_by_hints(scene.hints[body], anchored, index, places)
    out = []
    for number, place in enumerate(places):
        points = state.points_mm.copy()
        points[index] = place
        trial = replace(state, points_mm=points)
        if layouts == 1 or len(index) > _SIDE_BY_SIDE or number == 0:
            trial = settled(network, trial, plain, columns, limits=(60.0, 25.0, 10.0, 4.0))
        out.append((scene.cost(trial, plain), trial))
    return out


def _distinct(pool: list[tuple[float, State]], index: Ints, most: int) -> list[tuple[float, State]]:
    """The cheapest of the pool that are not alike but for a move of the whole, within reach of the best."""
    out: list[tuple[float, State]] = []
    for cost, state in sorted(pool, key=lambda one: one[0]):
        if len(out) == most or (out and cost > out[0][0] + _RIVAL):
            break
        if all(_apart_mm(state.points_mm[index], other.points_mm[index]) > _ALIKE_MM for _, other in out):
            out.append((cost, state))
    return out


def _apart_mm(first: Array, second: Array) -> float:
    """Largest gap between two shapes laid on each other as well as a turn can.

    Source: W. Kabsch, Acta Crystallographica A32, 1976, from memory.
    """
    a, b = first - first.mean(axis=0), second - second.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    sign = np.array([1.0, 1.0, np.sign(np.linalg.det(u @ vt)) or 1.0])
    return float(np.max(np.linalg.norm(a @ (u * sign) @ vt - b, axis=1)))


def _rough(scene: Scene, plain: Bools, index: Ints, body: int) -> Rough:
    """Lengths and axis readings of one body with points counted along `index`."""
    network = scene.network
    order = {int(p): i for i, p in enumerate(index)}
    pair, length = [], []
    linear: list[tuple[int, int, float, float, int, float]] = []
    axis_of = {"station": 0, "offset": 1, "height": 2, "rise": 2}
    for i in np.flatnonzero(plain):
        eq = network.equations[i]
        at = [order[p] for p in eq.points]
        if eq.kind == "distance":
            pair.append(at)
            length.append(eq.value)
        elif eq.kind == "rise":
            linear.append((at[0], at[1], -1.0, 1.0, 2, eq.value))
        elif eq.kind == "mirror":
            linear.append((at[0], at[1], 1.0, 1.0 if eq.part == 1 else -1.0, eq.part, 0.0))
        elif eq.kind == "given":
            linear.append((at[0], at[0], 1.0, 0.0, eq.part, eq.value))
        elif eq.kind in axis_of:
            linear.append((at[0], at[0], 1.0, 0.0, axis_of[eq.kind], eq.value))
    table = np.array(linear, dtype=float).reshape(-1, 6)
    hints = scene.hints[body]
    keep = np.array([int(p) in order for p in hints.point], dtype=bool)
    return Rough(
        len(index),
        np.array(pair, dtype=np.intp).reshape(-1, 2),
        np.array(length, dtype=float),
        table[:, :2].astype(np.intp),
        table[:, 2:4],
        table[:, 4].astype(np.intp),
        table[:, 5],
        np.array([order[int(p)] for p in hints.point[keep]], dtype=np.intp),
        hints.axis[keep],
        hints.sign[keep],
        hints.start[keep],
        hints.soft[keep],
    )
