"""A long climb: motor and pack warm up as two lumps, and hold the power back as they get hot.

The motor sheds heat to its coolant, the pack to what surrounds it. Power is held back in a straight line from where
holding back begins to the highest temperature, where nothing is left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.road.car import Car, Day
from halfshaft.road.motor import Motor, loss_w
from halfshaft.road.sprint import motor_pull_n, pull_power_w, resists_n, top_speed_m_s

Array = NDArray[np.float64]

STEP_S = 2.0


@dataclass(frozen=True, slots=True)
class Lump:
    """One warm body: J/K, W/K to its surroundings, where holding back begins and where nothing is left."""

    heat_j_k: float
    loss_w_k: float
    around_c: float
    holds_back_c: float
    most_c: float

    def share(self, temperature_c: float) -> float:
        """Power left, 0 to 1."""
        return float(np.clip((self.most_c - temperature_c) / (self.most_c - self.holds_back_c), 0.0, 1.0))

    def after(self, temperature_c: float, heat_w: float, seconds: float) -> float:
        """Temperature after a time of constant heat: exact for one lump. Source: dT/dt = (Q - UA (T - Ta)) / C."""
        if self.loss_w_k <= 0.0:
            return temperature_c + heat_w * seconds / self.heat_j_k
        rest = self.around_c + heat_w / self.loss_w_k
        return float(rest + (temperature_c - rest) * np.exp(-self.loss_w_k * seconds / self.heat_j_k))


def loss_of_lasting_w_k(motor: Motor, most_c: float, around_c: float) -> float:
    """W/K that keep a motor just below its most at its lasting power, at the speed where full torque ends.

    Derived: what a maker's half-hour power says of its cooling where no more is told.
    """
    rad_s = float(motor.power_w) / float(motor.torque_nm)
    torque = float(motor.lasting_w) / rad_s
    return float(loss_w(motor, torque, rad_s)) / (most_c - around_c)


@dataclass(frozen=True, eq=False)
class Climb:
    """A climb as arrays (k,) over its moments, and what came of it."""

    grade: float
    time_s: Array
    distance_m: Array
    speed_m_s: Array
    motor_c: Array
    pack_c: Array
    charge: Array
    share: Array  # of the motor's power that heat leaves
    held_back_s: float  # when heat first holds the car under the speed wanted; infinite where it never does
    ended: str  # 'top', 'empty' or 'stands'


def climb(
    car: Car,
    day: Day,
    motor: Lump,
    pack: Lump,
    *,
    grade: float,
    length_m: float,
    speed_m_s: float,
    charge: float = 0.9,
    start_c: float | None = None,
) -> Climb:
    """One car up a slope at a wanted speed, or as fast as heat and power let it.

    Raises ValueError for a climb without length or speed.
    """
    if not (length_m > 0.0 and speed_m_s > 0.0):
        raise ValueError("a climb wants a length and a speed over nought")
    ambient = float(np.max(day.temperature_c))
    motor_c, pack_c = (motor.around_c, ambient) if start_c is None else (start_c, start_c)
    energy = float(car.supply.energy_wh) * 3600.0
    time, gone, held = 0.0, 0.0, float("inf")
    rows = []
    ended = "top"
    while gone < length_m:
        share = min(motor.share(motor_c), 1.0)
        left = pack.share(pack_c)
        spare = float(motor_pull_n(car, speed_m_s, day, charge, share * left)) - float(
            resists_n(car, speed_m_s, day, grade)
        )
        v = speed_m_s if spare >= 0.0 else float(top_speed_m_s(car, day, grade, charge, share * left)[0])
        v = min(v, speed_m_s)
        if v < speed_m_s and share * left < 1.0:
            held = min(held, time)
        rows.append((time, gone, v, motor_c, pack_c, charge, share * left))
        if v < 0.3:
            ended = "stands"
            break
        if charge <= 0.0:
            ended = "empty"
            break
        _, heat, amps = pull_power_w(car, v, grade, day, charge)
        dt = min(STEP_S, (length_m - gone) / v)
        resistance = float(car.supply.resistance_ohm)
        motor_c = motor.after(motor_c, float(heat[0]), dt)
        pack_c = pack.after(pack_c, float(amps[0]) ** 2 * resistance, dt)
        charge = max(charge - float(car.supply.open_v(charge)) * float(amps[0]) * dt / energy, 0.0)
        time, gone = time + dt, gone + v * dt
        if length_m - gone < 1e-6:
            rows.append((time, gone, v, motor_c, pack_c, charge, share * left))
            break
    t, s, v_s, m, p, c, h = np.array(rows).T
    return Climb(grade, t, s, v_s, m, p, c, h, held, ended)


def lasting_speed_m_s(car: Car, day: Day, motor: Lump, grade: float) -> float:
    """Speed held on a slope for ever: where the motor's heat and what it sheds meet short of holding back.

    By halving over speed; the car's top speed there where heat does not bound it.
    """
    top = float(top_speed_m_s(car, day, grade)[0])
    bound = motor.loss_w_k * (motor.holds_back_c - motor.around_c)
    if top <= 0.0 or float(pull_power_w(car, top, grade, day)[1][0]) <= bound:
        return top
    low, high = 0.0, top
    for _ in range(50):
        middle = 0.5 * (low + high)
        if float(pull_power_w(car, max(middle, 1e-3), grade, day)[1][0]) <= bound:
            low = middle
        else:
            high = middle
    return low
