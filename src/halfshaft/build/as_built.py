"""as_built.csv of a build folder: rows as in readings.csv, taken once the unit hangs in welded brackets."""

from __future__ import annotations

from pathlib import Path

from halfshaft.build.cross import known_of
from halfshaft.build.form import system_of
from halfshaft.build.problems import BuildProblems, Problem
from halfshaft.build.readings import parse_readings
from halfshaft.build.schema import Reading
from halfshaft.build.tables import read_tables
from halfshaft.build.text import read_text

FILE = "as_built.csv"


def as_built(folder: Path) -> tuple[Reading, ...]:
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
