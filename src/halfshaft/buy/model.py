"""What is bought: rows with counts, and prices where the builder told them; frozen values."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from halfshaft.checks import Assumed, Check


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


@dataclass(frozen=True)
class Needs:
    """The list, rows that the stations ask for first, and what is odd about the builder's own."""

    rows: tuple[Need, ...]
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()

    @property
    def cost(self) -> float:
        """Of all that has a price and is still to be bought."""
        return sum(need.cost or 0.0 for need in self.rows)

    @property
    def without_price(self) -> int:
        """How many rows still to be bought nobody has priced."""
        return sum(1 for need in self.rows if need.price is None and need.short > 0.0)


class Count:
    """Counts by name as they are found, with what each is for."""

    def __init__(self) -> None:
        self.count: dict[str, float] = defaultdict(float)
        self.why: dict[str, list[str]] = defaultdict(list)

    def add(self, name: str, count: float, why: str) -> None:
        self.count[name] += count
        if why not in self.why[name]:
            self.why[name].append(why)

    @property
    def needs(self) -> list[Need]:
        return [Need(name, count, "", ", ".join(self.why[name])) for name, count in self.count.items()]
