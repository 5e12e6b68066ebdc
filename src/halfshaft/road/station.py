"""The road station: [car], [road] and the files they name in, a Road out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.build.catalogue.road import CYCLES
from halfshaft.build.road import CarInput, ChargerInput, ClimbInput, RoadInput
from halfshaft.build.weighed import Weighed, as_weighed
from halfshaft.checks import Check
from halfshaft.pack.model import Pack
from halfshaft.progress import Progress, within
from halfshaft.road.air import air_density_kg_m3, pressure_pa
from halfshaft.road.band import Band, band
from halfshaft.road.car import Car, Day
from halfshaft.road.charge import Charging, Onboard, Socket, Station, Taper, Warmth, from_station, from_wall
from halfshaft.road.climb import Climb, Lump, climb, lasting_speed_m_s, loss_of_lasting_w_k
from halfshaft.road.curves import Curve, over_speed, over_temperature
from halfshaft.road.cycles import Cycle, named, read_cycle, steady
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.model import PARTS, Drive, Kind, Plug, Pull, Road, Weather
from halfshaft.road.reach import reach
from halfshaft.road.route import Route, drive, read_gpx
from halfshaft.road.sprint import hold_grade, sprint, start_grade
from halfshaft.road.supply import Supply, current_a
from halfshaft.road.told import Told, rolling_and_drag, taper_of, told
from halfshaft.road.verdict import charging_checks, drive_checks, mass_checks, pull_checks, refused, source_checks

_KMH = 1.0 / 3.6
TEMPERATURES_C = np.arange(-20.0, 41.0, 5.0)
BAND_C = np.arange(-20.0, 41.0, 10.0)  # where the band round the range against temperature is worked
SPEEDS_KMH = np.arange(20.0, 161.0, 10.0)
SAMPLES = 256
COLD_C = -10.0


def files_of(car: CarInput, road: RoadInput) -> tuple[str, ...]:
    """Names of the files beside build.toml that the station wants the text of."""
    wanted = [name for name in road.cycles if name.lower().endswith(".csv")]
    wanted += [route.file for route in road.route.values()]
    if car.motor.map is not None:
        wanted.append(car.motor.map)
    return tuple(dict.fromkeys(wanted))


def on_road(
    car: CarInput,
    road: RoadInput,
    texts: Mapping[str, str],
    seed: int,
    progress: Progress | None = None,
    pack: Pack | None = None,
    weighed: Weighed | None = None,
) -> Road:
    """All the road says of one car. `texts` holds the files that `files_of` names; `pack` is one worked by its modules;
    `weighed` the car as its weights were worked, for what [car] leaves out. Raises ValueError where nobody weighed it.

    A file that cannot be read becomes a check that stops, and the rest is worked without it.
    """
    tell = within(progress, 0.0, 1.0, "road")
    checks: list[Check] = []
    said = car.mass_kg
    car, from_weights = as_weighed(car, weighed)
    numbers = _told(car, road, texts, pack, weighed, checks)
    numbers = replace(numbers, assumed=(*numbers.assumed, *from_weights))
    inputs = numbers.inputs
    onboard = onboard_of(car.charger)
    eta = wall_share(inputs.supply, onboard)

    cycles = _cycles(road, texts, checks)
    drives: list[Drive] = []
    for number, (cycle, kind, climbs) in enumerate(cycles):
        tell(0.6 * number / len(cycles), cycle.name)
        drives.append(_drive(numbers, cycle, kind, eta, seed, climbs))
    tell(0.6, "pull")
    here, now = assemble(inputs)
    pull = _pull(inputs, here, now)
    tell(0.7, "weather")
    first = next((cycle for cycle, kind, _ in cycles if kind != "steady"), None)
    weather = _weather(inputs, first, road) if first is not None else None
    by_speed, by_day = _curves(numbers, first, pull, seed)
    tell(0.8, "climb")
    up, lasting = _climb(car, inputs, road.climb)
    tell(0.9, "charging")
    far = next((d.range_m for d in drives if d.kind != "steady"), drives[0].range_m if drives else 0.0)
    plugs = _plugs(car, road, inputs, onboard, far)

    checks += source_checks(numbers)
    checks += mass_checks(said, weighed)
    checks += drive_checks(road, drives)
    checks += pull_checks(road, here, pull, up, lasting)
    checks += charging_checks(car, road, plugs)
    rolling, area = rolling_and_drag(inputs.load)
    return Road(
        inputs, rolling, area, numbers.coast, tuple(drives), pull, weather, up, lasting, tuple(plugs), tuple(checks),
        numbers.assumed, by_speed, by_day,
    )  # fmt: skip


def _curves(numbers: Told, first: Cycle | None, pull: Pull, seed: int) -> tuple[Curve | None, Curve | None]:
    """Range against the speeds that the car reaches, and against the day's temperature."""
    speeds = SPEEDS_KMH[pull.top_m_s >= SPEEDS_KMH * _KMH] * _KMH
    by_day = None if first is None else over_temperature(numbers.inputs, numbers.spreads, first, BAND_C, seed)
    return over_speed(numbers.inputs, numbers.spreads, speeds, seed), by_day


