"""Control readings: the few tapes that show whether another car is like the first. A study in; readings out, judged.

Another car's points lie where the first one's do, give or take what cars of a kind differ by (default `kit.other_car`)
and what the first one's readings left open (the adjustment's covariance). Readings are taken up one at a time, each the
one that leaves least of the spread of the brackets' holes among each other, rigid moves of the whole car aside, until
`kit.foreseen` of it is foreseen. Least squares with a prior: Mikhail and Ackermann 1976, from memory. See docs/book.md.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from halfshaft.book.order import room_of
from halfshaft.build.catalogue import default
from halfshaft.build.schema import Reading
from halfshaft.build.units import format_length, read_angle_deg, read_length_mm
from halfshaft.cut.station import is_refused
from halfshaft.fold.model import Bracket, Hole, Panel
from halfshaft.measure.network import spread_of
from halfshaft.study import Study

Array = NDArray[np.float64]
State = Literal["fits", "off", "not read"]

COLUMNS = ("number", "reading", "points", "nominal", "give or take", "with", "read")
_SHORTEST_MM = 40.0  # a tape between nearer points tells little
_SURE = 1.959963985  # spreads each way for 95 in 100


@dataclass(frozen=True, slots=True)
class Control:
    """One control reading. `most` is how far another car may read from `nominal`; mm, degrees for a bevel."""

    number: int
    kind: str
    names: tuple[str, ...]
    nominal: float
    most: float
    spread: float
    instrument: str
    unit: str
    brackets: tuple[str, ...]

    @property
    def points(self) -> str:
        return " ".join(name.rpartition(".")[2] for name in self.names)


@dataclass(frozen=True, eq=False)
class Controls:
    """The readings, how much of the spread they foresee, and what is needed to judge them."""

    rows: tuple[Control, ...]
    foreseen: float
    points: tuple[str, ...]  # the brackets' holes in the car, in the order of `xyz_mm`
    xyz_mm: Array  # (n, 3)
    covariance: Array  # (3n, 3n) of another car's points about the first one's
    room_mm: Array  # (n,) what the bolt may stand out of the middle
    brackets: tuple[str, ...]  # (n,) which bracket each belongs to


def controls_of(study: Study) -> Controls | None:
    """None where fewer than three holes of brackets are located on the car."""
    build, measured = study.build, study.measured
    seats: dict[str, tuple[Hole, str]] = {}
    for bracket in study.brackets.values():
        if is_refused(bracket):
            continue
        for panel in bracket.panels.values():
            for hole in panel.holes:
                on_car = hole.point.partition(".")[0] == build.root
                if hole.use == "bolt" and on_car and hole.point in measured.where:
                    seats.setdefault(hole.point, (hole, bracket.name))
    if len(seats) < 3:
        return None
    names = tuple(seats)
    mean, known = measured.joint(names)
    xyz = mean.reshape(-1, 3)
    covariance = known + _other_car(xyz)
    room = np.array([room_of(hole) for hole, _ in seats.values()])
    owners = tuple(bracket for _, bracket in seats.values())
    among = _among(xyz)
    tried = [pair for pair in combinations(range(len(names)), 2) if _apart(xyz, pair) >= _SHORTEST_MM]
    spreads = {}
    for pair in tried:
        reading = Reading(kind="tape", names=(names[pair[0]], names[pair[1]]))
        spreads[pair] = spread_of(build, reading, _apart(xyz, pair)).sigma
    most = int(default("kit.readings").value)
    wanted = float(default("kit.foreseen").value)
    left, whole = covariance.copy(), float(np.trace(among @ covariance @ among.T))
    picked: list[tuple[int, int]] = []
    while len(picked) < most and float(np.trace(among @ left @ among.T)) > (1.0 - wanted) * whole:
        best, gain = None, 1e-6 * whole
        for pair in tried:
            if pair in picked:
                continue
            row = _tape_row(xyz, pair)
            shared = left @ row
            at_holes = among @ shared
            here = float(at_holes @ at_holes) / (float(row @ shared) + spreads[pair] ** 2)
            if here > gain:
                best, gain = pair, here
        if best is None:
            break
        row = _tape_row(xyz, best)
        shared = left @ row
        left = left - np.outer(shared, shared) / (float(row @ shared) + spreads[best] ** 2)
        picked.append(best)
    rows = [
        _tape(number, names, owners, xyz, room, pair, spreads[pair]) for number, pair in enumerate(sorted(picked), 1)
    ]
    rows += _bevels(study, len(rows))
    foreseen = 1.0 - float(np.trace(among @ left @ among.T)) / whole
    return Controls(tuple(rows), foreseen, names, xyz, covariance, room, owners)


def _other_car(xyz: Array) -> Array:
    """Covariance (3n, 3n) of what cars of a kind differ by: near points lie off together, each a little by itself."""
    between, local, together = (float(default(f"kit.{key}").value) for key in ("other_car", "local", "together"))
    apart = np.linalg.norm(xyz[:, None] - xyz[None, :], axis=2)
    alike = between**2 * np.exp(-0.5 * (apart / together) ** 2) + local**2 * np.eye(len(xyz))
    return np.asarray(np.kron(alike, np.eye(3)))


def _apart(xyz: Array, pair: tuple[int, int]) -> float:
    return float(np.linalg.norm(xyz[pair[0]] - xyz[pair[1]]))


def _tape_row(xyz: Array, pair: tuple[int, int]) -> Array:
    """How a tape between two points grows with all of them (3n,)."""
    way = xyz[pair[1]] - xyz[pair[0]]
    way = way / np.linalg.norm(way)
    row = np.zeros(3 * len(xyz))
    row[3 * pair[0] : 3 * pair[0] + 3] = -way
    row[3 * pair[1] : 3 * pair[1] + 3] = way
    return row


def _among(xyz: Array) -> Array:
    """Projector (3n, 3n) onto what is no rigid move of all the points together."""
    arms = xyz - xyz.mean(axis=0)
    moves = np.zeros((3 * len(xyz), 6))
    for at, (x, y, z) in enumerate(arms):
        moves[3 * at : 3 * at + 3, :3] = np.eye(3)
        moves[3 * at : 3 * at + 3, 3:] = [[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]]
    u, s, _ = np.linalg.svd(moves, full_matrices=False)
    basis = u[:, s > 1e-9 * s[0]]
    return np.asarray(np.eye(3 * len(xyz)) - basis @ basis.T)


def _tape(
    number: int, names: tuple[str, ...], owners: tuple[str, ...], xyz: Array, room: Array, pair: tuple[int, int],
    spread: float,
) -> Control:  # fmt: skip
    """Both bolts may stand out of the middle; between two brackets those in the unit give way as well."""
    i, j = pair
    brackets = tuple(dict.fromkeys((owners[i], owners[j])))
    most = float(room[i] + room[j])
    return Control(number, "tape", (names[i], names[j]), _apart(xyz, pair), most, spread, "tape", "mm", brackets)


def _bevels(study: Study, before: int) -> list[Control]:
    """The angle of a bracket's two faces on the car: what the bolts pull up over the smaller panel's reach."""
    out: list[Control] = []
    told: set[frozenset[str]] = set()
    for bracket in study.brackets.values():
        if is_refused(bracket):
            continue
        own = [p for p in bracket.panels.values() if p.face.partition(".")[0] == study.build.root]
        for one, other in combinations(own, 2):
            pair = frozenset((one.face, other.face))
            if pair in told or len(pair) < 2 or not {one.face, other.face} <= study.measured.faces.keys():
                continue
            told.add(pair)
            a, b = (study.measured.faces[p.face].plane.normal for p in (one, other))
            between = 180.0 - float(np.degrees(np.arccos(np.clip(a @ b, -1.0, 1.0))))
            reach = min(_reach_mm(bracket, one), _reach_mm(bracket, other))
            most = float(np.degrees(np.arctan2(study.build.shop.pull_up_mm, reach)))
            names = (one.face, other.face)
            spread = spread_of(study.build, Reading(kind="bevel", names=names), between).sigma
            number = before + len(out) + 1
            out.append(Control(number, "bevel", names, between, most, spread, "bevel gauge", "deg", (bracket.name,)))
    return out


def _reach_mm(bracket: Bracket, panel: Panel) -> float:
    """How far a panel stands from its nearest fold, at its farthest hole; of one without, its own size."""
    lines = [fold.line_a_mm for fold in bracket.folds if fold.a == panel.name]
    lines += [fold.line_b_mm for fold in bracket.folds if fold.b == panel.name]
    spots = [np.asarray(hole.centre_mm) for hole in panel.holes] or list(panel.outline.points_mm)
    if not lines:
        return float(np.ptp(panel.outline.points_mm, axis=0).max())
    reach = 1.0
    for spot in spots:
        apart = []
        for line in lines:
            way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
            apart.append(abs(float(way[0] * (spot - line[0])[1] - way[1] * (spot - line[0])[0])))
        reach = max(reach, min(apart))
    return reach


@dataclass(frozen=True, slots=True)
class Judgement:
    """One filled row."""

    control: Control
    read: float | None
    off: float | None
    state: State


@dataclass(frozen=True, slots=True)
class HoleElsewhere:
    """Where a hole of the other car seems to lie from where the first one's does, the whole car laid on best."""

    point: str
    bracket: str
    by_mm: float
    spread_mm: float
    room_mm: float

    @property
    def out(self) -> bool:
        return self.by_mm > self.room_mm


