"""Tables of control readings and of the car as built, as rows of text for the command line, the book and the bench."""

from __future__ import annotations

from halfshaft.build.units import format_length
from halfshaft.control.model import Built, Control, Verdict
from halfshaft.tables import Table


def told_of(one: Control, units: str) -> tuple[str, str]:
    """Nominal and tolerance, each with its unit."""
    if one.unit == "deg":
        return f"{one.nominal:.1f} deg", f"{one.most:.1f} deg"
    return format_length(one.nominal, units), format_length(one.most, units)


def row_words(one: Control, units: str) -> tuple[str, ...]:
    """Number, reading, points, nominal, tolerance, instrument, brackets: a row for people."""
    nominal, most = told_of(one, units)
    return (str(one.number), one.kind, one.points, nominal, f"± {most}", one.instrument, ", ".join(one.brackets))


def verdict_table(found: Verdict, units: str) -> Table:
    """Each control reading as it was filled in."""
    rows, mood = [], []
    for row in found.rows:
        one = row.control
        if one.unit == "deg":
            read, off = (f"{v:.1f} deg" if v is not None else "" for v in (row.read, row.off))
        else:
            read, off = (format_length(v, units) if v is not None else "" for v in (row.read, row.off))
        told = row_words(one, units)
        rows.append((*told[:5], read, off, row.state, told[6]))
        mood.append({"off": "bad", "not read": "care"}.get(row.state, ""))
    columns = ("", "reading", "points", "nominal", "give or take", "read", "off by", "", "brackets")
    return Table("Control readings", columns, tuple(rows), (0, 3, 4, 5, 6), tuple(mood), "there are none")


def built_table(found: Built) -> Table:
    """Each point that was bolted up, from where it was drawn."""
    rows, mood = [], []
    for body in found.bodies:
        for point in body.points:
            ways = "  ".join(f"{v + 0.0:+.1f}" for v in point.moved_mm)
            room = f"{point.room_mm:.2f}" if point.room_mm is not None else ""
            rows.append((point.name, point.bracket, ways, f"{point.far_mm:.2f}", f"{point.give_or_take_mm:.2f}", room))
            mood.append("bad" if point.out else "")
    columns = ("point", "bracket", "forward, left, up mm", "in all mm", "± mm (95 %)", "room of its bolt mm")
    return Table("As built, from where it was drawn", columns, tuple(rows), (2, 3, 4, 5), tuple(mood), "nothing yet")


def built_words(found: Built) -> tuple[str, ...]:
    """Where each body sits now, in a sentence."""
    out = []
    for body in found.bodies:
        ways = ", ".join(f"{v + 0.0:+.1f}" for v in body.moved_mm)
        out.append(
            f"'{body.name}' sits {ways} mm (forward, left, up) and {body.turned_deg:.2f}° from where it was drawn, by "
            f"{found.readings} readings as built."
        )
    return tuple(out)