def _told(
    car: CarInput,
    road: RoadInput,
    texts: Mapping[str, str],
    pack: Pack | None,
    weighed: Weighed | None,
    checks: list[Check],
) -> Told:
    motor_map = texts.get(car.motor.map) if car.motor.map is not None else None
    try:
        return told(car, road, motor_map, pack, weighed)
    except ValueError as why:
        if motor_map is None:
            raise
        checks.append(refused(f"motor's map {car.motor.map}", "The map cannot be used", f"{why}."))
        return told(car, road, None, pack, weighed)


def onboard_of(charger: ChargerInput | None) -> Onboard | None:
    if charger is None:
        return None
    return Onboard(charger.power_w, charger.current_a, charger.phases, charger.efficiency)


def wall_share(supply: Supply, onboard: Onboard | None) -> float:
    """Share of the energy from the wall that is stored: the charger's, times U / (U + I R) of the pack at its power."""
    if onboard is None:
        return float(default("charger.efficiency").value)
    volts = float(supply.open_v(0.5))
    power = onboard.most_w * onboard.efficiency
    amps = -float(current_a(volts, float(supply.resistance_ohm), -power))
    return onboard.efficiency * volts / (volts + amps * float(supply.resistance_ohm))


def _cycles(
    road: RoadInput, texts: Mapping[str, str], checks: list[Check]
) -> list[tuple[Cycle, Kind, tuple[float, float]]]:
    """What is driven, in order: cycles, ways, steady speeds; with metres up and down."""
    found: list[tuple[Cycle, Kind, tuple[float, float]]] = []
    for name in dict.fromkeys(road.cycles):
        if name in texts:
            try:
                found.append((read_cycle(texts[name], name.removesuffix(".csv")), "cycle", (0.0, 0.0)))
            except ValueError as why:
                checks.append(refused(f"cycle {name}", "The cycle cannot be used", f"{why}."))
        elif name.strip().lower().replace(" ", "-").replace("_", "-") in CYCLES:
            found.append((named(name), "cycle", (0.0, 0.0)))
    for name, wish in road.route.items():
        if wish.file not in texts:
            continue
        try:
            route = read_gpx(texts[wish.file], name)
            cycle = drive(
                route,
                wish.speed_kmh * _KMH,
                stops_per_km=wish.stops_per_km,
                wind_m_s=wish.wind_kmh * _KMH,
                wind_from_deg=wish.wind_from_deg,
                there_and_back=wish.back,
            )
        except ValueError as why:
            checks.append(refused(f"way {name}, {wish.file}", "The way cannot be used", f"{why}."))
            continue
        if not route.has_heights:
            checks.append(
                refused(
                    f"way {name}", "The way has no heights", "It is taken as flat: save it with heights.", stop=False
                )
            )
        found.append((cycle, "way", _heights(route, wish.back)))
    found += [(steady(speed * _KMH), "steady", (0.0, 0.0)) for speed in dict.fromkeys(road.speeds_kmh)]
    return found


