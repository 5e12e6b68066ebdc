"""Brake balance and park brake in the states of the car: what was told in, judged curves out."""

from __future__ import annotations

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.build.weights import BrakesInput
from halfshaft.weights.brakes import adhesion_used, crossings_g, first_to_lock, rear_first_from_g
from halfshaft.weights.model import Braking, Parked, State
from halfshaft.weights.park import Facing, force_wanted_n, friction_wanted, steepest_deg
from halfshaft.weights.told import split_of

_CURVE_G = np.linspace(0.0, 1.0, 51)


def braking_of(state: State, told: BrakesInput, laden_kg: float, regeneration: bool = False) -> Braking:
    """Which axle locks first, on dry and slippery roads, and the curves of adhesion used."""
    car, split = state.braked, split_of(told, laden_kg / state.mass_kg if regeneration else 0.0)
    front, rear = adhesion_used(car, split, _CURVE_G)
    return Braking(
        state.name,
        regeneration,
        split,
        first_to_lock(car, split, told.friction),
        first_to_lock(car, split, told.slippery),
        crossings_g(car, split),
        rear_first_from_g(
            car, split, float(default("weights.rule_low").value), float(default("weights.rule_high").value)
        ),
        _CURVE_G,
        front,
        rear,
        car.loads(_CURVE_G)[0],
    )


def parked_of(state: State, told: BrakesInput, radii_mm: tuple[float, float]) -> Parked:
    """Force, torque and friction that the park brake wants on its slope, both ways round."""
    car = state.braked
    force = float(force_wanted_n(state.mass_kg, told.park_slope_deg))
    radius = radii_mm[0] if told.park_axle == "front" else radii_mm[1] if told.park_axle == "rear" else max(radii_mm)
    ways: tuple[Facing, Facing] = ("uphill", "downhill")
    if told.park_axle == "both":
        up = down = float(np.tan(np.radians(told.park_slope_deg)))
        steepest = float(np.degrees(np.arctan(told.park_friction)))
    else:
        up, down = (float(friction_wanted(car, told.park_axle, told.park_slope_deg, way)) for way in ways)
        steepest = min(steepest_deg(car, told.park_axle, told.park_friction, way) for way in ways)
    return Parked(state.name, told.park_axle, told.park_slope_deg, force, force * radius / 1000.0, up, down, steepest)
