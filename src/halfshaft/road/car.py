"""A car on the road as plain values, one car or many at once."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from halfshaft.road.motor import Motor
from halfshaft.road.resistance import RoadLoad
from halfshaft.road.supply import Supply

Array = NDArray[np.float64]
Number = float | Array
T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Gear:
    """From motor to road: overall ratio, efficiency of the mesh, drag of the oil at the motor, rolling radius."""

    ratio: Number
    efficiency: Number
    drag_nm: Number
    radius_m: Number


@dataclass(frozen=True, eq=False)
class Braking:
    """How much of the braking the motor does: at most `share` of it and `most_m_s2`, fading out between two speeds."""

    share: Number
    most_m_s2: Number
    fades_m_s: Number  # full above this ...
    ends_m_s: Number  # ... none below this


@dataclass(frozen=True, eq=False)
class Stance:
    """Where the weight stands: for grip. `front` is the front axle's share; `driven` the axles that pull."""

    wheelbase_m: Number
    height_m: Number
    front: Number
    grip: Number
    driven: str = "rear"


@dataclass(frozen=True, eq=False)
class Car:
    """Numbers may be arrays (n,) for n cars; all arrays of one car have one length."""

    load: RoadLoad
    mass_kg: Number  # as driven, load and people in it
    rotating_kg: Number  # mass that wheels and rotor seem to add
    motor: Motor
    gear: Gear
    braking: Braking
    supply: Supply
    stance: Stance


@dataclass(frozen=True, eq=False)
class Day:
    """The day it is driven on, and what is switched on; numbers or arrays as in a car."""

    temperature_c: Number = 20.0
    air_kg_m3: Number = 1.2041  # dry, 20 C, sea level
    headwind_m_s: Number = 0.0
    aux_w: Number = 0.0  # everything that is not the motor, cabin included
    once_wh: Number = 0.0  # spent once a drive: warming the cabin through


def count(*values: object) -> int:
    """How many cars the values tell of: the length of their arrays, 1 where there is none.

    Raises ValueError where arrays differ in length.
    """
    sizes = {size for value in values for size in _sizes(value)} - {1}
    if len(sizes) > 1:
        raise ValueError(f"many cars at once want arrays of one length; found {', '.join(map(str, sorted(sizes)))}")
    return sizes.pop() if sizes else 1


def _sizes(value: object) -> set[int]:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {size for f in dataclasses.fields(value) for size in _sizes(getattr(value, f.name))}
    return {len(value)} if isinstance(value, np.ndarray) and value.ndim == 1 else set()


def columns(value: T, part: slice = slice(None)) -> T:
    """The same values with every array (n,) cut to `part` and stood up as (n, 1), to meet the steps of a cycle."""

    def stood(one: object) -> object:
        if dataclasses.is_dataclass(one) and not isinstance(one, type):
            return dataclasses.replace(one, **{f.name: stood(getattr(one, f.name)) for f in dataclasses.fields(one)})
        if isinstance(one, np.ndarray) and one.ndim == 1:
            return (one if len(one) == 1 else one[part])[:, None]
        return one

    return stood(value)  # type: ignore[return-value]
