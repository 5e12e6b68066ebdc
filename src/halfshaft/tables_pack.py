"""Tables of the pack, as rows of text for the command line and the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfshaft.build.moving_units import format_temperature
from halfshaft.build.units import format_force, format_length, format_mass, format_sheet
from halfshaft.build.value import UnitSystem
from halfshaft.tables import Table
from halfshaft.weights.words import mass_words

if TYPE_CHECKING:
    from halfshaft.pack.boxes import Boxes
    from halfshaft.pack.model import Pack

PACK_CAUTIONS = (
    "A pack kills: work with one hand, in rated gloves, with tools that are insulated, never alone, with the string "
    "parted in the middle. Cells that were dropped, swollen or flooded do not go in a car.",
    "Boxes, their fixings and their place are safety parts: have them judged by whoever licenses the car; what is told "
    "here is no approval.",
)


def pack_table(pack: Pack, units: UnitSystem) -> Table:
    """The pack in numbers, new and old."""
    strings, old = pack.strings, pack.old
    low, high = strings.window
    amps = strings.parallel * strings.cells.lasting_a
    aged = f"{100 * old.left:.0f} % of the charge left, resistance x {old.grown:g}"
    kind = f"{strings.cells.chemistry.name}, {strings.charge_ah:.0f} Ah"
    bare = mass_words(pack.modules_kg, units)
    warms = f"modules warm by {pack.lasting_rise_k_min:.2f} K a minute, nothing cooled"
    rows = (
        ("modules", f"{pack.modules} of {pack.module}", f"{strings.series} in series, {strings.parallel} in parallel"),
        ("cells in series", str(strings.cells_in_series), kind),
        ("energy", f"{pack.gross_wh / 1000.0:.1f} kWh", "from empty to full"),
        ("usable", f"{pack.usable_wh / 1000.0:.1f} kWh", f"from {100 * low:.0f} to {100 * high:.0f} % of the charge"),
        ("usable when old", f"{pack.old_usable_wh / 1000.0:.1f} kWh", aged),
        ("volts", f"{pack.mean_v:.0f} V", f"{strings.least_v:.0f} to {strings.most_v:.0f} V by the cells' own limits"),
        ("resistance", f"{1000.0 * pack.resistance_ohm:.0f} mohm", "10 s, half full, 25 C, without cables"),
        ("heat at lasting current", f"{pack.lasting_heat_w:.0f} W", f"{amps:.0f} A; {warms}"),
        ("mass", mass_words(pack.mass_kg, units), f"{bare} without boxes and cables"),
    )  # fmt: skip
    return Table("Pack", ("", "", ""), rows, (1,))


def volts_table(pack: Pack, units: UnitSystem) -> Table:
    """Volts full, empty and loaded."""
    rows = tuple(
        (
            one.name,
            f"{100.0 * one.charge:.0f} %",
            format_temperature(one.celsius, units),
            f"{one.open_v:.0f} V",
            f"{one.loaded_v:.0f} V" if one.power_w else "",
            f"{one.power_w / 1000.0:.0f} kW" if one.power_w else "",
        )
        for one in pack.volts
    )
    return Table("Volts", ("", "charge", "at", "at rest", "loaded", "by"), rows, (1, 2, 3, 4, 5))


def limits_table(pack: Pack, units: UnitSystem) -> Table:
    """Power out for half a minute, out for good, and in, against temperature and charge."""
    limits = pack.limits
    rows = tuple(
        (
            format_temperature(float(t), units),
            f"{100.0 * q:.0f} %",
            f"{limits.out_w[i, j] / 1000.0:.0f} kW",
            f"{limits.lasting_w[i, j] / 1000.0:.0f} kW",
            f"{limits.in_w[i, j] / 1000.0:.0f} kW",
        )
        for i, t in enumerate(limits.celsius)
        for j, q in enumerate(limits.charge)
    )
    return Table("Power", ("at", "charge", "out, half a minute", "out, for good", "in"), rows, (0, 1, 2, 3, 4))


def answers_table(pack: Pack, units: UnitSystem) -> Table:
    """Layouts beside each other."""
    laid = pack.laid
    if laid is None:
        return Table("Layouts", ("",), (), empty="no bay is told: write [pack.bay.NAME]")
    names = [bay.name for bay in laid.bays]
    rows = []
    for number, answer in enumerate(laid.answers, 1):
        one = answer.layout
        where = ", ".join(f"{n} in {name}" for n, name in zip(one.counts, names, strict=True) if n)
        centre = ", ".join(format_length(round(float(x)), units) for x in one.centre_mm)
        near = "none is better" if one.gap <= 0.02 else "not ruled out"
        rows.append(
            (
                str(number),
                one.wish,
                where,
                centre,
                format_length(round(one.cable_mm), units),
                near,
                "yes" if not answer.faults else "NO",
            )
        )
    columns = (
        "", "weighed by", "modules", "centre of gravity", "cables between terminals", "better of its kind", "fits",
    )  # fmt: skip
    return Table("Layouts, none beaten by another", columns, tuple(rows), (0, 4), (), "the modules do not go in")


def modules_table(pack: Pack, units: UnitSystem, number: int = 1) -> Table:
    """Every module of one layout, in the order of its string."""
    laid = pack.laid
    if laid is None or len(laid.answers) < number:
        return Table("Modules", ("",), (), empty="no layout")
    rows = tuple(
        (
            f"{one.string + 1}.{one.place + 1}",
            one.bay,
            ", ".join(format_length(round(float(x)), units) for x in one.corner_mm),
            ", ".join(format_length(round(float(x)), units) for x in one.centre_mm),
            f"{one.turn.up} up",
            one.turn.along,
            one.turn.terminals,
            format_length(round(one.cable_mm), units),
        )
        for one in laid.answers[number - 1].layout.modules
    )
    columns = (
        "string.place",
        "bay",
        "corner in the bay",
        "middle in the car",
        "lies",
        "length",
        "terminals to",
        "cable on",
    )
    return Table(f"Modules of layout {number}", columns, rows, (7,))


def retention_table(pack: Pack, units: UnitSystem, number: int = 1) -> Table:
    """What the fixings of each bay hold."""
    laid = pack.laid
    if laid is None or len(laid.answers) < number:
        return Table("Fixings", ("",), (), empty="no layout")
    rows = tuple(
        (
            one.bay,
            str(one.modules),
            mass_words(one.mass_kg, units),
            f"{format_force(round(one.along_n), units)} ({one.along_g:g} g)",
            f"{format_force(round(one.across_n), units)} ({one.across_g:g} g)",
        )
        for one in laid.answers[number - 1].retention
    )
    columns = ("bay", "modules", "mass with its box", "along, each way", "across, each way")
    return Table(f"What fixings hold in a crash, layout {number}", columns, rows, (1, 2, 3, 4))


def boxes_table(boxes: Boxes, units: UnitSystem) -> Table:
    """Battery boxes part by part: what is cut, of which sheet, how many."""
    rows, mood = [], []
    for box in boxes.boxes:
        size = " x ".join(format_length(round(float(x)), units) for x in box.inner_mm)
        for piece in box.pieces:
            bracket = piece.bracket
            sheet = f"{bracket.sheet}, {format_sheet(bracket.thickness_mm, units)}"
            each = format_mass(round(bracket.mass_kg, 2), units)
            inside = f"inside {size}" if piece is box.pieces[0] else ""
            rows.append((box.bay, piece.what, str(piece.count), sheet, each, inside))
            mood.append("bad" if box.refused else "")
    columns = ("bay", "part", "count", "sheet", "mass of one", "")
    return Table("Boxes", columns, tuple(rows), (2, 4), tuple(mood), "no modules to put in")
