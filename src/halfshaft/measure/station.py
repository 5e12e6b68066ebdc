"""Measure-up: a build in, points and faces with their uncertainty, slips and what is not located out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import catalogue
from halfshaft.build.schema import Build
from halfshaft.build.units import format_length
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.measure.adjust import CRITICAL_W, Adjustment, NotHeld, wanted_of
from halfshaft.measure.hidden import hidden_slips
from halfshaft.measure.model import GlobalTest, Hidden, Measured, ReadingResult, Suspect, Unlocated
from halfshaft.measure.network import Network, State, bodies_of, network_of, predict, spread_of
from halfshaft.measure.results import Told, tell
from halfshaft.measure.robust import cost_of, misfits
from halfshaft.measure.scene import scene_of
from halfshaft.measure.search import looked_again
from halfshaft.measure.slips import recognise_all
from halfshaft.measure.snoop import Aside, Snooped, Wanted, snoop
from halfshaft.measure.start import Start, first_state
from halfshaft.measure.undecided import Undecided, undecided
from halfshaft.measure.warm import warmed
from halfshaft.measure.words import label_of, short_name, size_of, slip_words
from halfshaft.progress import Progress, silent

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

STATION = "measure"
UNCHECKED = "hardly checked by other readings"  # title of the check of a reading that stands alone
_LOOKS, _BETTER = 2, 0.02  # how often the adjusted state is looked at again, and by what cost it must fall
_AGAINST, _PLAIN = 3.0, 60.0  # spreads from which a reading speaks against a point, and up to which it may be honest
_CLOSE = 30.0  # spreads within which half the readings of a point must agree with its starting value
_ARM_MM = 100.0  # what a slip in an angle does, told at the size of a bracket's panel
_BAARDA = Source(
    Origin.FROM_MEMORY, "W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968: alpha 0.1 %, power 80 %"
)
_CHI_SQUARE = Source(Origin.FROM_MEMORY, "global test of the adjustment, chi-square, two-sided 95 %")


@dataclass(frozen=True, eq=False)
class Surveyed:
    """What the station worked out, for later questions to the network itself (the next best reading)."""

    network: Network
    snooped: Snooped
    points_located: Bools
    faces_located: Bools
    bodies_located: Bools
    unlocated: tuple[Unlocated, ...]
    undecided: tuple[Undecided, ...] = ()


def measure(build: Build, progress: Progress | None = None) -> Measured:
    """Points and faces of all bodies from the readings.

    What the readings do not hold is left out and named in `unlocated`. Raises KeyError for an unknown instrument.
    """
    tell_progress = progress or silent
    tell_progress(0.0, "starting values")
    surveyed = survey(build, tell_progress)
    tell_progress(0.9, "results")
    return measured_of(build, surveyed)


def survey(build: Build, progress: Progress = silent, before: Surveyed | None = None) -> Surveyed:
    """Network, starting values, adjustment and slips of a build.

    `before` is what was worked out ahead of a small edit: starting values are taken from it where they still hold.
    """
    network = network_of(build)
    wanted = wanted_of(network, build)
    near = _near(network, build, before)
    start = near or first_state(network, build)
    progress(0.4, "adjustment")
    found = _adjusted(network, build, start, wanted)
    if near is None and _doubted(found):
        # points that two readings or more still speak against: other starting values may lead where they agree
        progress(0.7, "other starting values")
        other = _adjusted(network, build, first_state(network, build, seed=2), wanted)
        found = min((found, other), key=_cost)
    adjustment = found.snooped.adjustment
    either = undecided(network, build, adjustment.state, adjustment.use, found.points_located)
    return replace(found, undecided=either)


def _doubted(found: Surveyed) -> bool:
    """Whether a point has two readings or more that stand against it, and are not so far off as to be plain slips."""
    network, state = found.network, found.snooped.adjustment.state
    off = np.abs(misfits(network, state))
    count = np.zeros(len(network.point_names))
    for i in np.flatnonzero((off > _AGAINST) & (off < _PLAIN)):
        count[list(network.equations[i].points)] += 1.0
    return bool((count >= 2.0).any())


def _cost(found: Surveyed) -> tuple[int, float]:
    """Less of it is better: what could not be located, then the misfit of all readings with slips bounded."""
    network = found.network
    everything = np.ones(len(network.equations), dtype=bool)
    return len(found.unlocated), cost_of(network, found.snooped.adjustment.state, everything)


def _adjusted(network: Network, build: Build, start: Start, wanted: Wanted) -> Surveyed:
    """Adjustment, slips and what stays open, from one set of starting values."""
    state = _filled(network, start.state)
    points, faces, bodies = _placed(network, state, start)
    unlocated: list[Unlocated] = []
    while True:
        use = usable(network, points, faces, bodies)
        points, faces = _still_read(network, use, points, faces)
        try:
            snooped = snoop(network, state, use, wanted)
        except NotHeld as open_still:
            if not (open_still.points or open_still.faces or open_still.bodies):
                raise
            unlocated.extend(_loose(build, network, state, open_still, points, faces, bodies))
            points[open_still.points] = False
            faces[open_still.faces] = False
            bodies[open_still.bodies] = False
            continue
        snooped = _second_look(network, build, snooped, use, points, faces, bodies, wanted)
        unlocated.extend(start.unlocated)
        missing = _named(build, network, unlocated, points, faces, bodies)
        return Surveyed(network, snooped, points, faces, bodies, missing, ())


def _second_look(
    network: Network,
    build: Build,
    snooped: Snooped,
    use: Bools,
    points: Bools,
    faces: Bools,
    bodies: Bools,
    wanted: Wanted,
) -> Snooped:
    """Snooped again from a better place, where the adjusted state shows one that the search had not seen."""
    scene = scene_of(network, build, use)
    columns = scene.columns(points, faces, bodies)
    for _ in range(_LOOKS):
        state = snooped.adjustment.state
        cost = scene.cost(state, use)
        better = looked_again(scene, state, use, columns, points, np.random.default_rng(1), least=1)
        if scene.cost(better, use) > cost - _BETTER:
            break
        try:
            again = snoop(network, better, use, wanted)
        except NotHeld:
            break
        if scene.cost(again.adjustment.state, use) > cost - _BETTER:
            break
        snooped = again
    return snooped


def _near(network: Network, build: Build, before: Surveyed | None) -> Start | None:
    """Starting values from what was worked out before a small edit, where they still hold."""
    if before is None:
        return None
    located = (before.points_located, before.faces_located, before.bodies_located)
    return warmed(network, build, before.network, before.snooped.adjustment.state, located)


def usable(network: Network, points: Bools, faces: Bools, bodies: Bools) -> Bools:
    """Equations (m,) whose points and faces are all located and, across bodies, whose poses are."""
    out = np.zeros(len(network.equations), dtype=bool)
    for i, eq in enumerate(network.equations):
        there = all(points[p] for p in eq.points) and all(faces[f] for f in eq.faces)
        across = bodies_of(network, eq)
        out[i] = there and (len(across) == 1 or all(bodies[b] for b in across))
    return out


def _still_read(network: Network, use: Bools, points: Bools, faces: Bools) -> tuple[Bools, Bools]:
    """Points and faces that a usable equation still touches."""
    read_points, read_faces = np.zeros_like(points), np.zeros_like(faces)
    for i in np.flatnonzero(use):
        read_points[list(network.equations[i].points)] = True
        read_faces[list(network.equations[i].faces)] = True
    return points & read_points, faces & read_faces


def _placed(network: Network, state: State, start: Start) -> tuple[Bools, Bools, Bools]:
    """Points, faces and bodies to try: those the start vouches for, and those whose readings already agree with it.

    The start looks at what is loose from starting values; the adjustment judges that again at the best state.
    """
    off = np.abs(network.values - predict(network, state)) / network.sigmas
    on_point: dict[int, list[float]] = defaultdict(list)
    on_face: dict[int, list[float]] = defaultdict(list)
    on_body: dict[int, list[float]] = defaultdict(list)
    for misfit, eq in zip(off, network.equations, strict=True):
        for point in eq.points:
            on_point[point].append(float(misfit))
        for face in eq.faces:
            on_face[face].append(float(misfit))
        across = bodies_of(network, eq)
        for body in across if len(across) > 1 else ():
            on_body[body].append(float(misfit))

    def either(vouched: NDArray[np.bool_], found: dict[int, list[float]]) -> Bools:
        out = np.asarray(vouched, dtype=bool).copy()
        for index, theirs in found.items():
            out[index] |= float(np.median(theirs)) < _CLOSE
        return out

    points, faces = either(start.points_located, on_point), either(start.faces_located, on_face)
    bodies = either(start.bodies_located, on_body)
    bodies[network.root] = True
    return points, faces, bodies


def _filled(network: Network, state: State) -> State:
    """The state with finite numbers where nothing is placed, so that predictions stay finite."""
    normals, distances = state.normals.copy(), state.distances_mm.copy()
    bad = ~np.isfinite(normals).all(axis=1) | (np.linalg.norm(normals, axis=1) < 0.5) | ~np.isfinite(distances)
    normals[bad] = np.array([0.0, 0.0, 1.0])
    distances[bad] = 0.0
    return State(
        np.where(np.isfinite(state.points_mm), state.points_mm, 0.0),
        normals,
        distances,
        np.where(np.isfinite(state.rotations), state.rotations, np.eye(3)),
        np.where(np.isfinite(state.shifts_mm), state.shifts_mm, 0.0),
    )


def _loose(
    build: Build,
    network: Network,
    state: State,
    open_still: NotHeld,
    points: Bools,
    faces: Bools,
    bodies: Bools,
) -> list[Unlocated]:
    """Names for what the readings turned out not to hold, each with a reading along the way it can still move."""
    out = []
    for point in open_still.points:
        at = network.point_at[point]
        ways = open_still.ways[at : at + 3]
        u, size, _ = np.linalg.svd(ways, full_matrices=False)
        free = int(np.sum(size > 1e-3 * max(float(size[0]), 1e-30)))
        other = _along(network, state, point, u[:, 0], points, set(open_still.points))
        name = network.point_names[point]
        take = f"tape, {short_name(build, name)} {short_name(build, other)}" if other else "height, offset and station"
        why = f"its readings leave it {free} way{'s' if free > 1 else ''} to move: {free} more would hold it"
        out.append(Unlocated(name, why, take, free))
    for face in open_still.faces:
        name = network.face_names[face]
        take = f"onface, a further located point on {short_name(build, name)}, away from the line of the others"
        out.append(Unlocated(name, "its readings leave it a way to tilt", take, 1))
    for body in open_still.bodies:
        name, root = network.body_names[body], network.body_names[network.root]
        take = f"tape between further points of {name} and {root}: six that are not alike hold it"
        out.append(Unlocated(name, f"its place against {root} is not held", take, 1))
    return out


def _along(network: Network, state: State, point: int, way: Array, points: Bools, loose: set[int]) -> str:
    """The located point of the same body that a tape would see best along `way`; '' when there is none."""
    best, most = "", 0.0
    for other in np.flatnonzero(points & (network.point_body == network.point_body[point])):
        if int(other) == point or int(other) in loose:
            continue
        line = state.points_mm[other] - state.points_mm[point]
        length = float(np.linalg.norm(line))
        share = abs(float(line @ way)) / length if length > 1.0 else 0.0
        if share > most:
            best, most = network.point_names[other], share
    return best


def _named(
    build: Build, network: Network, unlocated: list[Unlocated], points: Bools, faces: Bools, bodies: Bools
) -> tuple[Unlocated, ...]:
    """Each thing that is missing once; what fell out because all its readings did is named too."""
    missing = {name for name, there in zip(network.point_names, points, strict=True) if not there}
    missing |= {name for name, there in zip(network.face_names, faces, strict=True) if not there}
    missing |= {name for name, there in zip(network.body_names, bodies, strict=True) if not there}
    out: dict[str, Unlocated] = {}
    for one in unlocated:
        if one.name in missing:
            out.setdefault(one.name, one)
    for i, name in enumerate(network.point_names):
        if not points[i] and name not in out:
            out[name] = Unlocated(
                name,
                "every reading of it also needs something that is not located",
                f"tape from {short_name(build, name)} to three located points",
                3,
            )
    for i, name in enumerate(network.face_names):
        if not faces[i] and name not in out:
            out[name] = Unlocated(
                name,
                "fewer than three located points lie on it",
                f"onface, three located points on {short_name(build, name)}",
                3,
            )
    return tuple(out.values())


def measured_of(build: Build, surveyed: Surveyed) -> Measured:
    """The station's result from its workings."""
    adjustment = surveyed.snooped.adjustment
    told = tell(adjustment, surveyed.bodies_located)
    low, high = adjustment.limits()
    test = GlobalTest(adjustment.degrees_of_freedom, adjustment.chi2, low, high, adjustment.sigma0)
    suspects = _suspects(build, surveyed)
    return Measured(
        points=told.points,
        faces=told.faces,
        poses=told.poses,
        vector=told.vector,
        covariance=told.covariance,
        where=told.where,
        readings=_readings(build, adjustment),
        suspects=suspects,
        unlocated=surveyed.unlocated,
        global_test=test,
        checks=tuple(_checks(build, surveyed, told, test, suspects)),
        assumed=tuple(_assumed(build, adjustment)),
        hidden=_hidden(build, surveyed, told),
    )


