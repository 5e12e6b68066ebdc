"""From the builder's words to what the loads are made of: [mounts] and the outputs in; driveline, axle, cases out."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import mount_load
from halfshaft.build.mounts import MountsInput
from halfshaft.build.road import CarInput
from halfshaft.build.weighed import WEIGHTS, Weighed, as_weighed
from halfshaft.checks import Assumed, Origin, Source
from halfshaft.mounts.crash import crash_cases
from halfshaft.mounts.grip import DrivenAxle
from halfshaft.mounts.loads import Case, Cases, Driveline, field_case, load_numbers, pulled_at, usual_cases
from halfshaft.mounts.shake import Band, shaft_band, wheel_hop

Array = NDArray[np.float64]

_NMM = 1000.0
_NUMBERS = {
    "bump_g": "bump", "rebound_g": "rebound", "braking_g": "braking", "cornering_g": "cornering", "towing_g": "towing",
    "lift_tilt_deg": "lift_tilt_deg", "lift_jerk": "lift_jerk", "shock": "shock", "friction": "friction",
    "efficiency": "efficiency",
}  # fmt: skip


def or_row(told: object, key: str, row_name: str, assumed: list[Assumed]) -> object:
    """A value as told, else the catalogue's, which is then added to `assumed`."""
    if told is not None:
        return told
    row = mount_load(row_name)
    assumed.append(Assumed(f"mounts.{key}", f"{row.value} {row.unit}".strip(), row.source))
    return row.value


def of_car(
    told: MountsInput, car: CarInput | None, weighed: Weighed | None = None
) -> tuple[MountsInput, tuple[Assumed, ...]]:
    """[mounts] with what it leaves to [car] and to the weights: torque, ratio and losses, masses, wheelbase, heights,
    the driven axle. What [car] tells comes before what was weighed.
    """
    if car is None:
        return _of_weights(told, weighed)
    car, from_weights = as_weighed(car, weighed)
    worked = {one.where.removeprefix("car.") for one in from_weights}
    mass = None if car.mass_kg is None else car.mass_kg + car.load_kg
    rear = car.driven == "rear" if told.axle is None else told.axle == "rear"
    share = (1.0 - car.front_share) if rear else car.front_share
    found: dict[str, object] = {
        "car_mass_kg": mass,
        "axle_mass_kg": share * mass if mass is not None and car.given("front_share") else None,
        "wheelbase_mm": car.wheelbase_mm if car.given("wheelbase_mm") else None,
        "cog_height_mm": car.centre_height_mm if car.given("centre_height_mm") else None,
        "wheel_radius_mm": car.wheel_radius_mm,
        "axle": car.driven if car.driven != "all" else None,
    }
    if told.axle_torque_nm is None:
        efficiency = car.gear.efficiency if car.gear.given("efficiency") else None
        found |= {"motor_torque_nm": car.motor.torque_nm, "ratio": car.gear.ratio, "efficiency": efficiency}
    from_car = Source(Origin.BUILDER, "[car]")
    sources = {key: WEIGHTS if worked & set(_FROM[key]) else from_car for key in _FROM}
    return _filled(told, found, sources, from_car)


# what each number of [mounts] hangs on in [car], by the words there
_FROM = {
    "car_mass_kg": ("mass", "load"), "axle_mass_kg": ("mass", "load", "front_share"), "wheelbase_mm": ("wheelbase",),
    "cog_height_mm": ("centre_height",),
}  # fmt: skip


def _of_weights(told: MountsInput, weighed: Weighed | None) -> tuple[MountsInput, tuple[Assumed, ...]]:
    """[mounts] without a [car]: masses, wheelbase and height as weighed, laden where a load is told."""
    if weighed is None:
        return told, ()
    stands = weighed.laden or weighed.empty
    rear = (told.axle or str(mount_load("car.axle").value)) == "rear"
    share = (1.0 - stands.front_share) if rear else stands.front_share
    found: dict[str, object] = {
        "car_mass_kg": stands.mass_kg, "axle_mass_kg": share * stands.mass_kg, "wheelbase_mm": weighed.wheelbase_mm,
        "cog_height_mm": stands.height_mm,
    }  # fmt: skip
    return _filled(told, found, {}, WEIGHTS)


def _filled(
    told: MountsInput, found: Mapping[str, object], sources: Mapping[str, Source], usual: Source
) -> tuple[MountsInput, tuple[Assumed, ...]]:
    """What [mounts] leaves out and was found elsewhere, and each with where from."""
    taken = {key: value for key, value in found.items() if value is not None and getattr(told, key) is None}
    listed = []
    for key, value in taken.items():
        name = MountsInput.model_fields[key].alias or key
        words = f"{value:.4g}" if isinstance(value, float) else str(value)
        listed.append(Assumed(f"mounts.{name}", words, sources.get(key, usual)))
    return told.model_copy(update=taken), tuple(listed)


