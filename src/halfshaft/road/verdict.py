"""What the road's numbers mean for the builder: results in, checks of this station out."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.build.road import CarInput, RoadInput
from halfshaft.build.weighed import Weighed
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.road.car import Car
from halfshaft.road.cautions import CHARGING as CHARGE_CARE
from halfshaft.road.cautions import DRIVING as CARE
from halfshaft.road.climb import Climb
from halfshaft.road.model import Drive, Plug, Pull
from halfshaft.road.told import Told, rolling_and_drag

_OWN = Source(Origin.DERIVED, "docs/road.md")
_BUILDER = Source(Origin.BUILDER, "[road]")
_TYRES = Source(Origin.FROM_MEMORY, "Bosch Automotive Handbook: car tyres on asphalt 0.006 to 0.02")
MOST_MISSED_S = 1.5
MOST_ROLLING = 0.03
MOST_MAP_MISS = 2.0  # per cent


def refused(about: str, title: str, do: str, stop: bool = True) -> Check:
    """Something that cannot be worked, without a number."""
    severity = Severity.STOP if stop else Severity.CAUTION
    return Check("road", about, title, _OWN, severity, do, failed_outright=True)


def _told(about: str, title: str, found: float | None, unit: str, do: str) -> Check:
    return Check("road", about, title, _OWN, Severity.NOTE, do, found, None, unit, Good.TOLD)


def _most(about: str, title: str, found: float, limit: float, unit: str, do: str, source: Source = _OWN) -> Check:
    return Check("road", about, title, source, Severity.CAUTION, do, found, limit, unit, Good.AT_MOST)


def _least(about: str, title: str, found: float, limit: float, unit: str, do: str, source: Source = _OWN) -> Check:
    return Check("road", about, title, source, Severity.CAUTION, do, found, limit, unit, Good.AT_LEAST)


def source_checks(told: Told) -> list[Check]:
    """How well the road load and the motor's losses are known."""
    checks = []
    if told.coast is not None:
        missed = float(np.abs(told.coast.missed_s).max())
        do = "Time the runs again: both ways on a flat road without wind, tyres warm, windows shut."
        checks.append(_most("coast-down", "Seconds that no road load fits", missed, MOST_MISSED_S, "s", do))
        rolling, _ = rolling_and_drag(told.coast.load)
        do = "A brake may drag, or a slope or wind is in the times: look, and time again."
        title = "Rolling coefficient no tyre has"
        checks.append(_most("coast-down", title, rolling, MOST_ROLLING, "", do, _TYRES))
    else:
        do = "Range is no better than these numbers: once the car rolls, time a coast-down and write [car.coast_down]."
        checks.append(_told("road load", "Not measured on this car by coast-down", None, "", do))
    if told.losses is not None:
        do = "Look for a slip in the map; points at very small load may be left out."
        missed = 100.0 * told.losses.typical
        checks.append(_most("motor's map", "Efficiency that loss numbers miss it by", missed, MOST_MAP_MISS, "%", do))
    return checks


def mass_checks(said_kg: float | None, weighed: Weighed | None) -> list[Check]:
    """Whether a mass that [car] tells is that of the weights."""
    if said_kg is None or weighed is None:
        return []
    found = weighed.empty
    most = max(3.0 * found.mass_spread_kg, 0.01 * found.mass_kg)
    do = (
        f"The weights say {found.mass_kg:.0f} kg ± {found.mass_spread_kg:.0f}, [car] {said_kg:.0f} kg. Take mass away "
        "from [car], and the road goes by the weights."
    )
    return [_most("mass", "Mass in [car] off that of the weights", abs(said_kg - found.mass_kg), most, "kg", do)]


def drive_checks(road: RoadInput, drives: Sequence[Drive]) -> list[Check]:
    """Whether motor and pack can follow, and whether the range is what is wanted."""
    checks = []
    for one in drives:
        if one.motor_short_s > 0.0:
            do = "The car falls behind here; use is told as if it kept up. Take more torque or another gear."
            checks.append(_most(one.name, "Seconds the motor cannot follow", one.motor_short_s, 0.0, "s", do))
        if one.pack_short_s > 0.0:
            do = "Take a pack of more power, or drive slower; use is told as if it kept up."
            checks.append(_most(one.name, "Seconds the pack cannot follow", one.pack_short_s, 0.0, "s", do))
        if road.wanted_range_m is None or one.kind == "steady":
            continue
        low = one.band.low_m if one.band is not None else one.range_m
        if math.isfinite(low):
            do = "Take a larger pack or better tyres, or measure what the band mostly comes from."
            wanted = road.wanted_range_m / 1000.0
            title = "Range reached in nineteen cases of twenty"
            checks.append(_least(one.name, title, low / 1000.0, wanted, "km", do, _BUILDER))
    return checks


