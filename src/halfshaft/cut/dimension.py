"""A dimension on paper: where it begins and ends and what it says in; thin lines, slashes and words out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from halfshaft.cut.drawing import Label, Mark, line

Array = NDArray[np.float64]


def dimension(first: float, last: float, off: float, words: str, level: bool, feet: float = 5.5) -> list[Mark]:
    """Level or upright from `first` to `last` along the paper, its line at `off` across it, the words on a patch.

    Thin lines come `feet` mm from what is measured; slashes stand at the ends.
    """

    def at(along: float, across: float) -> Array:
        return np.array([along, across] if level else [across, along])

    ends = [line(at(spot, off - feet), at(spot, off + 1.5)) for spot in (first, last)]
    slash = np.array([1.2, -1.2])
    slashes = [line(at(spot, off) - slash, at(spot, off) + slash, thick_mm=0.25) for spot in (first, last)]
    middle = at((first + last) / 2.0, off)
    return [
        *ends,
        line(at(first, off), at(last, off)),
        *slashes,
        Label(middle, words, patch=True, turn_deg=0.0 if level else -90.0),
    ]
