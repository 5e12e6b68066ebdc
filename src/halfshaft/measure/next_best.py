"""The next best reading: an adjusted network and the holes of a bracket in, the readings that help them most out.

What counts for a bracket is where its holes and faces are among themselves, so the rigid motion of the whole set is
taken out first. The criterion is the trace of what is left of the covariance: its root over the number of holes is the
spread of a hole among the others, in mm. (The trace is chosen before the worst axis because it adds up hole by hole and
tells the same reading whichever hole is the worst by a hair.) A further reading with slopes j and spread s takes
|L C j|^2 / (s^2 + j'C j) off it, L giving the holes without their rigid motion; every candidate is tried at once, and
after each pick the covariance is brought up to date by the same rank-one step. Formulas: docs/measure.md.
Source: J. Sherman and W. J. Morrison, Adjustment of an Inverse Matrix, Ann. Math. Stat. 21, 1950; from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags

from halfshaft.build import catalogue
from halfshaft.build.schema import Build
from halfshaft.geometry.pose import skew
from halfshaft.measure.adjust import Adjustment, row_variances
from halfshaft.measure.candidates import Candidates, candidates_of, face_middles_mm
from halfshaft.measure.datum import datum_of, reach_of
from halfshaft.measure.hidden import HiddenSlips
from halfshaft.measure.network import Network, State, root_points_mm, tangents
from halfshaft.measure.slips import value_words
from halfshaft.measure.words import label_of, short_name, size_of
from halfshaft.progress import Progress, silent

Array = NDArray[np.float64]

_FELT = 0.99  # of what hidden slips do to the holes
_ESTIMABLE = 1e-6  # slopes along what the readings leave open, against the size of the slopes


@dataclass(frozen=True)
class NextReading:
    """One reading to take. `before_mm` and `after_mm`: spread of a hole among the others, with all earlier picks taken.

    `expected` is in mm or degrees (`unit`). `checks` names readings that nothing checked enough until now and this one
    does. `minutes` is the time it takes.
    """

    kind: str
    names: tuple[str, ...]
    instrument: str
    frame: str
    expected: float
    unit: str
    spread: float
    before_mm: float
    after_mm: float
    minutes: float
    repeat: bool
    checks: tuple[str, ...]
    words: str

    @property
    def gain_mm(self) -> float:
        return self.before_mm - self.after_mm

    @property
    def gain_mm_per_minute(self) -> float:
        return self.gain_mm / self.minutes


def next_readings(
    build: Build,
    network: Network,
    adjustment: Adjustment,
    holes: Sequence[str],
    count: int = 10,
    progress: Progress | None = None,
    by: str = "gain",
    hidden: HiddenSlips | None = None,
) -> tuple[NextReading, ...]:
    """The `count` readings, in order, that bring down the spread of the named points and faces among themselves most.

    With `hidden` what slips may do that no other reading shows counts with the spread, each by its chance. `by` is
    'gain', or 'effort' for the gain a minute. Names are qualified. Each pick counts as taken for the next ones.
    Raises ValueError for fewer than two names, names that are not located, or bodies that no reading ties together.
    """
    return _pick(build, network, adjustment, holes, count, progress or silent, by, hidden)


def checking_readings(
    build: Build, network: Network, adjustment: Adjustment, count: int = 10, progress: Progress | None = None
) -> tuple[NextReading, ...]:
    """The `count` readings, in order, that best check what hardly any other reading checks, for the time they take.

    Empty where every reading is checked. Here `before_mm` and `after_mm` are of all located points among themselves.
    """
    points = [n for i, n in enumerate(network.point_names) if adjustment.active[network.point_at[i]]]
    leader = reach_of(network, adjustment.use).leader
    home = [n for n in points if leader[_body(network, n)] == network.root] or points
    same = [n for n in home if leader[_body(network, n)] == leader[_body(network, home[0])]]
    return _pick(build, network, adjustment, same, count, progress or silent, "checks")


def _body(network: Network, name: str) -> int:
    return network.body_names.index(name.partition(".")[0])


def relative_spread_mm(network: Network, adjustment: Adjustment, holes: Sequence[str]) -> float:
    """Spread of a hole among the named ones: root of the mean variance, three directions together, rigid motion out."""
    among = _among(network, adjustment, holes)
    return float(np.sqrt(np.sum((among @ adjustment.covariance) * among) / len(holes)))


def spread_with_mm(
    network: Network, adjustment: Adjustment, holes: Sequence[str], shared: Array, variance: Array
) -> tuple[float, float]:
    """`relative_spread_mm` now, and with further readings: `shared` (n, k) is C J', `variance` (k, k) is S + J C J'.

    Raises ValueError like `next_readings`.
    """
    among, trace = _kept(network, adjustment, tuple(holes))
    moved = among @ shared
    gained = float(np.sum(moved * np.linalg.solve(variance, moved.T).T))
    return float(np.sqrt(trace / len(holes))), float(np.sqrt(max(trace - gained, 0.0) / len(holes)))


@lru_cache(maxsize=32)
def _kept(network: Network, adjustment: Adjustment, holes: tuple[str, ...]) -> tuple[Array, float]:
    """`_among` and the trace of its covariance, kept while rows are typed against one adjustment."""
    among = _among(network, adjustment, holes)
    return among, float(np.sum((among @ adjustment.covariance) * among))


def estimable(network: Network, adjustment: Adjustment, slopes: csr_matrix) -> NDArray[np.bool_]:
    """Readings (k,) between located things whose value does not hang on what the readings leave open."""
    return _estimable(network, adjustment, slopes)


def _among(network: Network, adjustment: Adjustment, holes: Sequence[str]) -> Array:
    """L (q, n): moves of the named points and faces for a step of the unknowns, less their common rigid motion.

    A point gives three rows. A face gives three: its shift along the normal where the nearest named point stands over
    it (at its own middle when no point is named), and its two tilts times the typical distance of the holes from their
    middle.
    """
    if len(holes) < 2:
        raise ValueError("name two or more points or faces: one alone has no place among others")
    state = adjustment.state
    points = {n: i for i, n in enumerate(network.point_names)}
    faces = {n: i for i, n in enumerate(network.face_names)}
    leader = reach_of(network, adjustment.use).leader
    missing = [
        n
        for n in holes
        if not (
            (n in points and adjustment.active[network.point_at[points[n]]])
            or (n in faces and adjustment.active[network.face_at[faces[n]]])
        )
    ]
    if missing:
        raise ValueError(f"not located: {', '.join(missing)}")
    bodies = [int(network.point_body[points[n]] if n in points else network.face_body[faces[n]]) for n in holes]
    if len({int(leader[b]) for b in bodies}) > 1:
        names = sorted({network.body_names[b] for b in bodies})
        raise ValueError(f"no reading ties {' and '.join(names)} together")
    spots = root_points_mm(network, state)
    named = np.array([spots[points[n]] for n in holes if n in points]).reshape(-1, 3)
    places = np.array([spots[points[n]] if n in points else _over(network, state, faces[n], named) for n in holes])
    centre = places.mean(axis=0)
    arm = max(float(np.sqrt(np.mean(np.sum((places - centre) ** 2, axis=1)))), 1.0)
    rows, moves = [], []
    basis = tangents(state.normals)
    for name, place, body in zip(holes, places, bodies, strict=True):
        rotation, shift, pose = state.rotations[body], state.shifts_mm[body], int(network.pose_at[body])
        row = np.zeros((3, network.size))
        away = (place - centre) / arm
        if name in points:
            at = network.point_at[points[name]]
            row[:, at : at + 3] = rotation
            if pose >= 0:
                row[:, pose : pose + 3] = -skew(place - shift)
                row[:, pose + 3 : pose + 6] = np.eye(3)
            moves.append(np.hstack([-skew(away), np.eye(3)]))
        else:
            face = faces[name]
            at = network.face_at[face]
            normal, tilt = rotation @ state.normals[face], rotation @ basis[face]
            row[0, at : at + 2] = -(place - shift) @ tilt
            row[0, at + 2] = 1.0
            row[1:, at : at + 2] = arm * np.eye(2)
            if pose >= 0:
                turning = -skew(normal)
                row[0, pose : pose + 3] = -(place - shift) @ turning
                row[0, pose + 3 : pose + 6] = normal
                row[1:, pose : pose + 3] = arm * tilt.T @ turning
            rigid = np.zeros((3, 6))
            rigid[0, :3], rigid[0, 3:] = np.cross(away, normal), normal
            rigid[1:, :3] = tilt.T @ -skew(normal)
            moves.append(rigid)
        rows.append(row)
    stacked, motion = np.vstack(rows), np.vstack(moves)
    u, size, _ = np.linalg.svd(motion, full_matrices=False)
    u = u[:, size > 1e-9 * size[0]]
    return np.asarray(stacked - u @ (u.T @ stacked))


def _over(network: Network, state: State, face: int, named: Array) -> Array:
    """Spot (3,) of a face under the nearest of the named points (k, 3), in root axes."""
    if len(named) == 0:
        return np.asarray(face_middles_mm(network, state)[face])
    body = int(network.face_body[face])
    normal = state.rotations[body] @ state.normals[face]
    over = named @ normal - (state.distances_mm[face] + normal @ state.shifts_mm[body])
    nearest = int(np.argmin(np.abs(over)))
    return np.asarray(named[nearest] - over[nearest] * normal)


def _estimable(network: Network, adjustment: Adjustment, slopes: csr_matrix) -> NDArray[np.bool_]:
    """Candidates (k,) that touch only what is located and notice none of the moves which the readings leave open."""
    moves = _open_moves(network, adjustment)
    touched = abs(slopes)
    inside = np.asarray(touched @ (~adjustment.active).astype(float)).ravel() == 0.0
    if not moves.shape[1]:
        return np.asarray(inside)
    seen = np.abs(np.asarray(slopes @ moves)).max(axis=1)
    possible = np.asarray(touched @ np.abs(moves).max(axis=1)).ravel()
    return np.asarray(inside & (seen <= _ESTIMABLE * np.maximum(possible, 1e-30)))


@lru_cache(maxsize=4)
def _open_moves(network: Network, adjustment: Adjustment) -> Array:
    """Moves (n, k) that the readings leave open, whatever holds the datum."""
    used = adjustment.use
    weighted = csr_matrix(diags(1.0 / network.sigmas[used]) @ adjustment.jacobian[used])
    return datum_of(network, adjustment.state, weighted, reach_of(network, used), {}).moves


def _pick(
    build: Build,
    network: Network,
    adjustment: Adjustment,
    holes: Sequence[str],
    count: int,
    progress: Progress,
    by: str,
    hidden: HiddenSlips | None = None,
) -> tuple[NextReading, ...]:
    among = _among(network, adjustment, holes)
    covariance = adjustment.covariance
    progress(0.0, "readings that could be taken")
    tried = candidates_of(build, network, adjustment, holes)
    ok = _estimable(network, adjustment, tried.slopes)
    tried = tried.only(ok)
    slopes = tried.slopes
    if slopes.shape[0] == 0 or count < 1:
        return ()
    limit = float(catalogue.default("measure.least_redundancy").value)
    unchecked = np.flatnonzero(adjustment.use & (adjustment.redundancy < limit) & _read(network))
    lacking = limit - adjustment.redundancy[unchecked]
    lean = adjustment.jacobian[unchecked]
    lean_variance = network.sigmas[unchecked] ** 2
    shared = np.asarray(slopes @ (covariance @ among.T)).T  # (q, k)
    leaning = np.asarray(slopes @ np.asarray(lean @ covariance).T).T  # (u, k)
    variance = tried.sigmas**2 + row_variances(slopes, covariance)
    trace = float(np.sum((among @ covariance) * among))
    # what a hidden slip moves: a reading that the estimate now hears takes part of it off again
    slips = _weighed(hidden, among)
    at_holes, at_readings = among @ slips, np.asarray(slopes @ slips)  # (q, s), (k, s)
    taken: list[tuple[Array, float]] = []
    free = np.ones(slopes.shape[0], dtype=bool)
    out: list[NextReading] = []
    for number in range(count):
        progress((number + 0.5) / count, "next best reading")
        gain = np.sum(shared**2, axis=0) / variance
        worth = gain + _slip_gain(shared, variance, at_holes, at_readings)
        if by == "checks":
            lifted = np.minimum(leaning**2 / variance / lean_variance[:, None], np.maximum(lacking, 0.0)[:, None])
            score = lifted.sum(axis=0) / tried.minutes
        else:
            score = worth / tried.minutes if by == "effort" else worth
        score = np.where(free, score, -1.0)
        best = int(np.argmax(score))
        if score[best] <= 1e-12:
            break
        after = max(trace - float(gain[best]), 0.0)
        rise = leaning[:, best] ** 2 / variance[best] / lean_variance
        checked = [int(unchecked[i]) for i in np.flatnonzero((lacking > 0.0) & (lacking - rise <= 0.0))]
        lacking = lacking - rise
        spreads = (float(np.sqrt(trace / len(holes))), float(np.sqrt(after / len(holes))))
        out.append(_told(build, network, adjustment, tried, best, spreads, checked, by))
        row = slopes[best].toarray().ravel()
        moved = covariance @ row
        for earlier, scale in taken:
            moved = moved - earlier * (float(earlier @ row) / scale)
        scale = float(variance[best])
        seen = np.asarray(slopes @ moved)
        felt = shared[:, best].copy()
        shared = shared - np.outer(shared[:, best], seen / scale)
        leaning = leaning - np.outer(leaning[:, best], seen / scale)
        heard = at_readings[best].copy()
        at_holes = at_holes - np.outer(felt, heard / scale)
        at_readings = at_readings - np.outer(seen / scale, heard)
        variance = variance - seen**2 / scale
        taken.append((moved, scale))
        free[best] = False
        trace = after
    return tuple(out)


def _weighed(hidden: HiddenSlips | None, among: Array) -> Array:
    """Columns (n, s) whose squares add up to what hidden slips add to the covariance, without those hardly felt."""
    if hidden is None or len(hidden.chance) == 0:
        return np.zeros((among.shape[1], 0))
    root = np.sqrt(hidden.chance)[:, None]
    columns = np.vstack([root * hidden.mean, root * hidden.way]).T
    felt = np.sum((among @ columns) ** 2, axis=0)
    order = np.argsort(-felt)
    enough = int(np.searchsorted(np.cumsum(felt[order]), _FELT * float(felt.sum()))) + 1
    return np.asarray(columns[:, order[:enough]])


def _slip_gain(shared: Array, variance: Array, at_holes: Array, at_readings: Array) -> Array:
    """What each candidate (k,) takes off the squares of hidden slips at the holes, with the weight its spread gives it.

    With the gain g = C j' / (s^2 + j C j') a move e of the unknowns becomes e - g j e.
    """
    if at_holes.shape[1] == 0:
        return np.zeros(len(variance))
    crossed = np.sum(shared * (at_holes @ at_readings.T), axis=0) / variance
    again = np.sum(shared**2, axis=0) * np.sum(at_readings**2, axis=1) / variance**2
    return np.asarray(2.0 * crossed - again)


def _read(network: Network) -> NDArray[np.bool_]:
    return np.array([eq.row >= 0 and eq.kind not in ("given", "mirror") for eq in network.equations], dtype=bool)


def _told(
    build: Build,
    network: Network,
    adjustment: Adjustment,
    tried: Candidates,
    index: int,
    spreads: tuple[float, float],
    checked: Sequence[int],
    by: str,
) -> NextReading:
    eq = tried.equations[index]
    kind, instrument = tried.kinds[index], tried.instruments[index]
    names = (*(network.point_names[p] for p in eq.points), *(network.face_names[f] for f in eq.faces))
    own = {n.partition(".")[0] for n in names}
    frame = network.body_names[eq.frame] if eq.frame >= 0 and {network.body_names[eq.frame]} != own else ""
    expected = float(tried.expected[index])
    checks = tuple(dict.fromkeys(label_of(build, network, network.equations[i]) for i in checked))
    label = " ".join([kind, *(short_name(build, n) for n in names)])
    again = "again, " if tried.repeats[index] else ""
    about = value_words(kind, (expected,), build.build.units)
    says = f"{label} {again}with the {instrument.replace('_', ' ')}: about {about}"
    fall = f"the holes among themselves: {size_of(build, spreads[0], 'mm')} -> {size_of(build, spreads[1], 'mm')}"
    parts = [says] if by == "checks" else [says, fall]
    if checks:
        shown = ", ".join(checks[:3]) + (f" and {len(checks) - 3} more" if len(checks) > 3 else "")
        parts.append(f"checks {shown}")
    return NextReading(
        kind,
        names,
        instrument,
        frame,
        expected,
        eq.unit,
        float(tried.sigmas[index]),
        spreads[0],
        spreads[1],
        float(tried.minutes[index]),
        bool(tried.repeats[index]),
        checks,
        "; ".join(parts),
    )
