"""Rows to buy that say too little or twice the same. Build and tables in, faults added to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfshaft.build.tables import Tables

if TYPE_CHECKING:
    from halfshaft.build.schema import Build


def buy_rows(build: Build, tables: Tables) -> None:
    """Add a fault for each row of [buy] that cannot be listed."""
    covered: dict[str, str] = {}
    for name, row in build.buy.items():
        if row.covers is None and row.count is None:
            write = "Write count = 2, or covers = the row of the book that it prices"
            tables.fault(("buy", name), f"the row '{name}' says neither how many nor what it covers", write)
        if row.covers is not None:
            earlier = covered.setdefault(row.covers.casefold(), name)
            if earlier != name:
                found = f"'{earlier}' and '{name}' both cover '{row.covers}'"
                tables.fault(("buy", name, "covers"), found, "Keep one of them")
