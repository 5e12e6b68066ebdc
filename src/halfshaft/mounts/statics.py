"""Where a loaded unit comes to rest on its mounts: mounts, body and load in; pose, force and travel of each mount out.

Large turns are exact: forces and moments balance in the turned state. The load keeps its direction as the unit moves,
its force through the centre of mass; half-shafts keep the axle's line, so the torque does not turn with the unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.geometry import Pose
from halfshaft.mounts.bulk import Body
from halfshaft.mounts.bushings import Bushing, Rubber, laid_out
from halfshaft.mounts.equilibrium import (
    Moved,
    Resistance,
    arms_mm,
    energy_nmm,
    moved_on,
    reach_mm,
    resistance,
    still,
    travel,
)
from halfshaft.mounts.held import NotHeld, hold, moves_of
from halfshaft.mounts.loads import Case
from halfshaft.mounts.turning import rotation_vector
from halfshaft.progress import Progress, silent
from halfshaft.sums import one_thread

Array = NDArray[np.float64]

_MOST_ITERATIONS = 60
_CLOSE = 1e-12
_CLOSE_ENOUGH = 1e-9
_LEAST_STEP, _LEAST_NEARLY = 1e-6, 0.4
_LEAST_SHARE = 1.0 / 256.0
_MOST_TURN_RAD = 0.2  # in one step
_MOST_SHIFT = 0.2  # of the mounts' reach, in one step
_TIPPED_RAD = 1.0


@dataclass(frozen=True, eq=False)
class MountState:
    """One mount under one load. What the frame's side carries is at the mount's drawn centre.

    `force_n` and `moment_nmm` (3,) in root axes, `own_force_n` and `own_moment_nmm` in its own: put on the frame by the
    unit. `travel` (6,): mm and degrees in its own axes. `used` (6,): share of the travel, over 1 where it ran out.
    """

    name: str
    force_n: Array
    moment_nmm: Array
    own_force_n: Array
    own_moment_nmm: Array
    travel: Array
    used: Array
    on_snubber: NDArray[np.bool_]
    in_tension: bool  # of a pad: its rubber is pulled
    let_go: bool  # of one that only pushes: the unit has left it


@dataclass(frozen=True, eq=False)
class Settled:
    """The unit at rest under one load: `pose` carries root spots of the drawn place to where they are now."""

    name: str
    pose: Pose
    shift_mm: Array  # of the centre of mass
    turn_deg: Array  # rotation vector, root axes
    mounts: tuple[MountState, ...]
    tangent: Array  # (6, 6) by a shift in mm and a turn in radians of the unit about its centre of mass
    energy_nmm: float  # in the rubber
    out_of_balance: float  # what is left, of the load
    moved: Moved
    iterations: int

    def mount(self, name: str) -> MountState:
        """Raises KeyError with the names that there are."""
        for mount in self.mounts:
            if mount.name == name:
                return mount
        raise KeyError(f"no mount '{name}'; there are: {', '.join(m.name for m in self.mounts)}")


def settle(
    mounts: Sequence[Bushing] | Rubber,
    centre_mm: ArrayLike,
    force_n: ArrayLike,
    moment_nmm: ArrayLike,
    name: str = "",
    start: Moved | None = None,
) -> Settled:
    """The rest of a unit whose centre of mass is drawn at `centre_mm` (3,), under a force and a moment there.

    Newton's method with the analytic tangent; the step goes only as far as the energy falls; the load is put on in
    smaller shares where it must be.

    Raises ValueError for bad numbers, NotHeld (a ValueError) where a move meets no resistance or the unit tips over.
    """
    rubber = mounts if isinstance(mounts, Rubber) else laid_out(mounts)
    with one_thread():
        return _settled(rubber, centre_mm, force_n, moment_nmm, name, start)


def _settled(
    rubber: Rubber, centre_mm: ArrayLike, force_n: ArrayLike, moment_nmm: ArrayLike, name: str, start: Moved | None
) -> Settled:
    centre = np.asarray(centre_mm, dtype=float)
    load = np.concatenate([np.asarray(force_n, dtype=float), np.asarray(moment_nmm, dtype=float)])
    if centre.shape != (3,) or load.shape != (6,) or not np.all(np.isfinite([*centre, *load])):
        raise ValueError(f"load '{name}': centre, force and moment want three numbers each")
    hold(rubber, centre)
    reach = reach_mm(rubber, centre)
    moved, share, step, count = start or still(), 0.0, 1.0, 0
    while share < 1.0:
        ahead = min(share + step, 1.0)
        found, there, used = _newton(rubber, centre, ahead * load, moved, reach)
        count += used
        if found:
            moved, share, step = there, ahead, 2.0 * step
            continue
        step /= 2.0
        if step < _LEAST_SHARE:
            raise NotHeld(_words_of_failure(rubber, centre, moved if share > 0.0 else there, there, reach, name, share))
    return _state(rubber, centre, load, moved, reach, name, count)


def settle_case(mounts: Sequence[Bushing] | Rubber, body: Body, case: Case) -> Settled:
    """`settle` under a load case. Raises as it does."""
    return settle(mounts, body.centre_mm, case.force_n, case.moment_nmm, case.name)


def settle_cases(
    mounts: Sequence[Bushing] | Rubber, body: Body, cases: Sequence[Case], progress: Progress = silent
) -> tuple[Settled, ...]:
    """The unit at rest under each case, in their order. Raises as `settle` does, at the first case that is not held."""
    rubber = mounts if isinstance(mounts, Rubber) else laid_out(mounts)
    out = []
    with one_thread():
        for at, case in enumerate(cases):
            progress(at / len(cases), case.name)
            out.append(_settled(rubber, body.centre_mm, case.force_n, case.moment_nmm, case.name, None))
    return tuple(out)


def _scale(reach: float) -> Array:
    return np.array([1.0, 1.0, 1.0, 1.0 / reach, 1.0 / reach, 1.0 / reach])


def _size(rubber: Rubber, found: Resistance, load: Array, scale: Array) -> float:
    """What a rest of force is measured by: the load, or what the mounts hold against each other."""
    inner = float(np.abs(found.force_n).sum() + np.abs(found.couple_nmm).sum() * scale[5])
    return max(float(np.linalg.norm(load * scale)), inner, 1e-9 * float(rubber.stiffness[:, :3].max()), 1e-12)


def _newton(rubber: Rubber, centre: Array, load: Array, start: Moved, reach: float) -> tuple[bool, Moved, int]:
    """Whether a balanced state is found near `start`, the state reached, and the steps taken."""
    scale, moved = _scale(reach), start
    now = resistance(rubber, centre, moved)
    for count in range(_MOST_ITERATIONS):
        rest = (load - now.wrench) * scale
        close = float(np.linalg.norm(rest)) / _size(rubber, now, load, scale)
        if close <= _CLOSE:
            return True, moved, count
        tangent = now.tangent * np.outer(scale, scale)
        step = _direction(tangent, rest)
        # a far jump may pass over the state sought
        most = max(np.linalg.norm(step[:3]) / (_MOST_SHIFT * reach), np.linalg.norm(step[3:]) / reach / _MOST_TURN_RAD)
        step = step / max(1.0, float(most))
        # once close enough, rounding may leave nothing to gain: no use in ever smaller steps
        least = _LEAST_NEARLY if close <= _CLOSE_ENOUGH else _LEAST_STEP
        further = _line_search(rubber, centre, load, moved, now, step * scale, scale, least)
        if further is None:
            return close <= _CLOSE_ENOUGH, moved, count
        moved, now = further
        if np.linalg.norm(rotation_vector(moved.rotation)) > _TIPPED_RAD:
            return False, moved, count
    rest = (load - now.wrench) * scale
    near = float(np.linalg.norm(rest)) <= _CLOSE_ENOUGH * _size(rubber, now, load, scale)
    return near, moved, _MOST_ITERATIONS


def _direction(tangent: Array, rest: Array) -> Array:
    """Newton's step; where the tangent is not positive, one that still leads downhill."""
    values, vectors = np.linalg.eigh(0.5 * (tangent + tangent.T))
    least = 1e-8 * float(np.abs(values).max())
    if values[0] > least:
        return np.asarray(np.linalg.solve(tangent, rest))
    return np.asarray(vectors @ ((vectors.T @ rest) / np.maximum(np.abs(values), least)))


