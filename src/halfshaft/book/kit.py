"""The kit for another car of the same kind: everything to make the parts, and what shows whether that car is like this.

A worked study with its files in DIR/out in; DIR/out/kit out: cut files, templates, the book, the control form.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from halfshaft.book.cautions import FIRST, KINDS
from halfshaft.book.control_form import form_csv, read_form
from halfshaft.book.model import Block, Book, Grid, Points, Section, Tick, Ticks, Words
from halfshaft.book.sheets import book_pdf
from halfshaft.book.station import FOLDER as BOOK_FOLDER
from halfshaft.book.station import PAGE, PDF
from halfshaft.build.units import format_length
from halfshaft.control.model import Control, Controls
from halfshaft.cut.files import write_all
from halfshaft.study import Study
from halfshaft.tables import Table
from halfshaft.tables_control import row_words

FOLDER = "kit"
FORM = "control-readings.csv"
FORM_PDF = "control-readings.pdf"
_WHERE = {
    "dxf": "cut",
    "svg": "cut",
    "step": "cut",
    "paper": "templates",
    "shop sheet": "shop-sheets",
}


@dataclass(frozen=True)
class Kit:
    """What was written."""

    folder: Path
    files: tuple[str, ...]


def write_kit(study: Study) -> Kit:
    """Fill DIR/out/kit. Raises files.Unwritable; the kit of an earlier run is then as it was."""
    made = study.folder / "out"
    contents: dict[str, bytes] = {}
    for file in study.files.files if study.files is not None else ():
        path = made / file.path
        if file.kind != "refusal" and path.is_file():
            contents[f"{_WHERE.get(file.kind, 'cut')}/{file.path}"] = path.read_bytes()
    for name in (PDF, PAGE):
        path = made / BOOK_FOLDER / name
        if path.is_file():
            contents[f"book/{name}"] = path.read_bytes()
    windows = _windows(study)
    if windows is not None:
        for path in sorted(windows.rglob("*")):
            if path.is_file():
                contents[f"templates/windows/{path.relative_to(windows).as_posix()}"] = path.read_bytes()
    laid = study.sheet_files
    for file in laid.files if laid is not None else ():
        path = laid.folder / file.path if laid is not None else made
        if path.is_file():
            contents[f"sheets/{file.path}"] = path.read_bytes()
    controls = study.controls
    if controls is not None and controls.rows:
        contents[FORM] = _form(made / FOLDER / FORM, controls, study.build.build.units)
        contents[FORM_PDF] = book_pdf(form_book(study, controls))
    folder = made / FOLDER
    write_all(folder, contents)
    return Kit(folder, tuple(sorted(contents)))


def _windows(study: Study) -> Path | None:
    """The folder of the windows' templates, where these are of this very build."""
    folder = study.folder / "out" / "fitup" / "windows"
    of_now = study.files is not None and all(c.ok or c.about != "out/fitup" for c in study.files.checks)
    return folder if of_now and folder.is_dir() else None


def _wanted(one: Control, units: str) -> str:
    told = row_words(one, units)
    return f"{told[3]} {told[4]}: {told[6]}"


def _form(path: Path, controls: Controls, units: str) -> bytes:
    """The form; one that somebody has begun to fill in stays as it is."""
    try:
        if read_form(path.read_text(encoding="utf-8-sig"), controls, units):
            return path.read_bytes()
    except OSError:
        pass
    except ValueError:  # what cannot be read was written by a hand, too
        return path.read_bytes()
    return form_csv(controls, units).encode("utf-8")


def form_book(study: Study, controls: Controls) -> Book:
    """The form on paper: what to read, what to write beside it, what to do when one is off."""
    build = study.build
    units = build.build.units
    rows = tuple(
        Tick(f"{one.number}. {one.kind} {one.points}, by {one.instrument}", _wanted(one, units))
        for one in controls.rows
    )
    first = (
        f"Before any part of the kit is cut for another car, take these readings on it. They foresee "
        f"{100 * controls.foreseen:.0f} % of what cars of a kind differ by at the brackets' holes; each may differ "
        "from the first car's by what its bolts have room for."
    )
    what = [
        "Points are the same holes as on the first car: see the table of places in the book.",
        "Tapes are pulled from hole middle to hole middle, read twice, by two people where there are two.",
        f"Write what was read into {FORM}, then: halfshaft kit DIR --readings {FORM}",
        "One is off: take it again, by another hand. It stays off: the bracket named beside it does not fit this car.",
        "Then take the readings of that bracket's points on this car into a copy of the build, work it, and make that "
        "bracket from the copy; the others of the kit serve.",
        "More than half are off: this car is another kind, or bent. Measure it as a first car.",
    ]
    anchors = _anchors(study)
    blocks: list[Block] = [Words(first), Ticks("Control readings", rows), Words("How", "head"), Points(tuple(what))]
    if anchors.rows:
        blocks.append(Grid(anchors, "Each template hangs on a hole and an edge that every such car has.", True))
    blocks.append(Grid(_whose(controls, units)))
    cautions: list[Block] = [Words(FIRST, "care")]
    for name, told in KINDS:
        cautions += [Words(name, "head"), Points(tuple(told))]
    title = f"Kit for another car: {build.book.title or build.build.name}"
    sections = (
        Section("control", "Is this car like the first?", tuple(blocks), fresh=False),
        Section("cautions", "Cautions", tuple(cautions)),
    )
    return Book(title, build.book.revision, build.book.by, units, build.shop.paper, (), sections)


def _anchors(study: Study) -> Table:
    rows = []
    for name, told in study.build.opening.items():
        edge = " ".join(point.rpartition(".")[2] for point in told.edge)
        rows.append((f"opening {name}", told.hole.rpartition(".")[2], edge, "templates/openings"))
    fitup = study.build.fitup
    for name, window in (fitup.window if fitup is not None else {}).items():
        edge = " ".join(point.rpartition(".")[2] for point in window.edge)
        where = "templates/windows" if _windows(study) is not None else "not worked yet: 'halfshaft fitup'"
        rows.append((f"window {name}", window.hole.rpartition(".")[2], edge, where))
    return Table("Templates", ("template", "hangs on hole", "lines up with", "in the kit"), tuple(rows))


def _whose(controls: Controls, units: str) -> Table:
    rows = tuple(
        (bracket, point.rpartition(".")[2], format_length(float(room), units))
        for bracket, point, room in zip(controls.brackets, controls.points, controls.room_mm, strict=True)
    )
    columns = ("bracket", "hole on the car", "a bolt may stand off the middle by")
    return Table("Room that the bolts have", columns, rows, (2,))
