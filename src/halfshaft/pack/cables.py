"""Way of the cables between terminals: square along the bay's sides, out of a bay where its cables leave."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.pack.bay import Bay

Array = NDArray[np.float64]


def ways_mm(
    bays: Sequence[Bay], bay: NDArray[np.int64], minus_mm: Array, plus_mm: Array, junction_mm: Array | None
) -> tuple[Array, Array, Array]:
    """Ways (n, n) from each plus to each minus; (n,) from the start to each minus, and from each plus to the end.

    Terminals (n, 3) in the axes of the bay that `bay` (n,) numbers. Start and end lie at the junction, in the root's
    axes, or where none is told at the module's own bay's cable side.
    """
    exits = np.array([one.exit_mm for one in bays])[bay]
    doors = np.array([one.pose.apply(one.exit_mm) for one in bays])[bay]
    into, out = np.abs(minus_mm - exits).sum(axis=1), np.abs(plus_mm - exits).sum(axis=1)
    inside = np.abs(plus_mm[:, None] - minus_mm[None]).sum(axis=-1)
    between = np.abs(doors[:, None] - doors[None]).sum(axis=-1)
    ways = np.where(bay[:, None] == bay[None], inside, out[:, None] + between + into[None])
    if junction_mm is not None:
        reach = np.abs(doors - junction_mm).sum(axis=1)
        into, out = into + reach, out + reach
    return ways, into, out