@dataclass(frozen=True)
class Verdict:
    rows: tuple[Judgement, ...]
    holes: tuple[HoleElsewhere, ...]  # farthest beyond its room first
    words: tuple[str, ...]

    @property
    def alike(self) -> bool:
        """Every reading is there and within its tolerance."""
        return all(row.state == "fits" for row in self.rows)


def judge(controls: Controls, read: dict[int, float], units: str) -> Verdict:
    """Each reading against its nominal, then all of them together: which hole is elsewhere, and what to do."""
    rows = []
    for one in controls.rows:
        value = read.get(one.number)
        off = None if value is None else value - one.nominal
        state: State = "not read" if off is None else ("fits" if abs(off) <= one.most else "off")
        rows.append(Judgement(one, value, off, state))
    holes = _elsewhere(controls, rows)
    return Verdict(tuple(rows), holes, tuple(_words(controls, rows, holes, units)))


def _elsewhere(controls: Controls, rows: Sequence[Judgement]) -> tuple[HoleElsewhere, ...]:
    index = {name: at for at, name in enumerate(controls.points)}
    taken = [row for row in rows if row.off is not None and row.control.kind == "tape"]
    if not taken:
        return ()
    slopes = np.array(
        [_tape_row(controls.xyz_mm, (index[r.control.names[0]], index[r.control.names[1]])) for r in taken]
    )
    noise = np.diag([row.control.spread**2 for row in taken])
    shared = controls.covariance @ slopes.T
    gain = np.linalg.solve(slopes @ shared + noise, shared.T).T
    among = _among(controls.xyz_mm)
    step = (among @ gain @ np.array([row.off for row in taken], dtype=float)).reshape(-1, 3)
    left = among @ (controls.covariance - gain @ shared.T) @ among.T
    out = []
    for at, name in enumerate(controls.points):
        own = left[3 * at : 3 * at + 3, 3 * at : 3 * at + 3]
        spread = float(np.sqrt(max(np.linalg.eigvalsh(own)[-1], 0.0)))
        far = float(np.linalg.norm(step[at]))
        out.append(HoleElsewhere(name, controls.brackets[at], far, spread, float(controls.room_mm[at])))
    return tuple(sorted(out, key=lambda hole: hole.room_mm - hole.by_mm))


