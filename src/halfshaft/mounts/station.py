"""Mounts: a build, its measured points and its brackets in; loads, forces, motion, modes and every joint judged, out.

Quick: what takes longer, the room left as the unit moves, is `halfshaft.mounts.room`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import mount_load
from halfshaft.build.mounts import MountsInput
from halfshaft.build.weighed import Weighed
from halfshaft.checks import Assumed, Check, Origin, Severity, Source, worst_first
from halfshaft.fitup.model import Scene
from halfshaft.fitup.scene import scene_of
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.mounts.bulk import Body, body, body_of_pieces
from halfshaft.mounts.bushings import Bushing, Rubber, laid_out
from halfshaft.mounts.held import NotHeld
from halfshaft.mounts.loads import Case, Driveline, torque_checks
from halfshaft.mounts.model import JointForces, Mount, Mounts
from halfshaft.mounts.modes import modes
from halfshaft.mounts.motion import Motion, motion, motion_checks
from halfshaft.mounts.placed import bushing_of, in_line, spot_of
from halfshaft.mounts.seams import life_of_seams, seams_of, seams_under, sheet_of
from halfshaft.mounts.seat import Seat, seats_of
from halfshaft.mounts.seat_checks import joint_under
from halfshaft.mounts.settled_checks import mount_checks
from halfshaft.mounts.shake import mode_checks
from halfshaft.mounts.share import shares
from halfshaft.mounts.statics import Settled, settle_case, settle_cases
from halfshaft.mounts.stiffness_choice import FACTORS, stiffness_choice
from halfshaft.mounts.sweep import BACKWARD, FORWARD, REST, swept
from halfshaft.mounts.told import bands_of, cases_of, driveline_of, of_car, unit_cases
from halfshaft.mounts.verdict import CARE
from halfshaft.mounts.weld_group import WeldLine
from halfshaft.progress import Progress, silent, within

Array = NDArray[np.float64]

STATION, STRESS = "mounts", "brackets under load"
_DERIVED = Source(Origin.DERIVED, "docs/mounts.md")


def mounts_of(
    build: Build,
    measured: Measured,
    brackets: Mapping[str, Bracket],
    folder: Path,
    progress: Progress = silent,
    weighed: Weighed | None = None,
) -> Mounts:
    """What the mounts carry, whether they hold, and how the unit moves and shakes on them.

    What cannot be worked, for want of a located point say, is told as a check. `brackets` are those of the build;
    `weighed` the car as its weights were worked, for what neither [mounts] nor [car] tells of it.
    Raises ValueError where the build has no [mounts].
    """
    told = build.mounts
    if told is None:
        raise ValueError("the build has no [mounts]")
    told, from_car = of_car(told, build.car, weighed)
    scene = None
    if build.fitup is not None:
        scene, _, _ = scene_of(build, measured, folder)
    assumed: list[Assumed] = [*from_car]
    problems: list[Check] = []
    held: dict[str, tuple[Bushing, tuple[Seat, ...]]] = {}
    for name, mount in told.mount.items():
        bracket = brackets.get(mount.bracket or "")
        try:
            seats, usual = seats_of(name, mount, bracket, build, measured)
            bushing, more = bushing_of(name, mount, told, seats, measured)
        except (ValueError, KeyError) as why:
            problems.append(cannot(f"mount {name}", words_of(why)))
            continue
        assumed += [*usual, *more]
        held[name] = bushing, seats
    try:
        unit = _body(told, scene, measured)
        drive, more = driveline_of(told, _along(scene))
        spots = {n: spot_of(c.at, measured) for n, c in told.case.items() if c.at is not None}
        cases = cases_of(told, drive, unit.mass_kg, unit.centre_mm, spots)
    except (ValueError, KeyError) as why:
        problems.append(cannot("loads on the mounts", words_of(why)))
        return Mounts(None, None, (), (), None, None, tuple(problems), tuple(dict.fromkeys(assumed)))
    assumed += [*unit.assumed, *more, *cases.assumed]
    empty = Mounts(cases, unit, (), (), None, None, tuple(problems), tuple(dict.fromkeys(assumed)))
    if problems:
        # a unit short of a mount would be worked wrong
        return empty
    bushings = [bushing for bushing, _ in held.values()]
    loose = in_line(bushings, unit.centre_mm, cases)
    if loose is not None:
        return replace(empty, checks=(loose,))
    try:
        rubber = laid_out(bushings)
        states = settle_cases(rubber, unit, cases.cases, within(progress, 0.0, 0.4, "forces"))
    except ValueError as why:
        return replace(empty, checks=(_not_held(bushings, str(why)),))
    return _worked(told, build, measured, brackets, scene, empty, held, rubber, states, drive, progress)


def _worked(
    told: MountsInput,
    build: Build,
    measured: Measured,
    brackets: Mapping[str, Bracket],
    scene: Scene | None,
    so_far: Mounts,
    held: Mapping[str, tuple[Bushing, tuple[Seat, ...]]],
    rubber: Rubber,
    states: Sequence[Settled],
    drive: Driveline,
    progress: Progress,
) -> Mounts:
    assert so_far.cases is not None
    assert so_far.body is not None
    cases, unit = so_far.cases.cases, so_far.body
    assumed = list(so_far.assumed)
    ratio = _dynamic_ratio(told, assumed)
    checks: list[Check] = [c for c in torque_checks(so_far.cases) if not c.ok]
    try:
        shakes = modes(rubber, unit, states[0], ratio)
        checks += mode_checks(shakes, bands_of(told))
    except NotHeld as why:
        shakes = None
        checks.append(cannot("modes", str(why)))
    moves = _motion(scene, cases, states)
    if moves is not None:
        checks += _first_and_failed(motion_checks(moves))
    of_rubber = mount_checks(cases, states)
    unit_loads = _unit_loads(rubber, unit, drive)
    mounts: list[Mount] = []
    for at, (name, (bushing, seats)) in enumerate(held.items()):
        within(progress, 0.4, 1.0)(at / len(held), f"joints of {name}")
        force = np.array([state.mounts[at].force_n for state in states])
        moment = np.array([state.mounts[at].moment_nmm for state in states])
        bracket = brackets.get(told.mount[name].bracket or "")
        own = [check for check in of_rubber if check.about == f"mount {name}"]
        joints, found = _joints(f"mount {name}", seats, bushing.centre_mm, cases, force, moment)
        own += found
        lines: tuple[WeldLine, ...] = ()
        if told.mount[name].weld:
            about = f"mount {name}, weld"
            try:
                steel = sheet_of(bracket, build.sheet)
                lines, metals, sized, more = seams_of(about, name, told.mount[name], bracket, steel, measured)
            except (ValueError, KeyError) as why:
                own.append(cannot(about, words_of(why)))
            else:
                assumed += more
                own += [*sized, *seams_under(about, lines, metals, bushing.centre_mm, cases, force, moment)]
                km = distance_of(told, assumed)
                loads = {n: (f[at], m[at]) for n, (f, m) in unit_loads.items()}
                own += life_of_seams(about, lines, bushing.centre_mm, loads, km)
        if not told.mount[name].weld and not any(seat.side == "frame" for seat in seats):
            own.append(
                cannot(
                    f"mount {name}", "no bolt of it goes into the frame and no weld is told: give its bracket a panel "
                    "on a face of the frame, or write [mounts.mount.NAME.joint] or a weld",
                )
            )  # fmt: skip
        mounts.append(
            Mount(
                name, bracket.name if bracket is not None else "", bushing, force, moment, joints, lines,
                tuple(worst_first(own)), {n: (f[at], m[at]) for n, (f, m) in unit_loads.items()},
            )
        )  # fmt: skip
    for mount in mounts:
        checks += in_short(mount)
    if any(mount.bracket for mount in mounts):
        checks.append(_not_yet())
    return replace(
        so_far, mounts=tuple(mounts), states=tuple(states), modes=shakes, motion=moves,
        checks=tuple(worst_first(checks)), assumed=tuple(dict.fromkeys(assumed)),
        sweep=swept(rubber, unit, so_far.cases), bands=tuple(bands_of(told)),
    )  # fmt: skip


def softer_or_stiffer(found: Mounts, build: Build, progress: Progress = silent) -> Mounts:
    """The result with frequencies and travel over a choice of stiffness; as it came where the unit is not held.

    Raises Stopped from `progress`.
    """
    if found.modes is None or found.cases is None or found.body is None or build.mounts is None:
        return found
    pulls = [found.cases.named(name) for name in (FORWARD, BACKWARD)]
    choice = stiffness_choice(
        [mount.bushing for mount in found.mounts], found.body, found.cases.named(REST), FACTORS, pulls,
        dynamic_ratio=_dynamic_ratio(build.mounts, []), progress=progress,
    )  # fmt: skip
    return replace(found, choice=choice)


def _dynamic_ratio(told: MountsInput, assumed: list[Assumed]) -> float:
    if told.dynamic_ratio is not None:
        return told.dynamic_ratio
    row = mount_load("bushing.dynamic_ratio")
    assumed.append(Assumed("mounts.dynamic_ratio", f"{float(row.value):g}", row.source))
    return float(row.value)


def _joints(
    about: str, seats: Sequence[Seat], centre_mm: Array, cases: Sequence[Case], force: Array, moment: Array
) -> tuple[tuple[JointForces, ...], list[Check]]:
    joints: list[JointForces] = []
    checks: list[Check] = []
    for side in ("frame", "unit"):
        own = [seat for seat in seats if seat.side == side]
        if not own:
            continue
        for seat, share in zip(own, shares(own, centre_mm), strict=True):
            where = f"{about}, {seat.name}"
            try:
                forces, found = joint_under(where, seat, share, centre_mm, cases, force, moment)
            except (ValueError, KeyError) as why:
                checks.append(cannot(where, words_of(why)))
                continue
            joints.append(forces)
            checks += found
    return tuple(joints), checks


def in_short(mount: Mount) -> list[Check]:
    """What fails of a mount, cautions alike but for the joint once, and what would give way first."""
    out: list[Check] = []
    for check in mount.checks:
        stem = check.title.split(", most under")[0]
        alike = any(stem == one.title.split(", most under")[0] for one in out)
        # of the many places of a bracket the worst by strength and the worst by fatigue stand for all
        of_bracket = check.about.startswith(f"mount {mount.name}, bracket")
        tired = check.title.startswith("fatigue")
        told = any(
            one.about.startswith(f"mount {mount.name}, bracket") and one.title.startswith("fatigue") == tired
            for one in out
        )
        if not check.ok and not (of_bracket and told) and (check.severity is Severity.STOP or not alike):
            out.append(check)
    weakest = mount.weakest
    if weakest is not None and weakest not in out:
        out.append(weakest)
    return out


def _first_and_failed(checks: Sequence[Check]) -> list[Check]:
    ordered = worst_first(checks)
    return [check for at, check in enumerate(ordered) if at == 0 or not check.ok]


def _body(told: MountsInput, scene: Scene | None, measured: Measured) -> Body:
    centre = None if told.centre is None else spot_of(told.centre, measured)
    inertia = None if told.inertia_kg_m2 is None else np.array(told.inertia_kg_m2) * 1e6
    if told.mass_kg is not None and centre is not None and inertia is not None:
        return body(told.mass_kg, centre, inertia)
    if scene is None or scene.mocked_up is None:
        raise ValueError(
            "nothing tells the unit's mass, centre and inertia: write mass, centre and inertia under [mounts], or the "
            "unit's pieces under [fitup] and tie the unit to the frame"
        )
    drawn = body_of_pieces(scene.unit.pieces, scene.mocked_up, told.mass_kg, centre)
    plain = tuple(Assumed(a.where.replace("mounts.unit.", "mounts."), a.value, a.source) for a in drawn.assumed)
    if inertia is None:
        return replace(drawn, assumed=plain)
    return replace(
        body(drawn.mass_kg, drawn.centre_mm, inertia), assumed=tuple(a for a in plain if a.where != "mounts.inertia")
    )


def _along(scene: Scene | None) -> Array | None:
    """The axis of the outputs, to the left, root axes; None where none is told."""
    if scene is None or scene.mocked_up is None or not scene.unit.outputs:
        return None
    ways = [out.axis if out.side == "left" else -out.axis for out in scene.unit.outputs]
    return np.asarray(scene.mocked_up.rotation @ np.mean(ways, axis=0))


def _motion(scene: Scene | None, cases: Sequence[Case], states: Sequence[Settled]) -> Motion | None:
    if scene is None or scene.mocked_up is None:
        return None
    return motion(scene.unit.pieces, scene.mocked_up, cases, states, states[0])


def _unit_loads(rubber: Rubber, unit: Body, drive: Driveline) -> dict[str, tuple[Array, Array]]:
    """Forces and moments (m, 3) on the mounts in the unit cases of the duty; empty where the unit is not held."""
    out = {}
    for name, case in unit_cases(drive, unit.mass_kg, _DERIVED).items():
        try:
            state = settle_case(rubber, unit, case)
        except NotHeld:
            return {}
        out[name] = (
            np.array([one.force_n for one in state.mounts]), np.array([one.moment_nmm for one in state.mounts])
        )  # fmt: skip
    return out


def distance_of(told: MountsInput, assumed: list[Assumed]) -> float:
    if told.distance_km is not None:
        return told.distance_km
    row = mount_load("life.distance")
    assumed.append(Assumed("mounts.distance_km", f"{row.value:g} km", row.source))
    return float(row.value)


def _not_yet() -> Check:
    return Check(
        STATION, STRESS, "Stress in the brackets has not been worked", _DERIVED, Severity.CAUTION,
        "Work it with 'halfshaft mounts': it takes half a minute, so 'run' leaves it to you.", failed_outright=True,
    )  # fmt: skip


def words_of(why: Exception) -> str:
    return str(why.args[0] if why.args else why)


def cannot(about: str, why: str) -> Check:
    # a name of the build keeps its small letters
    do = why if "." in why.split(" ")[0] else f"{why[:1].upper()}{why[1:]}"
    do = f"{do.removesuffix('.')}."
    return Check(STATION, about, "Cannot be worked", _DERIVED, Severity.STOP, do, failed_outright=True)


def _not_held(bushings: Sequence[Bushing], why: str) -> Check:
    names = ", ".join(bushing.name for bushing in bushings)
    do = f"{why[:1].upper()}{why[1:]}"
    return Check(
        STATION, f"mounts {names}", "The mounts do not hold the unit", _DERIVED, Severity.STOP,
        f"{do if do.endswith('.') else do + '.'} {CARE}", failed_outright=True,
    )  # fmt: skip
