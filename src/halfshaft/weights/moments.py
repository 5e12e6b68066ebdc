"""Weights as moments that add and subtract: an item or a sum in, mass, centre of gravity and loads with spreads out.

A body is told by five numbers that are linear in what is put in or taken out: its mass, its mass times x, y and z, and
the front axle's share of the mass times y, from which the corner loads come. Kilograms and millimetres, root axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
SIZE = 5  # kg, kg mm along x, y and z, kg mm of y on the front axle


@dataclass(frozen=True, eq=False)
class Moments:
    """`values` (5,) and their `covariance` (5, 5). What goes in adds, what comes out subtracts; spreads only add."""

    values: Array
    covariance: Array

    def __add__(self, other: Moments) -> Moments:
        return Moments(self.values + other.values, self.covariance + other.covariance)

    def __sub__(self, other: Moments) -> Moments:
        return Moments(self.values - other.values, self.covariance + other.covariance)

    @property
    def mass_kg(self) -> float:
        return float(self.values[0])

    @property
    def mass_spread_kg(self) -> float:
        return float(np.sqrt(max(self.covariance[0, 0], 0.0)))


def nothing() -> Moments:
    return Moments(np.zeros(SIZE), np.zeros((SIZE, SIZE)))


def item(
    mass_kg: float, at_mm: ArrayLike, mass_spread_kg: float, place_covariance_mm2: ArrayLike, front_roll: float = 0.5
) -> Moments:
    """One thing as moments: its place (3,), the covariance of the place (3, 3).

    `front_roll` is the share of a sideways moment that the front axle takes. Spreads to first order: mass and place are
    taken as independent, and the product of both errors, which is of second order, is left out.
    """
    at = np.asarray(at_mm, dtype=float)
    by_mass = np.array([1.0, at[0], at[1], at[2], front_roll * at[1]])
    by_place = np.zeros((SIZE, 3))
    by_place[1:4] = mass_kg * np.eye(3)
    by_place[4, 1] = mass_kg * front_roll
    place = np.asarray(place_covariance_mm2, dtype=float)
    covariance = mass_spread_kg**2 * np.outer(by_mass, by_mass) + by_place @ place @ by_place.T
    return Moments(mass_kg * by_mass, covariance)


def centre_mm(told: Moments) -> tuple[Array, Array]:
    """Centre of gravity (3,) and its covariance (3, 3), first order.

    Raises ValueError where there is no mass to have a centre.
    """
    mass = told.mass_kg
    if not mass > 0.0:
        raise ValueError(f"a mass of {mass:g} kg has no centre")
    at = told.values[1:4] / mass
    slope = np.hstack([-at[:, None], np.eye(3), np.zeros((3, 1))]) / mass
    return at, slope @ told.covariance @ slope.T


@dataclass(frozen=True, slots=True)
class Stance:
    """Where the tyres stand: wheelbase, tracks, and the root axes' place over them."""

    wheelbase_mm: float
    track_front_mm: float
    track_rear_mm: float
    rear_axle_mm: float = 0.0  # x of the rear axle in root axes
    ground_mm: float = 0.0  # z of the ground

    @property
    def track_mm(self) -> float:
        return 0.5 * (self.track_front_mm + self.track_rear_mm)


def axle_rows(stance: Stance) -> Array:
    """(2, 5): front and rear axle load in kg as rows over the moments. Lever rule about the two axles."""
    base, back = stance.wheelbase_mm, stance.rear_axle_mm
    front = np.array([-back / base, 1.0 / base, 0.0, 0.0, 0.0])
    return np.array([front, np.eye(SIZE)[0] - front])


def corner_rows(stance: Stance) -> Array:
    """(4, 5): front left, front right, rear left, rear right in kg as rows over the moments.

    Each axle's load halved, more on the side that its share of the sideways moment leans to; y is to the left.
    """
    front, rear = axle_rows(stance)
    leans_front = np.array([0.0, 0.0, 0.0, 0.0, 1.0 / stance.track_front_mm])
    leans_rear = np.array([0.0, 0.0, 1.0, 0.0, -1.0]) / stance.track_rear_mm
    return np.array(
        [0.5 * front + leans_front, 0.5 * front - leans_front, 0.5 * rear + leans_rear, 0.5 * rear - leans_rear]
    )


def loads_kg(told: Moments, rows: Array) -> tuple[Array, Array]:
    """Loads (n,) and their covariance (n, n) from rows (n, 5) over the moments."""
    return rows @ told.values, rows @ told.covariance @ rows.T