def pull_checks(road: RoadInput, car: Car, pull: Pull, up: Climb, lasting_m_s: float) -> list[Check]:
    """What motor, gear and tyres can do, and what heat leaves of it on a climb."""
    start = default("road.start_grade")
    do = f"Take a shorter gear, more torque, or more load on the driven wheels. {CARE}"
    steepest = 100.0 * min(pull.start_grade, 10.0)
    checks = [
        Check(
            "road", "start on a slope", "Steepest it starts on", start.source, Severity.STOP, do, steepest,
            float(start.value), "%",
        )
    ]  # fmt: skip
    top = pull.top_m_s * 3.6
    if pull.top_by_speed:
        do = f"Set the inverter's limit below it; a longer gear would go faster. {CARE}"
        checks.append(_told("top speed", "Bound by the motor's highest speed", top, "km/h", do))
    if road.wanted_speed_kmh is not None:
        do = f"Take more power or a longer gear. {CARE}"
        checks.append(_least("top speed", "Reached on the flat", top, road.wanted_speed_kmh, "km/h", do, _BUILDER))
    if pull.slips_to_m_s > 0.0:
        do = f"Let the inverter bound torque at low speed; a wet road bears about half as much. {CARE}"
        checks.append(
            _told("driven wheels", "Full torque spins them on a dry road up to", pull.slips_to_m_s * 3.6, "km/h", do)
        )
    do = "The motor's peak is not reached: set the inverter to what the pack gives, or take a stronger pack."
    gives, wants = float(car.supply.discharge_w) / 1000.0, float(car.motor.power_w) / 1000.0
    checks.append(_least("pack", "Power against the motor's peak", gives, wants, "kW", do))
    return checks + _climb_checks(up, lasting_m_s)


def _climb_checks(up: Climb, lasting_m_s: float) -> list[Check]:
    about = f"climb of {100.0 * up.grade:.0f} %"
    if up.ended == "stands":
        return [refused(about, "The car comes to a stand", f"Take a shorter gear or more lasting power. {CARE}")]
    if up.ended == "empty":
        return [refused(about, "The pack is empty before the top", "Charge before the climb, or drive it slower.")]
    if math.isfinite(up.held_back_s):
        holds = f"{lasting_m_s * 3.6:.0f} km/h" if lasting_m_s > 1.0 else "no speed"
        do = (
            f"After {up.held_back_s / 60.0:.0f} min it slows down; {holds} can be held for good. Cool "
            f"motor and pack better, or drive the climb slower. {CARE}"
        )
        slowest, wanted = float(up.speed_m_s.min()) * 3.6, float(up.speed_m_s.max()) * 3.6
        return [_least(about, "Speed that heat leaves", slowest, wanted, "km/h", do)]
    do = "Nothing to do: heat does not hold the power back."
    return [_told(about, "Motor's winding gets to", float(up.motor_c.max()), "C", do)]


def charging_checks(car: CarInput, road: RoadInput, plugs: Sequence[Plug]) -> list[Check]:
    """Outlets against the charger, what ends a charge early, and charging in the cold."""
    checks = []
    if road.socket and car.charger is None:
        checks.append(refused("charger", "Sockets but no charger in the car", "Write [car.charger] with its power."))
    share = default("socket.share")
    for plug in plugs:
        about = f"{plug.kind} {plug.name}"
        if plug.kind == "socket" and car.charger is not None:
            told = road.socket[plug.name]
            bears = float(share.value) * told.breaker_a
            lines = math.sqrt(3.0) if told.phases == 3 else 1.0
            volts = told.volts_v * lines if car.charger.phases == told.phases else told.volts_v / lines
            wants = min(car.charger.current_a, car.charger.power_w / volts)
            do = (
                f"Set the charger to {math.floor(bears + 1e-9)} A, as these times take it to be, or have a circuit of "
                f"{math.ceil(wants / float(share.value) - 1e-9)} A put in. {CHARGE_CARE}"
            )
            title = "Amps the charger would draw for hours"
            checks.append(_most(about, title, wants, bears, "A", do, share.source))
        last = float(plug.run.charge[-1])
        if plug.run.ended not in ("full", "there"):
            title = f"Charging ends at {100.0 * last:.0f} %: {plug.run.ended}"
            cold = "temperature" in plug.run.ended
            do = "Warm or cool the pack before it is charged." if cold else "See what bounds it."
            checks.append(refused(about, title, f"{do} {CHARGE_CARE}", stop=last < 0.5))
        elif plug.cold is None:
            do = f"Warm the pack before it is charged, by driving or a heater. {CHARGE_CARE}"
            checks.append(_told(about, "No charging with the pack at", -10.0, "C", do))
    return checks