def _words(controls: Controls, rows: Sequence[Judgement], holes: Sequence[HoleElsewhere], units: str) -> list[str]:
    missing = [row.control.number for row in rows if row.state == "not read"]
    off = [row for row in rows if row.state == "off"]
    out = []
    if missing:
        out.append(
            f"Not read yet: {', '.join(map(str, missing))}. Until they are, this car is not known to be like the first."
        )
    if not off and not missing:
        out.append(
            f"Every control reading agrees: the parts of the kit fit this car, as far as {100 * controls.foreseen:.0f} "
            "% of what cars of a kind differ by tells. Offer each bracket up before it is welded all the same."
        )
    for row in off:
        assert row.off is not None
        one = row.control
        told = f"{one.kind} {one.points}"
        by = format_length(abs(row.off), units) if one.unit == "mm" else f"{abs(row.off):.1f}°"
        which = " and ".join(one.brackets) + " of the kit " + ("does" if len(one.brackets) == 1 else "do")
        out.append(
            f"Reading {one.number}, {told}, is {by} {'long' if row.off > 0 else 'short'}: take it again, by another "
            f"hand. If it stays, {which} not fit this car."
        )
    bad = [hole for hole in holes if hole.out]
    for bracket in dict.fromkeys(hole.bracket for hole in bad):
        own = [hole for hole in bad if hole.bracket == bracket]
        listed = ", ".join(
            f"{hole.point.rpartition('.')[2]} by {format_length(hole.by_mm, units)} ± "
            f"{format_length(_SURE * hole.spread_mm, units)}"
            for hole in own
        )
        out.append(
            f"Together they put holes of {bracket} elsewhere: {listed}. Do not cut it from the kit: take the readings "
            f"of its points on this car into a copy of the build, work it, and make {bracket} from that."
        )
    if off and not bad:
        out.append("Taken together they still leave every hole within its room: a slot or a wider hole may be enough.")
    return out