def _heights(route: Route, back: bool) -> tuple[float, float]:
    up, down = route.up_m, route.down_m
    return (up + down, up + down) if back else (up, down)


def _drive(numbers: Told, cycle: Cycle, kind: Kind, eta: float, seed: int, climbs: tuple[float, float]) -> Drive:
    car, day = assemble(numbers.inputs)
    found = reach(car, cycle, day)
    one = found.spent
    way = float(one.distance_m[0])
    spread: Band | None = None
    if kind != "steady" and np.isfinite(found.range_m[0]):
        spread = band(numbers.inputs, cycle, numbers.spreads, seed, SAMPLES)
    used = float(found.wh_km[0]) / 1000.0
    far = float(found.range_m[0])
    # what empties the pack must come back through its resistance, not only what leaves its terminals
    refill = float(car.supply.energy_wh) / far if np.isfinite(far) and far > 0.0 else used
    return Drive(
        name=cycle.name,
        kind=kind,
        distance_m=way,
        seconds=float(one.seconds[0]),
        mean_m_s=way / float(one.seconds[0]),
        wh_m=used,
        wall_wh_m=refill / eta,
        range_m=float(found.range_m[0]),
        band=spread,
        parts_wh_m={part: float(getattr(one, f"{part}_wh")[0]) / way for part in PARTS},
        back_wh_m=float(one.back_wh[0]) / way,
        most_pull_w=float(one.most_pull_w[0]),
        motor_short_s=float(one.motor_short_s[0]),
        pack_short_s=float(one.pack_short_s[0]),
        up_m=climbs[0],
        down_m=climbs[1],
    )


def _pull(inputs: Inputs, car: Car, day: Day) -> Pull:
    full = sprint(car, day)
    cold = sprint(*assemble(replace(inputs, temperature_c=COLD_C, pack_c=None)))
    lasting = float(car.motor.lasting_w) / float(car.motor.power_w)
    return Pull(
        hundred_s=float(full.hundred_s[0]),
        sixty_s=float(full.sixty_s[0]),
        quarter_s=float(full.quarter_s[0]),
        quarter_m_s=float(full.quarter_m_s[0]),
        top_m_s=float(full.top_m_s[0]),
        top_by_speed=bool(full.top_by_speed[0]),
        slips_to_m_s=float(full.slips_to_m_s[0]),
        most_g=float(full.most_g[0]),
        start_grade=float(start_grade(car, day)[0]),
        start_grade_dry_motor=float(start_grade(car, day, grip=False)[0]),
        hold_80_grade=float(hold_grade(car, 80.0 * _KMH, day)[0]),
        hold_100_grade=float(hold_grade(car, 100.0 * _KMH, day)[0]),
        lasting_power_w=float(car.motor.lasting_w),
        lasting_hold_80_grade=float(hold_grade(car, 80.0 * _KMH, day, lasting)[0]),
        low_hundred_s=float(sprint(car, day, 0.1).hundred_s[0]),
        cold_hundred_s=float(cold.hundred_s[0]),
    )


def _weather(inputs: Inputs, first: Cycle, road: RoadInput) -> Weather:
    """Range of steady speeds and of the first cycle from -20 to 40 C, the pack as cold as the day."""
    count = len(TEMPERATURES_C)
    days = replace(inputs, temperature_c=TEMPERATURES_C, pack_c=None)
    car, day = assemble(days)
    speeds = np.array([speed * _KMH for speed in road.speeds_kmh])
    table = [reach(car, steady(float(v)), day, points=1).range_m for v in speeds]
    bare_car, bare_day = assemble(replace(days, cabin_power=0.0))
    return Weather(
        TEMPERATURES_C,
        speeds,
        np.array(table).T if table else np.zeros((count, 0)),
        first.name,
        reach(car, first, day, points=1).range_m,
        reach(bare_car, first, bare_day, points=1).range_m,
    )


