"""readings.csv: its text and the known names in, checked readings and problems out."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

from halfshaft.build import catalogue, units
from halfshaft.build.problems import Problem, nearest, shown
from halfshaft.build.schema import Build, Reading

FILE = "readings.csv"
COLUMNS = ("reading", "points", "value", "with", "spread", "frame", "note")
HEADER = ", ".join(COLUMNS)
Bodies: TypeAlias = tuple[tuple[str, frozenset[str], frozenset[str]], ...]
LEAST_SPREAD = 1e-3  # mm or degrees: finer than anything in the shop, and an exact reading would stop the adjustment


@dataclass(frozen=True, slots=True)
class Kind:
    """What a kind of reading wants: points then faces, the unit of its value, and a row to copy."""

    points: int
    faces: int
    unit: str
    example: str


KINDS: Mapping[str, Kind] = {
    "tape": Kind(2, 0, "mm", "tape, RL3 RL7, 412"),
    "caliper": Kind(2, 0, "mm", "caliper, RL3 RL4, 60.2"),
    "height": Kind(1, 0, "mm", "height, RL3, 545"),
    "rise": Kind(2, 0, "mm", "rise, RL3 RL7, 38"),
    "offset": Kind(1, 0, "mm", "offset, RL3, 412 left"),
    "station": Kind(1, 0, "mm", "station, RL3, 120 rear"),
    "angle": Kind(3, 0, "deg", "angle, RL3 RL4 RL7, 88.5"),
    "slope": Kind(2, 0, "deg", "slope, RL3 RL7, 3.5"),
    "bevel": Kind(0, 2, "deg", "bevel, left_web left_flange, 92"),
    "onface": Kind(1, 1, "mm", "onface, RL3 left_web, 0"),
    "mirror": Kind(2, 0, "mm", "mirror, RL3 RR3"),
    "given": Kind(1, 0, "mm", "given, RL3, 0 0 0"),
}
_WAYS = {"offset": ("left", "right"), "station": ("front", "rear")}
_WAY_WORDS = {"l": "left", "r": "right", "forward": "front", "ahead": "front", "back": "rear", "behind": "rear"}


@dataclass(frozen=True)
class Known:
    """Points and faces of each body, root first."""

    points: Mapping[str, frozenset[str]]
    faces: Mapping[str, frozenset[str]]

    @property
    def bodies(self) -> Bodies:
        """Body, its points, its faces, in order."""
        return tuple((name, points, self.faces[name]) for name, points in self.points.items())

    def find(self, name: str, faces: bool = False) -> str:
        """The name with its body. Raises ValueError that says what was found and what to write."""
        what = "face" if faces else "point"
        among = self.faces if faces else self.points
        body, _, short = name.rpartition(".")
        if body:
            if body not in among:
                near = nearest(body, among)
                told = f"write {near[0]}.{short}" if near else f"the bodies are {', '.join(among) or 'none'}"
                raise ValueError(
                    f"'{shown(name)[1:-1]}' names the body '{body}', which the build does not have: {told}"
                )
            if short in among[body]:
                return name
        else:
            holders = [b for b, names in among.items() if short in names]
            first = next(iter(among), "")
            if len(holders) == 1 or (holders and holders[0] == first):
                return f"{holders[0]}.{short}"
            if holders:
                choices = " or ".join(f"{b}.{short}" for b in holders)
                raise ValueError(f"'{short}' is a {what} of {' and of '.join(holders)}: write {choices}")
        other = self.points if faces else self.faces
        if any(short in names for b, names in other.items() if not body or b == body):
            raise ValueError(f"'{short}' is a {'point' if faces else 'face'}, and a {what} is wanted: write a {what}")
        every = [n for b, names in among.items() if not body or b == body for n in sorted(names)]
        near = nearest(short, every, limit=3)
        where = f"[body.{body or next(iter(among), 'car')}.{what}]"
        did_you = f"write {' or '.join(near)}, or " if near else ""
        raise ValueError(f"{shown(name)} is not a {what} of the build: {did_you}add it under {where}")


def _split(message: str) -> tuple[str, str]:
    """A reader's message as what was found and what to write."""
    for mark in (": write ", ": the ", ": add "):
        found, cut, write = message.partition(mark)
        if cut:
            tail = (mark[2:] + write).strip()
            return found, tail[0].upper() + tail[1:]
    return message, ""


