"""What the tyres of a driven axle hold: axle, friction and way in; greatest axle torque out, load transfer in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.constants import g as gravity_m_s2

Way = Literal["forward", "backward"]  # how the road pushes the car
_MM = 1e-3


@dataclass(frozen=True, slots=True)
class DrivenAxle:
    """The axle that the unit drives, and the car about it, standing level and loaded as it drives.

    `other_axle_pulls` where another unit, or the brakes, bring the other axle to its grip at the same time.
    """

    end: Literal["front", "rear"]
    axle_mass_kg: float  # what a scale under both its wheels shows
    car_mass_kg: float
    wheelbase_mm: float
    cog_height_mm: float
    wheel_radius_mm: float  # rolling, under load
    other_axle_pulls: bool = False

    def __post_init__(self) -> None:
        named = {
            "axle_mass_kg": self.axle_mass_kg, "car_mass_kg": self.car_mass_kg, "wheelbase_mm": self.wheelbase_mm,
            "cog_height_mm": self.cog_height_mm, "wheel_radius_mm": self.wheel_radius_mm,
        }  # fmt: skip
        wrong = [f"{name} is {value:g}" for name, value in named.items() if not (np.isfinite(value) and value > 0.0)]
        if wrong:
            raise ValueError(f"a driven axle wants numbers over nought: {', '.join(wrong)}")
        if self.axle_mass_kg > self.car_mass_kg:
            raise ValueError(f"the axle carries {self.axle_mass_kg:g} kg of a car of {self.car_mass_kg:g} kg")


@dataclass(frozen=True, slots=True)
class Grip:
    """The most that the tyres of an axle hold."""

    force_n: float  # between road and both tyres
    torque_nm: float  # about the axle
    axle_load_n: float  # as the car pulls so
    accelerates_g: float  # the whole car
    lifts_other_axle: bool


def grip(axle: DrivenAxle, friction: float, way: Way, vertical_g: float = 1.0) -> Grip:
    """The most force and axle torque before the tyres slip.

    One axle pulling: `F = mu N0 / (1 - s mu h / L)`, with s = 1 where the load comes onto the axle (rear axle pushed
    forward, front axle pushed backward) and s = -1 where it leaves it. Both pulling: `F = mu (N0 + s mu W h / L)`.
    `vertical_g` scales the weight: over a bump the tyres are pressed down harder.
    An axle never carries more than the whole car: there the other one lifts.

    Raises ValueError where friction or `vertical_g` is below nought.
    Source: equilibrium of the car in the vertical plane, any textbook of vehicle dynamics; air and slope left out.
    """
    if not friction >= 0.0 or not vertical_g >= 0.0:
        raise ValueError(f"friction ({friction:g}) and vertical_g ({vertical_g:g}) are nought or more")
    weight = axle.car_mass_kg * gravity_m_s2 * vertical_g
    still = axle.axle_mass_kg * gravity_m_s2 * vertical_g
    lever = axle.cog_height_mm / axle.wheelbase_mm
    sign = 1.0 if (axle.end == "rear") == (way == "forward") else -1.0
    if axle.other_axle_pulls:
        load = still + sign * friction * weight * lever
    else:
        share = 1.0 - sign * friction * lever
        load = still / share if share > 0.0 else np.inf
    # tyres pull no harder than the whole weight lets them, and not at all once the axle is in the air
    carried = float(np.clip(load, 0.0, weight))
    force = friction * carried
    gained = friction * vertical_g if axle.other_axle_pulls else force / (axle.car_mass_kg * gravity_m_s2)
    return Grip(force, force * axle.wheel_radius_mm * _MM, carried, gained, bool(load >= weight or load <= 0.0))