def _line_search(
    rubber: Rubber, centre: Array, load: Array, moved: Moved, now: Resistance, step: Array, scale: Array, least: float
) -> tuple[Moved, Resistance] | None:
    """Along one shift and one turn about a line that stays: there the work of the load is exact."""
    before = energy_nmm(rubber, centre, moved)
    left = float(np.linalg.norm((load - now.wrench) * scale))
    slope = float((now.wrench - load) @ step)
    share = 1.0
    while share > least:
        there = moved_on(moved, share * step)
        gained = energy_nmm(rubber, centre, there) - before - share * float(load @ step)
        then = resistance(rubber, centre, there)
        # near the end the energy's digits are used up, the force's are not
        rounding = 1e-12 * (abs(before) + abs(float(load @ step)))
        falls = slope < 0.0 and gained <= 1e-4 * share * slope
        if falls or (gained <= rounding and float(np.linalg.norm((load - then.wrench) * scale)) < left):
            return there, then
        share /= 2.0
    return None


def _words_of_failure(
    rubber: Rubber, centre: Array, moved: Moved, last: Moved, reach: float, name: str, share: float
) -> str:
    """`moved` is where it gives way, `last` how far it was followed."""
    tangent = resistance(rubber, centre, moved).tangent * np.outer(_scale(reach), _scale(reach))
    _, vectors = np.linalg.eigh(0.5 * (tangent + tangent.T))
    column = vectors[:, :1]
    soft = moves_of(np.eye(6) - column @ column.T, centre + moved.shift_mm, reach)
    left = [n for n, x in zip(rubber.names, _let_go(rubber, centre, last), strict=True) if x]
    off = f"; the unit has left {', '.join(left)}" if left else ""
    case = f" under '{name}'" if name else ""
    past = f" past {100.0 * share:.0f} % of the load" if share > 0.0 else ""
    return (
        f"the mounts ({', '.join(rubber.names)}) do not hold the unit{case}{past}: "
        f"{'; '.join(move.words for move in soft)}{off}. Make them stiffer that way, set them wider, or add a snubber."
    )