def _climb(car: CarInput, inputs: Inputs, wish: ClimbInput) -> tuple[Climb, float]:
    """The long climb on a day of its own."""
    here, day = assemble(replace(inputs, temperature_c=wish.temperature_c, pack_c=None))
    air = float(air_density_kg_m3(wish.temperature_c, pressure_pa(inputs.altitude_m), inputs.humidity))
    day = replace(day, air_kg_m3=air)
    told = car.motor
    kilos = told.mass_kg or float(default("motor.mass_per_kw").value) * told.power_w / 1000.0
    share = float(default("motor.heat_share").value)
    motor = Lump(
        kilos * share * 450.0,  # copper 385, steel 460 J/kg K: common tables
        loss_of_lasting_w_k(here.motor, told.holds_back_c, told.coolant_c),
        told.coolant_c,
        told.holds_back_c,
        told.most_c,
    )
    pack = Lump(
        float(here.supply.heat_j_k),
        car.pack.cooling_w_k,
        wish.temperature_c,
        float(default("pack.warm_begins").value),
        float(default("pack.warm_most").value),
    )
    up = climb(
        here, day, motor, pack, grade=wish.grade / 100.0, length_m=wish.length_m, speed_m_s=wish.speed_kmh * _KMH
    )
    return up, lasting_speed_m_s(here, day, motor, wish.grade / 100.0)


def _plugs(car: CarInput, road: RoadInput, inputs: Inputs, onboard: Onboard | None, far_m: float) -> list[Plug]:
    supply = inputs.supply
    taper = taper_of(car.pack, supply)
    warm = inputs.temperature_c if inputs.pack_c is None else inputs.pack_c
    start = Warmth(float(warm), float(inputs.temperature_c), car.pack.cooling_w_k)
    icy = Warmth(COLD_C, COLD_C, car.pack.cooling_w_k)
    slow = replace(taper, amps=(), watts=())
    least = 0.02 * float(supply.charge_ah)
    share = float(default("socket.share").value)
    found = []
    if onboard is not None:
        for name, told in road.socket.items():
            socket = Socket(told.volts_v, told.breaker_a, told.phases, share)

            def plugged(warmth: Warmth, socket: Socket = socket, taper: Taper = slow) -> Charging:
                return from_wall(supply, socket, onboard, taper=taper, warmth=warmth, least_a=least)

            found.append(_plug(name, "socket", plugged(start), plugged(icy), onboard.takes_w(socket), far_m, onboard))
    for name, one in road.station.items():
        station = Station(one.power_w, one.current_a, one.volts_v)
        run = from_station(supply, station, end=1.0, taper=taper, warmth=start, least_a=least)
        cold = from_station(supply, station, end=1.0, taper=taper, warmth=icy, least_a=least)
        most = float(run.watts.max()) if len(run.watts) else 0.0
        found.append(_plug(name, "station", run, cold, most, far_m, None))
    return found


def _plug(
    name: str, kind: str, run: Charging, cold: Charging, most_w: float, far_m: float, onboard: Onboard | None
) -> Plug:
    gained = run.gained(600.0, 0.1) * far_m if np.isfinite(far_m) else float("inf")
    tens = np.arange(0.0, min(float(run.time_s[-1]) + 599.0, 7200.0), 600.0)
    each = np.diff([run.gained(float(t), 0.1) for t in tens]) * far_m if np.isfinite(far_m) else np.zeros(0)
    part = np.clip((run.charge >= 0.1) & (run.charge <= 0.8 + 1e-9), 0, 1).astype(bool)
    into = float(np.trapezoid(run.watts[part], run.time_s[part])) / 3600.0 if part.sum() > 1 else 0.0
    eta = onboard.efficiency if onboard is not None else 1.0
    return Plug(
        name,
        "socket" if kind == "socket" else "station",
        run,
        most_w,
        run.seconds(0.1, 0.8),
        run.seconds(0.1, min(1.0, float(run.charge[-1]))) if run.ended == "full" else float("inf"),
        gained,
        each,
        into / eta,
        cold if cold.charge[-1] > cold.charge[0] + 1e-6 else None,
    )
