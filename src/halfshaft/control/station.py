"""Control: measured points and brackets in; readings that tell another car from the first, or what moved as built, out.

Another car's points lie where the first one's do, give or take what cars of a kind differ by ([kit] other_car) and what
the first one's readings left open (the adjustment's covariance). Tapes between brackets' holes are taken up until
[kit] foreseen of the spread of the holes among each other is foreseen, rigid moves of the whole car aside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import default
from halfshaft.build.left_out import left_out
from halfshaft.build.schema import Build, Reading
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.control.bevels import bevels
from halfshaft.control.built import body_built, hole_checks, not_held, readings_now
from halfshaft.control.choose import chosen
from halfshaft.control.holes import bolt_holes
from halfshaft.control.model import Built, Control, Controls
from halfshaft.control.other_car import other_car
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.measure.network import spread_of
from halfshaft.measure.station import measured_of, survey

Array = NDArray[np.float64]

_LEAST_HOLES = 3  # of two the whole car's moves leave nothing but their distance
_SHORTEST_MM = 40.0  # a tape between nearer points tells little
_SOURCE = Source(Origin.DERIVED, "docs/book.md")


def controls_of(build: Build, measured: Measured, brackets: Mapping[str, Bracket]) -> Controls:
    """The control readings; none, with a check that says so, where fewer than three holes are located on the car."""
    seats = {n: told for n, told in bolt_holes(brackets.values(), build.root).items() if n in measured.where}
    if len(seats) < _LEAST_HOLES:
        return _none(bool(build.bracket))
    names = tuple(seats)
    mean, known = measured.joint(names)
    xyz = mean.reshape(-1, 3)
    kit = build.kit
    covariance = known + other_car(xyz, kit.other_car_mm, kit.local_mm, kit.together_mm)
    spreads = {}
    for pair in combinations(range(len(names)), 2):
        apart = _apart(xyz, pair)
        if apart >= _SHORTEST_MM:
            reading = Reading(kind="tape", names=(names[pair[0]], names[pair[1]]))
            spreads[pair] = spread_of(build, reading, apart).sigma
    picked, foreseen = chosen(xyz, covariance, spreads, kit.foreseen, kit.readings)
    room = np.array([hole.room_mm for hole, _ in seats.values()])
    owners = tuple(bracket for _, bracket in seats.values())
    rows = [_tape(n, names, owners, xyz, room, pair, spreads[pair]) for n, pair in enumerate(picked, 1)]
    rows += bevels(build, measured, brackets.values(), len(rows))
    checks = (_foreseen(foreseen, kit.foreseen, len(picked), kit.readings),)
    assumed = tuple(left_out(kit, "kit"))
    return Controls(tuple(rows), foreseen, names, xyz, covariance, room, owners, checks, assumed)


def built_of(build: Build, read: Sequence[Reading], measured: Measured, brackets: Mapping[str, Bracket]) -> Built:
    """Where each body that was read as built sits now, from where it was drawn."""
    readings, hung = readings_now(build, read)
    whole = build.model_copy(update={"readings": readings})
    now = measured_of(whole, survey(whole))
    checks: list[Check] = []
    bodies = []
    for name in build.body:
        if name == build.root or name not in hung:
            continue
        if name not in now.poses or name not in measured.poses:
            checks.append(not_held(name))
            continue
        bodies.append(body_built(name, measured, now, brackets.values()))
        checks += hole_checks(bodies[-1])
    return Built(len(read), tuple(bodies), tuple(checks))


def _none(wanted: bool) -> Controls:
    """No readings; that is worth a word where brackets are told."""
    check = Check(
        "control", "kit", "Too few holes to tell another car by", _SOURCE, Severity.NOTE,
        "Fewer than three holes of brackets are located on the car: no control readings for another one.",
        failed_outright=True,
    )  # fmt: skip
    nothing = np.zeros((0, 3))
    return Controls((), 0.0, (), nothing, np.zeros((0, 0)), np.zeros(0), (), (check,) if wanted else ())


def _foreseen(share: float, wanted: float, asked: int, most: int) -> Check:
    more = "All tapes between holes of brackets that tell something are asked for"
    if asked >= most:
        more = f"Let [kit] readings be more than {most}"
    return Check(
        "control", "kit", "What control readings foresee of another car", default("kit.foreseen").source,
        Severity.NOTE, f"{more}; offer each bracket of the kit up before it is welded.",
        100.0 * share, 100.0 * wanted, "%",
    )  # fmt: skip


def _apart(xyz: Array, pair: tuple[int, int]) -> float:
    return float(np.linalg.norm(xyz[pair[0]] - xyz[pair[1]]))


def _tape(
    number: int, names: tuple[str, ...], owners: tuple[str, ...], xyz: Array, room: Array, pair: tuple[int, int],
    spread: float,
) -> Control:  # fmt: skip
    """Both bolts may stand out of the middle; between two brackets those in the unit give way as well."""
    i, j = pair
    brackets = tuple(dict.fromkeys((owners[i], owners[j])))
    most = float(room[i] + room[j])
    return Control(number, "tape", (names[i], names[j]), _apart(xyz, pair), most, spread, "tape", "mm", brackets)
