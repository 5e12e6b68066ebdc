"""Tables of what may be chosen, as rows of text for the command line and the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from halfshaft.build.value import UnitSystem
from halfshaft.choose.said import words_of
from halfshaft.tables import Table

if TYPE_CHECKING:
    from halfshaft.choose.model import Choice

MOST_ROWS = 40
CHOOSE_CAUTIONS = (
    "Numbers of cars that are not built: the range of each has a band, as 'halfshaft road' tells of the build's own.",
    "Whether modules go in, axles bear it and brackets hold is asked of the other stations once you have chosen.",
)
_HEADS = {
    "range": "range", "weight": "empty car", "hundred": "0 to 100 km/h", "top": "top speed", "cost": "cost",
    "charge": "10 to 80 %",
}  # fmt: skip


def picks_table(choice: Choice, units: UnitSystem) -> Table:
    """What stands out: best in each aim, and what gives up least."""
    return _table(choice, units, [(pick.words, pick.variant) for pick in choice.picks], "Worth a look")


def unbeaten_table(choice: Choice, units: UnitSystem) -> Table:
    """What no other beats, the cheapest first, or the lightest where costs do not count."""
    kept = [n for n in range(len(choice.rows)) if choice.kept[n]]
    by_cost = "cost" in choice.aims
    kept.sort(key=lambda n: (choice.rows[n].cost if by_cost else choice.rows[n].weight_kg, n))
    shown = [(str(n + 1), n) for n in kept[:MOST_ROWS]]
    rest = f", the first {MOST_ROWS} of {len(kept)}" if len(kept) > MOST_ROWS else f": {len(kept)}"
    return _table(choice, units, shown, f"What no other beats{rest}")


def _table(choice: Choice, units: UnitSystem, shown: list[tuple[str, int]], title: str) -> Table:
    money = choice.sweep.told.money
    parts = [part.name for part in choice.sweep.parts if len(part.options) > 1]
    rows, mood = [], []
    for words, n in shown:
        row, named = choice.rows[n], choice.named(n)
        numbers = [words_of(row, aim, units, money) for aim in choice.aims]
        unsure = choice.unsure(n)
        rows.append((words, *(named[part] for part in parts), *numbers, ", ".join(one.split(":")[0] for one in unsure)))
        mood.append("care" if unsure else "")
    columns = ("", *parts, *(_HEADS[aim] for aim in choice.aims), "not sure of")
    right = tuple(range(1 + len(parts), 1 + len(parts) + len(choice.aims)))
    return Table(title, columns, tuple(rows), right, tuple(mood), "nothing that can be built")
