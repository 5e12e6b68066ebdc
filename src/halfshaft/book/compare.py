"""Two revisions side by side: what was said otherwise, what moved for it, what must be cut again.

What must be cut again is told by the shape of the metal, not by bytes of files: a part that lies turned on its sheet,
or whose file holds other marks, is the same part. Docs: docs/book.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from halfshaft.book.freeze import Revision, results_of
from halfshaft.book.shapes import SAME_MM, Differs, differs
from halfshaft.book.told_inputs import Said, changes
from halfshaft.build import BuildProblems, load
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.fold.inspect import HOLDS
from halfshaft.geometry import Pose
from halfshaft.measure.station import measured_of, survey
from halfshaft.sure import ONE_WAY, worst_spread

Array = NDArray[np.float64]
Verdict = Literal["same", "keep", "rework", "cut again", "new", "gone"]

_TOLD_MM = 0.05  # a point that moved less is no news
_MOST_POINTS = 12  # that are told one by one
_MOST_TRIED = 8  # readings whose own effect is worked, one at a time


@dataclass(frozen=True, eq=False)
class PartMoved:
    """One part of the two revisions; `differs` where both have it."""

    name: str
    verdict: Verdict
    words: str
    why: tuple[str, ...]
    differs: Differs | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """A result that is not what it was, in words."""

    what: str
    old: str
    new: str
    change: str


@dataclass(frozen=True, eq=False)
class Comparison:
    """Everything that differs between two revisions."""

    old: Revision
    new: Revision
    units: UnitSystem
    said: tuple[Said, ...]
    because: tuple[str, ...]  # what single readings did to the brackets' holes
    moved: tuple[Moved, ...]
    parts: tuple[PartMoved, ...]
    worse: tuple[str, ...]  # checks that hold no more
    better: tuple[str, ...]

    @property
    def nothing(self) -> bool:
        return self.old.fingerprint == self.new.fingerprint


def compare(old: Revision, new: Revision) -> Comparison:
    """Raises ValueError, in words, where one of the two is damaged in what is compared."""
    before, after = results_of(old), results_of(new)
    said = changes(old.folder / "inputs", new.folder / "inputs")
    units: UnitSystem = "inch" if after.get("units") == "inch" else "metric"
    shifts = _shifts(before, after)
    because = _because(old.folder / "inputs", new.folder / "inputs", said, after)
    worse, better = _checks(before, after)
    return Comparison(
        old, new, units, said, because, tuple(_results(before, after, shifts, units)),
        tuple(_parts(before, after, said, shifts, units)), worse, better,
    )  # fmt: skip


def _points(record: Mapping[str, Any]) -> dict[str, tuple[Array, Array]]:
    return {
        one["name"]: (np.array(one["xyz_mm"], dtype=float), np.array(one["covariance_mm2"], dtype=float))
        for one in record["measured"]["points"]
    }


def _shifts(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, float]:
    """How far each point that both have moved, mm."""
    one, other = _points(before), _points(after)
    return {name: float(np.linalg.norm(one[name][0] - other[name][0])) for name in one if name in other}


def _results(
    before: Mapping[str, Any], after: Mapping[str, Any], shifts: Mapping[str, float], units: UnitSystem
) -> list[Moved]:
    out = []
    one, other = _points(before), _points(after)
    far_ones = sorted(((n, far) for n, far in shifts.items() if far >= _TOLD_MM), key=lambda row: -row[1])
    for name, far in far_ones[:_MOST_POINTS]:
        step = other[name][0] - one[name][0]
        spread = ONE_WAY * float(worst_spread(other[name][1]))
        told = "more than its ±" if far > spread else "within its ±"
        ways = ", ".join(f"{v + 0.0:+.1f}" for v in step)
        out.append(Moved(f"point {name}", _spot(one[name][0]), _spot(other[name][0]), f"{far:.2f} mm ({ways}), {told}"))
    if len(far_ones) > _MOST_POINTS:
        most = far_ones[_MOST_POINTS][1]
        out.append(Moved(f"{len(far_ones) - _MOST_POINTS} further points", "", "", f"each by {most:.2f} mm or less"))
    for name in sorted(one.keys() ^ other.keys()):
        out.append(Moved(f"point {name}", "located" if name in one else "", "located" if name in other else "", ""))
    out += _poses(before, after)
    out += _built(before, after)
    out += _brackets(before, after, units)
    out += _numbers(before, after)
    return out


def _spot(xyz: Array) -> str:
    return ", ".join(f"{v + 0.0:.1f}" for v in xyz)


def _poses(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Moved]:
    """Bodies that sit elsewhere, with how far they turned."""
    out = []
    for name, told in after.get("poses", {}).items():
        was = before.get("poses", {}).get(name)
        if was is None:
            continue
        pose, old = (Pose(np.array(one["turn"]), np.array(one["at_mm"])) for one in (told, was))
        shift, angle = pose.shift_mm - old.shift_mm, pose.after(old.inverse()).turned_deg
        if np.linalg.norm(shift) >= _TOLD_MM or angle >= 0.01:
            words = f"moved {', '.join(f'{v + 0.0:+.1f}' for v in shift)} mm, turned {angle:.2f}°"
            out.append(Moved(f"place of {name}", _spot(np.array(was["at_mm"])), _spot(np.array(told["at_mm"])), words))
    return out


def _built(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Moved]:
    """Where bodies sit as built, against where the same revision drew them."""
    out = []
    had = before.get("as_built") or {}
    for name, told in (after.get("as_built") or {}).items():
        if had.get(name) == told:
            continue
        ways = ", ".join(f"{v + 0.0:+.1f}" for v in told["moved_mm"])
        worst = max(told["points"], key=lambda p: np.linalg.norm(told["points"][p]), default="")
        far = f"; {worst} most, by {np.linalg.norm(told['points'][worst]):.2f} mm" if worst else ""
        was = had.get(name)
        old = ", ".join(f"{v + 0.0:+.1f}" for v in was["moved_mm"]) if was else "not read"
        words = f"turned {told['turned_deg']:.2f}° from where it was drawn{far}"
        out.append(Moved(f"{name} as built, from its drawn place", old, ways, words))
    return out


def _brackets(before: Mapping[str, Any], after: Mapping[str, Any], units: UnitSystem) -> list[Moved]:
    out = []
    one = {row["name"]: row for row in before["brackets"]}
    for row in after["brackets"]:
        was = one.get(row["name"])
        if was is None:
            continue
        folds = {fold["name"]: fold for fold in was["folds"]}
        for fold in row["folds"]:
            had = folds.get(fold["name"])
            if had is not None and abs(had["angle_deg"] - fold["angle_deg"]) >= 0.05:
                out.append(
                    Moved(
                        f"{row['name']}, fold {fold['name']}", f"{had['angle_deg']:.1f}°", f"{fold['angle_deg']:.1f}°",
                        f"{fold['angle_deg'] - had['angle_deg']:+.1f}°",
                    )
                )  # fmt: skip
        if abs(was["thickness_mm"] - row["thickness_mm"]) > 1e-6:
            told = [format_length(r["thickness_mm"], units) for r in (was, row)]
            out.append(Moved(f"{row['name']}, thickness", told[0], told[1], ""))
        chance = [float(r["fit"]["passes"]) for r in (was, row) if r.get("fit")]
        if len(chance) == 2 and abs(chance[0] - chance[1]) >= 0.005:
            out.append(
                Moved(
                    f"{row['name']}, chance of fit", f"{100 * chance[0]:.1f} %", f"{100 * chance[1]:.1f} %",
                    f"{100 * (chance[1] - chance[0]):+.1f} %",
                )
            )  # fmt: skip
    return out


_NUMBERS = (
    ("range of {name}", ("road", "drives"), "range_m", 0.001, "km", 1.0),
    ("mass of the car, {name}", ("weights", "states"), "mass_kg", 1.0, "kg", 1.0),
)


def _numbers(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Moved]:
    """The few numbers of the whole car that a builder asks for first."""
    out = []
    for title, path, key, factor, unit, least in _NUMBERS:
        one, other = (
            {row["name"]: row[key] for row in _at(record, path) or [] if isinstance(row.get(key), float | int)}
            for record in (before, after)
        )
        for name, value in other.items():
            if name in one and abs(one[name] - value) * factor >= least:
                a, b = one[name] * factor, value * factor
                out.append(Moved(title.format(name=name), f"{a:.0f} {unit}", f"{b:.0f} {unit}", f"{b - a:+.0f} {unit}"))
    return out


def _at(record: Any, path: tuple[str, ...]) -> Any:
    for step in path:
        record = record.get(step) if isinstance(record, dict) else None
    return record


def _checks(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    def failed(record: Mapping[str, Any]) -> dict[str, str]:
        return {
            f"{c['about']}: {c['title']}": f"{c['severity'].upper()}: {c['about']}: {c['title']}"
            for c in record["checks"]
            if not c["ok"] and c["severity"] != "note"
        }

    one, other = failed(before), failed(after)
    return tuple(other[k] for k in other if k not in one), tuple(one[k] for k in one if k not in other)


def _parts(
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
    far = {name: shifts[name] for name in needed if shifts.get(name, 0.0) >= _TOLD_MM}
    if far:
        listed = ", ".join(f"{name} {value:.2f} mm" for name, value in sorted(far.items(), key=lambda row: -row[1])[:4])
        out.append(f"points that it hangs on moved: {listed}")
    return tuple(out)


def _because(old: Path, new: Path, said: tuple[Said, ...], record: Mapping[str, Any]) -> tuple[str, ...]:
    """What each changed reading does by itself to the brackets' holes: the old readings adjusted with it alone."""
    rows = [one for one in said if one.file == "readings.csv"]
    if not rows:
        return ()
    try:
        before, after = load(old), load(new)
    except BuildProblems:
        return ()
    if before.body.keys() != after.body.keys() or before.instrument != after.instrument:
        return ()
    if any(b.point.keys() != after.body[n].point.keys() for n, b in before.body.items()):
        return ()
    start = measured_of(before, survey(before))
    by_line_new = {reading.line: reading for reading in after.readings}
    out = []
    for one in rows[:_MOST_TRIED]:
        changed = by_line_new.get(one.line) if one.new else None
        if one.old and one.new and changed is not None:
            match = [r for r in before.readings if (r.kind, r.names) == (changed.kind, changed.names)]
            tried = tuple(changed if r is match[0] else r for r in before.readings) if match else None
        elif one.new and changed is not None:
            tried = (*before.readings, changed)
        else:
            tried = tuple(r for r in before.readings if r.line != one.line)
        if tried is None:
            continue
        other = before.model_copy(update={"readings": tried})
        alone = measured_of(other, survey(other))
        parts = []
        for bracket, needs in record.get("needs", {}).items():
            far = {
                name: float(np.linalg.norm(start.points[name].xyz_mm - alone.points[name].xyz_mm))
                for name in needs
                if name in start.points and name in alone.points
            }
            worst = max(far, key=lambda name: far[name], default=None)
            if worst is not None and far[worst] >= _TOLD_MM:
                parts.append(f"{worst} of {bracket} by {far[worst]:.2f} mm")
        moves = "; ".join(parts) or "no hole of a bracket"
        out.append(f"{one.file} line {one.line}, {one.where} ({one.words}), by itself moves {moves}.")
    if len(rows) > _MOST_TRIED:
        out.append(f"{len(rows) - _MOST_TRIED} further readings changed; their single effects were not worked.")
    return tuple(out)
