"""Parts laid by hand on the bench: sheets as worked and what has been moved in, the layout as it stands out.

Nothing here is long: moving a part asks for its distances again and no more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import shapely

from halfshaft.cut.nest.clear import Clash, clashes, lies
from halfshaft.cut.nest.fill import Want, fill
from halfshaft.cut.nest.model import Blank, CutSheet
from halfshaft.cut.nest.shape import true_shape
from halfshaft.cut.nest.size import turns_on
from halfshaft.cut.part import Laid, SheetKey

if TYPE_CHECKING:
    from halfshaft.cut.nest.model import Sheets

Id = tuple[str, int]  # name of a part and number of its copy
ROUGH_MM = 0.05  # of arcs, while a part is in hand


@dataclass(frozen=True)
class Moved:
    sheet: str
    turn_deg: float
    at_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Hand:
    """One kind of sheet as it stands: its sheets, those that were whole at the end, with what clashes on each."""

    key: SheetKey
    sheets: tuple[CutSheet, ...]
    clashes: Mapping[str, tuple[Clash, ...]]


def id_of(laid: Laid) -> Id:
    return laid.part.name, laid.copy


def kinds(found: Sheets) -> tuple[SheetKey, ...]:
    """Kinds of sheet in the order in which parts lie on them."""
    return tuple(dict.fromkeys(sheet.blank.key for sheet in found.sheets))


def stands(found: Sheets, key: SheetKey, moved: Mapping[Id, Moved], *, spare: bool = True) -> Hand:
    """The sheets of a kind with the parts that were moved where they are now; the last are those still whole."""
    own = [sheet for sheet in found.sheets if sheet.blank.key == key]
    blanks = [sheet.blank for sheet in own] + [b for b in (*found.spare, *found.more) if spare and b.key.fits(key)]
    names = {blank.name for blank in blanks}
    on: dict[str, list[Laid]] = {blank.name: [] for blank in blanks}
    for sheet in own:
        for one in sheet.laid:
            to = moved.get(id_of(one))
            if to is None or to.sheet not in names:
                on[sheet.blank.name].append(one)
            else:
                on[to.sheet].append(replace(one, rotation_deg=to.turn_deg, shift_mm=to.at_mm))
    before = {sheet.blank.name: sheet for sheet in own}
    sheets = []
    for number, blank in enumerate(blanks):
        laid = tuple(replace(one, sheet=number) for one in on[blank.name])
        old = before.get(blank.name)
        same = old is not None and not any(id_of(one) in moved for one in (*laid, *old.laid))
        sheets.append(CutSheet(blank, laid, old.leftovers if old is not None and same else ()))
    found_clashes = {s.blank.name: tuple(clashes(s.blank, s.laid, ROUGH_MM)) for s in sheets}
    return Hand(key, tuple(sheets), found_clashes)


def turned(laid: Laid, by_deg: float) -> Moved:
    """The part turned about the middle of its bounds, on the sheet it lies on."""
    before = lies(laid, ROUGH_MM).envelope.centroid
    other = replace(laid, rotation_deg=(laid.rotation_deg + by_deg) % 360.0)
    after = lies(other, ROUGH_MM).envelope.centroid
    x, y = laid.shift_mm
    return Moved("", round(other.rotation_deg, 4), (x + before.x - after.x, y + before.y - after.y))


def free_place(blank: Blank, there: tuple[Laid, ...], one: Laid) -> Moved | None:
    """Somewhere on a sheet where the part keeps its gaps; None where it has no place."""
    room = blank.room
    if there:
        room = room.difference(shapely.union_all([lies(x, ROUGH_MM).buffer(blank.gap_mm + 0.1) for x in there]))
    want = Want("part", true_shape(one.part), turns_on(one.part, blank))
    puts = fill(room, blank.gap_mm, [want], 1)
    return Moved(blank.name, puts[0].turn_deg, puts[0].shift_mm) if puts else None


def rows(hand: Hand) -> dict[Id, tuple[str, float, tuple[float, float]]]:
    """Every part of the kind as it lies, for the build to keep."""
    return {
        id_of(one): (sheet.blank.name, one.rotation_deg, one.shift_mm) for sheet in hand.sheets for one in sheet.laid
    }
