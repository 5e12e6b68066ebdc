"""A car on scales: four corner readings, or two axles, and a tilt in; its moments out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.weights.first_order import through
from halfshaft.weights.moments import Moments, Stance
from halfshaft.weights.tilt import End, height_mm

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Tilt:
    """An axle lifted with springs blocked; what the other then carries. Spreads are one standard deviation."""

    lifted: End
    lift_mm: float
    other_axle_kg: float
    lift_spread_mm: float
    spread_kg: float
    radius_front_mm: float
    radius_rear_mm: float
    radius_spread_mm: float


@dataclass(frozen=True, slots=True)
class Height:
    """Height of the centre of gravity over the ground where it is told or assumed, not measured by a tilt."""

    height_mm: float
    spread_mm: float


@dataclass(frozen=True, slots=True)
class Weighing:
    """Readings in kg: front left, front right, rear left, rear right, each with its spread.

    Where only axles were weighed, each corner is half its axle, and `side_spread_mm` tells how far off the centre line
    the centre of gravity may be.
    """

    corners_kg: tuple[float, float, float, float]
    spread_kg: float
    height: Tilt | Height | None = None
    side_spread_mm: float = 0.0

    @property
    def axles_kg(self) -> tuple[float, float]:
        fl, fr, rl, rr = self.corners_kg
        return fl + fr, rl + rr


def weighed(told: Weighing, stance: Stance, front_roll: float = 0.5) -> Moments:
    """Moments of a car that stood on scales. Without a height, its moment upward is that of the ground: see `seen`.

    Raises ValueError where a tilt gives no height.
    """
    readings, spreads = _readings(told)
    if isinstance(told.height, Tilt):
        found = _height_mm(readings, told.height, stance)
        if not np.isfinite(found):
            raise ValueError("the lift is more than the wheelbase allows; look at the numbers of the tilt")

    def moments(at: Array) -> Array:
        return _moments(at, told, stance)

    values = moments(readings)
    covariance = through(moments, readings, spreads)
    if told.side_spread_mm > 0.0:
        leans = np.array([0.0, 0.0, 1.0, 0.0, front_roll]) * values[0] * told.side_spread_mm
        covariance = covariance + np.outer(leans, leans)
    return Moments(values, covariance)


def seen(told: Weighing) -> list[int]:
    """Which of the five moments this weighing tells: a lean to the side wants corners, z a height."""
    return [0, 1, *((2, 4) if told.side_spread_mm == 0.0 else ()), *((3,) if told.height is not None else ())]


def height_of_tilt_mm(told: Weighing, stance: Stance) -> tuple[float, float]:
    """Height over the ground by the tilt, and its spread. Raises ValueError where there is none."""
    tilt = told.height
    if not isinstance(tilt, Tilt):
        raise ValueError("no tilt was told")
    readings, spreads = _readings(told)
    found = _height_mm(readings, tilt, stance)
    variance = through(lambda at: np.array([_height_mm(at, tilt, stance)]), readings, spreads)
    return found, float(np.sqrt(variance[0, 0]))


def _readings(told: Weighing) -> tuple[Array, Array]:
    """All that was read, and its spreads: four corners, then the tilt or the height."""
    values, spreads = list(told.corners_kg), [told.spread_kg] * 4
    if isinstance(told.height, Tilt):
        one = told.height
        values += [one.other_axle_kg, one.lift_mm, one.radius_front_mm, one.radius_rear_mm]
        spreads += [one.spread_kg, one.lift_spread_mm, one.radius_spread_mm, one.radius_spread_mm]
    elif isinstance(told.height, Height):
        values.append(told.height.height_mm)
        spreads.append(told.height.spread_mm)
    return np.array(values), np.array(spreads)


def _height_mm(at: Array, tilt: Tilt, stance: Stance) -> float:
    front, rear = at[0] + at[1], at[2] + at[3]
    other, lift, radius_front, radius_rear = at[4:8]
    level = rear if tilt.lifted == "front" else front
    radii = (radius_rear, radius_front) if tilt.lifted == "front" else (radius_front, radius_rear)
    return float(height_mm(level, front + rear, other, lift, stance.wheelbase_mm, *radii))


def _moments(at: Array, told: Weighing, stance: Stance) -> Array:
    fl, fr, rl, rr = at[:4]
    mass = fl + fr + rl + rr
    leans_front = 0.5 * stance.track_front_mm * (fl - fr)
    leans = leans_front + 0.5 * stance.track_rear_mm * (rl - rr)
    height = 0.0
    if isinstance(told.height, Tilt):
        height = _height_mm(at, told.height, stance)
    elif isinstance(told.height, Height):
        height = float(at[4])
    along = stance.wheelbase_mm * (fl + fr) + stance.rear_axle_mm * mass
    return np.array([mass, along, leans, mass * (height + stance.ground_mm), leans_front])