def parse_readings(text: str, known: Known, system: str) -> tuple[list[Reading], list[Problem]]:
    """All rows of the text; rows with faults are told as problems and left out."""
    readings, problems = _parsed(text, known.bodies, system)
    return list(readings), list(problems)


@lru_cache(maxsize=4)
def _parsed(text: str, bodies: Bodies, system: str) -> tuple[Sequence[Reading], Sequence[Problem]]:
    """Remembered, for most edits leave the rows and the names as they are."""
    known = Known({name: points for name, points, _ in bodies}, {name: faces for name, _, faces in bodies})
    readings: list[Reading] = []
    problems: list[Problem] = []
    columns: list[str] | None = None
    comma = ","
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if columns is None:
            comma = next((c for c in (";", "\t") if c in line and "," not in line), ",")
        try:
            cells = [
                cell.strip() for cell in next(csv.reader([line], delimiter=comma, skipinitialspace=True, strict=True))
            ]
        except (csv.Error, StopIteration):
            problems.append(Problem(FILE, number, "a quote that is not closed", 'Close the quotes, as in "12,5 mm"'))
            continue
        if not any(cells):
            continue
        if columns is None:
            columns, faults = _columns(cells, number)
            problems += faults
            if not columns:
                return readings, problems
            continue
        row = dict.fromkeys(COLUMNS, "") | dict(zip(columns, cells, strict=False))
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            found = f"{len(cells)} cells where the header has {len(columns)} columns"
            problems.append(Problem(FILE, number, found, 'Put a cell that holds commas in quotes: "12,5 mm"'))
            continue
        faults = []

        def note(found: str, write: str, number: int = number, faults: list[Problem] = faults) -> None:
            faults.append(Problem(FILE, number, found, write))

        reading = _reading(row, known, system, number, line, note)
        problems += faults
        if reading is not None and not faults:
            readings.append(reading)
    if columns is None:
        problems.append(Problem(FILE, 1, "there is no header row", f"Write as first row: {HEADER}"))
    return readings, problems


class RowFaults(ValueError):
    """What is wrong with one row that is being typed: pairs of what was found and what to write."""

    def __init__(self, faults: Iterable[tuple[str, str]]) -> None:
        self.faults = tuple(dict.fromkeys(faults))
        super().__init__("\n".join(f"{found}. {write}" if write else found for found, write in self.faults))


def parse_row(cells: Mapping[str, str], build: Build, also: Iterable[str] = (), system: str | None = None) -> Reading:
    """One row of cells by column name, as it would be read from readings.csv of this build.

    `also` are points that the build does not have yet ('FL9', 'unit.P7'; the root body's without a body). `system` is
    what a bare number is read in, the build's own when None. Raises RowFaults.
    """
    faults: list[tuple[str, str]] = []
    row = dict.fromkeys(COLUMNS, "")
    for name, cell in cells.items():
        if name not in row:
            faults.append((f"there is no column {shown(name)}", f"The columns are: {HEADER}"))
        row[name] = " ".join(cell.split())
    if faults:
        raise RowFaults(faults)

    def note(found: str, write: str) -> None:
        faults.append((found, write))

    text = ", ".join(cell for cell in row.values() if cell)
    reading = _reading(row, known_in(build, also), system or build.build.units, 0, text, note)
    if faults or reading is None:
        raise RowFaults(faults)
    return reading


def with_units(kind: str, value: str, system: str) -> str:
    """A value cell with the unit of `system` written out behind every bare length: '14 3/16' becomes '14 3/16 in'.

    Cells that are not lengths, say their unit, or cannot be read stay as they are.
    """
    known = KINDS.get(kind.strip().lower())
    if known is None or known.unit != "mm" or not value.strip():
        return value
    unit = "mm" if system == "metric" else "in"
    parts = value.split(";") if kind == "given" else [value]
    return "; ".join(_with_unit(part.strip(), kind, unit) for part in parts)


