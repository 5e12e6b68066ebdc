"""The cut station. Brackets worked out in; files for the table, the printer and the bench out, whole or not at all.

For each part: DXF, SVG, paper template, STEP; for each bracket a shop sheet; for each sheet that is slit and folded
without a known pivot a test coupon; for each opening a locating template. A bracket that is refused gets a sheet that
says why and nothing to cut, and files of it from an earlier run are taken away.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from halfshaft.build.schema import Build
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.cut import cautions
from halfshaft.cut.dxf import dxf_text
from halfshaft.cut.files import Names, safe_name, write_all
from halfshaft.cut.opening import Template, templates, window_templates
from halfshaft.cut.paper import paper_pdf
from halfshaft.cut.part import coupons_of
from halfshaft.cut.shop_sheet import refusal_pdf, shop_sheet_pdf, stops_of
from halfshaft.cut.svg import svg_text
from halfshaft.cut.tiles import Paper
from halfshaft.fitup.window import Window
from halfshaft.fold.lay import laid
from halfshaft.fold.model import Bracket, FlatPart
from halfshaft.fold.said import said_checks
from halfshaft.fold.solid import bracket_solid
from halfshaft.fold.twin import mirrored_panels
from halfshaft.geometry.solids import write_step
from halfshaft.measure.model import Measured
from halfshaft.pack.box import Box
from halfshaft.progress import Progress, silent

_DATE = re.compile(r"'\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[^']*'")
_COUNTED = re.compile(r"'[^']* STEP translator [^']*'")  # a name that counts up with every file of the run
_TITLE = re.compile(r"FILE_NAME\('[^']*'")


@dataclass(frozen=True, slots=True)
class CutFile:
    """`kind`: 'dxf', 'svg', 'paper', 'step', 'shop sheet', 'refusal', 'coupon table'; `path` inside the folder."""

    path: str
    kind: str
    part: str
    bytes: int


@dataclass(frozen=True)
class CutFiles:
    """What was written; `gone` are files of an earlier run that were taken away."""

    folder: Path
    files: tuple[CutFile, ...]
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    gone: tuple[str, ...] = ()


@dataclass(frozen=True)
class Made:
    """Files of one bracket, not written yet: contents by path, and what is to say of them."""

    contents: Mapping[str, bytes]
    rows: tuple[CutFile, ...]
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class MadeBeside(Made):
    """Coupons and templates of openings; `blanks` are tables to fill in, kept once written."""

    blanks: Mapping[str, bytes]
    assumed: tuple[Assumed, ...]


class _Tray:
    """Files made so far, each with a path that no other has."""

    def __init__(self, taken: Iterable[str] = ()) -> None:
        self.contents: dict[str, bytes] = {}
        self.rows: list[CutFile] = []
        self._names = Names()
        for name in taken:
            self._names.take(name)

    def room(self, name: str) -> str:
        return self._names.take(name)

    def put(self, path: str, kind: str, part: str, data: bytes) -> None:
        self.contents[path] = data
        self.rows.append(CutFile(path, kind, part, len(data)))

    def take_in(self, made: Made) -> tuple[Check, ...]:
        self.contents |= made.contents
        self.rows += made.rows
        return made.checks


def cut_files(
    build: Build,
    measured: Measured,
    brackets: Sequence[Bracket],
    folder: Path,
    progress: Progress | None = None,
    drawn: Mapping[str, Made] | None = None,
    beside: MadeBeside | None = None,
) -> CutFiles:
    """Make every file in memory, then write them all; `drawn` and `beside` are what `bracket_files` and `files_beside`
    made of them before.

    Raises files.Unwritable where the folder cannot be written; the files of an earlier run are then as they were, and
    Stopped where `progress` raises it, before anything is written.
    """
    tell = progress or silent
    tray = _Tray()
    checks: list[Check] = []
    for number, bracket in enumerate(brackets):
        tell(0.8 * number / max(len(brackets), 1), bracket.name)
        place = tray.room(bracket.name)
        checks += tray.take_in((drawn or {}).get(bracket.name) or bracket_files(build, bracket, place))
    tell(0.8, "coupons and openings")
    beside = beside or files_beside(build, measured, brackets)
    checks += tray.take_in(beside)
    tell(0.95, "writing")
    gone = write_all(folder, tray.contents, once=beside.blanks)
    tell(1.0, "done")
    told = said_checks(checks, build.build.units)
    return CutFiles(folder, tuple(tray.rows), told, beside.assumed, gone)


def files_beside(build: Build, measured: Measured, brackets: Sequence[Bracket]) -> MadeBeside:
    """Files that belong to no one bracket: coupons of the sheets, templates of openings."""
    tray = _Tray(bracket.name for bracket in brackets)
    blanks = _coupon_files(build, brackets, tray)
    found = templates(build, measured)
    checks: list[Check] = []
    for template in found.values():
        _opening_files(build, template, tray)
        checks += template.checks
    assumed = dict.fromkeys(row for template in found.values() for row in template.assumed)
    return MadeBeside(tray.contents, tuple(tray.rows), tuple(checks), blanks, tuple(assumed))


def window_files(
    build: Build, measured: Measured, windows: Sequence[Window], folder: Path, more: Mapping[str, bytes]
) -> CutFiles:
    """Templates of a placed unit's windows, and `more` files by relative path, written into a folder of their own.

    Raises files.Unwritable where the folder cannot be written; the files of an earlier run are then as they were.
    """
    tray = _Tray()
    found = window_templates(build, measured, windows)
    for template in found.values():
        _opening_files(build, template, tray, "windows")
    for path, data in more.items():
        if not path.endswith(".json"):
            tray.rows.append(CutFile(path, path.rsplit(".", 1)[-1], "fit-up", len(data)))
        tray.contents[path] = data
    gone = write_all(folder, tray.contents)
    checks = said_checks([check for template in found.values() for check in template.checks], build.build.units)
    assumed = tuple(dict.fromkeys(row for template in found.values() for row in template.assumed))
    return CutFiles(folder, tuple(tray.rows), checks, assumed, gone)


def box_files(build: Build, boxes: Sequence[Box], folder: Path) -> CutFiles:
    """Files of battery boxes, a folder for each kind of part, written into a folder of their own.

    Raises files.Unwritable where the folder cannot be written; the files of an earlier run are then as they were.
    """
    tray = _Tray()
    checks: list[Check] = []
    pieces = [piece for box in boxes for piece in box.pieces]
    own = build.model_copy(update={"bracket": {piece.bracket.name: piece.told for piece in pieces}})
    for piece in pieces:
        checks += tray.take_in(bracket_files(own, piece.bracket, tray.room(piece.bracket.name)))
    blanks = _coupon_files(build, [piece.bracket for piece in pieces], tray)
    gone = write_all(folder, tray.contents, once=blanks)
    return CutFiles(folder, tuple(tray.rows), said_checks(checks, build.build.units), (), gone)


def is_refused(bracket: Bracket) -> bool:
    """No parts, or a check that says stop: nothing of it may be cut."""
    return not bracket.parts or bool(stops_of(bracket))


def bracket_files(build: Build, bracket: Bracket, place: str) -> Made:
    """Files of one bracket in the folder `place`; of the build the shop and the bracket's own table are asked."""
    tray = _Tray()
    if is_refused(bracket):
        tray.put(f"{place}/refused.pdf", "refusal", bracket.name, refusal_pdf(build, bracket))
        return Made(tray.contents, tuple(tray.rows), ())
    parts = [laid(part) for part in bracket.parts]
    names, checks = Names(), []
    for part in parts:
        stem = f"{place}/{names.take(part.name)}"
        _flat_files(build, part, stem, tray, cautions.FOLDING)
        try:
            tray.put(f"{stem}.step", "step", part.name, step_bytes(bracket, part))
        except (ValueError, KeyError) as why:
            checks.append(_no_step(bracket, part, str(why)))
    sheet = shop_sheet_pdf(build, bracket, parts, build.shop.kerf_mm)
    tray.put(f"{place}/shop-sheet.pdf", "shop sheet", bracket.name, sheet)
    return Made(tray.contents, tuple(tray.rows), tuple(checks))


