"""Slips found by data snooping: a network and a first state in, an adjustment without the slips out.

Gross slips are damped first by the Danish method, so that they cannot drag the rest along; then one reading at a time
is set aside by Baarda's w-test, the largest first, and those that agree with the rest after all are taken back.
Sources, from memory: W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968 (w-test); T. Krarup, J. Juhl and
K. Kubik, Götterdämmerung over least squares adjustment, 14th ISPRS Congress, 1980 (Danish method).
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfshaft.measure.adjust import CRITICAL_W, Adjustment, NotHeld, examine, settle
from halfshaft.measure.contest import contest_of
from halfshaft.measure.system import Network, State, predict

if TYPE_CHECKING:
    from halfshaft.build.schema import Axes

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Wanted = Mapping[int, "Axes | None"]

_DAMP_FROM = 2.0  # spreads from which the Danish method takes weight away
_GROSS = 6.0  # spreads beyond which a damped reading starts set aside
_LEAST_REDUNDANCY = 0.005  # below it w says more of rounding than of slips
_ALIKE = 0.7  # correlation of w from which two readings may be taken for each other
_ROUNDS = 200
_BETTER = 0.7  # log of the odds from which the other reading is set aside instead: two to one


@dataclass(frozen=True)
class Aside:
    """An equation set aside: its slip (value less what the others say), the spread of that, and w = slip / spread."""

    equation: int
    slip: float
    spread: float
    w: float
    among: tuple[int, ...]  # equations that the data could not tell apart from it


@dataclass(frozen=True, eq=False)
class Snooped:
    """The adjustment of what is left, and what was set aside, the worst first."""

    adjustment: Adjustment
    aside: tuple[Aside, ...]


def damped(network: Network, state: State, use: Bools, wanted: Wanted, rounds: int = 10) -> tuple[State, Array]:
    """State and weight factors (m,) after the Danish method: weight falls exponentially beyond so many spreads."""
    factors = _lessened(network, state, use, 3.0)
    for round_number in range(rounds):
        state, _ = settle(network, state, use, wanted, factors=factors, most=3, tolerance_mm=1e-2)
        # The limit comes down in steps: at first only what is far out loses weight, while the state may still be off.
        new = _lessened(network, state, use, 3.0 / (round_number + 1))
        calm = round_number > 2 and float(np.max(np.abs(new - factors)[use], initial=0.0)) < 0.02
        factors = new
        if calm:
            break
    return state, factors


def _lessened(network: Network, state: State, use: Bools, times: float) -> Array:
    """Weight factors (m,) at a state: the limit is `times` the usual misfit, not under the spread's own."""
    off = np.abs(network.values - predict(network, state)) / network.sigmas
    usual = 1.4826 * float(np.median(off[use])) if use.any() else 1.0
    limit = _DAMP_FROM * max(1.0, times * usual)
    return np.asarray(np.where(off > limit, np.exp(-np.minimum(off / limit - 1.0, 20.0)), 1.0))


def snoop(
    network: Network, state: State, use: Bools, wanted: Wanted, critical: float = CRITICAL_W, robust: bool = True
) -> Snooped:
    """Adjust the equations marked in `use` (m,), set slips aside, take back what agrees.

    Raises NotHeld where even all of `use` leaves unknowns open.
    """
    use = use.copy()
    whole = use.copy()
    if robust:
        state, _ = damped(network, state, use, wanted)
        off = np.abs(network.values - predict(network, state)) / network.sigmas
        use &= off < _GROSS
    current = _held(network, state, use, whole, wanted)
    alike: dict[int, tuple[int, ...]] = {}
    taken_back: set[int] = set()
    needed: set[int] = set()
    been: set[bytes] = set()
    for _ in range(_ROUNDS):
        worst = _worst(current, critical, needed)
        if worst is not None:
            alike[worst] = _alike(current, worst, critical)
            trial = current.use.copy()
            trial[worst] = False
            try:
                current = _adjusted(network, current.state, trial, wanted)
            except NotHeld:
                needed.add(worst)
            continue
        back = _agreeing(current, whole, taken_back, critical)
        if back is None:
            changed = _changed_over(current, whole, needed, been)
            if changed is None:
                break
            # of two that contradict each other the wrong one went: what was known of the others may hold no more
            taken_back.clear()
            been.add(changed.tobytes())
            with suppress(NotHeld):
                current = _adjusted(network, current.state, changed, wanted)
            continue
        taken_back.add(back)
        trial = current.use.copy()
        trial[back] = True
        current = _adjusted(network, current.state, trial, wanted)
    aside = [_aside(current, int(i), alike.get(int(i), ())) for i in np.flatnonzero(whole & ~current.use)]
    return Snooped(current, tuple(sorted(aside, key=lambda a: -abs(a.w))))


