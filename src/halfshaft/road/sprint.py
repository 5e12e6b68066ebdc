"""What the car can pull: acceleration from rest, quarter mile, top speed, slopes it starts on and holds.

Pull depends on speed alone, so times and ways are integrals over speed: t = ∫ m dv / F, s = ∫ v m dv / F. One car or
many at once; arrays (n,) of cars and (k,) of speeds meet as (n, k).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g as gravity_m_s2
from scipy.constants import mph

from halfshaft.road.car import Car, Day, Stance, columns, count
from halfshaft.road.motor import limit_nm, loss_w, torque_of_power_nm
from halfshaft.road.resistance import air_force_n, rolling_force_n, slope_force_n
from halfshaft.road.supply import current_a, most_w

Array = NDArray[np.float64]

STEPS = 2000
CHUNK = 32  # cars at once: what stays in the processor's cache
QUARTER_MILE_M = 402.336
HUNDRED_KM_H = 100.0 / 3.6
SIXTY_MPH = 60.0 * mph


def grip_n(stance: Stance, mass_kg: ArrayLike, grade: ArrayLike = 0.0) -> Array:
    """Most force that the driven tyres put down while the car pulls at just that force, N.

    Load moves to the rear by pull times height over wheelbase; on a slope by the weight along it too.
    Source: Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (from memory).
    """
    angle = np.arctan(np.asarray(grade, dtype=float))
    weight = np.asarray(mass_kg, dtype=float) * gravity_m_s2
    if stance.driven == "all":
        return np.asarray(stance.grip * weight * np.cos(angle))
    tall = np.asarray(stance.height_m / stance.wheelbase_m)
    grip = np.asarray(stance.grip, dtype=float)
    # the pull that fills the grip is in balance with air, slope and inertia together: all of it moves load back
    if stance.driven == "front":
        return np.asarray(grip * weight * np.cos(angle) * stance.front / (1.0 + grip * tall))
    lifts = grip * tall >= 1.0  # all weight is on the rear before the tyres slip
    with np.errstate(divide="ignore", invalid="ignore"):
        rear = grip * weight * np.cos(angle) * (1.0 - np.asarray(stance.front)) / (1.0 - grip * tall)
    whole = grip * weight * np.cos(angle)
    return np.asarray(np.where(lifts, whole, np.minimum(rear, whole)))


def motor_pull_n(car: Car, speed_m_s: ArrayLike, day: Day, charge: float = 0.9, share: ArrayLike = 1.0) -> Array:
    """Force at the wheels that motor, gear and pack can give at a speed, N, tyres aside.

    `share` holds motor power back, as heat does.
    """
    v = np.asarray(speed_m_s, dtype=float)
    per_m = car.gear.ratio / car.gear.radius_m
    rad_s = v * per_m
    volts = car.supply.open_v(charge)
    # at most half the open volts are used up inside: beyond, more current gives less power
    can = np.minimum(car.supply.gives_w(charge), most_w(volts, car.supply.resistance_ohm)) - day.aux_w
    torque = np.minimum(limit_nm(car.motor, rad_s, share), torque_of_power_nm(car.motor, can, rad_s))
    torque = np.where(rad_s <= car.motor.most_rad_s * (1.0 + 1e-9), torque, 0.0)
    return np.asarray(np.maximum(torque - car.gear.drag_nm, 0.0) * car.gear.efficiency * per_m)


def resists_n(car: Car, speed_m_s: ArrayLike, day: Day, grade: ArrayLike = 0.0) -> Array:
    """Road, air and slope at a steady speed, N."""
    v = np.maximum(np.asarray(speed_m_s, dtype=float), 1e-6)
    rolls = rolling_force_n(car.load, v, car.mass_kg, grade, day.temperature_c)
    air = air_force_n(car.load, v, day.headwind_m_s, day.air_kg_m3)
    return rolls + air + slope_force_n(car.mass_kg, grade)


@dataclass(frozen=True, eq=False)
class Sprint:
    """From rest, n cars, each (n,); infinite where the car never gets there. No roll-out is taken off."""

    hundred_s: Array  # 0 to 100 km/h
    hundred_m: Array
    sixty_s: Array  # 0 to 60 mph
    eighty_s: Array  # 0 to 80 km/h
    quarter_s: Array  # 402.336 m
    quarter_m_s: Array  # speed at its end
    slips_to_m_s: Array  # tyres, not the motor, bound the pull up to here; 0 where they never do
    most_g: Array  # at the first moment
    top_m_s: Array
    top_by_speed: NDArray[np.bool_]  # True where the motor's highest speed sets the top speed, not its pull


def sprint(car: Car, day: Day | None = None, charge: float = 0.9) -> Sprint:
    """Acceleration and top speed on the flat of one or many cars at a charge of the pack."""
    day = day or Day()
    cars = count(car, day)
    found = []
    for begin in range(0, cars, CHUNK):
        part = slice(begin, begin + CHUNK)
        found.append(_sprint(columns(car, part), columns(day, part), charge, min(CHUNK, cars - begin)))
    return Sprint(**{f.name: np.concatenate([getattr(one, f.name) for one in found]) for f in fields(Sprint)})


def _sprint(car: Car, day: Day, charge: float, cars: int) -> Sprint:
    ends = np.broadcast_to(np.asarray(car.motor.most_rad_s / (car.gear.ratio / car.gear.radius_m)), (cars, 1))
    top = _top(car, day, charge, ends)
    share = (np.arange(STEPS) + 0.5) / STEPS  # middles of the steps
    v = top * share * 0.9995
    dv = top * 0.9995 / STEPS
    pull = motor_pull_n(car, v, day, charge)
    grip = grip_n(car.stance, car.mass_kg)
    force = np.minimum(pull, grip) - resists_n(car, v, day)
    with np.errstate(divide="ignore"):
        dt = np.where(force > 0.0, (car.mass_kg + car.rotating_kg) / force * dv, np.inf)
    edge = np.concatenate([np.zeros((cars, 1)), v + dv / 2.0], axis=1)
    t = np.concatenate([np.zeros((cars, 1)), np.cumsum(dt, axis=1)], axis=1)
    # a car that does not move has no way to go in endless time
    ds = np.where(np.isfinite(dt), np.where(np.isfinite(dt), dt, 0.0) * v, np.inf)
    s = np.concatenate([np.zeros((cars, 1)), np.cumsum(ds, axis=1)], axis=1)

    def reach(target: float, of: Array, give: Array) -> Array:
        return np.array([np.interp(target, a, b, right=np.inf) for a, b in zip(of, give, strict=True)])

    quarter = reach(QUARTER_MILE_M, s, t)
    speed = reach(QUARTER_MILE_M, s, edge)
    early = np.isfinite(t[:, -1]) & (s[:, -1] < QUARTER_MILE_M)
    left = np.where(early, QUARTER_MILE_M - np.where(early, s[:, -1], 0.0), 0.0)
    cruise = np.where(early, t[:, -1], 0.0) + left / np.maximum(top[:, 0], 1e-9)
    slips = np.where(pull > grip, v, 0.0).max(axis=1)
    return Sprint(
        hundred_s=reach(HUNDRED_KM_H, edge, t),
        hundred_m=reach(HUNDRED_KM_H, edge, s),
        sixty_s=reach(SIXTY_MPH, edge, t),
        eighty_s=reach(80.0 / 3.6, edge, t),
        quarter_s=np.where(early, cruise, quarter),
        quarter_m_s=np.where(early, top[:, 0], speed),
        slips_to_m_s=slips,
        most_g=force[:, 0] / ((np.asarray(car.mass_kg) + car.rotating_kg) * gravity_m_s2 * np.ones((cars, 1)))[:, 0],
        top_m_s=top[:, 0],
        top_by_speed=top[:, 0] >= ends[:, 0] * (1.0 - 1e-6),
    )


def _top(car: Car, day: Day, charge: float, ends: Array, grade: float = 0.0, share: ArrayLike = 1.0) -> Array:
    """Highest speed (n, 1) at which pull still meets resistance: the last crossing, narrowed by halving."""
    grid = ends * np.linspace(1e-3, 1.0, 400)

    def spare(v: Array) -> Array:
        return np.asarray(motor_pull_n(car, v, day, charge, share) - resists_n(car, v, day, grade))

    good: NDArray[np.bool_] = np.greater_equal(spare(grid), 0.0)
    some = np.any(good, axis=1, keepdims=True)
    last = np.where(some, 399 - np.argmax(good[:, ::-1], axis=1, keepdims=True), 0)
    low = np.take_along_axis(grid, last, axis=1)
    high = np.take_along_axis(grid, np.minimum(last + 1, 399), axis=1)
    for _ in range(40):
        middle = 0.5 * (low + high)
        fits = spare(middle) >= 0.0
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return np.where(some, low, 0.0)


def top_speed_m_s(car: Car, day: Day, grade: float = 0.0, charge: float = 0.5, share: ArrayLike = 1.0) -> Array:
    """Highest speed (n,) held on a slope at a charge, with a share of the motor's power."""
    cars = count(car, day)
    car, day = columns(car), columns(day)
    ends = np.broadcast_to(np.asarray(car.motor.most_rad_s / (car.gear.ratio / car.gear.radius_m)), (cars, 1))
    return _top(car, day, charge, ends, grade, share)[:, 0]


