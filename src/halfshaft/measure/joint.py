"""Bodies set against each other, then everything settled together: a scene and shapes in, one state out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.measure.first_faces import look_of, with_faces
from halfshaft.measure.hints import anchors, moved_by_hints
from halfshaft.measure.layout import Shapes
from halfshaft.measure.relocate import try_places
from halfshaft.measure.robust import misfits, settled
from halfshaft.measure.scene import Scene
from halfshaft.measure.search import gains, hint_costs, hopped, improved, looked_again, refaced
from halfshaft.measure.seat import NARROW, WIDE, axes_of, poses_of
from halfshaft.measure.system import Network, State
from halfshaft.measure.together import settle_together, thrown, turns_of

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_SMALL = 16  # points up to which a body is thrown as a whole
_THROWS, _ROUNDS = 32, 3
_PLAIN = 0.5  # cosine from which a face plainly looks the way that was told
_DEARER, _LESS = 4.0, 0.1  # of cost: what an image may cost more by itself, and what counts as less
_OFF = 5.0  # spreads
_WAYS = ((25.0, 10.0, 4.0), (4.0,))  # from afar, where the shape may still be wrong, and from near


def seat_all(
    scene: Scene, state: State, known: Bools, faces: Bools, shapes: Mapping[int, Shapes], rng: np.random.Generator
) -> tuple[State, Bools]:
    """Bodies set one after the other against those that already stand, the best tied first; which (B,) stand."""
    network = scene.network
    seated = np.zeros(len(network.body_names), dtype=bool)
    seated[network.root] = True
    across = scene.between(scene.use, known, faces) & (scene.bodies.sum(axis=1) > 1)
    while True:
        ties: dict[int, Bools] = {}
        for body in np.flatnonzero(~seated):
            there = seated.copy()
            there[body] = True
            rows = scene.within(across & scene.bodies[:, body], there)
            if rows.sum() >= 3:
                ties[int(body)] = rows
        if not ties:
            return state, seated
        most = max(ties, key=lambda b: int(ties[b].sum()))
        state = _seat(scene, state, ties[most], most, known, faces, shapes.get(most), rng)
        seated[most] = True


def _seat(
    scene: Scene,
    state: State,
    rows: Bools,
    body: int,
    known: Bools,
    faces: Bools,
    shapes: Shapes | None,
    rng: np.random.Generator,
) -> State:
    network = scene.network
    own = scene.between(scene.own(body), known, faces)
    mine = known & (network.point_body == body)
    planes = faces & (network.face_body == body)
    free = np.zeros(len(network.body_names), dtype=bool)
    free[body] = True
    columns = scene.columns(mine, planes, free)
    best: tuple[float, State] | None = None
    asked = [_with_body(network, state, shape, body) for shape in shapes.states] if shapes else [state]
    for laid in asked:
        for shape in _mirrored(scene, laid, own, body, mine, planes):
            here = scene.cost(shape, own)
            for number, (cost, trial) in enumerate(_ways_down(network, shape, rows, body, rng)):
                if best is not None and cost + here > best[0] + 3.0 and number:
                    continue
                for limits in _WAYS:
                    full = settled(network, trial, own | rows, columns, limits=limits)
                    total = scene.cost(full, own | rows) + _upright(full, body)
                    if best is None or total < best[0]:
                        best = (total, full)
                    if best[1] is full and scene.clean(full, own | rows):
                        return full
    assert best is not None
    return _swayed(scene, best[1], own | rows, columns, mine, body, rng)


def _ways_down(
    network: Network, state: State, rows: Bools, body: int, rng: np.random.Generator
) -> Iterator[tuple[float, State]]:
    """Poses found with a wide limit, then those found with a narrow one: the second are worked only when asked for."""
    for limits in (WIDE, NARROW):
        yield from poses_of(network, state, rows, body, rng, limits)


def _with_body(network: Network, state: State, other: State, body: int) -> State:
    """The state with one body's points and faces as in another."""
    points, planes = network.point_body == body, network.face_body == body
    return replace(
        state,
        points_mm=np.where(points[:, None], other.points_mm, state.points_mm),
        normals=np.where(planes[:, None], other.normals, state.normals),
        distances_mm=np.where(planes, other.distances_mm, state.distances_mm),
    )


def _upright(state: State, body: int) -> float:
    """Between poses that fit alike the one that turns the body less."""
    return 0.1 * (3.0 - float(np.trace(state.rotations[body]))) / 4.0


