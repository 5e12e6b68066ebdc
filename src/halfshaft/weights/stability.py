"""Static stability factor: track and height of the centre of gravity in, the factor and its spread out."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def stability_factor(track_mm: ArrayLike, height_mm: ArrayLike) -> Array:
    """Half the track over the height of the centre of gravity: the sideways g at which a stiff car would tip.

    Source: NHTSA, Rollover Resistance, 49 CFR part 575 (65 FR 34998, 1 June 2000): SSF = t / (2 h).
    """
    return np.asarray(track_mm, dtype=float) / (2.0 * np.asarray(height_mm, dtype=float))


def stability_spread(track_mm: float, height_mm: float, height_spread_mm: float) -> float:
    """First order, the track taken as exact."""
    return float(stability_factor(track_mm, height_mm)) * height_spread_mm / abs(height_mm)