def _steepest(good: Callable[[Array], NDArray[np.bool_]], cars: int) -> Array:
    """Steepest angle (n,) in radians up to which `good` holds, by halving."""
    low, high = np.zeros((cars, 1)), np.full((cars, 1), np.pi / 2 - 1e-6)
    for _ in range(45):
        middle = 0.5 * (low + high)
        fits = good(middle)
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low[:, 0]


def start_grade(car: Car, day: Day | None = None, spare_m_s2: float = 0.0, grip: bool = True) -> Array:
    """Steepest slope (n,), rise over run, on which the car starts from rest and gains `spare_m_s2`.

    `grip=False` leaves the tyres out of it.
    """
    day = day or Day()
    cars = count(car, day)
    car, day = columns(car), columns(day)

    def good(angle: Array) -> NDArray[np.bool_]:
        grade = np.tan(angle)
        pull = motor_pull_n(car, np.full((cars, 1), 1e-3), day)
        if grip:
            pull = np.minimum(pull, grip_n(car.stance, car.mass_kg, grade))
        rolls = rolling_force_n(car.load, 1e-3, car.mass_kg, grade, day.temperature_c)
        need = slope_force_n(car.mass_kg, grade) + rolls + (car.mass_kg + car.rotating_kg) * spare_m_s2
        return np.asarray(pull >= need)

    return np.tan(_steepest(good, cars))


