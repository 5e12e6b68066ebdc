"""Springs and dampers under a new weight: rates and loads in, drop, spacer, new rate, frequencies and damping out.

Loads are of one wheel. `ratio` is the motion ratio: travel of spring or damper over travel of the wheel.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g as gravity_m_s2

Array = NDArray[np.float64]
_MM = 1e-3


def wheel_rate_n_mm(rate_n_mm: ArrayLike, ratio: ArrayLike) -> Array:
    """Stiffness at the wheel: `ks R^2`, by virtual work; the change of ratio over the travel is left out.

    Source: Milliken and Milliken, Race Car Vehicle Dynamics, ch. 16 (from memory); Barton and Fieldhouse, Automotive
    Chassis Engineering, section 3.9.
    """
    return np.asarray(np.asarray(rate_n_mm, dtype=float) * np.asarray(ratio, dtype=float) ** 2)


def in_series_n_mm(wheel_rate: ArrayLike, tyre_rate: ArrayLike) -> Array:
    """Wheel rate and tyre one above the other: the ride rate."""
    one, two = np.asarray(wheel_rate, dtype=float), np.asarray(tyre_rate, dtype=float)
    return np.asarray(one * two / (one + two))


def ride_frequency_hz(rate_n_mm: ArrayLike, sprung_kg: ArrayLike) -> Array:
    """Undamped bounce of the sprung mass of one wheel on a rate at the wheel."""
    stiff = np.asarray(rate_n_mm, dtype=float) / _MM
    return np.asarray(np.sqrt(stiff / np.asarray(sprung_kg, dtype=float)) / (2.0 * np.pi))


def drop_mm(more_kg: ArrayLike, wheel_rate: ArrayLike) -> Array:
    """How far the body sinks on its springs under so much more on one wheel; less lifts it."""
    return np.asarray(np.asarray(more_kg, dtype=float) * gravity_m_s2 / np.asarray(wheel_rate, dtype=float))


def spacer_mm(more_kg: ArrayLike, rate_n_mm: ArrayLike, ratio: ArrayLike) -> Array:
    """Spacer over the spring, or preload at its seat, that brings the ride height back: its drop at the spring.

    The force at the spring grows by `m g / R`, its length shall stay: `m g / (R ks)`, the drop times the ratio.
    """
    force = np.asarray(more_kg, dtype=float) * gravity_m_s2 / np.asarray(ratio, dtype=float)
    return np.asarray(force / np.asarray(rate_n_mm, dtype=float))


def same_height_rate_n_mm(rate_n_mm: ArrayLike, sprung_before_kg: ArrayLike, sprung_after_kg: ArrayLike) -> Array:
    """Rate of a spring as long as the old one when free, at the old height under the new load.

    Deflection is kept, so rate grows as the load does, and the ride frequency stays.
    """
    more = np.asarray(sprung_after_kg, dtype=float) / np.asarray(sprung_before_kg, dtype=float)
    return np.asarray(np.asarray(rate_n_mm, dtype=float) * more)


def damping_ratio(damper_n_s_m: ArrayLike, ratio: ArrayLike, wheel_rate: ArrayLike, sprung_kg: ArrayLike) -> Array:
    """Damping at the wheel over the critical one of the body's bounce: `c R^2 / (2 sqrt(k m))`."""
    damps = np.asarray(damper_n_s_m, dtype=float) * np.asarray(ratio, dtype=float) ** 2
    stiff = np.asarray(wheel_rate, dtype=float) / _MM
    return np.asarray(damps / (2.0 * np.sqrt(stiff * np.asarray(sprung_kg, dtype=float))))


def damper_change(rate_change: ArrayLike, sprung_change: ArrayLike) -> Array:
    """Factor on the damper that keeps the damping ratio: `sqrt(k'/k m'/m)`."""
    return np.asarray(np.sqrt(np.asarray(rate_change, dtype=float) * np.asarray(sprung_change, dtype=float)))


def damper_words(end: str, factor: float) -> str:
    """'rear: stiffer rebound by about 20 %': to the nearest five per cent, nothing under that."""
    share = 5 * round(20.0 * (factor - 1.0))
    if share == 0:
        return f"{end}: leave the dampers as they are"
    return f"{end}: {'stiffer' if share > 0 else 'softer'} rebound by about {abs(share)} %"


def front_roll_share(front_n_mm: float, rear_n_mm: float, stance_front_mm: float, stance_rear_mm: float) -> float:
    """Share of a sideways moment that the front axle takes: stiffness in roll `k t^2 / 2` of each axle's springs."""
    front, rear = front_n_mm * stance_front_mm**2, rear_n_mm * stance_rear_mm**2
    return front / (front + rear)
