"""Starting values of all points, faces and bodies from the readings alone. A network in, a state and what is loose out.

Each body is laid out by itself (layout.py), bodies are set against each other (joint.py), points that agree badly are
tried elsewhere (search.py), and all is settled with the pull of slips bounded (robust.py). What the readings cannot
hold is named (unlocated.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build
from halfshaft.measure.joint import joined, seat_all
from halfshaft.measure.layout import Shapes, lay_out
from halfshaft.measure.model import Unlocated
from halfshaft.measure.scene import Scene, blank, scene_of
from halfshaft.measure.system import Network, State
from halfshaft.measure.unlocated import loose_ends

Bools = NDArray[np.bool_]

_SHAPES = 3  # of a body that others hold as well


@dataclass(frozen=True, eq=False)
class Start:
    """A state near the best one, and which points (P,), faces (F,) and bodies (B,) the readings hold."""

    state: State
    points_located: Bools
    faces_located: Bools
    bodies_located: Bools
    unlocated: tuple[Unlocated, ...]


def first_state(network: Network, build: Build, use: Bools | None = None, seed: int = 1) -> Start:
    """Where everything is, found from the equations marked in `use` (m,), all of them when None.

    Another `seed` tries other places; with the same one the same state is found.

    Slips among the readings are outvoted where enough others contradict them.
    """
    rng = np.random.default_rng(seed)
    chosen = np.ones(len(network.equations), dtype=bool) if use is None else np.asarray(use, dtype=bool).copy()
    scene = scene_of(network, build, chosen)
    state = blank(network)
    known = np.zeros(len(network.point_names), dtype=bool)
    faces = np.zeros(len(network.face_names), dtype=bool)
    shapes: dict[int, Shapes] = {}
    for body in range(len(network.body_names)):
        found = lay_out(scene, state, body, rng, 1 if body == network.root else _SHAPES)
        shapes[body] = found
        state, known, faces = found.states[0], known | found.points, faces | found.faces
    state, seated = seat_all(scene, state, known, faces, shapes, rng)
    state, known, faces = joined(scene, state, known, faces, seated, rng)
    return told(scene, state, known, faces, seated)


def told(scene: Scene, state: State, known: Bools, faces: Bools, seated: Bools) -> Start:
    """The state with the names of what the readings do not hold."""
    stands = (scene.bodies.sum(axis=1) == 1) | ~(scene.bodies & ~seated).any(axis=1)
    use = scene.between(scene.use & stands, known, faces)
    points, planes, bodies, unlocated = loose_ends(scene.network, scene.build, state, use, known, faces, seated)
    return Start(state, points, planes, bodies, unlocated)
