"""From the builder's words to the numbers of a car and a day, and what was assumed for what they leave out."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.constants import g as gravity_m_s2

from halfshaft.build.catalogue import default
from halfshaft.build.catalogue.road import machine, pack_curve, road_curve, shape, tyre_kind
from halfshaft.build.left_out import left_out
from halfshaft.build.road import CarInput, MotorInput, PackInput, RoadInput
from halfshaft.build.weighed import WEIGHTS, Weighed
from halfshaft.checks import Assumed, Origin, Source
from halfshaft.pack.model import Pack
from halfshaft.road.air import air_density_kg_m3, pressure_pa
from halfshaft.road.band import Change, Spread, scale, shift
from halfshaft.road.cabin import Cabin
from halfshaft.road.car import Braking, Gear, Stance
from halfshaft.road.charge import Taper
from halfshaft.road.coastdown import CoastDown, Timed, both_ways_s, fit_coast_down
from halfshaft.road.from_pack import cold_of_pack, supply_of_pack
from halfshaft.road.inputs import Cold, Inputs, Number
from halfshaft.road.motor import Array, LossFit, Motor, fit_losses
from halfshaft.road.resistance import RoadLoad, from_drag, rolling_radius_m
from halfshaft.road.supply import Supply

_KMH = 1.0 / 3.6
# rows of defaults that no key of the build replaces
_ALWAYS = (
    "motor.heat_share", "pack.heat", "pack.warm_begins", "pack.warm_most", "socket.share", "road.humidity",
)  # fmt: skip
_DERIVED = Source(Origin.DERIVED, "docs/road.md")


@dataclass(frozen=True, eq=False)
class Told:
    """A car's numbers with how well they are known, and what the builder did not say."""

    inputs: Inputs
    spreads: tuple[Spread, ...]
    assumed: tuple[Assumed, ...]
    coast: CoastDown | None = None
    losses: LossFit | None = None


def told(
    car: CarInput,
    road: RoadInput,
    motor_map: str | None = None,
    pack: Pack | None = None,
    weighed: Weighed | None = None,
) -> Told:
    """The car and its day. `motor_map` is the text of the map that the build names; `pack` one worked by its modules,
    in the place of [car.pack]; `weighed` tells how well the mass is known.

    Raises ValueError in the builder's words where numbers contradict each other or the map cannot be read.
    """
    if car.mass_kg is None:
        raise ValueError("[car] does not say what it weighs: write mass, or [weights]")
    assumed = left_out(car, "car") + left_out(road, "road")
    load, coast, tyres, drag = _load(car, assumed)
    motor, losses = _motor(car.motor, motor_map, assumed)
    radius = car.wheel_radius_mm / 1000.0 if car.wheel_radius_mm is not None else rolling_radius_m(car.tyre or "")
    usual = {key: road_curve(f"pack.{key}") for key in ("energy", "resistance", "charge")}
    if pack is None:
        supply = supply_of(car.pack, assumed)
        cold = Cold(usual["energy"].points, usual["resistance"].points, usual["charge"].points)
        curves = tuple(usual.values())
    else:
        supply, cold, curves = supply_of_pack(pack), cold_of_pack(pack), (usual["energy"],)
    heater = road_curve(f"cabin.{car.cabin.heater}" if car.cabin.heater != "none" else "cabin.resistance")
    cooling = road_curve("cabin.cooling")
    for curve in (*curves, heater, cooling):
        assumed.append(Assumed(f"catalogue {curve.key}", curve.what, curve.source))
    for key in _ALWAYS:
        row = default(key)
        assumed.append(Assumed(f"catalogue {key}", f"{row.value:g} {row.unit}".strip(), row.source))
    cabin = Cabin(
        car.cabin.loss_w_k, car.cabin.fresh_m3_s, car.cabin.wanted_c,
        car.cabin.heater_w if car.cabin.heater != "none" else 0.0, car.cabin.cooler_w, heater.points, cooling.points,
        car.cabin.sun_w, car.cabin.warms_j_k,
    )  # fmt: skip
    inputs = Inputs(
        load=load,
        mass_kg=car.mass_kg + car.load_kg,
        rotating_share=car.rotating,
        motor=motor,
        gear=Gear(car.gear.ratio, car.gear.efficiency, car.gear.drag_nm, radius),
        braking=Braking(
            car.braking.share, car.braking.most_m_s2, car.braking.fades_kmh * _KMH, car.braking.ends_kmh * _KMH
        ),
        supply=supply,
        stance=Stance(car.wheelbase_mm / 1000.0, car.centre_height_mm / 1000.0, car.front_share, car.grip, car.driven),
        cabin=cabin,
        cold=cold,
        aux_w=car.aux_w,
        temperature_c=road.temperature_c,
        pack_c=road.pack_temperature_c,
        altitude_m=road.altitude_m,
        humidity=float(default("road.humidity").value),
        headwind_m_s=road.headwind_kmh * _KMH,
    )
    spreads = _spreads(car, road, tyres, drag, coast, _mass_spread(car, road, weighed, assumed))
    return Told(inputs, spreads, tuple(dict.fromkeys(assumed)), coast, losses)


