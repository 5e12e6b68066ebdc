"""Speed against time: a cycle by name, from a table or steady; its distance and what its kinematics alone tell."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.constants import mile

from halfshaft.build.catalogue.road import cycle_text

Array = NDArray[np.float64]

MOST_ROWS = 200_000
MOST_M_S = 150.0

_SPEED = {"km/h": 1.0 / 3.6, "kmh": 1.0 / 3.6, "kph": 1.0 / 3.6, "mph": mile / 3600.0, "m/s": 1.0}
_GRADE = {"%": 0.01, "": 1.0}


@dataclass(frozen=True, eq=False)
class Cycle:
    """Speeds (T+1,) at times (T+1,), straight between them; `grade` (T,) rise over run and `headwind_m_s` (T,) of each
    step, nought where there are none. Raises ValueError for times that do not rise or speeds that cannot be.
    """

    name: str
    time_s: Array
    speed_m_s: Array
    grade: Array = field(default_factory=lambda: np.zeros(0))
    headwind_m_s: Array = field(default_factory=lambda: np.zeros(0))
    source: str = ""

    def __post_init__(self) -> None:
        steps = len(self.time_s) - 1
        if steps < 1 or len(self.speed_m_s) != steps + 1:
            raise ValueError(f"the cycle '{self.name}' wants two moments or more, each with a speed")
        if not np.all(np.diff(self.time_s) > 0.0):
            raise ValueError(f"the cycle '{self.name}' has times that do not rise")
        if not np.all(np.isfinite(self.speed_m_s)) or np.min(self.speed_m_s) < 0.0:
            raise ValueError(f"the cycle '{self.name}' has a speed below nought, or none")
        if not np.max(self.speed_m_s) > 0.0:
            raise ValueError(f"the cycle '{self.name}' never moves")
        for name in ("grade", "headwind_m_s"):
            if len(getattr(self, name)) == 0:
                object.__setattr__(self, name, np.zeros(steps))
            elif len(getattr(self, name)) != steps:
                raise ValueError(f"the cycle '{self.name}' wants one {name} for each of its {steps} steps")

    @property
    def seconds(self) -> float:
        return float(self.time_s[-1] - self.time_s[0])

    @property
    def distance_m(self) -> float:
        return float(np.trapezoid(self.speed_m_s, self.time_s))


@dataclass(frozen=True, slots=True)
class Kinematics:
    """What a trace tells without a car: exact for speeds that are straight between samples."""

    seconds: float
    distance_m: float
    mean_m_s: float
    most_m_s: float
    v2_m2_s: float  # integral of v² over time
    v3_m3_s2: float
    gained_j_kg: float  # sum of the rises of v²/2
    rest_s: float
    stops: int  # times it comes to rest
    most_m_s2: float
    least_m_s2: float


def kinematics(cycle: Cycle) -> Kinematics:
    """Integrals of a cycle. Source: exact integrals of powers of a straight line."""
    dt = np.diff(cycle.time_s)
    a, b = cycle.speed_m_s[:-1], cycle.speed_m_s[1:]
    rests = (a == 0.0) & (b == 0.0)
    change = (b - a) / dt
    return Kinematics(
        cycle.seconds,
        cycle.distance_m,
        cycle.distance_m / cycle.seconds,
        float(cycle.speed_m_s.max()),
        float(np.sum(dt * (a * a + a * b + b * b) / 3.0)),
        float(np.sum(dt * (a**3 + a * a * b + a * b * b + b**3) / 4.0)),
        float(np.sum(np.maximum(b * b - a * a, 0.0)) / 2.0),
        float(np.sum(dt[rests])),
        int(np.count_nonzero((a > 0.0) & (b == 0.0))),
        float(change.max()),
        float(change.min()),
    )


def steady(speed_m_s: float, grade: float = 0.0, seconds: float = 3600.0) -> Cycle:
    """One speed for a time, on one slope."""
    speeds = np.array([speed_m_s, speed_m_s])
    return Cycle(f"{speed_m_s * 3.6:.0f} km/h", np.array([0.0, seconds]), speeds, np.array([grade]))


@cache
def named(name: str) -> Cycle:
    """A cycle of the catalogue: wltc (class 3b), wltc-2, wltc-3a, nedc, udds, hwfet or us06.

    Raises KeyError with the names there are.
    """
    key, text = cycle_text(name)
    lines = text.splitlines()
    told = " ".join(line.lstrip("# ") for line in lines if line.startswith("#"))
    cycle = read_cycle("\n".join(line for line in lines if not line.startswith("#")), key)
    times, speeds = cycle.time_s, cycle.speed_m_s
    if repeats := re.search(r"repeat the first (\d+) s (\d+) times", told):
        length, count = float(repeats.group(1)), int(repeats.group(2))
        part = times <= length
        more = [times[part][1:] + length * n for n in range(1, count)]
        rest = times[~part] + length * (count - 1)
        times = np.concatenate([times[part], *more, rest])
        speeds = np.concatenate([speeds[part], *([speeds[part][1:]] * (count - 1)), speeds[~part]])
    source = re.sub(r"\s*(?:repeat|parts end).*", "", told.partition("Source: ")[2])
    return Cycle(key, times, speeds, source=source)


def at_each_second(cycle: Cycle) -> Cycle:
    """The same cycle with a sample every second wherever speed changes, so that long ramps are integrated finely."""
    long = (np.diff(cycle.time_s) > 1.0) & (np.diff(cycle.speed_m_s) != 0.0)
    if not long.any():
        return cycle
    inside = np.arange(np.ceil(cycle.time_s[0]), cycle.time_s[-1], 1.0)
    inside = inside[long[np.searchsorted(cycle.time_s, inside, side="right") - 1]]
    times = np.unique(np.concatenate([cycle.time_s, inside]))
    piece = np.searchsorted(cycle.time_s, 0.5 * (times[1:] + times[:-1])) - 1
    speeds = np.interp(times, cycle.time_s, cycle.speed_m_s)
    return Cycle(cycle.name, times, speeds, cycle.grade[piece], cycle.headwind_m_s[piece], cycle.source)


def read_cycle(text: str, name: str) -> Cycle:
    """A cycle from a table in CSV: a first row that names time and speed with their units, then a row a moment.

    Columns: 'time s', 'speed km/h' (or mph, m/s), and where wanted 'grade %'. Commas, semicolons or tabs part them.
    Raises ValueError with every fault, a line each, and what to write.
    """
    lines = [(n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip()]
    lines = [(n, line) for n, line in lines if not line.lstrip().startswith("#")]
    write = "write for example 'time s,speed km/h'"
    if not lines:
        raise ValueError(f"there is no row: {write}")
    mark = next((m for m in (";", "\t") if m in lines[0][1]), ",")
    rows = [(n, next(csv.reader([line], delimiter=mark))) for n, line in lines]
    at, per_m_s, per_grade = _columns(rows[0][1], rows[0][0], write)
    faults: list[str] = []
    found: list[tuple[float, ...]] = []
    for number, row in rows[1:]:
        values: list[float] = []
        for column, index in at.items():
            cell = row[index].strip() if index < len(row) else ""
            try:
                value = float(cell.replace(",", ".") if mark != "," else cell)
            except ValueError:
                value = np.nan
            if not np.isfinite(value):
                faults.append(f"line {number}: {column} is '{cell}': write a number")
            values.append(value)
        speed = values[1] * per_m_s
        if np.isfinite(speed) and not 0.0 <= speed <= MOST_M_S:
            faults.append(
                f"line {number}: a speed of '{row[at['speed']]}': write one from 0 to {MOST_M_S * 3.6:.0f} km/h"
            )
        if found and np.isfinite(values[0]) and values[0] <= found[-1][0]:
            faults.append(
                f"line {number}: the time {values[0]:g} does not come after {found[-1][0]:g}: write rising times"
            )
        found.append(tuple(values))
    if len(found) < 2:
        faults.append("there are fewer than two moments: write a row for each")
    if len(found) > MOST_ROWS:
        faults.append(f"there are {len(found)} rows: write no more than {MOST_ROWS}")
    if faults:
        more = [f"and {len(faults) - 20} more faults"] if len(faults) > 20 else []
        raise ValueError("\n".join(faults[:20] + more))
    table = np.array(found)
    grade = 0.5 * (table[1:, 2] + table[:-1, 2]) * per_grade if "grade" in at else np.zeros(0)
    return Cycle(name, table[:, 0] - table[0, 0], table[:, 1] * per_m_s, grade, source="given by the builder")


def _columns(head: list[str], line: int, write: str) -> tuple[dict[str, int], float, float]:
    """Where time, speed and grade stand, and what speed and grade are counted in."""
    at: dict[str, int] = {}
    per_m_s, per_grade = 0.0, 0.01
    for index, cell in enumerate(head):
        word, _, unit = cell.strip().lower().replace("(", "").replace(")", "").replace("_", " ").partition(" ")
        unit = unit.strip()
        if word in ("time", "t") and unit in ("s", "", "sec", "seconds"):
            at["time"] = index
        elif word in ("speed", "v"):
            if unit not in _SPEED:
                raise ValueError(f"line {line}: the speed's unit is '{unit}': write one of km/h, mph, m/s")
            at["speed"], per_m_s = index, _SPEED[unit]
        elif word in ("grade", "slope"):
            if unit not in _GRADE:
                raise ValueError(f"line {line}: the grade's unit is '{unit}': write %")
            at["grade"], per_grade = index, _GRADE[unit]
    missing = [word for word in ("time", "speed") if word not in at]
    if missing:
        raise ValueError(f"line {line}: no column '{' and '.join(missing)}': {write}")
    order = ("time", "speed", "grade")
    return {word: at[word] for word in order if word in at}, per_m_s, per_grade
