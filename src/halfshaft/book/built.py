"""What the car became: as-built readings come back into the measurements. A study and as_built.csv in; what moved out.

Readings within one body stay true whatever was bolted up. Readings between bodies were taken on the mock-up: once
as_built.csv holds readings between the same bodies, those replace them, all are adjusted anew, and the unit's place as
built stands beside its place as drawn. Files: rows as in readings.csv.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from halfshaft.book.order import room_of
from halfshaft.build import BuildProblems
from halfshaft.build.cross import known_of
from halfshaft.build.form import system_of
from halfshaft.build.problems import Problem
from halfshaft.build.readings import parse_readings
from halfshaft.build.schema import Reading
from halfshaft.build.tables import read_tables
from halfshaft.build.text import read_text
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.cut.station import is_refused
from halfshaft.geometry import Pose
from halfshaft.measure.model import Measured
from halfshaft.measure.station import measured_of, survey
from halfshaft.study import Study
from halfshaft.tables import Table

Array = NDArray[np.float64]

FILE = "as_built.csv"
_SOURCE = Source(Origin.DERIVED, "docs/book.md")
_SURE = 1.959963985


@dataclass(frozen=True, eq=False)
class PointBuilt:
    """One point of a body that was bolted up: how far from its drawn place, (3,) mm, with the spread of its place."""

    name: str
    moved_mm: Array
    spread_mm: float
    room_mm: float | None  # of the bolt that goes there
    bracket: str

    @property
    def far_mm(self) -> float:
        return float(np.linalg.norm(self.moved_mm))


@dataclass(frozen=True, eq=False)
class BodyBuilt:
    """A body as it sits now: shift of its points' middle (3,) mm and turn in degrees, from where it was drawn."""

    name: str
    moved_mm: Array
    turned_deg: float
    points: tuple[PointBuilt, ...]


@dataclass(frozen=True, eq=False)
class Built:
    readings: int
    bodies: tuple[BodyBuilt, ...]
    checks: tuple[Check, ...]


def built_readings(folder: Path) -> tuple[Reading, ...]:
    """Rows of as_built.csv; none where there is no such file. Raises BuildProblems with every fault."""
    path = folder / FILE
    if not path.exists():
        return ()
    text = read_text(path, FILE)
    if isinstance(text, Problem):
        raise BuildProblems([text])
    tables = read_tables(folder)
    readings, faults = parse_readings(text.text, known_of(tables), system_of(tables.values))
    if faults:
        raise BuildProblems([Problem(FILE, one.line, one.found, one.write) for one in faults])
    return tuple(readings)


def built_of(study: Study) -> Built | None:
    """None where nothing was read as built. Raises BuildProblems with every fault of as_built.csv."""
    read = built_readings(study.folder)
    if not read:
        return None
    build = study.build
    anew = {frozenset(_bodies(one)) for one in read if len(_bodies(one)) > 1}
    kept = [one for one in build.readings if len(_bodies(one)) < 2 or frozenset(_bodies(one)) not in anew]
    now = measured_of(whole := build.model_copy(update={"readings": (*kept, *read)}), survey(whole))
    checks: list[Check] = []
    bodies = []
    for name in build.body:
        if name == build.root or not any(name in pair for pair in anew):
            continue
        if name not in now.poses or name not in study.measured.poses:
            checks.append(
                Check(
                    "book", FILE, f"'{name}' is not held by what was read as built", _SOURCE, Severity.CAUTION,
                    f"Take at least six readings between the car and '{name}' once it hangs in its brackets: three "
                    "tapes from each of two of its points to points of the car.", failed_outright=True,
                )
            )  # fmt: skip
            continue
        bodies.append(_body(study, name, now.poses[name], now))
        checks += _checks(bodies[-1])
    return Built(len(read), tuple(bodies), tuple(checks))


def _bodies(reading: Reading) -> set[str]:
    return {name.partition(".")[0] for name in reading.names} | ({reading.frame} if reading.frame else set())


def _body(study: Study, name: str, pose: Pose, now: Measured) -> BodyBuilt:
    drawn = study.measured.poses[name]
    move = pose.after(drawn.inverse())
    rooms: dict[str, tuple[float, str]] = {}
    for bracket in study.brackets.values():
        if not is_refused(bracket):
            for panel in bracket.panels.values():
                for hole in panel.holes:
                    if hole.use == "bolt" and hole.point.partition(".")[0] == name:
                        rooms[hole.point] = (room_of(hole), bracket.name)
    points = []
    for key, point in study.measured.points.items():
        if point.body != name or not point.tied or key not in now.points:
            continue
        step = move.apply(point.xyz_mm) - point.xyz_mm
        spread = float(np.sqrt(max(np.linalg.eigvalsh(now.points[key].covariance_mm2)[-1], 0.0)))
        room, bracket_name = rooms.get(key, (None, ""))
        points.append(PointBuilt(key, step, spread, room, bracket_name))
    spots = np.array([study.measured.points[p.name].xyz_mm for p in points]).reshape(-1, 3)
    middle = spots.mean(axis=0) if len(spots) else drawn.shift_mm
    angle = float(np.degrees(np.arccos(np.clip((np.trace(move.rotation) - 1.0) / 2.0, -1.0, 1.0))))
    points.sort(key=lambda p: (p.room_mm is None, -p.far_mm))
    return BodyBuilt(name, move.apply(middle) - middle, angle, tuple(points))


def _checks(body: BodyBuilt) -> list[Check]:
    out = []
    for point in body.points:
        if point.room_mm is None:
            continue
        short = point.name.rpartition(".")[2]
        out.append(
            Check(
                "book", f"bracket {point.bracket}, hole {short}", "Hole as built, from where it was drawn", _SOURCE,
                Severity.CAUTION,
                "Beyond what its bolt has room for, something is pulled or bent: slack off the bolts of "
                f"{point.bracket}, see what moves, judge the weld again. If it stays, draw the next for the place as "
                "built.",
                point.far_mm, point.room_mm + _SURE * point.spread_mm, "mm", Good.AT_MOST,
            )
        )  # fmt: skip
    return out


def built_table(found: Built) -> Table:
    """Each point that was bolted up, from where it was drawn."""
    rows, mood = [], []
    for body in found.bodies:
        for point in body.points:
            ways = "  ".join(f"{v + 0.0:+.1f}" for v in point.moved_mm)
            room = f"{point.room_mm:.2f}" if point.room_mm is not None else ""
            rows.append(
                (point.name, point.bracket, ways, f"{point.far_mm:.2f}", f"{_SURE * point.spread_mm:.2f}", room)
            )
            out = point.room_mm is not None and point.far_mm > point.room_mm + _SURE * point.spread_mm
            mood.append("bad" if out else "")
    columns = ("point", "bracket", "forward, left, up mm", "in all mm", "± mm (95 %)", "room of its bolt mm")
    return Table("As built, from where it was drawn", columns, tuple(rows), (2, 3, 4, 5), tuple(mood), "nothing yet")


def built_words(found: Built) -> tuple[str, ...]:
    """Where each body sits now, in a sentence."""
    out = []
    for body in found.bodies:
        ways = ", ".join(f"{v + 0.0:+.1f}" for v in body.moved_mm)
        out.append(
            f"'{body.name}' sits {ways} mm (forward, left, up) and {body.turned_deg:.2f}° from where it was drawn, by "
            f"{found.readings} readings as built."
        )
    return tuple(out)