def hold_grade(car: Car, speed_m_s: float, day: Day | None = None, share: ArrayLike = 1.0) -> Array:
    """Steepest slope (n,), rise over run, on which a speed is held at half charge with a share of the power."""
    day = day or Day()
    cars = count(car, day)
    car, day = columns(car), columns(day)
    pull = motor_pull_n(car, np.full((cars, 1), speed_m_s), day, 0.5, share)
    return np.tan(_steepest(lambda angle: pull >= resists_n(car, speed_m_s, day, np.tan(angle)), cars))


def pull_power_w(car: Car, speed_m_s: float, grade: float, day: Day, charge: float = 0.5) -> tuple[Array, Array, Array]:
    """Wheel power, motor heat and pack current (n,) of holding a speed on a slope."""
    cars = count(car, day)
    car, day = columns(car), columns(day)
    v = np.full((cars, 1), speed_m_s)
    wheel = resists_n(car, v, day, grade)
    rad_s = v * car.gear.ratio / car.gear.radius_m
    torque = wheel / (car.gear.ratio / car.gear.radius_m * car.gear.efficiency) + car.gear.drag_nm
    heat = loss_w(car.motor, torque, rad_s)
    amps = current_a(car.supply.open_v(charge), car.supply.resistance_ohm, torque * rad_s + heat + day.aux_w)
    return (wheel * v)[:, 0], heat[:, 0], amps[:, 0]