def _let_go(rubber: Rubber, centre: Array, moved: Moved) -> NDArray[np.bool_]:
    x = travel(rubber, centre, moved)
    return np.asarray((~rubber.holds_pull & (rubber.stiffness > 0.0) & (x >= rubber.let_go)).any(axis=1))


def _state(rubber: Rubber, centre: Array, load: Array, moved: Moved, reach: float, name: str, count: int) -> Settled:
    found, scale = resistance(rubber, centre, moved), _scale(reach)
    tangent = found.tangent * np.outer(scale, scale)
    values = np.linalg.eigvalsh(0.5 * (tangent + tangent.T))
    if values[0] <= 1e-9 * values[-1]:
        # balanced, but as a pencil on its point
        raise NotHeld(_words_of_failure(rubber, centre, moved, moved, reach, name, 1.0))
    x = travel(rubber, centre, moved)
    degrees = np.hstack([x[:, :3], np.degrees(x[:, 3:])])
    away = centre + moved.shift_mm + arms_mm(rubber, centre, moved) - rubber.centre_mm
    moment = found.couple_nmm + np.cross(away, found.force_n)
    own_force = np.einsum("mji,mj->mi", rubber.own, found.force_n)
    own_moment = np.einsum("mji,mj->mi", rubber.own, moment)
    used, snubbed, gone = rubber.used(x), rubber.on_snubber(x), _let_go(rubber, centre, moved)
    states = tuple(
        MountState(
            rubber.names[i], found.force_n[i], moment[i], own_force[i], own_moment[i], degrees[i], used[i], snubbed[i],
            bool(rubber.pad[i] and own_force[i, 0] > 0.0), bool(gone[i]),
        )
        for i in range(len(rubber.names))
    )  # fmt: skip
    rest = float(np.linalg.norm((load - found.wrench) * scale)) / _size(rubber, found, load, scale)
    pose = Pose(moved.rotation, centre + moved.shift_mm - moved.rotation @ centre)
    return Settled(
        name, pose, moved.shift_mm, np.degrees(rotation_vector(moved.rotation)), states, found.tangent,
        energy_nmm(rubber, centre, moved), rest, moved, count,
    )  # fmt: skip