def _hidden(build: Build, surveyed: Surveyed, told: Told) -> Hidden:
    network, found = surveyed.network, hidden_slips(surveyed.snooped)
    equations = [network.equations[i] for i in found.equations]
    return Hidden(
        tuple(build.readings[eq.row].line for eq in equations),
        tuple(label_of(build, network, eq) for eq in equations),
        found.chance,
        np.asarray((told.through @ found.mean.T).T),
        np.asarray((told.through @ found.way.T).T),
    )


def _readings(build: Build, adjustment: Adjustment) -> tuple[ReadingResult, ...]:
    network = adjustment.network
    out = []
    for i, eq in enumerate(network.equations):
        if eq.row < 0 or not adjustment.known[i]:
            continue
        off = float(adjustment.residuals[i])
        out.append(
            ReadingResult(
                index=eq.row,
                line=build.readings[eq.row].line,
                label=label_of(build, network, eq),
                unit=eq.unit,
                value=eq.value,
                adjusted=eq.value - off,
                residual=off,
                spread=eq.sigma,
                redundancy=float(adjustment.redundancy[i]),
                w=float(adjustment.w[i]),
                least_seen=float(adjustment.least_seen[i]),
                used=bool(adjustment.use[i]),
            )
        )
    return tuple(out)


def _suspects(build: Build, surveyed: Surveyed) -> tuple[Suspect, ...]:
    """One a row: of the three equations of a given spot or a mirrored pair the worst speaks."""
    network, adjustment = surveyed.network, surveyed.snooped.adjustment
    by_row: dict[int, Aside] = {}
    for aside in surveyed.snooped.aside:
        row = network.equations[aside.equation].row
        if row not in by_row or abs(aside.w) > abs(by_row[row].w):
            by_row[row] = aside
    causes = recognise_all(network, adjustment, build, [row for row in by_row if row >= 0])
    out = []
    for row, aside in by_row.items():
        eq = network.equations[aside.equation]
        cause = causes.get(row)
        words = (cause.words if cause else "") or slip_words(build, network, eq, aside.slip)
        among = tuple(dict.fromkeys(network.equations[i].row for i in aside.among if network.equations[i].row != row))
        out.append(
            Suspect(
                index=row,
                line=build.readings[row].line if row >= 0 else 0,
                label=label_of(build, network, eq),
                slip=aside.slip,
                slip_spread=aside.spread,
                unit=eq.unit,
                w=aside.w,
                words=words + _among_words(build, among),
                kind=cause.kind if cause else "slip",
                proposal=cause.proposal if cause else None,
                among=among,
            )
        )
    return tuple(sorted(out, key=lambda s: -abs(s.w)))


