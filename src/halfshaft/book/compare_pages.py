"""A comparison of two revisions as tables, and as pages with pictures. Comparison in; tables and a book out."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from halfshaft.book.model import Block, Book, Grid, Picture, Points, Section, Words
from halfshaft.cut.drawing import GREY, HIDDEN, Drawing, Mark, Stroke
from halfshaft.cut.layers import Path
from halfshaft.geometry import Contour
from halfshaft.revisions.freeze import Revision
from halfshaft.revisions.model import Comparison, PartMoved
from halfshaft.revisions.shapes import Differs
from halfshaft.tables import Table

_MOOD = {"cut again": "bad", "rework": "care", "new": "care", "gone": "care", "keep": "", "same": ""}
_ROOM_MM = (170.0, 110.0)


def revisions_table(found: list[Revision]) -> Table:
    """All revisions with their state on the disk."""
    rows = tuple(
        (
            one.folder.name,
            one.when,
            one.revision,
            one.note,
            str(len(one.hashes)),
            one.fingerprint[:12],
            "whole" if one.whole else "; ".join(f"{d.path} {d.what}" for d in one.damage[:4]),
        )
        for one in found
    )
    mood = tuple("" if one.whole else "bad" for one in found)
    columns = ("revision", "frozen, UTC", "called", "note", "files", "fingerprint", "on the disk")
    return Table("Revisions", columns, rows, (4,), mood, "none yet: freeze one with 'halfshaft freeze DIR'")


def said_table(found: Comparison) -> Table:
    rows = tuple(
        (one.file, str(one.line) if one.line else "", one.where, one.old or "not told", one.new or "not told")
        for one in found.said
    )
    return Table("What was said otherwise", ("file", "line", "", "was", "is"), rows, (1,), empty="nothing")


def moved_table(found: Comparison) -> Table:
    rows = tuple((one.what, one.old, one.new, one.change) for one in found.moved)
    return Table("What moved for it", ("", "was", "is", "change"), rows, (), empty="nothing moved")


def parts_table(found: Comparison) -> Table:
    rows = tuple((one.name, one.verdict, one.words, "; ".join(one.why)) for one in found.parts)
    mood = tuple(_MOOD[one.verdict] for one in found.parts)
    return Table("What must be cut again", ("part", "", "what differs", "why"), rows, (), mood, "there are no parts")


def checks_table(found: Comparison) -> Table:
    rows = [("holds no more", words) for words in found.worse] + [("holds now", words) for words in found.better]
    mood = ("bad",) * len(found.worse) + ("",) * len(found.better)
    return Table("Checks", ("", "check"), tuple(rows), (), mood, "every check stands as it stood")


def comparison_book(found: Comparison, paper: str) -> Book:
    """The comparison as pages: the same tables, and the flat parts of both laid over each other."""
    names = f"{found.old.folder.name} and {found.new.folder.name}"
    again = [p.name for p in found.parts if p.verdict == "cut again"]
    rework = [p.name for p in found.parts if p.verdict == "rework"]
    short = [
        f"Cut again: {', '.join(again) or 'nothing'}.",
        f"Take metal off: {', '.join(rework) or 'nothing'}.",
        f"{len(found.said)} things were said otherwise; {len(found.moved)} results are not what they were.",
    ]
    cover: list[Block] = [Words(w, "bold" if n == 0 else "plain") for n, w in enumerate(short)]
    cover.append(Grid(revisions_table([found.old, found.new])))
    why: list[Block] = [Grid(said_table(found))]
    if found.because:
        why += [Words("What each reading did by itself", "head"), Points(found.because)]
    pictures = [_overlay(part) for part in found.parts if part.differs is not None and part.verdict != "same"]
    parts: list[Block] = [Grid(parts_table(found))]
    parts += pictures
    if pictures:
        parts.append(Words("Old dashed, new drawn through, laid over each other by their holes.", "small"))
    sections = (
        Section("said", "What changed", tuple(why)),
        Section("moved", "What moved", (Grid(moved_table(found)), Grid(checks_table(found)))),
        Section("parts", "What must be cut again", tuple(parts)),
    )
    return Book(f"Revisions {names} compared", found.new.revision, "", found.units, paper, tuple(cover), sections)


def _overlay(part: PartMoved) -> Picture:
    assert part.differs is not None
    return Picture(overlay(part.differs), f"{part.name}: {part.verdict}", part.words)


def overlay(found: Differs) -> Drawing:
    """Both parts on one another, as large as the room lets them."""
    bounds = np.array([one.metal.bounds for one in (found.old, found.new)])
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    ratio = float(min((_ROOM_MM[0] - 6.0) / (high[0] - low[0]), (_ROOM_MM[1] - 6.0) / (high[1] - low[1]), 1.0))
    matrix = np.diag([ratio, -ratio])
    shift = np.array([3.0 - low[0] * ratio, 3.0 + high[1] * ratio])
    marks: list[Mark] = []
    changed = found.old.metal.symmetric_difference(found.new.metal)
    for piece in shapely.get_parts(changed):
        if piece.geom_type == "Polygon" and piece.area > 0.5:
            marks.append(Stroke(_rings(piece), "", 0.0, "#c9c9c9", (), matrix, shift))
    marks.append(Stroke(_rings(found.new.metal), "#000000", 0.35, "", (), matrix, shift))
    marks.append(Stroke(_rings(found.old.metal), GREY, 0.25, "", HIDDEN, matrix, shift))
    for laid, dash, colour in ((found.new, (), "#000000"), (found.old, HIDDEN, GREY)):
        lines = tuple(Path(line) for line in laid.slits)
        if lines:
            marks.append(Stroke(lines, colour, 0.25, "", dash, matrix, shift))
    size = (high - low) * ratio + 6.0
    return Drawing((float(size[0]), float(size[1])), tuple(marks), ratio)


def _rings(shape: BaseGeometry) -> tuple[Contour, ...]:
    out = []
    for piece in shapely.get_parts(shape):
        if piece.geom_type == "Polygon":
            for ring in (piece.exterior, *piece.interiors):
                out.append(Contour.of_points(np.asarray(ring.coords)[:-1]))
    return tuple(out)
