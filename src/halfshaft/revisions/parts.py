"""Which parts must be cut again: two records of what is cut in; a verdict a part, with its reasons, out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.fold.inspect import HOLDS
from halfshaft.revisions.model import PartMoved, Verdict
from halfshaft.revisions.results import TOLD_MM
from halfshaft.revisions.shapes import SAME_MM, Differs, differs
from halfshaft.revisions.told_inputs import Said


def parts(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    said: tuple[Said, ...],
    shifts: Mapping[str, float],
    units: UnitSystem,
) -> list[PartMoved]:
    one, other = before["parts"], after["parts"]
    holds = HOLDS * float(after.get("cut_spread_mm", 0.25))
    out = []
    for name in dict.fromkeys([*one, *other]):
        why = _why(name.split(".")[0], after if name in other else before, said, shifts)
        if name not in other:
            out.append(PartMoved(name, "gone", "it is not cut any more", why))
        elif name not in one:
            out.append(PartMoved(name, "new", "it is new: cut it", why))
        else:
            found = differs(one[name], other[name])
            verdict, words = judged(found, holds, units)
            out.append(PartMoved(name, verdict, words, () if verdict == "same" else why, found))
    order = {"cut again": 0, "rework": 1, "new": 2, "gone": 3, "keep": 4, "same": 5}
    return sorted(out, key=lambda part: order[part.verdict])


def judged(found: Differs, holds_mm: float, units: UnitSystem) -> tuple[Verdict, str]:
    """Whether the old part serves. `holds_mm`: what the shop's cutter holds, two spreads.

    Where the new part lies wholly within the old one, what is too much can be taken off.
    """
    if found.same:
        return "same", "the same metal"

    def told(value: float) -> str:
        return format_length(value, units)

    what = []
    if found.sheet[0] != found.sheet[1] or abs(found.thickness_mm) > 1e-6:
        what.append(f"sheet {found.sheet[0]} -> {found.sheet[1]}, {found.thickness_mm:+.2f} mm thick")
    if found.edge_mm > SAME_MM:
        what.append(f"the edge moves by up to {told(found.edge_mm)}")
    moved = {name: far for name, far in found.holes_mm.items() if far > SAME_MM}
    if moved:
        most = max(moved, key=lambda name: moved[name])
        what.append(f"{len(moved)} hole(s) move, {most} most, by {told(moved[most])}")
    wider = {name: by for name, by in found.wider_mm.items() if abs(by) > SAME_MM}
    if wider:
        what.append(
            ", ".join(f"hole {name} {told(abs(by))} {'wider' if by > 0 else 'narrower'}" for name, by in wider.items())
        )
    what += [f"hole {name} is gone" for name in found.lost] + [f"hole {name} is new" for name in found.gained]
    if found.slits_mm > SAME_MM:
        what.append("slits lie elsewhere" if np.isfinite(found.slits_mm) else "slits come or go")
    words = "; ".join(what)
    plate = found.sheet[0] != found.sheet[1] or abs(found.thickness_mm) > 1e-6
    worst = max([found.edge_mm, found.slits_mm, *found.holes_mm.values(), *map(abs, found.wider_mm.values())])
    if not plate and not found.lost and not found.gained and worst <= holds_mm:
        return "keep", f"{words}: less than the cutter holds, the old one serves"
    if not plate and found.added_mm2 < 1.0 and found.slits_mm <= holds_mm:
        return "rework", f"{words}: the new one lies within the old one, take off what is too much"
    return "cut again", words


def _why(
    bracket: str, record: Mapping[str, Any], said: tuple[Said, ...], shifts: Mapping[str, float]
) -> tuple[str, ...]:
    """Which of the changes touch a bracket: its own keys, its sheet's and the shop's, and points that moved."""
    sheets = {row["sheet"] for row in record["brackets"] if row["name"] == bracket}
    heads = (f"bracket.{bracket}.", "shop.", "obstacle.", *(f"sheet.{name}." for name in sheets))
    out = [f"{one.where}: {one.words}" for one in said if one.where.startswith(heads)]
    needed = record.get("needs", {}).get(bracket, [])
    far = {name: shifts[name] for name in needed if shifts.get(name, 0.0) >= TOLD_MM}
    if far:
        listed = ", ".join(f"{name} {value:.2f} mm" for name, value in sorted(far.items(), key=lambda row: -row[1])[:4])
        out.append(f"points that it hangs on moved: {listed}")
    return tuple(out)