def _among_words(build: Build, among: Iterable[int]) -> str:
    names = [
        f"{' '.join([build.readings[r].kind, *(short_name(build, n) for n in build.readings[r].names)])}"
        f" (line {build.readings[r].line})"
        for r in among
        if r >= 0
    ]
    return f"; the readings cannot tell it from {', '.join(names)}: measure these again too" if names else ""


def _checks(
    build: Build, surveyed: Surveyed, told: Told, test: GlobalTest, suspects: tuple[Suspect, ...]
) -> Iterable[Check]:
    for suspect in suspects:
        yield Check(
            STATION,
            suspect.label,
            f"set aside as a slip{f', line {suspect.line}' if suspect.line else ''}",
            _BAARDA,
            Severity.CAUTION,
            suspect.words,
            found=abs(suspect.w),
            limit=CRITICAL_W,
            unit="spreads",
            good=Good.AT_MOST,
        )
    for missing in surveyed.unlocated:
        yield Check(
            STATION,
            short_name(build, missing.name),
            "not located",
            Source(Origin.DERIVED, "docs/measure.md"),
            Severity.CAUTION if missing.name in build.body else Severity.STOP,
            f"{missing.why}; take: {missing.take}",
            failed_outright=True,
        )
    for one in surveyed.undecided:
        yield _either(build, one)
    yield from _global_check(test)
    yield from _weak_points(build, told)
    yield from _unchecked(build, surveyed.snooped.adjustment)