def _adjusted(network: Network, state: State, use: Bools, wanted: Wanted) -> Adjustment:
    state, iterations = settle(network, state, use, wanted)
    return examine(network, state, use, wanted, iterations)


def _held(network: Network, state: State, use: Bools, whole: Bools, wanted: Wanted) -> Adjustment:
    """Adjust; where setting aside left something in the air, give back the readings that touch it."""
    use = use.copy()
    for _ in range(len(network.point_names) + len(network.face_names) + 2):
        lost = _lost(network, use, whole)
        if not lost.any():
            try:
                return _adjusted(network, state, use, wanted)
            except NotHeld as open_still:
                lost = _touching(network, open_still) & whole & ~use
                if not lost.any():
                    raise
        use |= lost
    return _adjusted(network, state, whole, wanted)


def _lost(network: Network, use: Bools, whole: Bools) -> Bools:
    """Equations set aside although their point, face or body is touched by no other."""
    out = np.zeros_like(use)
    now, before = _touched(network, use), _touched(network, whole)
    gone = before - now
    if gone:
        for i in np.flatnonzero(whole & ~use):
            eq = network.equations[i]
            if gone & ({("p", p) for p in eq.points} | {("f", f) for f in eq.faces}):
                out[i] = True
    return out


def _touched(network: Network, use: Bools) -> set[tuple[str, int]]:
    out: set[tuple[str, int]] = set()
    for i in np.flatnonzero(use):
        eq = network.equations[i]
        out.update(("p", p) for p in eq.points)
        out.update(("f", f) for f in eq.faces)
    return out


def _touching(network: Network, open_still: NotHeld) -> Bools:
    points, faces, bodies = set(open_still.points), set(open_still.faces), set(open_still.bodies)
    out = np.zeros(len(network.equations), dtype=bool)
    for i, eq in enumerate(network.equations):
        at = {int(network.point_body[p]) for p in eq.points} | {int(network.face_body[f]) for f in eq.faces}
        out[i] = bool(points & set(eq.points) or faces & set(eq.faces) or (bodies & at and len(at) > 1))
    return out


def _worst(current: Adjustment, critical: float, needed: set[int]) -> int | None:
    tested = np.where(current.use & (current.redundancy > _LEAST_REDUNDANCY), np.abs(current.w), 0.0)
    tested[list(needed)] = 0.0
    if len(tested) == 0 or float(tested.max()) <= critical:
        return None
    return int(np.argmax(tested))


def _alike(current: Adjustment, worst: int, critical: float) -> tuple[int, ...]:
    """Equations whose w is not told apart from the worst one: the difference of the two is within its own chance.

    The difference of two w of correlation rho has variance 2 (1 - |rho|); one-sided 5 %.
    """
    rho = np.abs(current.likeness(worst))
    short = np.abs(current.w[worst]) - np.abs(current.w)
    close = short <= 1.6449 * np.sqrt(2.0 * np.maximum(1.0 - rho, 0.0)) + 1e-6
    found = np.flatnonzero(current.use & (rho > _ALIKE) & close & (np.abs(current.w) > critical))
    return tuple(int(i) for i in found if i != worst)


def _agreeing(current: Adjustment, whole: Bools, taken_back: set[int], critical: float) -> int | None:
    """Of the equations set aside, the one that agrees best with the rest, if any agrees at all."""
    best, least = None, critical
    for i in np.flatnonzero(whole & ~current.use & current.known):
        if int(i) not in taken_back:
            w = abs(_aside(current, int(i), ()).w)
            if w < least:
                best, least = int(i), w
    return best


def _changed_over(current: Adjustment, whole: Bools, needed: set[int], been: set[bytes]) -> Bools | None:
    """Equations to use (m,) with one that was set aside taken back for another that is the likelier slip with it in.

    None where none of those set aside stands better than all the rest; `been` are choices made already.
    """
    best, most = None, _BETTER
    for aside in np.flatnonzero(whole & ~current.use & current.known):
        found = contest_of(current, int(aside))
        gain = found.log_odds()
        gain[list(needed)] = -np.inf
        worst = int(np.argmax(gain))
        if gain[worst] > most:
            trial = current.use.copy()
            trial[aside], trial[worst] = True, False
            if trial.tobytes() not in been:
                best, most = trial, float(gain[worst])
    return best


def _aside(current: Adjustment, equation: int, among: tuple[int, ...]) -> Aside:
    slip = float(current.residuals[equation])
    spread = float(np.hypot(current.network.sigmas[equation], current.spread_of_prediction[equation]))
    return Aside(equation, slip, spread, slip / spread, among)
