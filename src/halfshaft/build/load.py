"""A build folder in, a Build out, or every fault of its files at once."""

from __future__ import annotations

from pathlib import Path

from halfshaft.build.cross import crossed, known_of
from halfshaft.build.form import shape, system_of
from halfshaft.build.problems import BuildProblems, Problem
from halfshaft.build.readings import FILE, parse_readings
from halfshaft.build.schema import Build
from halfshaft.build.tables import read_tables
from halfshaft.build.text import read_text


def load(folder: Path) -> Build:
    """Read build.toml, parts/*.toml and readings.csv.

    Point and face names come out with their body ('car.RL3'), except those a body tells of itself.
    Raises BuildProblems with every fault: file, line, what was found and what to write.
    """
    folder = Path(folder)
    try:
        there = folder.is_dir()
    except (OSError, ValueError):
        there = False
    if not there:
        raise BuildProblems([Problem(str(folder), 0, "there is no such folder", "Write one with: halfshaft new DIR")])
    tables = read_tables(folder)
    build = shape(tables) if tables.values or not tables.problems else None
    if build is not None:
        build = crossed(build, tables, folder)
    text = read_text(folder / FILE, FILE)
    if isinstance(text, Problem):
        raise BuildProblems([*tables.problems, text])
    known = known_of(tables)
    readings, faults = parse_readings(text.text, known, system_of(tables.values))
    if not known.points:
        faults = []  # without bodies each row would be a fault that is none
    if tables.problems or faults or build is None:
        raise BuildProblems([*tables.problems, *faults])
    return build.model_copy(update={"readings": tuple(readings)})