def driveline_of(told: MountsInput, along: Array | None) -> tuple[Driveline, tuple[Assumed, ...]]:
    """What twists the unit; `along` (3,) is the axis of its outputs, to the left where None.

    A torque told at the axle is one of a motor of ratio one.
    """
    assumed: list[Assumed] = []
    motor = told.axle_torque_nm if told.axle_torque_nm is not None else told.motor_torque_nm
    ratio = 1.0 if told.axle_torque_nm is not None else told.ratio
    if motor is None or ratio is None:
        raise ValueError("no torque is told")
    for key, value in (
        ("regeneration_torque", told.regeneration_torque_nm),
        ("reverse_torque", told.reverse_torque_nm),
    ):
        if value is None:
            assumed.append(Assumed(f"mounts.{key}", f"{motor:g} Nm", Source(Origin.DERIVED, "as in forward drive")))
    drive = Driveline(motor, ratio, told.regeneration_torque_nm, told.reverse_torque_nm, along, told.park_lock)
    return drive, tuple(assumed)


def axle_of(told: MountsInput) -> tuple[DrivenAxle, tuple[Assumed, ...]]:
    """The axle that the unit drives and the car about it. Raises ValueError for numbers that belong to no car."""
    assumed: list[Assumed] = []
    end = or_row(told.axle, "axle", "car.axle", assumed)
    car, axle = told.car_mass_kg, told.axle_mass_kg
    if car is None and axle is not None:
        car = max(float(mount_load("car.mass").value), axle)
        assumed.append(Assumed("mounts.car_mass", f"{car:g} kg", mount_load("car.mass").source))
    if axle is None and car is not None:
        axle = min(float(mount_load("car.axle_mass").value), car)
        assumed.append(Assumed("mounts.axle_mass", f"{axle:g} kg", mount_load("car.axle_mass").source))
    numbers = [
        float(str(or_row(value, key, f"car.{row}", assumed)))
        for value, key, row in (
            (axle, "axle_mass", "axle_mass"), (car, "car_mass", "mass"), (told.wheelbase_mm, "wheelbase", "wheelbase"),
            (told.cog_height_mm, "cog_height", "cog_height"), (told.wheel_radius_mm, "wheel_radius", "wheel_radius"),
        )
    ]  # fmt: skip
    on_axle, whole, wheelbase, height, radius = numbers
    return DrivenAxle(
        "front" if end == "front" else "rear", on_axle, whole, wheelbase, height, radius, told.other_axle_pulls
    ), tuple(assumed)


def cases_of(
    told: MountsInput, drive: Driveline, mass_kg: float, centre_mm: Array, spots: Mapping[str, Array]
) -> Cases:
    """The whole table: everyday and hard cases, those of a crash, then the builder's own.

    `spots` holds, for own cases with a force, where it pulls (3,), root axes. Raises ValueError in words.
    """
    given = {n: v for n, key in _NUMBERS.items() if (v := getattr(told, key)) is not None}
    if told.axle_torque_nm is not None:
        given.setdefault("efficiency", 1.0)  # the losses are before the axle
    numbers, assumed = load_numbers(**given)
    axle, more = axle_of(told)
    found: list[Assumed] = [
        Assumed(one.where.removesuffix("_g").removesuffix("_deg"), one.value, one.source) for one in assumed
    ]
    vehicle = str(or_row(told.vehicle_class, "class", "car.class", found))
    own = [*crash_cases(mass_kg, vehicle), *(_own(told, name, drive, mass_kg, centre_mm, spots) for name in told.case)]
    return usual_cases(drive, axle, mass_kg, numbers, own, (*more, *found))


def _own(
    told: MountsInput, name: str, drive: Driveline, mass_kg: float, centre_mm: Array, spots: Mapping[str, Array]
) -> Case:
    wish = told.case[name]
    source = Source(Origin.BUILDER, f"mounts.case.{name}")
    moment = -wish.axle_torque_nm * _NMM * drive.along
    case = field_case(name, mass_kg, wish.felt_g, wish.kind, source, moment, words=wish.what)
    if not any(wish.force_n):
        return case
    return pulled_at(case, name, wish.force_n, spots.get(name, centre_mm), centre_mm, source)


def unit_cases(drive: Driveline, mass_kg: float, numbers_source: Source) -> dict[str, Case]:
    """The unit cases that a duty is made of, each from rest: whole drive torque, one g forward, left, down besides."""
    still = np.array([0.0, 0.0, -1.0])
    torque = drive.motor_torque_nm * drive.ratio * _NMM
    plain = {
        "rest": still,
        "longitudinal": np.array([-1.0, 0.0, -1.0]),
        "lateral": np.array([0.0, -1.0, -1.0]),
    }
    out = {
        name: field_case(name, mass_kg, field, "everyday", numbers_source)
        for name, field in (*plain.items(), ("vertical", 2.0 * still))
    }
    out["torque"] = field_case("torque", mass_kg, still, "everyday", numbers_source, -torque * drive.along)
    return out


def bands_of(told: MountsInput) -> tuple[Band, ...]:
    """What shakes the unit: the wheels' hop, and where the cruising speed is told, the rotor and the half-shafts."""
    bands = [wheel_hop()]
    if told.motor_speed_rpm is not None:
        low, high = told.motor_speed_rpm
        bands.append(shaft_band("motor, once a turn", low, high))
        if told.ratio is not None:
            ratio = told.ratio
            bands.append(shaft_band("half-shafts, twice a turn", low / ratio, high / ratio, 2.0))
    return tuple(bands)
