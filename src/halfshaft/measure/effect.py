"""What a row being typed would do: a surveyed build and one reading in, its effect out at once, nothing worked again.

The prediction of the other readings is J x with spread sqrt(s^2 + J C J'); the covariance with the reading in place is
C - C J' (S + J C J')^-1 J C, as in next_best.py, at the state of the others. The whole adjustment differs from it only
by what the state moves and by slips that it sets aside or takes back. Formulas: docs/measure.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, vstack

from halfshaft.build.schema import Build, Reading
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.measure.adjust import CRITICAL_W, Adjustment
from halfshaft.measure.network import (
    Equation,
    bodies_of,
    equations_of,
    face_names_of,
    point_names_of,
    predict_and_jacobian,
    stepped,
    with_equations,
)
from halfshaft.measure.next_best import estimable, spread_with_mm
from halfshaft.measure.results import point_steps
from halfshaft.measure.slips import recognise, value_words
from halfshaft.measure.station import Surveyed
from halfshaft.measure.words import short_name, slip_words
from halfshaft.sure import THREE_WAYS, worst_spread

Array = NDArray[np.float64]

_TOLD_MM = 0.005  # less than the last digit shown is no news


@dataclass(frozen=True)
class HolesEffect:
    """Spread of a hole of one bracket among the others, mm, one standard deviation, before and with the reading."""

    bracket: str
    before_mm: float
    after_mm: float


@dataclass(frozen=True)
class NewThing:
    """A point or face that is not located: how many more scalar readings hold it, at least, with this one taken."""

    name: str
    still: int
    words: str


@dataclass(frozen=True)
class Effect:
    """`expected` and `spread` (one standard deviation of what would be read, instrument and prediction together) a part
    each: three for 'given' and 'mirror'; empty where the others cannot tell. `w` is the part furthest out, in spreads.

    `largest_point` is the least known point with the longest half-axis of its 95 % ellipsoid, before and with the
    reading. `slip` names the likely cause where `w` is past Baarda's limit, `proposal` what would agree.
    """

    label: str
    unit: str
    value: tuple[float, ...]
    expected: tuple[float, ...] = ()
    spread: tuple[float, ...] = ()
    w: float | None = None
    slip: str = ""
    kind_of_slip: str = ""
    proposal: tuple[tuple[str, ...], tuple[float, ...]] | None = None
    largest_point: str = ""
    largest_before_mm: float = 0.0
    largest_after_mm: float = 0.0
    holes: tuple[HolesEffect, ...] = ()
    new: tuple[NewThing, ...] = ()
    words: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool | None:
        """None where nothing can be compared."""
        return None if self.w is None else abs(self.w) <= CRITICAL_W


@dataclass(frozen=True)
class Standing:
    """How well all is known: the least known point with the longest half-axis of its 95 % ellipsoid, and the spread of
    a hole of each bracket among the others, mm."""

    point: str
    point_mm: float
    holes: tuple[tuple[str, float], ...]
    located: int


def standing_of(build: Build, surveyed: Surveyed) -> Standing:
    """How well the points and the holes of each bracket are known."""
    adjustment = surveyed.snooped.adjustment
    none = np.zeros((surveyed.network.size, 1))
    point, before, _ = _largest(surveyed, adjustment, none, np.eye(1))
    holes = tuple((h.bracket, h.before_mm) for h in _holes(build, surveyed, adjustment, none, np.eye(1)))
    return Standing(point, before, holes, int(np.sum(surveyed.points_located)))


def compared(build: Build, before: Standing, after: Standing, units: UnitSystem | None = None) -> tuple[str, ...]:
    """What changed between two standings, in short sentences."""
    system = units or build.build.units
    out = []
    more = after.located - before.located
    if more:
        out.append(f"{abs(more)} {'more' if more > 0 else 'fewer'} point{'s' if abs(more) > 1 else ''} located")
    if after.point and abs(after.point_mm - before.point_mm) >= _TOLD_MM:
        was, now = format_length(before.point_mm, system), format_length(after.point_mm, system)
        out.append(f"least known point, {short_name(build, after.point)}: {was} -> {now}")
    was_mm = dict(before.holes)
    for name, now_mm in after.holes:
        if name in was_mm and abs(was_mm[name] - now_mm) >= _TOLD_MM:
            was, now = format_length(was_mm[name], system), format_length(now_mm, system)
            out.append(f"holes of {name} among themselves: {was} -> {now}")
    return tuple(out) or ("what is known stays as well known as it was",)


def effect_of(
    build: Build,
    surveyed: Surveyed,
    reading: Reading,
    without: int | None = None,
    units: UnitSystem | None = None,
) -> Effect:
    """What `reading` would do, added to the readings that `surveyed` was worked from.

    `without` is a row, as index into the readings, that the reading stands in place of: it is taken out first.
    `units` are what the words tell lengths in. Raises KeyError for an instrument that is not known.
    """
    network, adjustment = surveyed.network, surveyed.snooped.adjustment
    label = " ".join([reading.kind, *(short_name(build, n) for n in reading.names)])
    points = {n: i for i, n in enumerate(network.point_names)}
    faces = {n: i for i, n in enumerate(network.face_names)}
    strange = [n for n in reading.names if n not in points and n not in faces]
    unit = "deg" if reading.kind in ("angle", "slope", "bevel") else "mm"
    bare = Effect(label, unit, reading.value)
    if strange:
        new = _new(build, surveyed, reading, ())
        return replace(bare, new=new, words=tuple(n.words for n in new))
    own = equations_of(
        build,
        reading,
        len(build.readings),
        tuple(points[n] for n in point_names_of(reading)),
        tuple(faces[n] for n in face_names_of(reading)),
        network.point_body.tolist(),
        {n: i for i, n in enumerate(network.body_names)},
        network.root,
    )
    if without is not None:
        adjustment = _less(adjustment, without)
    new = _new(build, surveyed, reading, own)
    if new or not _together(surveyed, own):
        words = tuple(n.words for n in new) or ("it ties bodies together: what it does shows once it is saved",)
        return replace(bare, new=new, words=words)
    return _foretold(build, surveyed, adjustment, reading, own, bare, units or build.build.units)


def _foretold(
    build: Build,
    surveyed: Surveyed,
    adjustment: Adjustment,
    reading: Reading,
    own: list[Equation],
    bare: Effect,
    units: UnitSystem,
) -> Effect:
    network = surveyed.network
    trial = with_equations(network, own)
    said, slopes = predict_and_jacobian(trial, adjustment.state)
    if not bool(estimable(network, adjustment, slopes).all()):
        words = "the readings so far leave this open: it sets where the axes lie, and what it does shows once saved"
        return replace(bare, words=(words,))
    shared = np.asarray((slopes @ adjustment.covariance).T)
    told = np.asarray(slopes @ shared)
    variance = told + np.diag(trial.sigmas**2)
    spread = np.sqrt(np.diag(variance))
    off = trial.values - said
    worst = int(np.argmax(np.abs(off) / spread))
    w = float(off[worst] / spread[worst])
    slip, kind, proposal = "", "", None
    if abs(w) > CRITICAL_W:
        slip, kind, proposal = _slip(build, adjustment, reading, own, worst, float(off[worst]))
    largest, before, after = _largest(surveyed, adjustment, shared, variance)
    holes = tuple(_holes(build, surveyed, adjustment, shared, variance))
    out = replace(
        bare,
        expected=tuple(float(v) for v in said),
        spread=tuple(float(s) for s in spread),
        w=w,
        slip=slip,
        kind_of_slip=kind,
        proposal=proposal,
        largest_point=largest,
        largest_before_mm=before,
        largest_after_mm=after,
        holes=holes,
    )
    return replace(out, words=_words(build, reading, out, units))


def _together(surveyed: Surveyed, own: Sequence[Equation]) -> bool:
    """Whether the bodies that the reading touches hang together already."""
    return all(
        len(bodies_of(surveyed.network, eq)) == 1
        or all(surveyed.bodies_located[b] for b in bodies_of(surveyed.network, eq))
        for eq in own
    )


def _less(adjustment: Adjustment, row: int) -> Adjustment:
    """The adjustment with one row taken out again: state and covariance by the same step backwards.

    The row stays where nothing else would hold what it holds.
    """
    network = adjustment.network
    at = [i for i, eq in enumerate(network.equations) if eq.row == row and adjustment.use[i]]
    if not at:
        return adjustment
    slopes = adjustment.jacobian[at]
    shared = np.asarray((slopes @ adjustment.covariance).T)
    left = np.diag(network.sigmas[at] ** 2) - np.asarray(slopes @ shared)
    if float(np.min(np.linalg.eigvalsh(left))) < 1e-6 * float(np.min(network.sigmas[at] ** 2)):
        return adjustment
    gain = np.linalg.solve(left, shared.T)
    use = adjustment.use.copy()
    use[at] = False
    state = stepped(network, adjustment.state, -(gain.T @ adjustment.residuals[at]))
    return replace(adjustment, state=state, use=use, covariance=adjustment.covariance + shared @ gain)


def _slip(
    build: Build, adjustment: Adjustment, reading: Reading, own: list[Equation], worst: int, off: float
) -> tuple[str, str, tuple[tuple[str, ...], tuple[float, ...]] | None]:
    """Words, kind and proposal for a reading that disagrees, from an adjustment that leaves it out."""
    network = with_equations(adjustment.network, [*adjustment.network.equations, *own])
    said, slopes = predict_and_jacobian(with_equations(adjustment.network, own), adjustment.state)
    more = len(own)
    spread = np.sqrt(np.maximum(np.asarray(slopes.multiply(slopes @ adjustment.covariance).sum(axis=1)).ravel(), 0.0))
    values = np.array([eq.value for eq in own])
    wider = replace(
        adjustment,
        network=network,
        use=np.append(adjustment.use, np.zeros(more, dtype=bool)),
        known=np.append(adjustment.known, np.ones(more, dtype=bool)),
        residuals=np.append(adjustment.residuals, values - said),
        spread_of_prediction=np.append(adjustment.spread_of_prediction, spread),
        redundancy=np.append(adjustment.redundancy, np.zeros(more)),
        w=np.append(adjustment.w, np.zeros(more)),
        least_seen=np.append(adjustment.least_seen, np.full(more, np.inf)),
        jacobian=vstack([adjustment.jacobian, slopes], format="csr"),
    )
    longer = build.model_copy(update={"readings": (*build.readings, reading)})
    cause = recognise(network, wider, longer, len(build.readings))
    return cause.words or slip_words(longer, network, own[worst], off), cause.kind, cause.proposal


def _largest(surveyed: Surveyed, adjustment: Adjustment, shared: Array, variance: Array) -> tuple[str, float, float]:
    """The least known point, and the longest half-axis of any point, mm, before and with the reading."""
    points, steps, blocks = _point_blocks(surveyed, adjustment)
    if not points:
        return "", 0.0, 0.0
    moved = np.asarray(steps @ shared).reshape(len(points), 3, -1)
    less = np.einsum("pik,kl,pjl->pij", moved, np.linalg.inv(variance), moved)
    before = THREE_WAYS * worst_spread(blocks)
    after = THREE_WAYS * worst_spread(blocks - less)
    return surveyed.network.point_names[points[int(np.argmax(before))]], float(before.max()), float(after.max())


@lru_cache(maxsize=4)
def _point_blocks(surveyed: Surveyed, adjustment: Adjustment) -> tuple[list[int], csr_matrix, Array]:
    """Points, how each moves with the unknowns, and the covariance (k, 3, 3) of each."""
    points, steps = point_steps(adjustment, surveyed.bodies_located)
    half = np.asarray(steps @ adjustment.covariance)
    blocks = np.zeros((len(points), 3, 3))
    for k in range(len(points)):
        blocks[k] = steps[3 * k : 3 * k + 3] @ half[3 * k : 3 * k + 3].T
    return points, steps, blocks


def _holes(
    build: Build, surveyed: Surveyed, adjustment: Adjustment, shared: Array, variance: Array
) -> list[HolesEffect]:
    network = surveyed.network
    located = {n for i, n in enumerate(network.point_names) if adjustment.active[network.point_at[i]]}
    located |= {n for i, n in enumerate(network.face_names) if adjustment.active[network.face_at[i]]}
    out = []
    for name, bracket in build.bracket.items():
        needs = [n for n in bracket.needs if n in located]
        try:
            out.append(HolesEffect(name, *spread_with_mm(network, adjustment, needs, shared, variance)))
        except ValueError:  # fewer than two located, or bodies that are not tied yet: told elsewhere
            continue
    return out


def _new(build: Build, surveyed: Surveyed, reading: Reading, own: Sequence[Equation]) -> tuple[NewThing, ...]:
    """Points and faces of the reading that are not located yet."""
    network = surveyed.network
    known_points = {n: bool(surveyed.points_located[i]) for i, n in enumerate(network.point_names)}
    known_faces = {n: bool(surveyed.faces_located[i]) for i, n in enumerate(network.face_names)}
    open_now = [n for n in reading.names if not known_points.get(n, known_faces.get(n, False))]
    free = {u.name: u.free_directions for u in surveyed.unlocated}
    parts = len(own) or (3 if reading.kind in ("given", "mirror") else 1)
    out = []
    for name in open_now:
        short = short_name(build, name)
        others = [n for n in open_now if n != name]
        before = _helping(surveyed, name)
        left = max(3 - before, 0) or free.get(name, 1)
        if others:
            told = f"{short} is not located, and {' and '.join(short_name(build, n) for n in others)} is not either"
            out.append(NewThing(name, left, f"{told}: this reading alone holds neither"))
            continue
        still = max(left - parts, 0)
        what = "face" if name in known_faces else "point"
        state = "is new" if before == 0 else "is not located yet"
        if not still:
            words = f"{short} {state}: with this reading it should be located"
        elif what == "face":
            words = f"{short} {state}: {still} more located point{'s' if still > 1 else ''} read on it hold it"
        else:
            verb = "readings hold" if still > 1 else "reading holds"
            words = f"{short} {state}: {still} more {verb} it, from other sides"
        out.append(NewThing(name, still, words))
    return tuple(out)


def _helping(surveyed: Surveyed, name: str) -> int:
    """Scalar readings of one point or face whose other points and faces are all located."""
    network = surveyed.network
    point = network.point_names.index(name) if name in network.point_names else -1
    face = network.face_names.index(name) if name in network.face_names else -1
    count = 0
    for eq in network.equations:
        if point in eq.points or face in eq.faces:
            rest = all(surveyed.points_located[p] for p in eq.points if p != point)
            count += rest and all(surveyed.faces_located[f] for f in eq.faces if f != face)
    return count


def _words(build: Build, reading: Reading, effect: Effect, units: UnitSystem) -> tuple[str, ...]:
    """Short sentences, the most telling first."""

    def size(value: float) -> str:
        return f"{value:.1f} deg" if effect.unit == "deg" else format_length(value, units)

    out = []
    if reading.kind != "mirror":
        about = value_words(reading.kind, effect.expected, units)
        out.append(f"the others say {about}, give or take {size(2.0 * max(effect.spread))}")
    if effect.agrees:
        out.append("it agrees")
    elif effect.slip:
        out.append(effect.slip)
    told = len(out)
    for hole in effect.holes:
        if hole.before_mm - hole.after_mm >= _TOLD_MM:
            before, after = format_length(hole.before_mm, units), format_length(hole.after_mm, units)
            out.append(f"holes of {hole.bracket} among themselves: {before} -> {after}")
    if effect.largest_before_mm - effect.largest_after_mm >= _TOLD_MM:
        before, after = format_length(effect.largest_before_mm, units), format_length(effect.largest_after_mm, units)
        out.append(f"least known point, {short_name(build, effect.largest_point)}: {before} -> {after}")
    if len(out) == told and effect.agrees:
        out.append("it checks what is known and moves little")
    return tuple(out)
