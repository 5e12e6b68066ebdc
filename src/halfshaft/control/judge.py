"""The form filled in on another car: control readings and what was read in; which holes are elsewhere out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from halfshaft.build.units import format_length
from halfshaft.control.model import Controls, HoleElsewhere, Judgement, State, Verdict
from halfshaft.control.other_car import among, tape_row
from halfshaft.sure import worst_spread


def judge(controls: Controls, read: Mapping[int, float], units: str) -> Verdict:
    """Each reading against its nominal, then all of them together: which hole is elsewhere, and what to do."""
    rows = []
    for one in controls.rows:
        value = read.get(one.number)
        off = None if value is None else value - one.nominal
        state: State = "not read" if off is None else ("fits" if abs(off) <= one.most else "off")
        rows.append(Judgement(one, value, off, state))
    holes = _elsewhere(controls, rows)
    return Verdict(tuple(rows), holes, tuple(_words(controls, rows, holes, units)))


def _elsewhere(controls: Controls, rows: Sequence[Judgement]) -> tuple[HoleElsewhere, ...]:
    index = {name: at for at, name in enumerate(controls.points)}
    taken = [row for row in rows if row.off is not None and row.control.kind == "tape"]
    if not taken:
        return ()
    slopes = np.array(
        [tape_row(controls.xyz_mm, (index[r.control.names[0]], index[r.control.names[1]])) for r in taken]
    )
    noise = np.diag([row.control.spread**2 for row in taken])
    shared = controls.covariance @ slopes.T
    gain = np.linalg.solve(slopes @ shared + noise, shared.T).T
    free = among(controls.xyz_mm)
    step = (free @ gain @ np.array([row.off for row in taken], dtype=float)).reshape(-1, 3)
    left = free @ (controls.covariance - gain @ shared.T) @ free.T
    out = []
    for at, name in enumerate(controls.points):
        spread = float(worst_spread(left[3 * at : 3 * at + 3, 3 * at : 3 * at + 3]))
        far = float(np.linalg.norm(step[at]))
        out.append(HoleElsewhere(name, controls.brackets[at], far, spread, float(controls.room_mm[at])))
    return tuple(sorted(out, key=lambda hole: hole.room_mm - hole.by_mm))


def _words(controls: Controls, rows: Sequence[Judgement], holes: Sequence[HoleElsewhere], units: str) -> list[str]:
    missing = [row.control.number for row in rows if row.state == "not read"]
    off = [row for row in rows if row.state == "off"]
    out = []
    if missing:
        out.append(
            f"Not read yet: {', '.join(map(str, missing))}. Until they are, this car is not known to be like the first."
        )
    if not off and not missing:
        out.append(
            f"Every control reading agrees: the parts of the kit fit this car, as far as {100 * controls.foreseen:.0f} "
            "% of what cars of a kind differ by tells. Offer each bracket up before it is welded all the same."
        )
    for row in off:
        assert row.off is not None
        one = row.control
        told = f"{one.kind} {one.points}"
        by = format_length(abs(row.off), units) if one.unit == "mm" else f"{abs(row.off):.1f}°"
        which = " and ".join(one.brackets) + " of the kit " + ("does" if len(one.brackets) == 1 else "do")
        out.append(
            f"Reading {one.number}, {told}, is {by} {'long' if row.off > 0 else 'short'}: take it again, by another "
            f"hand. If it stays, {which} not fit this car."
        )
    bad = [hole for hole in holes if hole.out]
    for bracket in dict.fromkeys(hole.bracket for hole in bad):
        own = [hole for hole in bad if hole.bracket == bracket]
        listed = ", ".join(
            f"{hole.point.rpartition('.')[2]} by {format_length(hole.by_mm, units)} ± "
            f"{format_length(hole.give_or_take_mm, units)}"
            for hole in own
        )
        out.append(
            f"Together they put holes of {bracket} elsewhere: {listed}. Do not cut it from the kit: take the readings "
            f"of its points on this car into a copy of the build, work it, and make {bracket} from that."
        )
    if off and not bad:
        out.append("Taken together they still leave every hole within its room: a slot or a wider hole may be enough.")
    return out