def form_csv(controls: Controls, units: str) -> str:
    """The form to fill in: a row a reading, the last column empty."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in controls.rows:
        writer.writerow([str(one.number), one.kind, one.points, *_told(one, units), one.instrument, ""])
    return out.getvalue()


def _told(one: Control, units: str) -> tuple[str, str]:
    if one.unit == "deg":
        return f"{one.nominal:.1f} deg", f"{one.most:.1f} deg"
    return format_length(one.nominal, units), format_length(one.most, units)


def row_words(one: Control, units: str) -> tuple[str, ...]:
    """Number, reading, points, nominal, tolerance, instrument, brackets: a row for people."""
    nominal, most = _told(one, units)
    return (str(one.number), one.kind, one.points, nominal, f"± {most}", one.instrument, ", ".join(one.brackets))


def read_form(text: str, controls: Controls, units: str) -> dict[int, float]:
    """What was filled in, by number; rows left empty are left out.

    Raises ValueError with every fault, a line each: 'line 4: ...'.
    """
    known = {one.number: one for one in controls.rows}
    out: dict[int, float] = {}
    faults: list[str] = []
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    comma = next((c for c in (";", "\t") if c in first and "," not in first), ",")
    header: list[str] | None = None
    for number, cells in enumerate(csv.reader(lines, delimiter=comma, skipinitialspace=True), 1):
        row = [cell.strip() for cell in cells]
        if not any(row):
            continue
        if header is None:
            header = [cell.lower() for cell in row]
            missing = [name for name in ("number", "read") if name not in header]
            if missing:
                raise ValueError(f"line {number}: no column '{missing[0]}'; the first row is: {', '.join(COLUMNS)}")
            continue
        told = dict(zip(header, row, strict=False))
        if not told.get("read"):
            continue
        try:
            which = int(told["number"])
            one = known[which]
        except (ValueError, KeyError):
            faults.append(
                f"line {number}: there is no control reading '{told.get('number', '')}'; there are 1 to {len(known)}"
            )
            continue
        if which in out:
            faults.append(f"line {number}: reading {which} stands twice; keep one")
            continue
        try:
            reader = read_angle_deg if one.unit == "deg" else read_length_mm
            out[which] = float(reader(told["read"], units))
        except ValueError as why:
            faults.append(f"line {number}: {why}")
    if header is None:
        faults.append("it is empty; 'halfshaft kit DIR' writes the form to fill in")
    if faults:
        raise ValueError("\n".join(faults))
    return out
