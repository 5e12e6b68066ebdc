"""Which part goes on which sheet. Parts of one kind of sheet and a rack in, laid-out sheets and the rest out.

Offcuts come first, the smallest first; then whole sheets: the cheapest that takes all that is left, or else the one
that costs least for the area laid on it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import shapely

from halfshaft.cut.nest.blanks import MANY, Rack
from halfshaft.cut.nest.fill import Want, fill, placed
from halfshaft.cut.nest.model import Blank, Wish, copy_name
from halfshaft.cut.nest.shape import true_shape
from halfshaft.cut.nest.size import turns_on
from halfshaft.cut.nest.strip import Put
from halfshaft.cut.part import Laid, SheetPart
from halfshaft.progress import Progress, silent

Copy = tuple[SheetPart, int]
Filled = tuple[Blank, tuple[Laid, ...]]


def copies_of(parts: Sequence[SheetPart], done: Collection[str] = ()) -> list[Copy]:
    """Every copy of every part, without those that are done."""
    own = [(part, number) for part in parts for number in range(1, part.quantity + 1)]
    return [copy for copy in own if copy_name(*copy) not in done]


def plan(
    parts: Sequence[SheetPart],
    rack: Rack,
    wishes: Sequence[Wish],
    seed: int,
    thorough: bool = False,
    progress: Progress | None = None,
    done: Collection[str] = (),
) -> tuple[list[Filled], list[Copy], list[Blank]]:
    """Sheets with what lies on them, copies that found no place, and offcuts and counted sheets that stay whole.

    `done` names copies that are cut. Parts laid by hand stay where they are put, even where that clashes; the others go
    round them, after the offcuts on sheets that are begun so. The index of a
    sheet in what is laid is that within the list given back.
    """
    tell = progress or silent
    rest = copies_of(parts, done)
    total = len(rest)
    filled: list[Filled] = []
    spare: list[Blank] = []
    counts = [count for _, count in rack.stocks]
    by_hand = _by_hand(rack, wishes, rest)
    for kind, (first, _) in enumerate(rack.stocks):
        numbers = [int(name.rpartition(" ")[2]) for name in by_hand if name.rpartition(" ")[0] == first.table]
        counts[kind] = max(0, counts[kind] - max(numbers, default=0))
    started = {kind: rack.stocks[kind][1] - counts[kind] for kind in range(len(counts))}
    rest = _without(rest, [one for fixed in by_hand.values() for one in fixed])
    begun = [blank for blank in _named(rack) if blank.name in by_hand and not blank.is_offcut]
    for blank in [*rack.offcuts, *begun]:
        fixed = by_hand.get(blank.name, [])
        tell(1.0 - len(rest) / max(total, 1), blank.name)
        laid = (*fixed, *_laid(blank, rest, fixed, seed, thorough))
        rest = _without(rest, laid)
        if laid:
            filled.append((blank, laid))
        else:
            spare.append(blank)
    while rest:
        options = []
        kinds = [kind for kind, count in enumerate(counts) if count > 0]
        for kind in kinds:
            first = rack.stocks[kind][0]
            blank = replace(first, number=started[kind] + 1)
            tell(1.0 - len(rest) / max(total, 1), blank.name)
            laid = tuple(_laid(blank, rest, (), seed, thorough))
            if laid:
                area = sum(abs(one.part.outline.area_mm2) for one in laid)
                price = blank.cost if blank.cost is not None else blank.metal.area * 1e-6
                whole = len(laid) == len(rest)
                options.append((not whole, price if whole else price / area, kind, blank, laid))
        if not options:
            break
        _, _, kind, blank, laid = min(options, key=lambda option: option[:3])
        counts[kind] -= 1
        started[kind] += 1
        filled.append((blank, laid))
        rest = _without(rest, laid)
    for kind, (first, count) in enumerate(rack.stocks):
        if count < MANY and counts[kind] > 0:
            spare += [replace(first, number=started[kind] + 1 + k) for k in range(counts[kind])]
    numbered = [(blank, tuple(replace(one, sheet=index) for one in laid)) for index, (blank, laid) in enumerate(filled)]
    return numbered, rest, spare


def _laid(blank: Blank, rest: Sequence[Copy], fixed: Sequence[Laid], seed: int, thorough: bool) -> list[Laid]:
    if not rest:
        return []
    room = blank.room
    if fixed:
        there = [placed(true_shape(one.part), Put("", one.rotation_deg, one.shift_mm)) for one in fixed]
        room = room.difference(shapely.union_all([s.buffer(blank.gap_mm + 0.05) for s in there]))
    names = {f"{number}": copy for number, copy in enumerate(rest)}
    wants = [Want(name, true_shape(part), turns_on(part, blank), part.priority) for name, (part, _) in names.items()]
    puts = fill(room, blank.gap_mm, wants, seed, thorough)
    found = [(names[put.name], put) for put in puts]
    return [Laid(part, 0, put.turn_deg, put.shift_mm, number) for (part, number), put in found]


def _without(rest: Sequence[Copy], laid: Sequence[Laid]) -> list[Copy]:
    gone = {(one.part.name, one.copy) for one in laid}
    return [copy for copy in rest if (copy[0].name, copy[1]) not in gone]


def _named(rack: Rack) -> list[Blank]:
    stocks = [replace(first, number=k + 1) for first, count in rack.stocks for k in range(count)]
    return [*rack.offcuts, *stocks]


def _by_hand(rack: Rack, wishes: Sequence[Wish], copies: Sequence[Copy]) -> dict[str, list[Laid]]:
    """Parts laid by hand by the name of their sheet; wishes of parts or sheets that are not there are passed over."""
    known = {(part.name, number): part for part, number in copies}
    names = {blank.name for blank in _named(rack)}
    out: dict[str, list[Laid]] = {}
    for wish in wishes:
        part = known.get((wish.part, wish.copy))
        if part is not None and wish.sheet in names:
            out.setdefault(wish.sheet, []).append(Laid(part, 0, wish.turn_deg, wish.at_mm, wish.copy))
    return out