def _either(build: Build, one: Undecided) -> Check:
    """A point or a whole frame of which readings and hints allow two places."""
    words = f"write what the eye sees: {one.hint} keeps it where it is, the other word moves it over"
    if not one.name:
        return Check(
            STATION, "all points", "left and right are not told apart", Source(Origin.DERIVED, "docs/measure.md"),
            Severity.STOP, words, failed_outright=True,
        )  # fmt: skip
    away = format_length(one.away_mm, build.build.units)
    return Check(
        STATION,
        ", ".join(short_name(build, name) for name in one.name.split()),
        "fits in two places",
        Source(Origin.DERIVED, "docs/measure.md"),
        Severity.STOP,
        f"the readings fit as well {away} from where it was put: {words}; or take a tape from a point out of line",
        failed_outright=True,
    )


def _global_check(test: GlobalTest) -> Iterable[Check]:
    if test.degrees_of_freedom == 0:
        yield Check(
            STATION,
            "all readings",
            "no reading checks another",
            _CHI_SQUARE,
            Severity.CAUTION,
            "take more readings than are just needed: now a slip would go unseen",
            failed_outright=True,
        )
        return
    if test.chi2 < test.low:
        words = "readings agree better than their spreads say: the spreads may be set too wide"
    elif test.chi2 > test.high:
        words = "readings agree worse than their spreads say: look at the largest residuals, or set wider spreads"
    else:
        words = "readings agree as well as their spreads say"
    yield Check(
        STATION,
        "all readings",
        "misfit against spreads, global test",
        _CHI_SQUARE,
        Severity.CAUTION if test.chi2 > test.high else Severity.NOTE,
        words,
        found=test.chi2,
        limit=test.high if test.chi2 >= test.low else test.low,
        good=Good.AT_MOST if test.chi2 >= test.low else Good.AT_LEAST,
    )