def _swayed(
    scene: Scene, state: State, use: Bools, columns: Bools, mine: Bools, body: int, rng: np.random.Generator
) -> State:
    """A small body's points and pose thrown together, while that lowers the cost."""
    network = scene.network
    index = np.flatnonzero(mine)
    if not 3 <= len(index) <= _SMALL or scene.clean(state, use):
        return state
    cost = scene.cost(state, use)
    mates = [index[index != p] for p in index]
    for _ in range(_ROUNDS):
        starts = thrown(state, index, mates, state.points_mm[index], rng, _THROWS)
        stay = rng.random(starts.shape[:2]) < rng.uniform(0.4, 1.0, size=(_THROWS, 1))
        starts = np.where(stay[..., None], state.points_mm[index], starts)
        swing = rng.normal(scale=0.3, size=(_THROWS, 3)) * (rng.random((_THROWS, 1)) < 0.5)
        swing[0] = 0.0
        turned = turns_of(swing) @ state.rotations[body]
        middle = state.points_mm[index].mean(axis=0)
        shifted = state.shifts_mm[body] + (state.rotations[body] - turned) @ middle
        shifted = shifted + rng.normal(scale=40.0, size=(_THROWS, 3)) * (swing[:, :1] != 0.0)
        found = settle_together(network, state, use, index, starts, rng, body=body, poses=(turned, shifted), keep=8)
        total = found.cost + hint_costs(scene, state, index, found.places_mm)
        lowered = False
        for best in np.argsort(total)[:2]:
            if total[best] > total[0] - 0.02:
                break
            points, rotations, shifts = state.points_mm.copy(), state.rotations.copy(), state.shifts_mm.copy()
            points[index] = found.places_mm[best]
            rotations[body], shifts[body] = found.rotations[best], found.shifts_mm[best]
            trial = replace(state, points_mm=points, rotations=rotations, shifts_mm=shifts)
            trial = settled(network, trial, use, columns, limits=(10.0, 4.0))
            trial_cost = scene.cost(trial, use)
            if trial_cost < cost - 1e-2:
                state, cost, lowered = trial, trial_cost, True
                break
        if not lowered:
            break
    return state


def _mirrored(scene: Scene, state: State, own: Bools, body: int, mine: Bools, planes: Bools) -> list[State]:
    """The body as laid out, and its mirror image where its own readings and hints do not mind."""
    network = scene.network
    if not mine.any():
        return [state]
    cost = scene.cost(state, own)
    anchored = anchors(network, [network.equations[i] for i in np.flatnonzero(own)], body)
    for axis in (1, 0, 2):
        flip = np.ones(3)
        flip[axis] = -1.0
        points = state.points_mm.copy()
        shift = np.zeros(3)
        if axis not in anchored:
            shift[axis] = 2.0 * points[mine].mean(axis=0)[axis]
        points[mine] = points[mine] * flip + shift
        trial = _settled_image(scene, replace(state, points_mm=points), own, body, mine, planes, anchored)
        if scene.cost(trial, own) < cost + _DEARER:
            return [state, trial]
    framed = _framed(scene, own, body)
    if not framed.any():
        return [state]
    # no flip along an axis keeps three given spots: the image's axes are laid anew
    points = state.points_mm.copy()
    points[mine] *= (1.0, -1.0, 1.0)
    images = []
    for _, laid in axes_of(network, replace(state, points_mm=points), framed, body, mine):
        laid = replace(laid, rotations=state.rotations, shifts_mm=state.shifts_mm)
        images.append(_settled_image(scene, laid, own, body, mine, planes, anchored))
    return [state, *(image for image in images if scene.cost(image, own) < cost + _DEARER)]


def _settled_image(
    scene: Scene,
    state: State,
    own: Bools,
    body: int,
    mine: Bools,
    planes: Bools,
    anchored: Mapping[int, list[float]],
) -> State:
    """A mirror image of a body moved to its hints, with its faces laid through its points, settled by itself."""
    network = scene.network
    points = state.points_mm.copy()
    points[mine] = moved_by_hints(scene.hints[body], anchored, np.flatnonzero(mine), points[mine][None])[0]
    trial = replace(state, points_mm=points)
    if planes.any():
        fitted, found = with_faces(network, scene.build, trial, own, mine)
        found &= planes
        normals, distances = state.normals.copy(), state.distances_mm.copy()
        normals[found], distances[found] = fitted.normals[found], fitted.distances_mm[found]
        trial = replace(trial, normals=normals, distances_mm=distances)
    columns = scene.columns(mine, planes, np.zeros(len(network.body_names), dtype=bool))
    return settled(network, trial, own, columns, limits=(10.0, 4.0))


def _framed(scene: Scene, use: Bools, body: int) -> Bools:
    """Equations (m,) in use that are said along one body's axes."""
    return np.asarray(use & np.array([eq.frame == body for eq in scene.network.equations], dtype=bool))


def _axes_righted(
    scene: Scene, state: State, use: Bools, columns: Bools, known: Bools, faces: Bools, body: int
) -> State:
    """A body's axes laid otherwise in it, all points where they are, where that lowers the cost of the whole."""
    network = scene.network
    mine = known & (network.point_body == body)
    framed = _framed(scene, use, body)
    if not mine.any() or not (framed & (np.abs(misfits(network, state)) > _OFF)).any():
        return state
    cost = scene.cost(state, use)
    for _, laid in axes_of(network, state, framed, body, mine):
        trial = settled(network, _faced(scene, laid, faces), use, columns, limits=(10.0, 4.0))
        trial_cost = scene.cost(trial, use)
        if trial_cost < cost - _LESS:
            state, cost = trial, trial_cost
    return state


