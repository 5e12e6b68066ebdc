"""How the unit gets into its place: windows to cut and the way in, as sections of the book. A study in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfshaft.book.cautions import LIFTING
from halfshaft.book.chapters import judged
from halfshaft.book.model import Beside, Block, Grid, Picture, Points, Section, Words
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.cut.cautions import FRAME
from halfshaft.cut.window_drawing import window_drawing
from halfshaft.fitup.way_words import thing
from halfshaft.study import Study
from halfshaft.tables import Table

if TYPE_CHECKING:
    from halfshaft.fitup.entry import Entry
    from halfshaft.fitup.window import Window

_LEFT = 0.58  # share of the sheet's width that a window's drawing has
_HIGH_MM = 70.0
_NOT_WORKED = (
    "Windows to cut and the way in have not been worked for this build. Work them with 'halfshaft fitup' or on "
    "the bench's page Place, it takes a minute or two; then make the book again, and they stand here. What lies in "
    "out/fitup now is of an earlier build, if it is there at all: do not cut by it."
)
_NO_PLACE = "No place was found for the unit, so there are no windows and no way in: see what stands in the way."


def entry_sections(study: Study, room_mm: tuple[float, float]) -> list[Section]:
    """Windows and way in where they were worked for this very build."""
    found = study.entry
    if found is None or not found.place:
        return []
    units = study.build.build.units
    return [_windows(found, units, room_mm), _way_in(found, units)]


def entry_lacking(study: Study) -> Words | None:
    """Why the book holds no windows and no way in, and how to come by them; None where it does, or no unit is told."""
    if study.build.fitup is None or (study.entry is not None and study.entry.place):
        return None
    return Words(_NOT_WORKED if study.entry is None else _NO_PLACE, "care")


def _of_place(found: Entry) -> str:
    return (
        "the place that [fitup.place] takes" if found.taken else f"the place '{found.place}', the first of those found"
    )


def _windows(found: Entry, units: UnitSystem, room_mm: tuple[float, float]) -> Section:
    if not found.windows:
        return Section("windows", "Windows to cut", (Words(f"For {_of_place(found)} nothing is cut from the frame."),))
    blocks: list[Block] = [
        Words(" ".join(FRAME), "care"),
        Words(
            f"For {_of_place(found)}. A window that hangs on a hole and an edge told in [fitup.window] has its "
            "template, cut file and paper in out/fitup/windows; one that says STOP has none."
        ),
    ]
    for window in found.windows:
        blocks += _window(window, units, room_mm)
    return Section("windows", "Windows to cut", tuple(blocks))


def _window(window: Window, units: UnitSystem, room_mm: tuple[float, float]) -> list[Block]:
    left = _LEFT * room_mm[0]
    drawing = window_drawing(window, units, (left, _HIGH_MM))
    head = Words(f"In the {thing(window.wall.called)}, for {thing(window.piece)}", "head")
    picture = Picture(drawing, f"from outside, drawn 1 : {1.0 / drawing.ratio:.3g}")
    facts = [
        f"{window.removed_mm3 / 1000.0:.1f} cm³ of metal out; corners no sharper than {_mm(window.round_mm, units)}."
    ]
    facts += [f"To the {name} stay {_mm(far, units)}." for name, far in window.edges_mm.items() if far >= 0.0]
    table = _section_table(window)
    note = f"Where least is left, {_mm(window.section.along_mm, units)} along the member."
    out: list[Block] = [head, Beside((picture,), (Grid(table, note), Points(tuple(facts))), left)]
    failed = [check for check in window.checks if not check.ok]
    return [*out, judged(failed, units)] if failed else out


def _mm(value: float, units: UnitSystem) -> str:
    return format_length(value, units)


def _section_table(window: Window) -> Table:
    """The member's section whole and cut, and what is kept of it."""
    was, left = window.section.before, window.section.after
    told = (
        ("area, cm²", was.area_mm2 / 1e2, left.area_mm2 / 1e2),
        ("I up and down, cm⁴", was.iu_mm4 / 1e4, left.iu_mm4 / 1e4),
        ("I sideways, cm⁴", was.iv_mm4 / 1e4, left.iv_mm4 / 1e4),
        ("J in twist, cm⁴", was.j_mm4 / 1e4, left.j_mm4 / 1e4),
    )
    rows = tuple((name, f"{a:.3g}", f"{b:.3g}", f"{100.0 * b / a:.0f} %") for name, a, b in told)
    return Table("Section of the member", ("", "whole", "cut", "kept"), rows, (1, 2, 3))


def _way_in(found: Entry, units: UnitSystem) -> Section:
    way = found.way
    minded = tuple(f"{check.title}: {check.do}" for check in way.checks) if way is not None else ()
    blocks: list[Block] = [Words(" ".join(LIFTING), "care"), *([Points(minded)] if minded else [])]
    if way is None or not way.found:
        words = "No way in was found: work it by hand on the mock-up before anything is cut."
        in_way = f" In the way: {', '.join(thing(name) for name in way.blocked_by)}." if way and way.blocked_by else ""
        return Section("way-in", "The way in", (*blocks, Words(words + in_way, "bold")), fresh=False)
    blocks.append(Words(f"Into {_of_place(found)}, in this order; directions are the car's."))
    steps, on = [], way.steps[0].pieces_on
    for step in way.steps:
        more = f" On now: {', '.join(thing(name) for name in step.pieces_on)}." if step.pieces_on != on else ""
        steps.append(f"{step.words[:1].upper()}{step.words[1:]}.{more}")
        on = step.pieces_on
    blocks.append(Points(tuple(steps), numbered=True))
    blocks.append(Words(f"Least room on the way: {_mm(way.least_clearance_mm, units)}.", "bold"))
    return Section("way-in", "The way in", tuple(blocks), fresh=False)
