"""What the brackets page says in words and rows: results in, text out. Lengths as the bench shows them."""

from __future__ import annotations

from dataclasses import dataclass

from halfshaft.bench.telling import Mood
from halfshaft.build.units import format_length, format_mass
from halfshaft.build.value import UnitSystem
from halfshaft.cut.flat_drawing import hole_letters
from halfshaft.cut.station import is_refused
from halfshaft.fold.model import Bracket, FlatPart, Fold, Hole
from halfshaft.tables import folds_table


@dataclass(frozen=True, slots=True)
class State:
    mood: Mood
    word: str


WORKING = "being worked"


def state_of(bracket: Bracket | None, working: bool = False) -> State:
    """Refused, wants care, or ready; one that is not worked yet says so, as one of which only the shape is."""
    if bracket is None:
        return State("note", "not worked yet")
    if is_refused(bracket):
        return State("bad", "refused")
    if working:
        return State("note", WORKING)
    if any(not check.ok and check.severity == "caution" for check in bracket.checks):
        return State("care", "take care")
    return State("good", "ready to cut")


def mass(bracket: Bracket, units: UnitSystem) -> str:
    return format_mass(bracket.mass_kg, units)


def chance(bracket: Bracket) -> str:
    """'95.4 % (95.0 to 95.8)'; empty where it is not known."""
    fit = bracket.fit
    return f"{100 * fit.passes:.1f} % ({100 * fit.low:.1f} to {100 * fit.high:.1f})" if fit else ""


def hole_rows(bracket: Bracket, part: FlatPart, units: UnitSystem) -> list[tuple[str, ...]]:
    """Letter, hole, bolt, size, shape, passes, spoils; in the order of the letters."""
    chances = {row.hole: row for row in bracket.fit.holes} if bracket.fit else {}
    letters = hole_letters(part.bores)
    rows: list[tuple[str, ...]] = []
    for hole in sorted(part.bores, key=lambda h: (len(letters[h.name]), letters[h.name])):
        own = chances.get(hole.name)
        passes = f"{100 * own.passes:.1f} %" if own else ""
        spoils = f"{100 * own.spoils:.0f} % of misses" if own and own.spoils else ""
        rows.append((letters[hole.name], hole.name, hole.bolt, size(hole, units), shape(hole), passes, spoils))
    return rows


def size(hole: Hole, units: UnitSystem) -> str:
    wide = format_length(hole.diameter_mm, units)
    return f"{wide} × {format_length(hole.diameter_mm + hole.slot_mm, units)}" if hole.slot_mm else f"Ø {wide}"


def shape(hole: Hole) -> str:
    if hole.slot_mm:
        return "slot"
    return {"locate": "snug", "join": "joins plates"}.get(hole.use, "round")


def fold_rows(bracket: Bracket, units: UnitSystem) -> list[tuple[str, ...]]:
    """Number, fold, kind, way, turn, length, bridges, hand force, weld; in the order to fold them."""
    return [(*row[:6], *row[8:]) for row in folds_table(bracket, units).rows]


def fold_words(bracket: Bracket, fold: Fold, units: UnitSystem) -> list[str]:
    """A fold's numbers, a line each."""
    row = next(row for row in fold_rows(bracket, units) if row[1] == fold.name)
    lines = [
        f"{row[2]} fold, turns {row[3]} by {row[4]}",
        f"length {row[5]}, set back {format_length(fold.setback_mm, units)} from the inside apex",
        f"turns {format_length(fold.pivot_depth_mm, units)} under the inside face",
    ]
    if fold.kind == "slit":
        lines.append(f"{row[6]} bridges, hand force {row[7]}, weld {row[8]}")
    else:
        lines.append(f"inside radius {format_length(fold.radius_mm, units)}")
    return lines


def hole_words(bracket: Bracket, hole: Hole, units: UnitSystem) -> list[str]:
    """A hole's numbers, a line each."""
    x, y = (format_length(float(v), units) for v in hole.centre_mm)
    lines = [f"{hole.bolt}: {shape(hole)}, {size(hole, units)}", f"{x} from the stop, {y} from the fence"]
    if hole.point:
        lines.insert(0, f"on point {hole.point}")
    if hole.washer_mm:
        lines.append(f"washer {format_length(hole.washer_mm, units)}")
    own = next((row for row in bracket.fit.holes if row.hole == hole.name), None) if bracket.fit else None
    if own:
        lines.append(f"passes {100 * own.passes:.1f} % once all the others do")
    return lines
