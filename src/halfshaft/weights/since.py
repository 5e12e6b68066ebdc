"""What a move of things changes in a car that has been weighed: the ledger then and now in, moments to add out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfshaft.weights.model import Line
from halfshaft.weights.moments import Moments, nothing


def moved_since(then: Sequence[Line], now: Sequence[Line]) -> Moments:
    """Moments that what goes in gained by its move: `m (x' - x)`; no mass comes or goes.

    The spread is that of the masses over the way moved; spots are taken as told, for the scales have seen the old ones.
    """
    before = {line.name: line for line in then if line.table == "in"}
    out = nothing()
    for line in now:
        was = before.get(line.name) if line.table == "in" else None
        if was is None or not line.mass_kg > 0.0:
            continue
        change = line.moments.values - was.moments.values
        way = change / line.mass_kg
        out = out + Moments(change, line.spread_kg**2 * np.outer(way, way))
    return out
