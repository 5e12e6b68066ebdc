"""Better places for points that readings speak against: a scene and a state in, a state of lower cost out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.measure.first_faces import with_faces
from halfshaft.measure.relocate import starts_for, try_places
from halfshaft.measure.robust import misfits, settled
from halfshaft.measure.scene import Scene
from halfshaft.measure.system import State
from halfshaft.measure.together import settle_together, thrown

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_BAD = 5.0  # spreads
_LESS = 1e-3  # of cost: what counts as lower
_HOPS, _TURNS = 24, 2  # groups thrown anew at most, and how often about one point
_TOGETHER, _THROWS, _KEEP = 8, 40, 12  # points in a group, throws of it, of which some go on
_SHARE = 0.15  # of a point's readings: fewer bad ones do not make it doubtful
_POLISH = (10.0, 4.0)
_BOTH = (_POLISH, (4.0,))
_POOR = 3.0  # spreads: two such readings at a point are reason to look at its other places
_AGAIN, _PLACES = 12, 60  # points in one look, starts of each
_RIVALS, _TRIALS = 3, 12  # other places of one point, and of all in one look, that are followed up
_DEARER, _APART_MM = 0.7, 4.0  # what a rival place may cost more before the rest follows it, and how far off it is


def odd_points(scene: Scene, state: State, use: Bools, points: Bools) -> Bools:
    """Points of which two or more readings, and more than a quarter, disagree: likely at a wrong place."""
    off = np.abs(misfits(scene.network, state))
    bad, all_of = scene.count_at(use & (off > _BAD)), scene.count_at(use)
    return np.asarray(points & (bad >= 2.0) & (bad > 0.25 * all_of))


def improved(
    scene: Scene, state: State, use: Bools, columns: Bools, points: Bools, rng: np.random.Generator, rounds: int = 3
) -> State:
    """Single points moved to better places while that lowers the cost of the whole."""
    network = scene.network
    cost = scene.cost(state, use)
    neighbours = scene.neighbours(use)
    for _ in range(rounds):
        asked = np.flatnonzero(_doubted(scene, state, use) & points)
        if len(asked) == 0:
            return state
        tried = try_places(network, state, use, asked, starts_for(network, state, asked, points, rng), rng=rng)
        gain = gains(scene, state, asked, tried.places_mm, tried.cost)
        best_place = np.argmax(gain, axis=1)
        best_gain = gain[np.arange(len(asked)), best_place]
        order = [int(k) for k in np.argsort(-best_gain) if best_gain[k] > 0.1]
        odd = bool(odd_points(scene, state, use, points).any())
        if not order and not odd:
            return state
        together, busy = [], np.zeros(len(points), dtype=bool)
        for k in order:
            if not busy[asked[k]]:
                together.append(k)
                busy[list(neighbours.get(int(asked[k]), ()))] = True
        lowered = False
        for moves in [together, *([k] for k in order[:2])]:
            if not moves:
                continue
            moved = state.points_mm.copy()
            for k in moves:
                moved[asked[k]] = tried.places_mm[k, best_place[k]]
            trial = settled(network, replace(state, points_mm=moved), use, columns, limits=_POLISH)
            trial_cost = scene.cost(trial, use)
            if trial_cost < cost - _LESS:
                state, cost, lowered = trial, trial_cost, True
                break
        if lowered:
            continue
        if not odd:
            return state
        trial = settled(network, _rebuilt(scene, state, use, points, rng), use, columns, limits=_POLISH)
        trial_cost = scene.cost(trial, use)
        if trial_cost < cost - _LESS:
            state, cost = trial, trial_cost
    return state


def looked_again(
    scene: Scene,
    state: State,
    use: Bools,
    columns: Bools,
    points: Bools,
    rng: np.random.Generator,
    least: int = 2,
    few: int = 0,
) -> State:
    """Points of `least` or more bad readings at their next best places, all the rest let go after them.

    A rival place may cost more while its neighbours stand where the first one drew them, and less once they follow.
    """
    network = scene.network
    neighbours = scene.neighbours(use)
    cost = scene.cost(state, use)
    seen: set[int] = set()
    while True:
        off = np.abs(misfits(network, state))
        bad = scene.count_at(use & (off > _POOR))
        asked = np.array([p for p in np.flatnonzero(points & (bad >= least)) if p not in seen], dtype=np.intp)
        if len(asked) == 0:
            return state
        asked = asked[np.argsort(-bad[asked])][:_AGAIN]
        seen.update(int(p) for p in asked)
        starts = starts_for(network, state, asked, points, rng, count=_PLACES)
        tried = try_places(network, state, use, asked, starts, rng=rng)
        gain = gains(scene, state, asked, tried.places_mm, tried.cost)
        rivals: list[tuple[float, int, int]] = []
        for k in range(len(asked)):
            known: list[Array] = [state.points_mm[asked[k]]]
            for place in np.argsort(-gain[k]):
                spot = tried.places_mm[k, place]
                if gain[k, place] < -_DEARER or len(known) > _RIVALS:
                    break
                if min(float(np.linalg.norm(spot - other)) for other in known) > _APART_MM:
                    known.append(spot)
                    rivals.append((float(gain[k, place]), k, int(place)))
        for _, k, place in sorted(rivals, key=lambda rival: -rival[0])[:_TRIALS]:
            moved = state.points_mm.copy()
            moved[asked[k]] = tried.places_mm[k, place]
            # from afar the point may be drawn back to where it was
            trials = [settled(network, replace(state, points_mm=moved), use, columns, limits=w) for w in _BOTH]
            costs = [scene.cost(trial, use) for trial in trials]
            best = int(np.argmin(costs))
            if costs[best] < cost - _LESS:
                state, cost = trials[best], costs[best]
                # its neighbours are worth a look again
                seen -= neighbours.get(int(asked[k]), set())
                break


def hopped(
    scene: Scene, state: State, use: Bools, columns: Bools, points: Bools, rng: np.random.Generator, lone: bool = False
) -> State:
    """Groups of points that bad readings tie together thrown anew, while that lowers the cost of the whole.

    With `lone` a single bad reading is reason enough.
    """
    network = scene.network
    neighbours = scene.neighbours(use)
    cost = scene.cost(state, use)
    tried: dict[int, int] = {}
    for _ in range(_HOPS):
        group = _tangle(scene, state, use, points, neighbours, tried, rng, lone)
        if len(group) == 0:
            return state
        body = network.point_body[group]
        mates = [
            np.array([n for n in neighbours[int(p)] if network.point_body[n] == b and n != p], dtype=np.intp)
            for p, b in zip(group, body, strict=True)
        ]
        cloud = state.points_mm[points & np.isin(network.point_body, body)]
        starts = thrown(state, group, mates, cloud, rng, _THROWS)
        stay = rng.random(starts.shape[:2]) < rng.uniform(0.0, 0.9, size=(_THROWS, 1))
        starts = np.where(stay[..., None], state.points_mm[group], starts)
        found = settle_together(network, state, use, group, starts, rng, keep=_KEEP)
        total = found.cost + hint_costs(scene, state, group, found.places_mm)
        best = int(np.argmin(total))
        if total[best] > total[0] - 0.05:
            continue
        moved = state.points_mm.copy()
        moved[group] = found.places_mm[best]
        trial = settled(network, replace(state, points_mm=moved), use, columns, limits=_POLISH)
        trial_cost = scene.cost(trial, use)
        if trial_cost < cost - _LESS:
            state, cost = trial, trial_cost
            tried.clear()
    return state


def refaced(
    scene: Scene,
    state: State,
    use: Bools,
    columns: Bools,
    points: Bools,
    faces: Bools,
    rng: np.random.Generator,
) -> State:
    """All points of a face thrown anew together, the face let go meanwhile and laid through them after.

    Wrong points may hold their face in a wrong place and it them.
    """
    network = scene.network
    neighbours = scene.neighbours(use)
    cost = scene.cost(state, use)
    for face in np.flatnonzero(faces):
        off = np.abs(misfits(network, state))
        bad = scene.count_at(use & (off > _BAD))
        on_it = use & (scene.sides == face).any(axis=1)
        read = np.unique(scene.ends[on_it])
        group = np.array([p for p in read if p >= 0 and points[p]], dtype=np.intp)
        if not 3 <= len(group) <= _TOGETHER or (bad[group] >= 1.0).sum() < 2:
            continue
        body = network.point_body[group]
        mates = [np.array([n for n in neighbours[int(p)] if network.point_body[n] == b and n != p], dtype=np.intp)
                 for p, b in zip(group, body, strict=True)]  # fmt: skip
        cloud = state.points_mm[points & np.isin(network.point_body, body)]
        starts = thrown(state, group, mates, cloud, rng, _THROWS)
        stay = rng.random(starts.shape[:2]) < rng.uniform(0.0, 0.9, size=(_THROWS, 1))
        starts = np.where(stay[..., None], state.points_mm[group], starts)
        found = settle_together(network, state, use & ~on_it, group, starts, rng, keep=_KEEP)
        total = found.cost + hint_costs(scene, state, group, found.places_mm)
        kept: list[Array] = []
        for k in np.argsort(total):
            spots = found.places_mm[k]
            if any(float(np.abs(spots - other).max()) < _APART_MM for other in kept):
                continue
            kept.append(spots)
            moved = state.points_mm.copy()
            moved[group] = spots
            laid, laid_faces = with_faces(network, scene.build, replace(state, points_mm=moved), on_it, points)
            if not laid_faces[face]:
                continue
            trials = [settled(network, laid, use, columns, limits=w) for w in _BOTH]
            costs = [scene.cost(trial, use) for trial in trials]
            best = int(np.argmin(costs))
            if costs[best] < cost - _LESS:
                state, cost = trials[best], costs[best]
                break
            if len(kept) >= _RIVALS:
                break
    return state


def hint_costs(scene: Scene, state: State, group: Ints, places_mm: Array) -> Array:
    """Cost of all hints (k,) with the points `group` at each of `places_mm` (k, f, 3)."""
    out = np.zeros(len(places_mm))
    for hints in scene.hints:
        if len(hints.point) == 0:
            continue
        spots = np.repeat(state.points_mm[None], len(places_mm), axis=0)
        spots[:, group] = places_mm
        short = -hints.sign * (spots[:, hints.point, hints.axis] - hints.starts(state.points_mm))
        out += (hints.soft * np.clip((short - 5.0) / 30.0, 0.0, 1.0)).sum(axis=1)
    return out


def gains(scene: Scene, state: State, asked: Ints, places_mm: Array, cost: Array) -> Array:
    """How much each place (p, k) is better than the first, hints counted."""
    total = cost.copy()
    for hints in scene.hints:
        start = hints.starts(state.points_mm) if len(hints.point) else hints.start
        for h in range(len(hints.point)):
            at = np.flatnonzero(asked == hints.point[h])
            if len(at):
                short = -hints.sign[h] * (places_mm[at[0], :, hints.axis[h]] - start[h])
                total[at[0]] += hints.soft[h] * np.clip((short - 5.0) / 30.0, 0.0, 1.0)
    return np.asarray(total[:, :1] - total)


def _tangle(
    scene: Scene,
    state: State,
    use: Bools,
    points: Bools,
    neighbours: dict[int, set[int]],
    tried: dict[int, int],
    rng: np.random.Generator,
    lone: bool,
) -> Ints:
    """Points to throw together: one that bad readings speak against and the worst of those it is read with.

    Empty where all have had their turns; where only one reading is bad it has one.
    """
    off = np.abs(misfits(scene.network, state))
    bad: dict[int, float] = {}
    mates: dict[int, set[int]] = {}
    for i in np.flatnonzero(use & (off > _BAD)):
        eq = scene.network.equations[i]
        for p in eq.points:
            if points[p]:
                bad[p] = bad.get(p, 0.0) + 1.0
                mates.setdefault(p, set()).update(q for q in eq.points if points[q] and q != p)
    for hints in scene.hints:
        for p in hints.point[hints.broken_by(state.points_mm) > 0.05]:
            if points[p]:
                bad[int(p)] = bad.get(int(p), 0.0) + 1.0
    heat = {p: b + sum(bad.get(q, 0.0) - 1.0 for q in mates.get(p, ())) for p, b in bad.items()}
    share = scene.count_at(use)
    turns = {p: _TURNS if heat[p] >= 2.0 else int(lone) for p in heat if bad[p] > _SHARE * share[p]}
    asked = [p for p in turns if tried.get(p, 0) < turns[p]]
    if not asked:
        return np.zeros(0, dtype=np.intp)
    seed = min(asked, key=lambda p: (tried.get(p, 0), -heat[p], p))
    turn = tried.get(seed, 0)
    tried[seed] = turn + 1
    group = [seed, *sorted(mates.get(seed, ()), key=lambda q: -bad.get(q, 0.0))[: turn + 2]]
    rest = [q for q in sorted(neighbours.get(seed, ())) if points[q] and q not in group]
    group += [int(q) for q in rng.permutation(rest)[: max(_TOGETHER - len(group), 0)]]
    return np.array(sorted(group[:_TOGETHER]), dtype=np.intp)


def _doubted(scene: Scene, state: State, use: Bools) -> Bools:
    """Points that a badly fitting reading or a broken hint speaks against."""
    off = np.abs(misfits(scene.network, state))
    out = scene.count_at(use & (off > _BAD)) > 0.0
    for hints in scene.hints:
        out[hints.point[hints.broken_by(state.points_mm) > 0.05]] = True
    return np.asarray(out)


def _rebuilt(scene: Scene, state: State, use: Bools, points: Bools, rng: np.random.Generator) -> State:
    """Doubted points, and some of their neighbours, placed afresh from those that are trusted, layer by layer."""
    network = scene.network
    loose = _doubted(scene, state, use) & points
    loose &= rng.random(len(points)) < 0.9
    neighbours = scene.neighbours(use)
    for point in np.flatnonzero(loose):
        for other in sorted(neighbours.get(int(point), ())):
            if points[other] and rng.random() < 0.1:
                loose[other] = True
    if loose.sum() > 0.6 * points.sum():
        loose &= rng.random(len(points)) < 0.5
    while loose.any():
        one_missing = use & (np.append(loose, False)[scene.ends].sum(axis=1) == 1)
        count = scene.count_at(one_missing)
        most = float(count[loose].max())
        if most == 0.0:
            break
        layer = np.flatnonzero(loose & (count >= min(4.0, most)))
        starts = starts_for(network, state, layer, points & ~loose, rng)
        starts[:, 0] = starts[:, 5]
        tried = try_places(network, state, one_missing, layer, starts, rng=rng)
        gain = gains(scene, state, layer, tried.places_mm, tried.cost)
        moved = state.points_mm.copy()
        moved[layer] = tried.places_mm[np.arange(len(layer)), np.argmax(gain, axis=1)]
        state = replace(state, points_mm=moved)
        loose[layer] = False
    return state
