"""What holds a car back on the road: coefficients, or tyres and drag area, in; force at the wheels out."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g as gravity_m_s2
from scipy.constants import lbf, mph

from halfshaft.build.tyre import free_size_mm

Array = NDArray[np.float64]
Number = float | Array

# UN GTR No. 15, annex 4, 4.5.2: rolling resistance falls by this share a kelvin over 20 C
ROLLING_PER_K = 8.6e-3
LEAST_ROLLING = 0.5  # of that at 20 C: the straight line of the regulation is not used beyond 78 C


@dataclass(frozen=True, eq=False)
class RoadLoad:
    """Force = a + b v + c v² on the flat in still air; numbers, or arrays of one shape for many cars.

    a and b are of tyres and driveline and go with the mass; c is of air. All hold at the mass, the density of air and
    the temperature told with them.
    """

    a_n: Number
    b_n_s_m: Number
    c_n_s2_m2: Number
    mass_kg: Number
    air_kg_m3: Number = 1.2
    temperature_c: Number = 20.0

    def __post_init__(self) -> None:
        wrong = [f.name for f in fields(self) if not np.all(np.isfinite(getattr(self, f.name)))]
        wrong += [n for n in ("a_n", "c_n_s2_m2") if np.any(np.asarray(getattr(self, n)) < 0.0)]
        wrong += [n for n in ("mass_kg", "air_kg_m3") if np.any(np.asarray(getattr(self, n)) <= 0.0)]
        if wrong:
            raise ValueError(f"road load: a number that cannot be, in {', '.join(dict.fromkeys(wrong))}")
        if pushes(self.a_n, self.b_n_s_m, self.c_n_s2_m2):
            raise ValueError("road load: a, b and c would push the car at some speed: look at the sign and unit of b")

    @property
    def drag_area_m2(self) -> Number:
        """Drag coefficient times frontal area, as far as c tells it."""
        return 2.0 * self.c_n_s2_m2 / self.air_kg_m3

    @property
    def rolling(self) -> Number:
        """Rolling coefficient, as far as a tells it."""
        return self.a_n / (self.mass_kg * float(gravity_m_s2))


def pushes(a_n: Number, b_n_s_m: Number, c_n_s2_m2: Number) -> bool:
    """Whether a + b v + c v² falls below nought at any speed: the least of it is a - b² / 4c, at v = -b / 2c."""
    a, b, c = (np.asarray(value, dtype=float) for value in (a_n, b_n_s_m, c_n_s2_m2))
    least = a - b * b / np.maximum(4.0 * c, 1e-12)
    return bool(np.any((b < 0.0) & (least < 0.0)))


def from_drag(
    mass_kg: Number, rolling: Number, drag_area_m2: Number, air_kg_m3: Number = 1.2, temperature_c: Number = 20.0
) -> RoadLoad:
    """Road load of rolling coefficient and drag area: a = m g rolling, c = rho CdA / 2."""
    a, c = mass_kg * gravity_m_s2 * rolling, 0.5 * air_kg_m3 * drag_area_m2
    return RoadLoad(a, 0.0 * a, c, mass_kg, air_kg_m3, temperature_c)


def from_pounds(a_lbf: Number, b_lbf_mph: Number, c_lbf_mph2: Number, mass_kg: Number) -> RoadLoad:
    """Road load from coefficients in lbf, lbf/mph and lbf/mph², as test reports of the USA print them."""
    return RoadLoad(a_lbf * lbf, b_lbf_mph * lbf / mph, c_lbf_mph2 * lbf / mph**2, mass_kg)


def rolling_factor(temperature_c: ArrayLike, reference_c: ArrayLike = 20.0) -> Array:
    """How much more rolling resistance there is than at `reference_c`. Source: UN GTR No. 15, annex 4, 4.5.2."""

    def of(t: ArrayLike) -> Array:
        return np.maximum(1.0 + ROLLING_PER_K * (20.0 - np.asarray(t, dtype=float)), LEAST_ROLLING)

    return np.asarray(of(temperature_c) / of(reference_c))


def rolling_force_n(
    load: RoadLoad, speed_m_s: ArrayLike, mass_kg: ArrayLike, grade: ArrayLike = 0.0, temperature_c: ArrayLike = 20.0
) -> Array:
    """Force of tyres and driveline, N; `grade` is rise over run. At rest it holds still and counts as nought."""
    v = np.asarray(speed_m_s, dtype=float)
    flat = np.cos(np.arctan(np.asarray(grade, dtype=float)))
    share = np.asarray(mass_kg) / load.mass_kg * rolling_factor(temperature_c, load.temperature_c)
    force = (load.a_n + load.b_n_s_m * v) * share * flat
    return np.asarray(np.where(v > 0.0, force, 0.0))


def air_force_n(
    load: RoadLoad, speed_m_s: ArrayLike, headwind_m_s: ArrayLike = 0.0, air_kg_m3: ArrayLike = 1.2
) -> Array:
    """Force of the air, N: with c on speed through the air, backward where the wind pushes harder than the car goes."""
    through = np.asarray(speed_m_s, dtype=float) + np.asarray(headwind_m_s, dtype=float)
    return np.asarray(load.c_n_s2_m2 * (np.asarray(air_kg_m3) / load.air_kg_m3) * through * np.abs(through))


def slope_force_n(mass_kg: ArrayLike, grade: ArrayLike) -> Array:
    """Weight along the slope, N; `grade` is rise over run."""
    return np.asarray(np.asarray(mass_kg) * gravity_m_s2 * np.sin(np.arctan(np.asarray(grade, dtype=float))))


def force_n(
    load: RoadLoad,
    speed_m_s: ArrayLike,
    *,
    mass_kg: ArrayLike | None = None,
    grade: ArrayLike = 0.0,
    headwind_m_s: ArrayLike = 0.0,
    air_kg_m3: ArrayLike | None = None,
    temperature_c: ArrayLike | None = None,
) -> Array:
    """Force at the wheels at a steady speed, N. What is not told is as the coefficients were found."""
    mass = load.mass_kg if mass_kg is None else mass_kg
    rolls = rolling_force_n(
        load, speed_m_s, mass, grade, load.temperature_c if temperature_c is None else temperature_c
    )
    air = air_force_n(load, speed_m_s, headwind_m_s, load.air_kg_m3 if air_kg_m3 is None else air_kg_m3)
    return rolls + air + slope_force_n(mass, grade)


def rotating_mass_kg(wheels_kg_m2: Number, rotor_kg_m2: Number, ratio: Number, radius_m: Number) -> Number:
    """Mass that resists like the wheels and the rotor: (sum Jw + Jm ratio²) / r². Source: elementary mechanics."""
    return (wheels_kg_m2 + rotor_kg_m2 * ratio**2) / radius_m**2


_ROLL = 0.965  # of a free tyre's circumference; common practice, 0.96 to 0.97, no published source


def rolling_radius_m(tyre: str) -> float:
    """Radius by which a tyre rolls, from its marking '165/80R15' (82 % high where not told, '165 R15').

    Free diameter is rim + 2 width x height, ISO 4000-1; it rolls on 0.965 of its circumference (common practice).
    Raises ValueError with what to write.
    """
    return 0.5 * _ROLL * free_size_mm(tyre)[0] / 1000.0
