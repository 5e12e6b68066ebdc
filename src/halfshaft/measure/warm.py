"""Starting values after an edit, from the state before it: two networks and a state in, a start out where it holds.

An edit of a few readings moves little. What was found before is settled again with the readings as they are now; where
it cannot be trusted the search begins afresh.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build
from halfshaft.measure.robust import cost_of, misfits, settled
from halfshaft.measure.scene import scene_of
from halfshaft.measure.search import improved, odd_points
from halfshaft.measure.start import Start, told
from halfshaft.measure.system import Network, State

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_BAD = 5.0  # spreads
_MOST_CHANGED = 0.3  # of the readings: beyond it the search begins afresh
_WORSE = 0.5  # of cost beyond what the changed readings may add
_SHAPE = frozenset({"distance", "angle"})  # kinds that do not move a body as a whole


def warmed(
    network: Network,
    build: Build,
    old_network: Network,
    old_state: State,
    located: tuple[Bools, Bools, Bools],
) -> Start | None:
    """The start near an earlier state, or None where the search must begin afresh.

    `located` are the old network's points (P,), faces (F,) and bodies (B,) that were held. None when a point, face or
    body is new or was not held, when much has changed, when a changed reading that could move a whole body does not
    fit, or when what was found fits worse than the changed readings explain.
    """
    points = _found(network.point_names, old_network.point_names, located[0])
    faces = _found(network.face_names, old_network.face_names, located[1])
    bodies = _found(network.body_names, old_network.body_names, located[2])
    if points is None or faces is None or bodies is None:
        return None
    if network.body_names[network.root] != old_network.body_names[old_network.root]:
        return None
    changed = _changed(network, old_network)
    if changed.sum() > _MOST_CHANGED * len(network.equations):
        return None
    state = State(
        old_state.points_mm[points],
        old_state.normals[faces],
        old_state.distances_mm[faces],
        old_state.rotations[bodies],
        old_state.shifts_mm[bodies],
    )
    every = np.ones(len(network.equations), dtype=bool)
    scene = scene_of(network, build, every)
    known, planes = np.ones(len(points), dtype=bool), np.ones(len(faces), dtype=bool)
    seated = np.ones(len(bodies), dtype=bool)
    columns = scene.columns(known, planes, seated)
    before = odd_points(scene, state, every & ~changed, known)
    old_cost = cost_of(old_network, old_state, np.ones(len(old_network.equations), dtype=bool))
    state = settled(network, state, every, columns, limits=(4.0,))
    bad = changed & (np.abs(misfits(network, state)) > _BAD)
    for i in np.flatnonzero(bad):
        if network.equations[i].kind not in _SHAPE or scene.bodies[i].sum() > 1:
            return None
    if bad.any():
        state = improved(scene, state, every, columns, known, np.random.default_rng(1), rounds=2)
    if (odd_points(scene, state, every, known) & ~before).any():
        return None
    if scene.cost(state, every) > old_cost + scene.hint_cost(state) + float(changed.sum()) + _WORSE:
        return None
    return told(scene, state, known, planes, seated)


def _found(names: tuple[str, ...], old: tuple[str, ...], located: Bools) -> Ints | None:
    """Where each name was (k,); None where one is new or was not held."""
    index = {name: i for i, name in enumerate(old) if located[i]}
    if not all(name in index for name in names):
        return None
    return np.array([index[name] for name in names], dtype=np.intp)


def _changed(network: Network, old: Network) -> Bools:
    """Equations (m,) that the old network does not have just so."""
    before = Counter(_keys(old))
    out = np.zeros(len(network.equations), dtype=bool)
    for i, key in enumerate(_keys(network)):
        if before[key]:
            before[key] -= 1
        else:
            out[i] = True
    return out


def _keys(network: Network) -> list[Hashable]:
    return [
        (
            eq.kind,
            eq.part,
            tuple(network.point_names[p] for p in eq.points),
            tuple(network.face_names[f] for f in eq.faces),
            network.body_names[eq.frame] if eq.frame >= 0 else "",
            eq.value,
            eq.sigma,
        )
        for eq in network.equations
    ]
