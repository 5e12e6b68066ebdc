"""Rows of readings.csv as edits: a reading that is on show and new cells in, a change for the desk out.

A row is found again by its text, for its line may have moved since the study on show was worked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from halfshaft.bench.desk import Desk
from halfshaft.build import (
    Build,
    BuildProblems,
    Problem,
    add_reading,
    change_reading,
    remove_reading,
    rows_by_line,
    save_values,
)
from halfshaft.build.readings import FILE, usual_instrument
from halfshaft.build.schema import Reading
from halfshaft.measure import Suspect
from halfshaft.measure.slips import value_words
from halfshaft.measure.words import short_name

Edit = Callable[[Path], object]
Cells = Mapping[str, str]


def cells_of(desk: Desk, reading: Reading) -> dict[str, str]:
    """The cells of a row as the builder wrote them. Raises BuildProblems where the row is gone."""
    return dict(rows_by_line(desk.folder)[line_of(desk.folder, reading)][1])


def line_of(folder: Path, reading: Reading) -> int:
    """Where the row stands now. Raises BuildProblems where no row has its text any more."""
    rows = rows_by_line(folder)
    same = [line for line, (text, _) in rows.items() if text == reading.text]
    if not same:
        found = f"the row '{reading.text}' is no longer there"
        raise BuildProblems([Problem(FILE, 0, found, "Look at the row again: it was changed meanwhile")])
    return min(same, key=lambda line: abs(line - reading.line))


def added(cells: Cells, points: tuple[str, ...] = ()) -> Edit:
    """A new row at the end; `points` are qualified names of points that the build gets with it."""

    def edit(folder: Path) -> None:
        if points:
            save_values(folder, {("body", *_parts(name)): {} for name in points})
        add_reading(folder, {column: cell for column, cell in cells.items() if cell})

    return edit


def _parts(name: str) -> tuple[str, str, str]:
    body, _, short = name.partition(".")
    return body, "point", short


def changed(reading: Reading, cells: Cells) -> Edit:
    """Cells of the row changed."""
    return lambda folder: change_reading(folder, line_of(folder, reading), cells)


def removed(reading: Reading) -> Edit:
    """The row taken away."""
    return lambda folder: remove_reading(folder, line_of(folder, reading))


def proposal_cells(build: Build, suspect: Suspect, now: Cells) -> dict[str, str]:
    """The cells that take a suspect's proposal; what was read stays in the note."""
    reading = build.readings[suspect.index]
    assert suspect.proposal is not None
    names, value = suspect.proposal
    cells: dict[str, str] = {}
    if names != reading.names:
        cells["points"] = " ".join(short_name(build, name) for name in names)
    if value != reading.value:
        cells["value"] = value_words(reading.kind, value, "metric").replace(" deg", "")
    if not now.get("note"):
        was = " ".join(now.get(column, "") for column in ("points", "value") if column in cells)
        cells["note"] = f"was {was}"
    return cells


def plain_cells(build: Build, kind: str, names: tuple[str, ...], instrument: str, frame: str) -> dict[str, str]:
    """Cells of a reading that is still to be taken: no value; the instrument only where it is not the usual one."""
    with_cell = "" if instrument == usual_instrument(kind) else instrument
    points = " ".join(short_name(build, name) for name in names)
    return {"reading": kind, "points": points, "with": with_cell, "frame": frame}


def build_now(desk: Desk) -> Build | None:
    """The build as its files stand now, else the last that could be read; None where there is none."""
    try:
        return desk.build_now()
    except BuildProblems:
        return desk.study.build if desk.study else None