def _mass_spread(car: CarInput, road: RoadInput, weighed: Weighed | None, assumed: list[Assumed]) -> float:
    """Spread of the mass as a share: as told, as the weights know it where they tell the mass, or the usual one."""
    if weighed is None or road.spread.given("mass") or car.mass_kg != weighed.empty.mass_kg:
        return road.spread.mass
    share = weighed.empty.mass_spread_kg / weighed.empty.mass_kg
    assumed[:] = [one for one in assumed if one.where != "road.spread.mass"]
    assumed.append(Assumed("road.spread.mass", f"{share:.2%}", WEIGHTS))
    return share


def _load(car: CarInput, assumed: list[Assumed]) -> tuple[RoadLoad, CoastDown | None, float | None, float | None]:
    """Road load, and the spreads of tyres and drag as shares where what it comes from tells them."""
    mass = (car.mass_kg or 0.0) + car.load_kg
    if car.coefficients is not None:
        told = car.coefficients
        return RoadLoad(told.a_n, told.b_n_s_m, told.c_n_s2_m2, told.mass_kg), None, None, None
    if car.coast_down is not None:
        day = car.coast_down
        times = tuple(
            Timed(
                run.from_kmh * _KMH,
                run.to_kmh * _KMH,
                run.there_s if run.back_s is None else both_ways_s(run.there_s, run.back_s),
                day.spread_s if run.back_s is None else day.spread_s / math.sqrt(2.0),
            )
            for run in day.runs
        )
        air = float(air_density_kg_m3(day.temperature_c, pressure_pa(day.altitude_m), 0.5))
        found = fit_coast_down(
            times, day.mass_kg, car.rotating * day.mass_kg, air_kg_m3=air, temperature_c=day.temperature_c
        )
        return found.load, found, None, None
    tyre = tyre_kind(car.tyre_kind)
    tyres: float | None = None
    drag: float | None = None
    rolling = car.rolling
    if rolling is None:
        rolling, tyres = tyre.rolling, tyre.spread
        assumed.append(Assumed("car.rolling", f"{rolling:g}", tyre.source))
    area = car.drag_area_m2
    if area is None:
        row = shape(car.shape) if car.shape is not None else None
        coefficient = car.drag
        if coefficient is None and row is not None:
            coefficient, drag = row.drag, row.spread
            assumed.append(Assumed("car.drag", f"{row.drag:g}", row.source))
        front = car.frontal_area_m2
        if front is None and car.width_mm is not None and car.height_mm is not None:
            fills = row.fills if row is not None else 0.82
            front = fills * car.width_mm * car.height_mm / 1e6
            assumed.append(Assumed("car.frontal_area", f"{front:.2f} m2", _DERIVED))
        if coefficient is None or front is None:
            raise ValueError("[car] does not say what air it pushes: write shape, width and height; or drag_area")
        area = coefficient * front
    return from_drag(mass, rolling, area, float(air_density_kg_m3(20.0))), None, tyres, drag


def _motor(told: MotorInput, motor_map: str | None, assumed: list[Assumed]) -> tuple[Motor, LossFit | None]:
    lasting = told.lasting_power_w
    if lasting is None:
        row = default("motor.lasting")
        lasting = float(row.value) * told.power_w
        assumed.append(Assumed("car.motor.lasting_power", f"{lasting / 1000.0:.0f} kW", row.source))
    if told.mass_kg is None:
        row = default("motor.mass_per_kw")
        kilos = float(row.value) * told.power_w / 1000.0
        assumed.append(Assumed("car.motor.mass", f"{kilos:.0f} kg", row.source))
    most = told.most_rpm * 2.0 * math.pi / 60.0
    if motor_map is not None:
        fit = _fitted(motor_map)
        return Motor(told.torque_nm, told.power_w, most, fit.kc, fit.ki, fit.kw, fit.c_w, lasting), fit
    usual = machine()
    size = told.torque_nm / usual.torque_nm
    numbers = {
        "copper": (told.copper, usual.copper / size), "iron": (told.iron, usual.iron * size),
        "windage": (told.windage, usual.windage * size), "fixed": (told.fixed_w, usual.fixed_w * size),
    }  # fmt: skip
    for key, (given, instead) in numbers.items():
        if given is None:
            assumed.append(Assumed(f"car.motor.{key}", f"{instead:.3g}", usual.source))
    kc, ki, kw, c = (instead if given is None else given for given, instead in numbers.values())
    return Motor(told.torque_nm, told.power_w, most, kc, ki, kw, c, lasting), None


