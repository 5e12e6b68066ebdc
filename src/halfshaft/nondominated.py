"""Which of many answers none beats: costs in, the unbeaten and a short list of different ones out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def unbeaten(costs: ArrayLike, worth: ArrayLike | None = None) -> NDArray[np.bool_]:
    """Of costs (n, k), less being better, the rows that no other row beats: nowhere worse and somewhere better.

    `worth` (k,) is what a difference must come to before it counts: costs are first brought to whole steps of it, where
    it is over nought. Of rows alike the first stays.
    """
    table = np.asarray(costs, dtype=float)
    if worth is not None:
        step = np.asarray(worth, dtype=float)
        coarse = np.floor(table / np.where(step > 0.0, step, 1.0) + 0.5)
        table = np.where(step > 0.0, coarse, table)
    out = np.zeros(len(table), dtype=bool)
    kept = np.empty_like(table)
    count = 0
    # whoever beats a row comes before it when rows are sorted by their entries, and so does the first of those alike
    for at in np.lexsort(table.T[::-1]) if table.size else range(min(len(table), 1)):
        if not np.any(np.all(kept[:count] <= table[at], axis=1)):
            kept[count] = table[at]
            count += 1
            out[at] = True
    return out


def different(ranked: Sequence[Array], near: ArrayLike, most: int) -> list[int]:
    """Indices of the first `most` of ranked places (k,), each farther than `near` (k,) from all taken before.

    Places are alike where no entry differs by its `near` or more.
    """
    scale = np.asarray(near, dtype=float)
    taken: list[int] = []
    for at, place in enumerate(ranked):
        if len(taken) == most:
            break
        if all(np.max(np.abs(place - ranked[other]) / scale) >= 1.0 for other in taken):
            taken.append(at)
    return taken