def _with_unit(cell: str, kind: str, unit: str) -> str:
    words = cell.split()
    way = ""
    if kind in _WAYS and words and words[-1][:1].isalpha():
        last = _WAY_WORDS.get(words[-1].lower().rstrip("."), words[-1].lower().rstrip("."))
        way = f" {words.pop()}" if last in _WAYS[kind] else ""
    bare = " ".join(words)
    read = units.read_spot_mm if kind == "given" and len(words) > 1 and "/" not in bare else units.read_length_mm
    try:
        same = read(bare, "metric") == read(bare, "inch")
    except ValueError:
        return cell
    return cell if same else f"{bare} {unit}{way}"


def known_in(build: Build, also: Iterable[str] = ()) -> Known:
    """Points and faces of a build, root body first, with further points."""
    order = sorted(build.body, key=lambda name: (not build.body[name].root, name != "car"))
    points = {name: {n.rpartition(".")[2] for n in build.body[name].point} for name in order}
    for name in also:
        body, _, short = name.rpartition(".")
        if (body or build.root) in points:
            points[body or build.root].add(short)
    return known_names({name: (points[name], build.body[name].face) for name in order})


def _columns(cells: list[str], number: int) -> tuple[list[str], list[Problem]]:
    names = [cell.lower() for cell in cells]
    if names[0] in KINDS:
        return [], [Problem(FILE, number, "a reading before the header row", f"Write as first row: {HEADER}")]
    faults = []
    for name in names:
        if name not in COLUMNS:
            near = nearest(name, COLUMNS)
            told = f"Write '{near[0]}'" if near else f"The columns are: {HEADER}"
            faults.append(Problem(FILE, number, f"the column {shown(name)} is not known", told))
        elif names.count(name) > 1:
            faults.append(Problem(FILE, number, f"the column '{name}' stands twice", "Take one away"))
    for name in COLUMNS[:3]:
        if name not in names:
            faults.append(Problem(FILE, number, f"the column '{name}' is missing", f"Write as first row: {HEADER}"))
    return ([] if faults else names), faults


def _reading(
    row: Mapping[str, str],
    known: Known,
    system: str,
    line: int,
    text: str,
    note: Callable[[str, str], None],
) -> Reading | None:
    name = row["reading"].lower()
    kind = KINDS.get(name)
    if kind is None:
        near = nearest(name, KINDS) if name else []
        told = f"Write '{near[0]}'" if near else f"The readings are: {', '.join(KINDS)}"
        note(f"{shown(row['reading'])} is not a kind of reading", told)
        return None
    names = _names(row["points"], name, kind, known, note)
    value = _value(row["value"], name, kind, system, note)
    instrument = _instrument(row["with"], name, kind, note)
    spread = _spread(row["spread"], kind, system, note)
    frame = row["frame"]
    if frame and frame not in known.points:
        near = nearest(frame, known.points)
        told = f"Write '{near[0]}'" if near else f"The bodies are: {', '.join(known.points)}"
        note(f"the frame {shown(frame)} is not a body of the build", told)
    if names is None or value is None or instrument is None:
        return None
    return Reading(
        kind=name, names=names, value=value, instrument=instrument, spread=spread, frame=frame,
        note=row["note"], line=line, text=text.strip(),
    )  # fmt: skip


def _names(cell: str, name: str, kind: Kind, known: Known, note: Callable[[str, str], None]) -> tuple[str, ...] | None:
    words = units.read_names(cell)
    wanted = kind.points + kind.faces
    if len(words) != wanted:
        parts = [f"{n} {what}{'s' if n > 1 else ''}" for n, what in ((kind.points, "point"), (kind.faces, "face")) if n]
        found = f"found only {shown(cell)}" if len(words) < wanted else f"found {len(words)}: {shown(cell)}"
        note(f"'{name}' wants {' and '.join(parts)}, {found}", f"Write for example: {kind.example}")
        return None
    full: list[str] = []
    for number, word in enumerate(words):
        try:
            full.append(known.find(word, faces=number >= kind.points))
        except ValueError as error:
            note(*_split(str(error)))
    if len(full) < wanted:
        return None
    if len(set(full)) < wanted:
        note(f"'{name}' names {shown(full[0])} twice", f"Write for example: {kind.example}")
        return None
    return tuple(full)


