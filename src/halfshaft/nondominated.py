"""Which of many answers none beats: costs in, the unbeaten and a short list of different ones out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.fitup.model import Array


def unbeaten(costs: ArrayLike, worth: ArrayLike | None = None) -> NDArray[np.bool_]:
    """Of costs (n, k), less being better, the rows that no other row beats: nowhere worse and somewhere better.

    `worth` (k,) is what a difference must come to before it counts: costs are first brought to whole steps of it. Of
    rows alike the first stays.
    """
    table = np.asarray(costs, dtype=float)
    if worth is not None:
        table = np.floor(table / np.asarray(worth, dtype=float) + 0.5)
    out = np.ones(len(table), dtype=bool)
    for at, row in enumerate(table):
        no_worse = np.all(table <= row, axis=1)
        better = np.any(table < row, axis=1)
        same_before = np.all(table == row, axis=1) & (np.arange(len(table)) < at)
        out[at] = not np.any((no_worse & better) | same_before)
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
