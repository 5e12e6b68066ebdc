"""Bolts with their nuts, washers and sleeves: joints of mounts, and holes of brackets, in; counted rows out."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.buy.model import Count
from halfshaft.fold.model import Bracket

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mounts


def joint_bolts(mounts: Mounts, rows: Count) -> set[str]:
    """Bolts of the mounts' joints, with class and length; names of the brackets whose bolts are told here."""
    from halfshaft.mounts.bolt_length import bolt_words  # its libraries take a moment to load

    for mount, seat in mounts.seats:
        count = len(seat.bolts)
        where = f"{mount}, {seat.name}"
        washers = 1 if seat.into in ("tapped", "weld nut", "rivet nut", "nut plate") else 2
        rows.add(f"bolt {bolt_words(seat)}", count, where)
        rows.add(f"washer {seat.bolt.name}, {seat.washer_mm:.4g} mm across", washers * count, where)
        if seat.into in ("plate", "empty tube", "crush tube"):
            rows.add(f"nut {seat.bolt.name}, for {seat.bolt.grade}", count, where)
        elif seat.into != "tapped":
            rows.add(f"{seat.into} {seat.bolt.name}", count, where)
        if seat.into == "crush tube" and seat.told.sleeve_mm and seat.tube_mm:
            outside, bore = seat.told.sleeve_mm
            inner = seat.tube_mm[1] - 2.0 * seat.other.thickness_mm
            rows.add(f"sleeve {outside:g} x {bore:g} mm, {inner:g} mm long", count, where)
    return {mount.bracket for mount in mounts.mounts if mount.bracket}


def loose_bolts(bracket: Bracket, jointed: bool, rows: Count) -> None:
    """Bolts that no joint of a mount tells: those that join plates, and all of a bracket that no mount names."""
    for part in bracket.parts:
        holes = [h for h in part.bores if h.bolt and (h.use == "join" or (h.use == "bolt" and not jointed))]
        counted = Counter((h.bolt, h.use, h.washer_mm) for h in holes)
        for (name, use, washer), count in counted.items():
            share = 0.5 if use == "join" else 1.0  # one bolt goes through a hole in each of two plates
            rows.add(f"bolt {name}", share * count, bracket.name)
            across = washer or bolt_row(name).washer_mm
            rows.add(f"washer {name}, {across:.4g} mm across", 2 * share * count, bracket.name)
            rows.add(f"nut {name}", share * count, bracket.name)
