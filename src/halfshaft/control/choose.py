"""Which tapes foresee most of what another car differs by: a covariance and spreads of tapes in, pairs of points out.

Tapes are taken up one at a time, each the one that leaves least of the spread of the points among each other. Least
squares with a prior: Mikhail and Ackermann 1976, from memory. See docs/book.md.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from halfshaft.control.other_car import among, tape_row

Array = NDArray[np.float64]
Pair = tuple[int, int]

_LEAST_GAIN = 1e-6  # of the whole spread: what brings less is not worth a tape


def chosen(
    xyz_mm: Array, covariance: Array, spreads_mm: Mapping[Pair, float], wanted: float, most: int
) -> tuple[list[Pair], float]:
    """Pairs of points (n, 3) to tape, in their order along the points, and the share of the spread they foresee.

    `spreads_mm` holds the pairs that may be taped, with the spread of each tape; no more than `most` are taken, and
    none once `wanted` is foreseen.
    """
    free = among(xyz_mm)
    left, whole = covariance.copy(), float(np.trace(free @ covariance @ free.T))
    picked: list[Pair] = []
    while len(picked) < most and float(np.trace(free @ left @ free.T)) > (1.0 - wanted) * whole:
        best, gain = None, _LEAST_GAIN * whole
        for pair, spread in spreads_mm.items():
            if pair in picked:
                continue
            row = tape_row(xyz_mm, pair)
            shared = left @ row
            at_points = free @ shared
            here = float(at_points @ at_points) / (float(row @ shared) + spread**2)
            if here > gain:
                best, gain = pair, here
        if best is None:
            break
        row = tape_row(xyz_mm, best)
        shared = left @ row
        left = left - np.outer(shared, shared) / (float(row @ shared) + spreads_mm[best] ** 2)
        picked.append(best)
    return sorted(picked), 1.0 - float(np.trace(free @ left @ free.T)) / whole
