"""The numbers of a car and a day, side by side and easy to vary: numbers or arrays in, a car and its day out."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from halfshaft.road.air import air_density_kg_m3, pressure_pa
from halfshaft.road.cabin import Cabin, cabin_power_w, warm_up_wh
from halfshaft.road.car import Braking, Car, Day, Gear, Stance
from halfshaft.road.motor import Motor
from halfshaft.road.resistance import RoadLoad
from halfshaft.road.supply import Chill, Supply, chilled

Array = NDArray[np.float64]
Number = float | Array
Curve = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Cold:
    """Shares of a pack against its temperature: energy, current it takes, power it gives, power it takes (as the
    current where empty); times its resistance.
    """

    energy: Curve = ((25.0, 1.0),)
    resistance: Curve = ((25.0, 1.0),)
    charge: Curve = ((25.0, 1.0),)
    discharge: Curve = ((25.0, 1.0),)
    charge_power: Curve = ()

    def at(self, temperature_c: Number) -> Chill:
        t = np.asarray(temperature_c, dtype=float)

        def of(curve: Curve) -> Array:
            x, y = np.array(curve).T
            return np.asarray(np.interp(t, x, y))

        takes = of(self.charge_power) if self.charge_power else None
        return Chill(of(self.energy), of(self.resistance), of(self.charge), of(self.discharge), takes)


@dataclass(frozen=True, eq=False)
class Inputs:
    """One car and day, or many where a number is an array (n,). `tyres`, `air` and `motor_losses` are factors on what
    the road load and the motor say, for spreads and for what-if.
    """

    load: RoadLoad
    mass_kg: Number
    rotating_share: Number
    motor: Motor
    gear: Gear
    braking: Braking
    supply: Supply
    stance: Stance
    cabin: Cabin
    cold: Cold
    aux_w: Number = 0.0
    temperature_c: Number = 20.0
    pack_c: Number | None = None  # as the day where not told
    altitude_m: Number = 0.0
    humidity: float = 0.5
    headwind_m_s: Number = 0.0
    tyres: Number = 1.0
    drag: Number = 1.0
    motor_losses: Number = 1.0
    resistance: Number = 1.0
    energy: Number = 1.0
    cabin_power: Number = 1.0


def assemble(told: Inputs) -> tuple[Car, Day]:
    """The car as it is on that day, and the day."""
    load = replace(
        told.load,
        a_n=told.load.a_n * told.tyres,
        b_n_s_m=told.load.b_n_s_m * told.tyres,
        c_n_s2_m2=told.load.c_n_s2_m2 * told.drag,
    )
    one = told.motor
    k = told.motor_losses
    motor = replace(one, kc=one.kc * k, ki=one.ki * k, kw=one.kw * k, c_w=one.c_w * k)
    pack_c = told.temperature_c if told.pack_c is None else told.pack_c
    supply = replace(
        told.supply,
        energy_wh=told.supply.energy_wh * told.energy,
        resistance_ohm=told.supply.resistance_ohm * told.resistance,
    )
    supply = chilled(supply, told.cold.at(pack_c))
    car = Car(
        load, told.mass_kg, told.mass_kg * told.rotating_share, motor, told.gear, told.braking, supply, told.stance
    )
    air = air_density_kg_m3(told.temperature_c, pressure_pa(told.altitude_m), told.humidity)
    aux = told.aux_w + told.cabin_power * cabin_power_w(told.cabin, told.temperature_c)
    once = told.cabin_power * warm_up_wh(told.cabin, told.temperature_c)
    day = Day(told.temperature_c, _plain(air), told.headwind_m_s, _plain(aux), _plain(once))
    return _whole(car), day


def _plain(value: Array) -> Number:
    """A number where the array holds but one."""
    return float(value) if value.ndim == 0 else value


def _whole(car: Car) -> Car:
    supply = car.supply
    plain: dict[str, Any] = {
        f.name: _plain(v) for f in fields(supply) if isinstance(v := getattr(supply, f.name), np.ndarray)
    }
    return replace(car, supply=replace(supply, **plain))