@lru_cache(maxsize=32)
def _fitted(motor_map: str) -> LossFit:
    """Loss numbers of a map's text: many cars may share one."""
    return fit_losses(*read_motor_map(motor_map))


def supply_of(told: PackInput, assumed: list[Assumed] | None = None) -> Supply:
    """The pack of [car.pack]; what it leaves out is added to `assumed`.

    Raises ValueError where it has no energy or volts.
    """
    if told.energy_wh is None or told.volts_v is None:
        raise ValueError("[car.pack] has no energy or volts: write them, or [pack] with its modules")
    missing = assumed if assumed is not None else []
    row = pack_curve(told.curve)
    charge_ah = told.energy_wh / told.volts_v

    def usual(given: float | None, key: str, instead: float, shown: str, why: str) -> float:
        if given is not None:
            return given
        missing.append(Assumed(f"car.pack.{key}", shown, default(why).source))
        return instead

    cells = max(round(told.volts_v / row.cell_volts), 1)
    ohm = float(default("pack.resistance").value) * cells / charge_ah
    give = float(default("pack.discharge").value) * told.energy_wh
    take = float(default("pack.brake").value) * told.energy_wh
    amps = float(default("pack.charge").value) * charge_ah
    kilos = float(default("pack.mass_per_kwh").value) * told.energy_wh / 1000.0
    full = told.full_v
    if full is None:
        full = row.full * told.volts_v
        missing.append(Assumed("car.pack.full_volts", f"{full:.0f} V", row.source))
    if not told.given("curve"):
        missing.append(Assumed("car.pack.curve", row.name, row.source))
    mass = usual(told.mass_kg, "mass", kilos, f"{kilos:.0f} kg", "pack.mass_per_kwh")
    return Supply(
        told.energy_wh,
        told.volts_v,
        usual(told.resistance_ohm, "resistance", ohm, f"{1000.0 * ohm:.0f} mohm", "pack.resistance"),
        usual(told.discharge_w, "discharge_power", give, f"{give / 1000.0:.0f} kW", "pack.discharge"),
        usual(told.charge_w, "brake_power", take, f"{take / 1000.0:.0f} kW", "pack.brake"),
        row.curve,
        full,
        usual(told.charge_a, "charge_current", amps, f"{amps:.0f} A", "pack.charge"),
        mass * float(default("pack.heat").value),
    )


def taper_of(told: PackInput, supply: Supply) -> Taper:
    """What the pack takes at a fast charger, against charge and temperature."""
    share = road_curve("pack.charge").points
    most_c = share[-1][0]
    if told.fast:
        return Taper(watts=told.fast, share_by_c=share, most_c=most_c)
    amps = tuple((x, y * float(supply.charge_a)) for x, y in road_curve("pack.fast").points)
    return Taper(amps=amps, share_by_c=share, most_c=most_c)


def _coasted(coast: CoastDown) -> list[tuple[float, Spread]]:
    """The two ways in which a and c of a coast-down go astray: each on its own, though a and c are not.

    From the Cholesky factor of their covariance; b, where there is one, goes with a.
    """
    pick = np.ix_([0, 2], [0, 2])
    inner = coast.covariance[pick]
    scale_ = np.sqrt(np.maximum(np.diag(inner), 1e-18))
    factor = np.linalg.cholesky(inner / np.outer(scale_, scale_) + 1e-9 * np.eye(2)) * scale_[:, None]
    a, c = max(float(coast.load.a_n), 1e-3), max(float(coast.load.c_n_s2_m2), 1e-6)

    def change(column: int) -> Change:
        def of(inputs: Inputs, draw: Number) -> Inputs:
            return replace(
                inputs,
                tyres=np.maximum(inputs.tyres + factor[0, column] / a * np.asarray(draw), 0.05),
                drag=np.maximum(inputs.drag + factor[1, column] / c * np.asarray(draw), 0.05),
            )

        return of

    words = "tyres and drag, as the coast-down tells them"
    return [(1.0, Spread("coast_down", words, change(column))) for column in (0, 1)]


