"""Places that the readings and hints do not decide between: a located state in, what could as well lie elsewhere out.

A point held by three tapes has an image in the plane of their ends; a frame read with tapes and heights alone has an
image in a mirror. Which of the two is meant only the builder's eye can tell, by a hint.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build
from halfshaft.measure.first_faces import look_of, with_faces
from halfshaft.measure.hints import anchors, moved_by_hints
from halfshaft.measure.relocate import starts_for, try_places
from halfshaft.measure.robust import cost_of, settled
from halfshaft.measure.scene import Scene, scene_of
from halfshaft.measure.search import gains
from halfshaft.measure.system import Network, State

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_ALIKE = 0.3  # of cost: a rival that costs no more is as good
_APART_MM = 25.0
_FEW = 8  # readings of a point: with more some would tell the two places apart
_STARTS = 24
_NEARLY_FLAT_MM = 60.0  # stray of the points a group is read from, up to which its image is worth a try
_FLAT_MM = 20.0  # a body whose points stray less from a plane has no image of its own
_SIDES = (("front", "rear"), ("left", "right"), ("up", "down"))


@dataclass(frozen=True)
class Undecided:
    """A point, several with a space between, or '' for everything, that fits as well `away_mm` from where it was put.

    `hint` is what to write of a point to keep it where it is.
    """

    name: str
    away_mm: float
    hint: str


def undecided(network: Network, build: Build, state: State, use: Bools, points: Bools) -> tuple[Undecided, ...]:
    """What the equations in `use` (m,) and the hints leave open between two places, by name."""
    scene = scene_of(network, build, use)
    if _world_mirrors(scene, state, use, points):
        name, word = _most_to_a_side(network, state, points)
        return (Undecided("", 0.0, f'{name} = {{ side = "{word}" }}'),) if name else ()
    alone = _points(scene, state, use, points)
    told = {one.name for one in alone}
    return (*alone, *(one for one in _groups(scene, state, use, points) if one.name not in told))


def _points(scene: Scene, state: State, use: Bools, points: Bools) -> list[Undecided]:
    network = scene.network
    count = scene.count_at(use)
    asked = np.flatnonzero(points & (count > 0.0) & (count <= _FEW))
    if len(asked) == 0:
        return []
    rng = np.random.default_rng(1)
    tried = try_places(network, state, use, asked, starts_for(network, state, asked, points, rng, _STARTS))
    gain = gains(scene, state, asked, tried.places_mm, tried.cost)
    away = np.linalg.norm(tried.places_mm - state.points_mm[asked][:, None], axis=2)
    rival = (gain > -_ALIKE) & (away > _APART_MM)
    out = []
    for k in np.flatnonzero(rival.any(axis=1)):
        at = int(np.argmax(np.where(rival[k], gain[k], -np.inf)))
        move = tried.places_mm[k, at] - state.points_mm[asked[k]]
        axis = int(np.argmax(np.abs(move)))
        key = ("end", "side", "height")[axis]
        word = _SIDES[axis][0 if move[axis] < 0.0 else 1]
        name = network.point_names[asked[k]]
        out.append(Undecided(name, float(away[k, at]), f'{name.partition(".")[2]} = {{ {key} = "{word}" }}'))
    return out


def _groups(scene: Scene, state: State, use: Bools, points: Bools) -> list[Undecided]:
    """Points of one face that fit as well all together on the other side of what they are read from."""
    network = scene.network
    neighbours = scene.neighbours(use)
    columns = np.ones(network.size, dtype=bool)
    cost = scene.cost(state, use)
    out = []
    for face in range(len(network.face_names)):
        body = network.face_body[face]
        read = np.unique(scene.ends[use & (scene.sides == face).any(axis=1)])
        group = np.array([p for p in read if p >= 0 and points[p] and network.point_body[p] == body], dtype=np.intp)
        if len(group) < 2:
            continue
        beside = set[int]().union(*(neighbours[int(p)] for p in group)) - {int(p) for p in group}
        seen = np.array([p for p in beside if network.point_body[p] == body], dtype=np.intp)
        if len(seen) < 3 or len(seen) < len(beside):
            continue  # what is read from another body as well is held by it
        middle = state.points_mm[seen].mean(axis=0)
        _, size, ways = np.linalg.svd(state.points_mm[seen] - middle)
        normal = ways[2]
        away = (state.points_mm[group] - middle) @ normal
        if size[2] / np.sqrt(len(seen)) > _NEARLY_FLAT_MM or float(np.max(np.abs(away))) < _APART_MM / 2.0:
            continue
        moved = state.points_mm.copy()
        moved[group] -= 2.0 * np.outer(away, normal)
        laid, _ = with_faces(network, scene.build, replace(state, points_mm=moved), use, points)
        trials = [settled(network, at, use, columns, limits=(10.0, 4.0)) for at in (laid, _turned(laid, face))]
        trials = [_by_hints(scene, at, use, int(body)) for at in trials]
        trial = min(trials, key=lambda at: scene.cost(at, use))
        shift = np.linalg.norm(_among(trial, seen, group) - _among(state, seen, group))
        if scene.cost(trial, use) < cost + _ALIKE and shift > _APART_MM:
            names = [network.point_names[p] for p in group]
            axis = int(np.argmax(np.abs(normal)))
            up = float(np.mean(away)) * normal[axis] > 0.0
            word = _SIDES[axis][0 if up else 1]
            hint = f'{names[0].partition(".")[2]} = {{ {("end", "side", "height")[axis]} = "{word}" }}'
            out.append(Undecided(" ".join(names), 2.0 * float(np.mean(np.abs(away))), hint))
    return out


def _by_hints(scene: Scene, state: State, use: Bools, body: int) -> State:
    """The body's own axes laid anew so that its hints are hurt least, where its readings leave them open."""
    network = scene.network
    own = [network.equations[i] for i in np.flatnonzero(use & scene.bodies[:, body])]
    mine = np.flatnonzero(network.point_body == body)
    before = state.points_mm[mine]
    after = moved_by_hints(scene.hints[body], anchors(network, own, body), mine, before[None])[0]
    middle, new_middle = before.mean(axis=0), after.mean(axis=0)
    u, _, vt = np.linalg.svd((after - new_middle).T @ (before - middle))
    turn = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    shift = new_middle - turn @ middle
    points, rotations, shifts = state.points_mm.copy(), state.rotations.copy(), state.shifts_mm.copy()
    points[mine] = before @ turn.T + shift
    if body != network.root:
        rotations[body] = state.rotations[body] @ turn.T
        shifts[body] = state.shifts_mm[body] - rotations[body] @ shift
    faces = network.face_body == body
    normals, distances = state.normals.copy(), state.distances_mm.copy()
    normals[faces] = state.normals[faces] @ turn.T
    distances[faces] = state.distances_mm[faces] + normals[faces] @ shift
    return replace(
        state, points_mm=points, normals=normals, distances_mm=distances, rotations=rotations, shifts_mm=shifts
    )


