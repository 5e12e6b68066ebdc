"""What is bought: brackets, mounts, pack and sheets in; rows with counts, and prices where the builder told them, out.

Counts are derived: bolts with nuts and washers from holes and joints, rubbers from mounts, modules from the pack, sheet
from the layout, else from the parts.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from halfshaft.build.book import BuyInput
from halfshaft.build.schema import Build
from halfshaft.buy.fixings import joint_bolts, loose_bolts
from halfshaft.buy.metal import sheet_area, stock
from halfshaft.buy.model import Count, Need, Needs
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.cut.station import is_refused
from halfshaft.fold.model import Bracket

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets
    from halfshaft.mounts.model import Mounts
    from halfshaft.pack.model import Pack

_SOURCE = Source(Origin.DERIVED, "docs/book.md")


def needs_of(
    build: Build, brackets: Iterable[Bracket], mounts: Mounts | None, pack: Pack | None, sheets: Sheets | None
) -> Needs:
    """Every row, derived ones first, and what is odd about the builder's own."""
    derived = _derived(build, brackets, mounts, pack, sheets)
    told = build.buy
    covers = {row.covers.casefold(): row for row in told.values() if row.covers is not None}
    rows = [_priced(need, covers.get(need.name.casefold())) for need in derived]
    rows += [
        Need(
            row.what or name.replace("_", " "), row.count or 0.0, row.unit, "told in [buy]", row.price, row.seller,
            row.have,
        )
        for name, row in told.items()
        if row.covers is None
    ]  # fmt: skip
    names = {need.name.casefold() for need in derived}
    lost = {n: row.covers for n, row in told.items() if row.covers is not None and row.covers.casefold() not in names}
    return Needs(tuple(rows), tuple(_lost(name, covers) for name, covers in lost.items()))


def _lost(name: str, covers: str) -> Check:
    return Check(
        "buy", f"buy.{name}", "A price for a row that is not in the list", _SOURCE, Severity.CAUTION,
        f"Nothing here is called '{covers}'. Take a name from the book's list of parts to buy, or leave covers away "
        "and write count.", failed_outright=True,
    )  # fmt: skip


def _priced(need: Need, told: BuyInput | None) -> Need:
    if told is None:
        return need
    count = need.count if told.count is None else told.count
    price = need.price if told.price is None else told.price
    have = told.have if told.given("have") else need.have
    return Need(need.name, count, told.unit or need.unit, need.why, price, told.seller, have)


def _derived(
    build: Build, brackets: Iterable[Bracket], mounts: Mounts | None, pack: Pack | None, sheets: Sheets | None
) -> list[Need]:
    rows = Count()
    made = [bracket for bracket in brackets if not is_refused(bracket)]
    in_joints = joint_bolts(mounts, rows) if mounts is not None else set()
    for bracket in made:
        loose_bolts(bracket, bracket.name in in_joints, rows)
    if mounts is not None and build.mounts is not None:
        for name, mount in build.mounts.mount.items():
            if mount.rubber is not None:
                rows.add(f"rubber {mount.rubber}", 1, name)
    if pack is not None:
        rows.add("battery module", pack.modules, pack.module)
    metal = sheet_area(build, made) if sheets is None else stock(sheets)
    return sorted([*rows.needs, *metal], key=lambda need: need.name)