def _spreads(
    car: CarInput, road: RoadInput, tyres: float | None, drag: float | None, coast: CoastDown | None, mass: float
) -> tuple[Spread, ...]:
    """Inputs with their spreads; one that is known exactly is left out."""
    told = road.spread
    rolls = told.tyres if tyres is None or told.given("tyres") else tyres
    pushes = told.drag if drag is None or told.given("drag") else drag
    cold = road.temperature_c

    def braking(inputs: Inputs, draw: Number) -> Inputs:
        share = np.clip(np.asarray(inputs.braking.share * (1.0 + told.braking * np.asarray(draw))), 0.0, 1.0)
        return replace(inputs, braking=replace(inputs.braking, share=share))

    rows = [
        (mass, Spread("mass", f"mass ± {mass:.1%}", scale("mass_kg", mass))),
        (rolls, Spread("tyres", f"rolling resistance ± {rolls:.0%}", scale("tyres", rolls))),
        (pushes, Spread("drag", f"drag ± {pushes:.0%}", scale("drag", pushes))),
        (told.motor_losses, Spread("motor", f"motor losses ± {told.motor_losses:.0%}",
                                   scale("motor_losses", told.motor_losses))),
        (told.energy, Spread("energy", f"usable energy ± {told.energy:.0%}", scale("energy", told.energy))),
        (told.resistance, Spread("resistance", f"pack resistance ± {told.resistance:.0%}",
                                 scale("resistance", told.resistance))),
        (told.aux * car.aux_w, Spread("aux", f"lamps and pumps ± {told.aux:.0%}", scale("aux_w", told.aux))),
        (told.cabin, Spread("cabin", f"cabin heat and cold ± {told.cabin:.0%}", scale("cabin_power", told.cabin))),
        (told.braking * car.braking.share, Spread("braking", f"motor braking ± {told.braking:.0%}", braking)),
        (told.temperature_k, Spread("temperature", f"{cold:.0f} C ± {told.temperature_k:.0f} K",
                                    shift("temperature_c", told.temperature_k))),
        (told.wind_kmh, Spread("wind", f"wind ± {told.wind_kmh:.0f} km/h",
                               shift("headwind_m_s", told.wind_kmh * _KMH))),
    ]  # fmt: skip
    if coast is not None:
        rows = [row for row in rows if row[1].name not in ("tyres", "drag")] + _coasted(coast)
    return tuple(spread for size, spread in rows if size > 0.0)


def read_motor_map(text: str) -> tuple[Array, Array, Array]:
    """Speeds in rad/s, torques in Nm and efficiencies of a map: CSV with the columns rpm, Nm, efficiency (or %).

    Raises ValueError with the line and what to write.
    """
    lines = [(n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip()]
    lines = [(n, line) for n, line in lines if not line.lstrip().startswith("#")]
    write = "write 'rpm,Nm,efficiency' first, then a row a point"
    if len(lines) < 2:
        raise ValueError(f"the motor's map has no points: {write}")
    mark = ";" if ";" in lines[0][1] else ","
    head = [cell.strip().lower() for cell in lines[0][1].split(mark)]
    if len(head) < 3 or head[0] not in ("rpm", "1/min") or head[1] != "nm" or not head[2].startswith("eff"):
        raise ValueError(f"line {lines[0][0]}: the columns are {', '.join(head)}: {write}")
    table = []
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in line.split(mark)]
        try:
            row = [float(cell.replace(",", ".") if mark == ";" else cell) for cell in cells[:3]]
        except ValueError:
            row = []
        if len(row) < 3 or not all(math.isfinite(value) for value in row):
            raise ValueError(f"line {number}: '{line.strip()[:40]}' has no three numbers: {write}")
        table.append(row)
    rpm, torque, eta = np.array(table).T
    eta = eta / 100.0 if eta.max() > 1.0 else eta
    keep = (rpm > 0.0) & (torque > 0.0) & (eta > 0.0) & (eta < 1.0)
    return rpm[keep] * 2.0 * math.pi / 60.0, torque[keep], eta[keep]


def rolling_and_drag(load: RoadLoad) -> tuple[float, float]:
    """Rolling coefficient and drag area in m² that a road load amounts to."""
    return float(load.a_n) / (float(load.mass_kg) * gravity_m_s2), float(load.drag_area_m2)
