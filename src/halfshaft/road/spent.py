"""A car over a cycle: where its energy goes, second by second from the road back to the pack.

The trace is driven as written. Where motor or pack cannot, the seconds are counted and the energy is still what the
trace would take: a check, not a slower car.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from halfshaft.pack.current import current_a, most_w
from halfshaft.road.car import Car, Day, columns, count
from halfshaft.road.cycles import Cycle, at_each_second
from halfshaft.road.motor import limit_nm, loss_w
from halfshaft.road.resistance import air_force_n, rolling_force_n, slope_force_n
from halfshaft.road.supply import room_w

Array = NDArray[np.float64]

CHUNK = 32  # cars at once: what stays in the processor's cache, see benchmarks/road_speed.py


@dataclass(frozen=True, eq=False)
class Spent:
    """Energy of one drive over a cycle in Wh for n cars, each array (n,).

    inside_wh = rolling + air + slope + brakes + gear + motor + aux + pack: nothing is lost between them.
    """

    distance_m: Array
    seconds: Array
    pull_wh: Array  # at the wheels, driving
    push_wh: Array  # at the wheels, braking, told as more than nought
    rolling_wh: Array
    air_wh: Array
    slope_wh: Array
    brakes_wh: Array  # turned to heat by the friction brakes
    gear_wh: Array
    motor_wh: Array  # motor and inverter
    aux_wh: Array
    pack_wh: Array  # heat in the pack
    terminal_wh: Array  # net, at the pack's terminals
    inside_wh: Array  # net, of its open-circuit volts: what empties it
    back_wh: Array  # taken up at the terminals while braking
    most_pull_w: Array
    most_push_w: Array
    motor_short_s: Array  # seconds in which the motor lacks torque or power
    pack_short_s: Array
    heat_motor_w: Array  # mean over the drive
    heat_pack_w: Array


def spend(car: Car, cycle: Cycle, day: Day | None = None, charge: float = 0.5) -> Spent:
    """One or many cars over a cycle at one charge of the pack, 0 to 1.

    Raises ValueError where the arrays of car and day differ in length.
    """
    day = day or Day()
    cars = count(car, day)
    trace = at_each_second(cycle)
    parts = []
    for begin in range(0, cars, CHUNK):
        part = slice(begin, begin + CHUNK)
        parts.append(_spend(columns(car, part), columns(day, part), trace, charge, min(CHUNK, cars - begin)))
    return Spent(**{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Spent)})


def _spend(car: Car, day: Day, cycle: Cycle, charge: float, cars: int) -> Spent:
    dt = np.diff(cycle.time_s)
    v = 0.5 * (cycle.speed_m_s[1:] + cycle.speed_m_s[:-1])
    change = np.diff(cycle.speed_m_s) / dt
    moves = v > 0.0
    gear, motor, supply = car.gear, car.motor, car.supply

    rolling = rolling_force_n(car.load, v, car.mass_kg, cycle.grade, day.temperature_c)
    air = air_force_n(car.load, v, day.headwind_m_s + cycle.headwind_m_s, day.air_kg_m3)
    slope = slope_force_n(car.mass_kg, cycle.grade)
    force = np.where(moves, rolling + air + slope + (car.mass_kg + car.rotating_kg) * change, 0.0)
    pull, push = np.maximum(force, 0.0), np.minimum(force, 0.0)

    per_m = gear.ratio / gear.radius_m
    rad_s = v * per_m
    drag = np.where(moves, gear.drag_nm, 0.0)
    most = limit_nm(motor, rad_s)
    fade = np.clip(
        (v - car.braking.ends_m_s) / np.maximum(car.braking.fades_m_s - car.braking.ends_m_s, 1e-9), 0.0, 1.0
    )
    held = np.maximum(car.braking.share * push, -car.braking.most_m_s2 * car.mass_kg) * fade
    held = np.maximum(held, -(most + drag) * per_m / gear.efficiency)
    driving = pull / (per_m * gear.efficiency) + drag
    braking = held * gear.efficiency / per_m + drag
    gives = braking * rad_s + loss_w(motor, braking, rad_s)
    idles = drag * rad_s + loss_w(motor, drag, rad_s)
    held = np.where(gives < idles, held, 0.0)
    torque = np.where(pull > 0.0, driving, np.where(held < 0.0, braking, drag))
    lost_motor = loss_w(motor, torque, rad_s)
    electric = torque * rad_s + lost_motor
    power = electric + day.aux_w
    volts = supply.open_v(charge)
    takes = np.minimum(supply.takes_w(charge), room_w(supply, volts))
    refused = np.maximum(-takes - power, 0.0)  # the pack takes no more: friction brakes do it
    power = power + refused

    amps = current_a(volts, supply.resistance_ohm, power)
    inside = volts * amps
    can = np.minimum(supply.gives_w(charge), most_w(volts, supply.resistance_ohm))

    def wh(watts: Array) -> Array:
        return np.asarray(np.broadcast_to(watts, (cars, len(dt))) @ dt / 3600.0)

    def seconds(when: NDArray[np.bool_]) -> Array:
        return np.asarray(np.broadcast_to(when, (cars, len(dt))) @ dt)

    at_road = np.where(pull > 0.0, pull, held) * v
    brakes, gears = (held - push) * v + refused, torque * rad_s - at_road
    motor_wh, pack_wh = wh(lost_motor), wh(inside - power)
    length = cycle.seconds
    return Spent(
        distance_m=np.full(cars, cycle.distance_m),
        seconds=np.full(cars, length),
        pull_wh=wh(pull * v),
        push_wh=wh(-push * v),
        rolling_wh=wh(np.where(moves, rolling, 0.0) * v),
        air_wh=wh(air * v),
        slope_wh=wh(slope * v),
        brakes_wh=wh(brakes),
        gear_wh=wh(gears),
        motor_wh=motor_wh,
        aux_wh=wh(np.asarray(day.aux_w, dtype=float) * np.ones_like(v)),
        pack_wh=pack_wh,
        terminal_wh=wh(power),
        inside_wh=wh(inside),
        back_wh=wh(np.maximum(-power, 0.0)),
        most_pull_w=np.broadcast_to(np.max(pull * v, axis=-1).reshape(-1), (cars,)).copy(),
        most_push_w=np.broadcast_to(np.max(-push * v, axis=-1).reshape(-1), (cars,)).copy(),
        motor_short_s=seconds((torque > most * (1.0 + 1e-9)) & (pull > 0.0)),
        pack_short_s=seconds(power > can),
        heat_motor_w=motor_wh * 3600.0 / length,
        heat_pack_w=pack_wh * 3600.0 / length,
    )
