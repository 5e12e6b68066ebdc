"""Tables of the tool path, as rows of text for the command line and the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfshaft.build.catalogue.cutter import use_row
from halfshaft.build.moving_units import format_feed
from halfshaft.build.units import MM_PER_INCH
from halfshaft.build.value import UnitSystem
from halfshaft.tables import Table

if TYPE_CHECKING:
    from halfshaft.cut.path.model import SheetPath
    from halfshaft.cut.path.station import Paths

PATH_CAUTIONS = (
    "Run every file in the air first, torch off, one hand on the stop: a clamp, a tipped part or a wrong zero is met "
    "there, not in the cut.",
    "The path has the kerf in it already: the control's own kerf compensation stays off.",
)


def paths_table(paths: Paths, units: UnitSystem) -> Table:
    """A row for each sheet: its file, how it is cut, how long it takes."""
    rows = tuple(
        (
            path.stock.name,
            name if not path.stopped else "none: see what stops it",
            format_feed(path.setup.feed_mm_min, units),
            str(path.estimate.pierces),
            way_words(path.estimate.cut_mm, units),
            time_words(path.estimate.seconds),
        )
        for path, name in zip(paths.sheets, paths.files, strict=True)
    )
    mood = tuple("bad" if path.stopped else "" for path in paths.sheets)
    empty = "none: nothing to cut, or a torch guided by hand"
    return Table("Tool paths", ("sheet", "file", "feed", "pierces", "cut", "time"), rows, (2, 3, 4, 5), mood, empty)


def taken_table(paths: Paths) -> Table:
    """What the cutting of all sheets takes, and what of it has a price."""
    if not paths.sheets:
        return Table("What it takes", ("", "", "cost"), (), (1, 2), (), "nothing")
    use = use_row(paths.sheets[0].setup.process)
    told = [path.estimate for path in paths.sheets]
    cost: dict[str, float] = {}
    for one in told:
        for item, money in one.cost.items():
            cost[item] = cost.get(item, 0.0) + money
    amounts = [
        ("power", f"{sum(one.power_kwh for one in told):.2f} kWh", "power"),
        (use.gas or "gas", f"{sum(one.gas_l for one in told) / 1000.0:.2f} m³", "gas"),
        ("abrasive", f"{sum(one.abrasive_kg for one in told):.1f} kg", "abrasive"),
        (use.wear_set, f"{sum(one.wear_sets for one in told):.2f} sets", use.wear_set),
        ("time of the table", time_words(sum(one.seconds for one in told)), "time of the table"),
    ]
    present = {"gas": use.gas_l_min > 0.0, "abrasive": use.abrasive_kg_min > 0.0}
    rows = [
        (what, much, f"{cost[key]:.2f}" if key in cost else "") for what, much, key in amounts if present.get(key, True)
    ]
    if cost:
        rows.append(("in all, of what has a price", "", f"{sum(cost.values()):.2f}"))
    return Table("What it takes", ("", "", "cost"), tuple(rows), (1, 2))


def cuts_table(path: SheetPath, units: UnitSystem) -> Table:
    """Every cut of one sheet in its order; marks in one row."""
    marks = [cut for cut in path.cuts if cut.marks]
    rows = []
    if marks:
        way = way_words(sum(cut.whole.length_mm for cut in marks), units)
        rows.append((f"1 to {len(marks)}", "marks", "", way, format_feed(path.setup.mark_feed_mm_min, units), ""))
    rows += [
        (
            str(number),
            cut.kind,
            cut.part,
            way_words(cut.whole.length_mm, units),
            format_feed(cut.feed_mm_min, units),
            "slow, small hole" if cut.slow else "",
        )
        for number, cut in enumerate(path.cuts, start=1)
        if not cut.marks
    ]
    return Table(f"Cuts of {path.stock.name}", ("", "cut", "part", "length", "feed", ""), tuple(rows), (0, 3, 4))


def time_words(seconds: float) -> str:
    """'3 min 50 s', '1 h 12 min'."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


def way_words(way_mm: float, units: UnitSystem) -> str:
    """A length of cut in metres or feet."""
    return f"{way_mm / 1000.0:.2f} m" if units == "metric" else f"{way_mm / (12.0 * MM_PER_INCH):.1f} ft"
