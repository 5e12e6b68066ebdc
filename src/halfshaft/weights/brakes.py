"""Brake balance on a level road: a split, a valve and regeneration in; adhesion used, and which axle locks first, out.

Forces are shares of the weight, so a deceleration in g is the sum of them. The pedal is told by what all brakes would
give without the valve, which reduces the rear ones past its knee.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
End = Literal["front", "rear"]
Driven = Literal["front", "rear", "all"]


@dataclass(frozen=True, slots=True)
class Braked:
    """The car as its brakes see it: share of the weight on the front axle standing, and height over wheelbase."""

    front_share: float
    height_share: float

    def loads(self, z: ArrayLike) -> tuple[Array, Array]:
        """Share of the weight on front and rear axle at a deceleration of `z` g."""
        moved = np.asarray(z, dtype=float) * self.height_share
        return self.front_share + moved, 1.0 - self.front_share - moved


@dataclass(frozen=True, slots=True)
class Split:
    """How braking is parted: the fixed front share, a valve in the rear circuit, regeneration on the driven axle.

    `knee_g`: pedal, as deceleration of all brakes without the valve, from which the rear circuit gets only `slope` of
    what is added. `regeneration_g` comes first, before the friction brakes.
    """

    front: float
    knee_g: float = np.inf
    slope: float = 1.0
    regeneration_g: float = 0.0
    driven: Driven = "rear"

    def forces(self, z: ArrayLike) -> tuple[Array, Array]:
        """Braking force at front and rear at a deceleration of `z` g, as shares of the weight."""
        z = np.asarray(z, dtype=float)
        motor = np.minimum(z, self.regeneration_g)
        friction = z - motor
        if np.isfinite(self.knee_g):
            past = self.front + (1.0 - self.front) * self.slope
            beyond = np.maximum(friction - self.knee_g, 0.0)
            pedal = np.minimum(friction, self.knee_g) + (beyond / past if past > 0.0 else 0.0)
            rear = (1.0 - self.front) * (
                np.minimum(pedal, self.knee_g) + self.slope * np.maximum(pedal - self.knee_g, 0.0)
            )
            front = friction - rear
        else:
            front, rear = self.front * friction, (1.0 - self.front) * friction
        on_front = {"front": 1.0, "rear": 0.0, "all": self.front}[self.driven]
        return np.asarray(front + on_front * motor), np.asarray(rear + (1.0 - on_front) * motor)


def ideal_forces(car: Braked, z: ArrayLike) -> tuple[Array, Array]:
    """Front and rear force with both axles at the same adhesion: `z (b + z h) / L` and `z (a - z h) / L`.

    One against the other they draw the parabola of ideal distribution. Source: Limpert, Brake Design and Safety, ch. 7;
    Gillespie, Fundamentals of Vehicle Dynamics, ch. 3 (both from memory).
    """
    front, rear = car.loads(z)
    z = np.asarray(z, dtype=float)
    return z * front, z * rear


def adhesion_used(car: Braked, split: Split, z: ArrayLike) -> tuple[Array, Array]:
    """Friction that each axle asks for at `z` g: force over load; infinite where the axle is in the air.

    Source: adhesion utilisation `f = T / N` of UN Regulations No. 13 and 13-H (from memory).
    """
    used = []
    for force, load in zip(split.forces(z), car.loads(z), strict=True):
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(load > 0.0, force / np.where(load > 0.0, load, 1.0), np.inf)
        used.append(np.asarray(ratio))
    return used[0], used[1]


@dataclass(frozen=True, slots=True)
class Lock:
    """One road: the axle that locks first, at which deceleration, and how much of the road that uses."""

    friction: float
    first: End
    at_g: float

    @property
    def efficiency(self) -> float:
        return self.at_g / self.friction if self.friction > 0.0 else 0.0


def first_to_lock(car: Braked, split: Split, friction: float) -> Lock:
    """The hardest stop without a locked axle on a road of this friction, and the axle that ends it.

    Each axle's demand rises with `z`, so the least `z` at which either reaches the friction is found on the straight
    pieces of `T - mu N`, whose ends are where regeneration is used up and where the valve begins.
    """
    knots = sorted({0.0, split.regeneration_g, split.regeneration_g + split.knee_g} - {np.inf})
    knots = [z for z in knots if z < 2.0] + [2.0]
    found: list[tuple[float, End]] = []
    ends: tuple[End, End] = ("front", "rear")
    for number, end in enumerate(ends):
        spare = np.array([float(car.loads(z)[number] * friction - split.forces(z)[number]) for z in knots])
        for (low, high), (a, b) in zip(pairwise(knots), pairwise(spare), strict=True):
            if a <= 0.0:
                found.append((low, end))
                break
            if b < 0.0:
                found.append((low + (high - low) * a / (a - b), end))
                break
    if not found:
        return Lock(friction, "front", 2.0)
    z, end = min(found, key=lambda one: (one[0], one[1] == "front"))
    return Lock(friction, end, float(z))


def crossings_g(car: Braked, split: Split, most_g: float = 1.2) -> tuple[float, ...]:
    """Decelerations at which both axles use the same adhesion, low to high, between 0.02 g and `most_g`."""
    z = np.linspace(0.02, most_g, 1181)
    front, rear = (np.minimum(f, 1e6) for f in adhesion_used(car, split, z))
    gap = front - rear
    at = np.flatnonzero((gap[:-1] > 0.0) != (gap[1:] > 0.0))
    return tuple(float(z[i] + (z[i + 1] - z[i]) * gap[i] / (gap[i] - gap[i + 1])) for i in at)


def rear_first_from_g(car: Braked, split: Split, low_g: float, high_g: float) -> float | None:
    """Least deceleration in the band at which the rear axle asks for more friction than the front; None if never."""
    z = np.linspace(low_g, high_g, 651)
    front, rear = adhesion_used(car, split, z)
    over = np.flatnonzero(rear > front + 1e-9)
    return float(z[over[0]]) if len(over) else None


def least_deceleration(friction: ArrayLike, slope: float) -> Array:
    """What a car is to reach on a road of this friction before an axle locks: `0.1 + slope (k - 0.2)`.

    Source: UN Regulation No. 13-H, annex 5 (from memory): slope 0.7 for k from 0.2 to 0.8.
    """
    return np.asarray(0.1 + slope * (np.asarray(friction, dtype=float) - 0.2))
