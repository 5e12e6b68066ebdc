"""Power at terminals behind a resistance. Open volts, ohms and watts in, amps out; the most that can be had."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def current_a(open_v: ArrayLike, resistance_ohm: ArrayLike, power_w: ArrayLike) -> Array:
    """Current of a power at the terminals, A; below nought when charging.

    I = (U - sqrt(U² - 4 R P)) / 2R, in a form that holds for R = 0; beyond U²/4R the current of that most power.
    Source: Kirchhoff; the smaller root is the stable one.
    """
    u, p = np.asarray(open_v, dtype=float), np.asarray(power_w, dtype=float)
    root = np.sqrt(np.maximum(u * u - 4.0 * np.asarray(resistance_ohm) * p, 0.0))
    return np.asarray(2.0 * p / (u + root))


def most_w(open_v: ArrayLike, resistance_ohm: ArrayLike) -> Array:
    """Most power that open volts and resistance can give at all: U²/4R, W."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.asarray(open_v, dtype=float) ** 2 / (4.0 * np.asarray(resistance_ohm, dtype=float)))


def discharge_limit_w(open_v: ArrayLike, resistance_ohm: ArrayLike, most_a: ArrayLike, least_v: ArrayLike) -> Array:
    """Most power out, W: held by a current, by least volts at the terminals, or by U²/4R, whichever comes first.

    Power (U - R I) I rises up to I = U/2R, so the limit is at the smallest of the three currents.
    """
    u, r = np.asarray(open_v, dtype=float), np.asarray(resistance_ohm, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_volts = np.where(r > 0.0, (u - least_v) / r, np.where(u >= least_v, np.inf, 0.0))
        by_power = np.where(r > 0.0, u / (2.0 * r), np.inf)
    amps = np.maximum(np.minimum(np.minimum(most_a, by_volts), by_power), 0.0)
    return np.asarray((u - r * amps) * amps)


def charge_limit_w(open_v: ArrayLike, resistance_ohm: ArrayLike, most_a: ArrayLike, most_v: ArrayLike) -> Array:
    """Most power in, W above nought: held by a current or by the highest volts at the terminals."""
    u, r = np.asarray(open_v, dtype=float), np.asarray(resistance_ohm, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_volts = np.where(r > 0.0, (most_v - u) / r, np.where(u < most_v, np.inf, 0.0))
    amps = np.maximum(np.minimum(most_a, by_volts), 0.0)
    return np.asarray((u + r * amps) * amps)
