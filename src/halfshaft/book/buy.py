"""What is bought. A study in; rows with counts, and prices where the builder told them, out.

Counts are derived: bolts with nuts and washers from holes and joints, rubbers from mounts, modules from the pack, sheet
from the parts. A bolt's length is what it grips with its washers, its nut and a few threads, made up to one sold.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from halfshaft.build.book import BuyInput
from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.build.catalogue import default, material
from halfshaft.build.units import MM_PER_INCH, N_PER_POUND_FORCE, format_length, format_mass, format_thickness
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.cut.station import is_refused
from halfshaft.study import Study
from halfshaft.tables import Table

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets
    from halfshaft.fold.model import Bracket
    from halfshaft.mounts.seat import Seat

# lengths that are sold: ISO 888 for metric bolts, from memory; inch by quarters, common practice
_METRIC_MM = (16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100, 110, 120, 130, 140, 150, 160, 180, 200)
_INCH = tuple(quarters / 4.0 for quarters in range(2, 41))
_NM_PER_LBF_FT = N_PER_POUND_FORCE * MM_PER_INCH * 12.0 / 1000.0
_SOURCE = Source(Origin.DERIVED, "docs/book.md")


@dataclass(frozen=True, slots=True)
class Need:
    """A row: `name` is what a [buy] table covers; `money` of one, None where nobody told."""

    name: str
    count: float
    unit: str
    why: str
    price: float | None = None
    seller: str = ""
    have: float = 0.0

    @property
    def short(self) -> float:
        """How many are still to be bought."""
        return max(self.count - self.have, 0.0)

    @property
    def cost(self) -> float | None:
        return None if self.price is None else self.short * self.price


def needs(study: Study) -> tuple[tuple[Need, ...], tuple[Check, ...]]:
    """Every row, derived ones first, and what is odd about the builder's own."""
    derived = _derived(study)
    told = study.build.buy
    covers = {row.covers.casefold(): row for row in told.values() if row.covers is not None}
    rows = [_priced(need, covers.get(need.name.casefold())) for need in derived]
    rows += [
        Need(
            row.what or name.replace("_", " "),
            row.count or 0.0,
            row.unit,
            "told in [buy]",
            row.price,
            row.seller,
            row.have,
        )
        for name, row in told.items()
        if row.covers is None
    ]
    names = {need.name.casefold() for need in derived}
    checks = tuple(
        Check(
            "book", f"buy.{name}", "A price for a row that is not in the list", _SOURCE, Severity.CAUTION,
            f"Nothing here is called '{row.covers}'. Take a name from the book's list of parts to buy, or leave covers "
            "away and write count.", failed_outright=True,
        )
        for name, row in told.items()
        if row.covers is not None and row.covers.casefold() not in names
    )  # fmt: skip
    return tuple(rows), checks


def _priced(need: Need, told: BuyInput | None) -> Need:
    if told is None:
        return need
    count = need.count if told.count is None else told.count
    price = need.price if told.price is None else told.price
    have = told.have if told.given("have") else need.have
    return Need(need.name, count, told.unit or need.unit, need.why, price, told.seller, have)


class _Rows:
    """Counts by name as they are found, with what each is for."""

    def __init__(self) -> None:
        self.count: dict[str, float] = defaultdict(float)
        self.why: dict[str, list[str]] = defaultdict(list)

    def add(self, name: str, count: float, why: str) -> None:
        self.count[name] += count
        if why not in self.why[name]:
            self.why[name].append(why)


def _derived(study: Study) -> list[Need]:
    rows = _Rows()
    brackets = [b for b in study.brackets.values() if not is_refused(b)]
    in_joints = _joints(study, rows)
    for bracket in brackets:
        _loose_bolts(bracket, bracket.name in in_joints, rows)
    if study.mounts is not None and study.build.mounts is not None:
        for name, mount in study.build.mounts.mount.items():
            if mount.rubber is not None:
                rows.add(f"rubber {mount.rubber}", 1, name)
    if study.pack is not None:
        rows.add("battery module", study.pack.modules, study.pack.module)
    metal = _sheets(study, brackets) if study.sheets is None else _stock(study.sheets)
    counted = [Need(name, count, "", ", ".join(rows.why[name])) for name, count in rows.count.items()]
    return sorted([*counted, *metal], key=lambda need: need.name)


def _stock(found: Sheets) -> list[Need]:
    """Stock sheets that parts are laid on; the shop's own offcuts are at hand."""
    rows: dict[str, Need] = {}
    for sheet in found.sheets:
        blank = sheet.blank
        had = rows.get(blank.table)
        count = 1.0 if had is None else had.count + 1.0
        have = 1.0 if blank.is_offcut else 0.0
        rows[blank.table] = Need(blank.table, count, "sheet", str(blank.key), blank.cost, "", have)
    return list(rows.values())