def _flat_files(build: Build, part: FlatPart, stem: str, tray: _Tray, notes: Sequence[str]) -> None:
    kerf, units, paper = build.shop.kerf_mm, build.build.units, Paper.of(build.shop)
    scale = build.shop.paper_check.scale(units) if build.shop.paper_check is not None else (1.0, 1.0)
    inch = units == "inch"
    drawing = dxf_text(part, kerf, "inch" if inch else "mm").encode("utf-8")
    tray.put(f"{stem}{'-inch' if inch else ''}.dxf", "dxf", part.name, drawing)
    tray.put(f"{stem}.svg", "svg", part.name, svg_text(part, kerf).encode("utf-8"))
    tray.put(f"{stem}-paper.pdf", "paper", part.name, paper_pdf(part, kerf, paper, scale, notes, units))


def step_bytes(bracket: Bracket, part: FlatPart) -> bytes:
    """The folded part as STEP (ISO 10303-21), its date fixed so that equal parts are equal files.

    Raises KeyError or ValueError where no solid can be made.
    """
    own = bracket
    if part.mirrored:
        panels, folds = mirrored_panels(bracket.panels, bracket.folds)
        own = replace(bracket, panels=panels, folds=folds)
    with TemporaryDirectory() as scratch:
        path = Path(scratch) / "part.step"
        write_step(bracket_solid(own, part.name), path)
        text = path.read_text(encoding="utf-8")
    own_name = safe_name(part.name)
    text = _DATE.sub("'2000-01-01T00:00:00'", text, count=1)
    text = _COUNTED.sub(f"'{own_name}'", text)
    return _TITLE.sub(f"FILE_NAME('{own_name}'", text, count=1).encode("utf-8")


def _coupon_files(build: Build, brackets: Sequence[Bracket], tray: _Tray) -> dict[str, bytes]:
    """Coupons for sheets whose slit folds go by the default pivot; the tables to fill in are kept once written."""
    blanks: dict[str, bytes] = {}
    for made in coupons_of(build, brackets):
        stem = f"coupons/{tray.room(made.part.name)}"
        note = (
            f"A test coupon: fold it, fill in {Path(stem).name}-table.csv, and the sheet's own pivot depth comes out."
        )
        _flat_files(build, laid(made.part), stem, tray, (note, *cautions.FOLDING))
        table = made.table.encode("utf-8")
        blanks[f"{stem}-table.csv"] = table
        tray.rows.append(CutFile(f"{stem}-table.csv", "coupon table", made.part.name, len(table)))
    return blanks


def _opening_files(build: Build, template: Template, tray: _Tray, folder: str = "openings") -> None:
    for part in template.parts:
        stem = f"{folder}/{tray.room(part.name)}"
        notes = (*template.notes, *cautions.FRAME)
        if part.mirrored:
            notes = ("The mirrored twin: the other side was not measured for it. Try it on before you cut.", *notes)
        _flat_files(build, laid(part), stem, tray, notes)


def _no_step(bracket: Bracket, part: FlatPart, why: str) -> Check:
    return Check(
        "cut", f"bracket {bracket.name}, part {part.name}", "No STEP file", Source(Origin.DERIVED, "docs/cut.md"),
        Severity.NOTE, f"The flat files are whole; the solid could not be built: {why}", good=Good.TOLD,
        failed_outright=True,
    )  # fmt: skip
