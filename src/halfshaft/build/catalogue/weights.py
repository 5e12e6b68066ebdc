"""What a tyre carries by its load index. A number in, kilograms and their source out."""

from __future__ import annotations

from halfshaft.build.catalogue import NotListed, _source, _table
from halfshaft.checks import Source


def load_indices() -> range:
    row = _table("load_index")["load"]
    return range(int(row["first"]), int(row["first"]) + len(row["kg"]))


def load_index_kg(index: int) -> tuple[float, Source]:
    """Load of one tyre. Raises KeyError with the range known."""
    row, known = _table("load_index")["load"], load_indices()
    if index not in known:
        raise NotListed(f"the load index {index} is not in the table of {known[0]} to {known[-1]}")
    return float(row["kg"][index - known[0]]), _source(row)