def _value(cell: str, name: str, kind: Kind, system: str, note: Callable[[str, str], None]) -> tuple[float, ...] | None:
    if name == "mirror":
        if cell:
            note(f"'mirror' has no value, found {shown(cell)}", f"Write for example: {kind.example}")
            return None
        return ()
    if not cell and name == "onface":
        return (0.0,)
    if not cell:
        note(f"'{name}' has no value", f"Write for example: {kind.example}")
        return None
    try:
        if name == "given":
            return units.read_spot_mm(cell, system)
        if kind.unit == "deg":
            return (_within(name, units.read_angle_deg(cell, system)),)
        if name in _WAYS:
            return (_along(cell, name, system),)
        length = units.read_length_mm(cell, system)
        if name in ("tape", "caliper") and length <= 0.0:
            raise ValueError(f"'{name}' reads {shown(cell)}, and a length is more than nothing: write {kind.example}")
        return (length,)
    except ValueError as error:
        found, write = _split(str(error))
        note(found, write or f"Write for example: {kind.example}")
        return None


def _within(name: str, angle_deg: float) -> float:
    low, high = (-90.0, 90.0) if name == "slope" else (0.0, 180.0)
    if not low < angle_deg < high:
        raise ValueError(f"'{name}' reads {angle_deg:g} degrees: write one between {low:g} and {high:g}")
    return angle_deg


def _along(cell: str, name: str, system: str) -> float:
    """Offset with left or right, station with front or rear; left and front count up."""
    plus, minus = _WAYS[name]
    words = cell.split()
    way = words[-1].lower().rstrip(".") if words else ""
    way = _WAY_WORDS.get(way, way)
    if way in (plus, minus):
        length = units.read_length_mm(" ".join(words[:-1]), system)
        if length < 0.0:
            raise ValueError(f"{shown(cell)} has both a minus and '{way}': write it without the minus")
        return length if way == plus else -length
    length = units.read_length_mm(cell, system)
    if name == "offset" and length != 0.0:
        raise ValueError(f"{shown(cell)} does not say which side: write '{cell} left' or '{cell} right'")
    return length


def _instrument(cell: str, name: str, kind: Kind, note: Callable[[str, str], None]) -> str | None:
    known = catalogue.instruments()
    usual = usual_instrument(name)
    if not cell:
        return usual
    wanted = cell.lower().replace(" ", "_")
    row = known.get(wanted)
    fitting = [n for n, r in known.items() if name in r.kinds]
    if row is None:
        near = nearest(wanted, known)
        told = f"Write '{near[0]}'" if near else f"The instruments are: {', '.join(known)}"
        if re.fullmatch(r"\d+", cell):
            told += '; a decimal comma wants quotes: "12,5"'
        note(f"the instrument {shown(cell)} is not known", told)
        return None
    if row.unit != kind.unit or (name not in row.kinds and name in ("mirror", "given")):
        note(f"'{name}' is not read with '{wanted}'", f"Write {' or '.join(fitting)}, or leave it empty")
        return None
    return wanted


def usual_instrument(kind: str) -> str:
    """The instrument that a kind of reading is taken with when the builder names none."""
    return next(name for name, row in catalogue.instruments().items() if kind in row.kinds)


def _spread(cell: str, kind: Kind, system: str, note: Callable[[str, str], None]) -> float | None:
    if not cell:
        return None
    try:
        spread = units.read_angle_deg(cell, system) if kind.unit == "deg" else units.read_length_mm(cell, system)
        if spread < LEAST_SPREAD:
            raise ValueError(f"the spread {shown(cell)} is too small to be true: write {LEAST_SPREAD} or more")
    except ValueError as error:
        found, write = _split(str(error))
        note(f"spread: {found}", write)
        return None
    return spread


def known_names(bodies: Mapping[str, tuple[Iterable[str], Iterable[str]]]) -> Known:
    """`Known` from body -> (points, faces), root first."""
    return Known(
        {name: frozenset(points) for name, (points, _) in bodies.items()},
        {name: frozenset(faces) for name, (_, faces) in bodies.items()},
    )
