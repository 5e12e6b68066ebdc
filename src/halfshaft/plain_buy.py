"""The list of what is bought as plain values for JSON."""

from __future__ import annotations

from typing import Any

from halfshaft.buy.model import Needs
from halfshaft.plain import judged


def needs(one: Needs) -> dict[str, Any]:
    """Each row with its count and, where the builder told one, its price; what it comes to."""
    rows = [
        {
            "name": row.name, "count": row.count, "unit": row.unit, "for": row.why, "have": row.have,
            "short": row.short, "price": row.price, "cost": row.cost, "from": row.seller,
        }
        for row in one.rows
    ]  # fmt: skip
    return {"rows": rows, "cost": one.cost, "without_price": one.without_price, **judged(one)}
