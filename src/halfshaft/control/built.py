"""What the car became: measurements as drawn and as built in; how far each body and each of its holes moved out.

Readings within one body stay true whatever was bolted up. Readings between bodies were taken on the mock-up: readings
as built between the same bodies replace them, and all are adjusted anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from halfshaft.build.as_built import FILE
from halfshaft.build.schema import Build, Reading
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.control.holes import bolt_holes
from halfshaft.control.model import BodyBuilt, PointBuilt
from halfshaft.fold.model import Bracket
from halfshaft.geometry import Pose
from halfshaft.measure.model import Measured
from halfshaft.sure import worst_spread

_SOURCE = Source(Origin.DERIVED, "docs/book.md")


def readings_now(build: Build, read: Sequence[Reading]) -> tuple[tuple[Reading, ...], frozenset[str]]:
    """All readings that still hold, those as built among them, and the bodies that these hang on others."""
    anew = {frozenset(_bodies(one)) for one in read if len(_bodies(one)) > 1}
    kept = [one for one in build.readings if len(_bodies(one)) < 2 or frozenset(_bodies(one)) not in anew]
    return (*kept, *read), frozenset().union(*anew)


def _bodies(reading: Reading) -> set[str]:
    return {name.partition(".")[0] for name in reading.names} | ({reading.frame} if reading.frame else set())


def body_built(name: str, drawn: Measured, now: Measured, brackets: Iterable[Bracket]) -> BodyBuilt:
    """A body that both measurements hold, and its points, those with a bolt first, the farthest first."""
    pose: Pose = now.poses[name]
    move = pose.after(drawn.poses[name].inverse())
    holes = bolt_holes(brackets, name)
    points = []
    for key, point in drawn.points.items():
        if point.body != name or not point.tied or key not in now.points:
            continue
        step = move.apply(point.xyz_mm) - point.xyz_mm
        hole, bracket = holes.get(key, (None, ""))
        spread = float(worst_spread(now.points[key].covariance_mm2))
        points.append(PointBuilt(key, step, spread, hole.room_mm if hole is not None else None, bracket))
    spots = np.array([drawn.points[p.name].xyz_mm for p in points]).reshape(-1, 3)
    middle = spots.mean(axis=0) if len(spots) else drawn.poses[name].shift_mm
    points.sort(key=lambda p: (p.room_mm is None, -p.far_mm))
    return BodyBuilt(name, move.apply(middle) - middle, move.turned_deg, tuple(points))


def not_held(name: str) -> Check:
    """What is told of a body whose readings as built do not hold it."""
    return Check(
        "control", FILE, f"'{name}' is not held by what was read as built", _SOURCE, Severity.CAUTION,
        f"Take at least six readings between the car and '{name}' once it hangs in its brackets: three tapes from "
        "each of two of its points to points of the car.", failed_outright=True,
    )  # fmt: skip


def hole_checks(body: BodyBuilt) -> list[Check]:
    """Each bolt's hole against the room of its bolt."""
    return [
        Check(
            "control", f"bracket {point.bracket}, hole {point.name.rpartition('.')[2]}",
            "Hole as built, from where it was drawn", _SOURCE, Severity.CAUTION,
            "Beyond what its bolt has room for, something is pulled or bent: slack off the bolts of "
            f"{point.bracket}, see what moves, judge the weld again. If it stays, draw the next for the place as "
            "built.",
            point.far_mm, point.room_mm + point.give_or_take_mm, "mm", Good.AT_MOST,
        )
        for point in body.points
        if point.room_mm is not None
    ]  # fmt: skip
