"""Height of the centre of gravity by lifting an axle. Loads level and lifted, lift and wheel radii in, height out."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
End = Literal["front", "rear"]


def tilt_rad(lift_mm: ArrayLike, wheelbase_mm: ArrayLike, stays_mm: ArrayLike, lifted_mm: ArrayLike) -> Array:
    """How far the car leans once the wheels of one end stand `lift_mm` higher than level; broadcasts.

    With `d` the lifted wheels' radius less that of the others, the axle centres are `L sin t + d cos t` apart in
    height; they were `d`. NaN where the lift is more than the wheelbase allows.
    """
    base, rise = np.asarray(wheelbase_mm, dtype=float), np.asarray(lift_mm, dtype=float)
    d = np.asarray(lifted_mm, dtype=float) - np.asarray(stays_mm, dtype=float)
    sine = (rise + d) / np.hypot(base, d)
    return np.asarray(np.arcsin(np.where(np.abs(sine) <= 1.0, sine, np.nan)) - np.arctan2(d, base))


def height_mm(
    level_kg: ArrayLike,
    total_kg: ArrayLike,
    tilted_kg: ArrayLike,
    lift_mm: ArrayLike,
    wheelbase_mm: ArrayLike,
    stays_mm: ArrayLike,
    lifted_mm: ArrayLike,
) -> Array:
    """Height of the centre of gravity over the ground; broadcasts.

    `level_kg` and `tilted_kg` are what the axle that stays down carries, level and with the other axle lifted by
    `lift_mm`; `stays_mm` and `lifted_mm` the loaded radii of the wheels there. Springs are blocked, brakes off, and the
    lifted wheels stand free to roll, so that both supports push straight up under the axle centres.

    Moments about the centre of the lifted axle, `b = L N / W` the way from it to the centre of gravity:
    `N' (L cos t + (rs - rl) sin t) = W (b cos t + (h - rl) sin t)`. With equal radii this is
    `h = r + L (N' - N) / (W tan t)`, the axle lift method of ISO 10392 and of Milliken, Race Car Vehicle Dynamics, ch.
    18 (both from memory); with unequal ones it is the exact statics of the same test.
    """
    total, base = np.asarray(total_kg, dtype=float), np.asarray(wheelbase_mm, dtype=float)
    down, up = np.asarray(stays_mm, dtype=float), np.asarray(lifted_mm, dtype=float)
    tan = np.tan(tilt_rad(lift_mm, base, down, up))
    share, share_up = np.asarray(level_kg, dtype=float) / total, np.asarray(tilted_kg, dtype=float) / total
    return np.asarray(up + share_up * (down - up) + base * (share_up - share) / tan)
