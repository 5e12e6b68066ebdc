"""What changes the build from the page Sheets: a layout by hand kept, a sheet that has been cut, all laid anew.

Each gives back the laying of the sheets to wait for, None where nothing was changed, which is told.
"""

from __future__ import annotations

from collections.abc import Awaitable
from typing import TYPE_CHECKING

from halfshaft.bench.desk import Desk
from halfshaft.bench.sheet_hand import Hand, rows
from halfshaft.build import save_values
from halfshaft.build.whole import write_whole

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets


def keep_layout(desk: Desk, hand: Hand) -> Awaitable[None] | None:
    """Every part of this kind stays where it lies now; those of other kinds as the build tells them."""
    from halfshaft.cut.sheet_taken import laid_rows

    build = desk.build
    if build is None:
        return None
    own = rows(hand)
    told = build.sheets.laid if build.sheets is not None else ()
    kept = {(r.part, r.copy_): (r.sheet, r.turn_deg, r.at_mm) for r in told if (r.part, r.copy_) not in own}
    laid = laid_rows({**kept, **own})
    if desk.change("parts laid by hand", lambda folder: save_values(folder, {"sheets.laid": laid})):
        return desk.lay_sheets()
    return None


def take_sheet(desk: Desk, found: Sheets, name: str) -> Awaitable[None] | None:
    """Drawings of what is kept beside build.toml, then the rows; the drawings stay when that is undone."""
    from halfshaft.cut.sheet_taken import taken

    build = desk.build
    if build is None or desk.standing.sheets_behind:
        return None
    try:
        changes, drawings = taken(build, found, name)
        for file, data in drawings.items():
            write_whole(desk.folder / file, data)
    except (ValueError, OSError) as why:
        desk.say(f"Not changed: {why}", "bad")
        return None
    if desk.change(f"{name} is cut", lambda folder: save_values(folder, changes)):
        return desk.lay_sheets()
    return None


def lay_anew(desk: Desk) -> Awaitable[None] | None:
    """Nothing stays as it was put by hand."""
    if desk.change("parts laid by the bench", lambda folder: save_values(folder, {"sheets.laid": None})):
        return desk.lay_sheets()
    return None