def _among(state: State, seen: Ints, group: Ints) -> Array:
    """Which side of the plane of three of `seen`, by volume, each of `group` lies on, times how far off it is."""
    a, b, c = state.points_mm[seen[:3]]
    normal = np.cross(b - a, c - a)
    return np.asarray((state.points_mm[group] - a) @ normal / max(float(np.linalg.norm(normal)), 1e-9))


def _turned(state: State, face: int) -> State:
    normals, distances = state.normals.copy(), state.distances_mm.copy()
    normals[face], distances[face] = -normals[face], -distances[face]
    return replace(state, normals=normals, distances_mm=distances)


def _world_mirrors(scene: Scene, state: State, use: Bools, points: Bools) -> bool:
    """Whether everything together fits as well left for right."""
    network = scene.network
    root = points & (network.point_body == network.root)
    spots = state.points_mm[root]
    if len(spots) < 4:
        return False
    stray = np.linalg.svd(spots - spots.mean(axis=0), compute_uv=False)[-1] / np.sqrt(len(spots))
    if stray < _FLAT_MM:
        return False
    flip = np.array([1.0, -1.0, 1.0])
    both = np.diag(flip)
    # distances of faces stay: a mirrored normal meets a mirrored point at the same height
    image = replace(
        state,
        points_mm=state.points_mm * flip,
        normals=state.normals * flip,
        rotations=both @ state.rotations @ both,
        shifts_mm=state.shifts_mm * flip,
    )
    if any(_looks_away(network, scene.build, state, image, face) for face in range(len(network.face_names))):
        return False
    worse = cost_of(network, image, use) - cost_of(network, state, use)
    return bool(worse + scene.hint_cost(image) - scene.hint_cost(state) < _ALIKE)


def _looks_away(network: Network, build: Build, state: State, image: State, face: int) -> bool:
    look = look_of(network, build, face)
    return look is not None and float(look @ image.normals[face]) < 0.0 < float(look @ state.normals[face])


def _most_to_a_side(network: Network, state: State, points: Bools) -> tuple[str, str]:
    """The root's point furthest from the middle, across, and the side it was put on."""
    root = np.flatnonzero(points & (network.point_body == network.root))
    across = state.points_mm[root, 1] - np.mean(state.points_mm[root, 1])
    at = int(np.argmax(np.abs(across)))
    return network.point_names[root[at]].partition(".")[2], "left" if across[at] > 0.0 else "right"