def _sheets(study: Study, brackets: Sequence[Bracket]) -> list[Need]:
    """Area of the parts that each sheet gives, with what they weigh."""
    units = study.build.build.units
    area: dict[str, float] = defaultdict(float)
    mass: dict[str, float] = defaultdict(float)
    users: dict[str, list[str]] = defaultdict(list)
    for bracket in brackets:
        for part in bracket.parts:
            sheet = study.build.sheet[part.sheet]
            name = f"sheet {part.sheet}, {format_thickness(part.thickness_mm, units)}"
            here = part.outline.polygon(0.5).area * 1e-6
            area[name] += here
            mass[name] += here * part.thickness_mm * 1e-3 * material(sheet.material).density_kg_m3
            if bracket.name not in users[name]:
                users[name].append(bracket.name)
    return [
        Need(name, round(area[name], 3), "m2", f"{', '.join(users[name])}: {format_mass(mass[name], units)} of parts")
        for name in area
    ]


def _joints(study: Study, rows: _Rows) -> set[str]:
    """Bolts of the mounts' joints, with class and length; names of the brackets whose bolts are told here."""
    done: set[str] = set()
    for mount in study.mounts.mounts if study.mounts is not None else ():
        if mount.bracket:
            done.add(mount.bracket)
        for joint in mount.joints:
            seat = joint.seat
            count = len(seat.bolts)
            where = f"{mount.name}, {seat.name}"
            washers = 1 if seat.into in ("tapped", "weld nut", "rivet nut", "nut plate") else 2
            rows.add(f"bolt {length_words(seat)}", count, where)
            rows.add(f"washer {seat.bolt.name}, {seat.washer_mm:.4g} mm across", washers * count, where)
            if seat.into in ("plate", "empty tube", "crush tube"):
                rows.add(f"nut {seat.bolt.name}, for {seat.bolt.grade}", count, where)
            elif seat.into != "tapped":
                rows.add(f"{seat.into} {seat.bolt.name}", count, where)
            if seat.into == "crush tube" and seat.told.sleeve_mm and seat.tube_mm:
                outside, bore = seat.told.sleeve_mm
                inner = seat.tube_mm[1] - 2.0 * seat.other.thickness_mm
                rows.add(f"sleeve {outside:g} x {bore:g} mm, {inner:g} mm long", count, where)
    return done


def _loose_bolts(bracket: Bracket, jointed: bool, rows: _Rows) -> None:
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


def length_words(seat: Seat) -> str:
    """'M12 x 40, 10.9': size, length that is sold, class."""
    length = bolt_length_mm(seat)
    if seat.bolt.thread.inch:
        return f"{seat.bolt.name} x {format_length(length, 'inch')}, {seat.bolt.grade}"
    return f"{seat.bolt.name} x {length:g}, {seat.bolt.grade}"


def torque_words(torque_nm: float, units: UnitSystem) -> str:
    """What a torque wrench is set to; both scales where the shop reads inches."""
    told = f"{torque_nm:.0f} Nm"
    return told if units == "metric" else f"{torque_nm / _NM_PER_LBF_FT:.0f} lbf ft ({told})"


def bolt_length_mm(seat: Seat) -> float:
    """Length under the head that is sold and serves: into a thread no longer than the hole lets it, else up."""
    row = bolt_row(seat.bolt.name)
    across, pitch = row.shank_mm, seat.bolt.thread.pitch_mm
    washer, past = row.washer_thickness_mm, float(default("book.bolt_past_nut").value) * pitch
    nut = float(default("book.nut_height").value) * across
    grip = seat.part.thickness_mm + washer
    lengths = [25.4 * v for v in _INCH] if seat.bolt.thread.inch else [float(v) for v in _METRIC_MM]
    if seat.into == "tapped":
        engaged = seat.told.engaged_mm if seat.told.engaged_mm is not None else 1.5 * across
        fits = [v for v in lengths if v <= grip + engaged + 1e-6]
        return fits[-1] if fits else lengths[0]
    if seat.into in ("crush tube", "empty tube") and seat.tube_mm is not None:
        grip += seat.tube_mm[1]
    else:
        grip += seat.other.thickness_mm
    grip += washer if seat.into in ("plate", "empty tube", "crush tube") else 0.0
    wanted = grip + nut + past
    return next((v for v in lengths if v >= wanted - 1e-6), math.ceil(wanted / 10.0) * 10.0)


def buy_table(rows: tuple[Need, ...], currency: str) -> Table:
    """The list, with what is still to be bought and what it costs."""
    money = f" {currency}" if currency else ""

    def amount(value: float) -> str:
        return f"{value:.3g}" if value != round(value) else f"{value:.0f}"

    told = []
    for need in rows:
        told.append(
            (
                need.name,
                f"{amount(need.count)} {need.unit}".strip(),
                amount(need.have) if need.have else "",
                amount(need.short),
                f"{need.price:.2f}" if need.price is not None else "",
                f"{need.cost:.2f}" if need.cost is not None else "",
                need.seller,
                need.why,
            )
        )
    columns = ("to buy", "needed", "have", "short", f"each{money}", f"cost{money}", "from", "for")
    return Table("", columns, tuple(told), (2, 3, 4, 5), empty="nothing to buy is known yet")


def total_words(rows: tuple[Need, ...], currency: str) -> str:
    """What it comes to, and how much of it nobody has priced."""
    known = sum(need.cost or 0.0 for need in rows)
    open_rows = sum(1 for need in rows if need.price is None and need.short > 0.0)
    words = f"In all {known:.2f} {currency}".rstrip() + f" for what has a price; {open_rows} rows have none yet."
    return words if open_rows else f"In all {known:.2f} {currency}".rstrip() + "."
