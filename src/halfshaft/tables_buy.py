"""The list of what is bought as rows of text."""

from __future__ import annotations

from halfshaft.buy.model import Needs
from halfshaft.tables import Table


def buy_table(found: Needs, currency: str) -> Table:
    """The list, with what is still to be bought and what it costs."""
    money = f" {currency}" if currency else ""

    def amount(value: float) -> str:
        return f"{value:.3g}" if value != round(value) else f"{value:.0f}"

    told = []
    for need in found.rows:
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


def total_words(found: Needs, currency: str) -> str:
    """What it comes to, and how much of it nobody has priced."""
    words = f"In all {found.cost:.2f} {currency}".rstrip()
    return (
        f"{words} for what has a price; {found.without_price} rows have none yet."
        if found.without_price
        else f"{words}."
    )