def joined(
    scene: Scene, state: State, known: Bools, faces: Bools, seated: Bools, rng: np.random.Generator
) -> tuple[State, Bools, Bools]:
    """Points that only readings across bodies reach, then everything settled together; points and faces placed."""
    network = scene.network
    use = scene.within(scene.use, seated) | (scene.use & (scene.bodies.sum(axis=1) == 1))
    for _ in range(4):
        fresh = []
        for point in np.flatnonzero(~known):
            reach = known.copy()
            reach[point] = True
            rows = scene.between(use, reach, faces) & (scene.ends == point).any(axis=1)
            if not rows.any():
                continue
            asked = np.array([point])
            starts = _random_starts(network, state, int(point), known, seated, rng)
            tried = try_places(network, state, rows, asked, starts)
            gain = gains(scene, state, asked, tried.places_mm, tried.cost)
            points = state.points_mm.copy()
            points[point] = tried.places_mm[0, int(np.argmax(gain[0]))]
            state = replace(state, points_mm=points)
            fresh.append(point)
        before = int(faces.sum())
        known = known.copy()
        known[fresh] = True
        fitted, found = with_faces(network, scene.build, state, use, known)
        new = found & ~faces
        normals, distances = state.normals.copy(), state.distances_mm.copy()
        normals[new], distances[new] = fitted.normals[new], fitted.distances_mm[new]
        state = replace(state, normals=normals, distances_mm=distances)
        faces = faces | new
        if not fresh and int(faces.sum()) == before:
            break
    whole = scene.between(use, known, faces)
    columns = scene.columns(known, faces, seated)
    state = _faced(scene, state, faces)
    state = settled(network, state, whole, columns, limits=(30.0, 10.0, 4.0))
    state = improved(scene, state, whole, columns, known, rng)
    state = hopped(scene, state, whole, columns, known, rng, lone=True)
    for body in np.flatnonzero(seated):
        if body != network.root:
            mine = known & (network.point_body == body)
            state = _swayed(scene, state, whole, columns, mine, int(body), rng)
            state = _axes_righted(scene, state, whole, columns, known, faces, int(body))
    state = refaced(scene, state, whole, columns, known, faces, rng)
    state = looked_again(scene, state, whole, columns, known, rng)
    return _bevelled(scene, state, whole, columns, faces), known, faces


def _faced(scene: Scene, state: State, faces: Bools) -> State:
    """Faces that look against what the builder says turned round."""
    normals, distances = state.normals.copy(), state.distances_mm.copy()
    for face in np.flatnonzero(faces):
        look = look_of(scene.network, scene.build, int(face))
        if look is not None and float(look @ normals[face]) < -0.3:
            normals[face], distances[face] = -normals[face], -distances[face]
    return replace(state, normals=normals, distances_mm=distances)


def _bevelled(scene: Scene, state: State, use: Bools, columns: Bools, faces: Bools) -> State:
    """Faces turned round where a bevel says so and the builder's word for the way they look does not forbid it.

    That word is said in the body's own axes, which the readings of a unit on the bench may leave turned.
    """
    network = scene.network
    cost = scene.cost(state, use)
    asked = {f for i in np.flatnonzero(use) if network.equations[i].kind == "bevel" for f in network.equations[i].faces}
    off = np.abs(misfits(network, state))
    doubted = {f for i in np.flatnonzero(use & (off > 5.0)) for f in network.equations[i].faces}
    for face in sorted(asked & doubted):
        look = look_of(network, scene.build, face)
        if not faces[face] or (look is not None and float(look @ state.normals[face]) > _PLAIN):
            continue
        normals, distances = state.normals.copy(), state.distances_mm.copy()
        normals[face], distances[face] = -normals[face], -distances[face]
        trial = settled(network, replace(state, normals=normals, distances_mm=distances), use, columns, limits=(4.0,))
        trial_cost = scene.cost(trial, use)
        if trial_cost < cost - 0.1:
            state, cost = trial, trial_cost
    return state


def _random_starts(
    network: Network, state: State, point: int, known: Bools, seated: Bools, rng: np.random.Generator, count: int = 40
) -> Array:
    """Spots (1, count, 3) about everything known, in the point's own body's axes."""
    body = network.point_body[point]
    turned = np.einsum("pij,pj->pi", state.rotations[network.point_body], state.points_mm)
    cloud = (turned + state.shifts_mm[network.point_body])[known & seated[network.point_body]]
    own = (cloud - state.shifts_mm[body]) @ state.rotations[body]
    if len(own) == 0:
        own = np.zeros((1, 3))
    return np.asarray(rng.uniform(own.min(axis=0) - 200.0, own.max(axis=0) + 200.0, size=(1, count, 3)))