def _weak_points(build: Build, told: Told) -> Iterable[Check]:
    row = catalogue.default("measure.ellipsoid_limit")
    for point in told.points.values():
        half, ways = point.ellipsoid_mm
        if half[0] <= row.value:
            continue
        along = ("along the car", "across the car", "in height")[int(np.argmax(np.abs(ways[:, 0])))]
        yield Check(
            STATION,
            short_name(build, point.name),
            "weak point, 95 % ellipsoid",
            row.source,
            Severity.CAUTION,
            f"it is loose mostly {along}: take a tape or offset that runs that way",
            found=float(half[0]),
            limit=float(row.value),
            unit="mm",
            good=Good.AT_MOST,
        )


def _unchecked(build: Build, adjustment: Adjustment) -> Iterable[Check]:
    """One check for each row of which hardly any other reading would show a slip that matters."""
    network = adjustment.network
    row = catalogue.default("measure.least_redundancy")
    matters_mm = float(catalogue.default("measure.ellipsoid_limit").value)
    by_row: dict[int, list[int]] = defaultdict(list)
    for i in np.flatnonzero(adjustment.use):
        by_row[network.equations[i].row].append(int(i))
    for reading, found in by_row.items():
        least = min(found, key=lambda i: adjustment.redundancy[i])
        if reading < 0 or adjustment.redundancy[least] >= row.value:
            continue
        eq = network.equations[least]
        seen = float(adjustment.least_seen[least])
        # A caliper is finer than what is around it: that others cannot check it to a millimetre is no fault.
        if (np.radians(seen) * _ARM_MM if eq.unit == "deg" else seen) < matters_mm:
            continue
        size = (
            f"slips under {size_of(build, seen, eq.unit)} go unseen" if np.isfinite(seen) else "no slip would be seen"
        )
        yield Check(
            STATION,
            label_of(build, network, eq),
            UNCHECKED,
            row.source,
            Severity.NOTE,
            f"{size}: take it twice, or a further reading to the same points",
            found=float(adjustment.redundancy[least]),
            limit=float(row.value),
            good=Good.AT_LEAST,
        )


def _assumed(build: Build, adjustment: Adjustment) -> Iterable[Assumed]:
    """Spreads and datum the builder left to us."""
    network = adjustment.network
    used: dict[str, None] = {}
    for i in np.flatnonzero(adjustment.known):
        eq = network.equations[i]
        if eq.row >= 0:
            spread = spread_of(build, build.readings[eq.row], eq.value)
            if not spread.given:
                used[spread.instrument] = None
    for name in used:
        row = catalogue.instrument(name)
        value = f"{row.spread:g} deg" if row.unit == "deg" else format_length(row.spread, build.build.units)
        if row.per_metre:
            value += f" and {row.per_metre:g} mm a metre"
        yield Assumed(f"instrument.{name}.spread", value, row.source)
    flat = catalogue.default("face.flatness")
    for body, told in build.body.items():
        plain = [name for name, face in told.face.items() if not face.given("spread_mm")]
        if plain:
            value = format_length(float(flat.value), build.build.units)
            yield Assumed(f"body.{body}.face.*.spread ({', '.join(plain)})", value, flat.source)
        if not told.given("datum") and network.body_names.index(body) in adjustment.datum.by_points:
            yield Assumed(f"body.{body}.datum", "free", Source(Origin.DERIVED, "docs/measure.md, inner constraints"))
