"""The park brake on a slope: braked axle, friction and the car's stance in; force wanted and steepest slope out."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g as gravity_m_s2

from halfshaft.weights.brakes import Braked, End

Array = NDArray[np.float64]
Facing = Literal["uphill", "downhill"]


def force_wanted_n(mass_kg: ArrayLike, slope_deg: ArrayLike) -> Array:
    """Force between tyres and road that holds the car: `W sin t`."""
    sine = np.sin(np.radians(np.asarray(slope_deg, dtype=float)))
    return np.asarray(np.asarray(mass_kg, dtype=float) * gravity_m_s2 * sine)


def friction_wanted(car: Braked, end: End, slope_deg: ArrayLike, facing: Facing) -> Array:
    """Friction that the braked axle asks for: `W sin t` over its load `W (share cos t ± h/L sin t)`.

    Infinite where the axle is in the air. Facing uphill the load comes onto the rear axle. Source: equilibrium on the
    slope; Jazar, Vehicle Dynamics: Theory and Application, section 2.2.
    """
    angle = np.radians(np.asarray(slope_deg, dtype=float))
    share = car.front_share if end == "front" else 1.0 - car.front_share
    comes = 1.0 if (end == "rear") == (facing == "uphill") else -1.0
    load = share * np.cos(angle) + comes * car.height_share * np.sin(angle)
    return np.asarray(np.where(load > 0.0, np.sin(angle) / np.where(load > 0.0, load, 1.0), np.inf))


def steepest_deg(car: Braked, end: End, friction: float, facing: Facing) -> float:
    """Slope at which the braked axle begins to slide: `tan t = mu share / (1 -+ mu h/L)`; 90 where it never does."""
    share = car.front_share if end == "front" else 1.0 - car.front_share
    comes = 1.0 if (end == "rear") == (facing == "uphill") else -1.0
    below = 1.0 - comes * friction * car.height_share
    if below <= 0.0:
        return 90.0
    return float(np.degrees(np.arctan(friction * max(share, 0.0) / below)))
