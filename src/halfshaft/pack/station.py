"""The pack station: [pack], measured points and obstacles in, a Pack out.

`electric` is quick and asks for nothing measured; `searched` adds where the modules can go and takes seconds;
`as_built` takes one of the layouts found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from halfshaft.build import Build
from halfshaft.build.catalogue import default, mount_load
from halfshaft.build.catalogue.road import road_curve
from halfshaft.build.pack import BatteryInput
from halfshaft.checks import Assumed, Check, Severity
from halfshaft.measure.model import Measured
from halfshaft.pack.bay import Bay, Keep
from halfshaft.pack.block import stances_of
from halfshaft.pack.clear import bays_that_meet, clashes
from halfshaft.pack.cold import cold_table
from halfshaft.pack.layout import Layout, Rooms, layouts, most_that_fit
from halfshaft.pack.mass import lumps_of
from halfshaft.pack.model import Answer, Laid, Limits, Pack, Volts
from halfshaft.pack.retention import retention
from halfshaft.pack.spots import MOST, spots_of
from halfshaft.pack.strings import (
    Strings,
    charge_w,
    discharge_w,
    energy_wh,
    heat_w,
    loaded_v,
    open_v,
    resistance_ohm,
    warms_k_min,
)
from halfshaft.pack.told import STATION, places_of, strings_of, wishes
from halfshaft.pack.verdict import _DERIVED, cell_checks, place_checks, power_checks, volts_checks
from halfshaft.progress import Progress, within

CELSIUS = np.array([-20.0, 0.0, 25.0])
CHARGE = np.array([0.1, 0.5, 0.9])
FINE = 9000  # spots in a bay, where rows do not take all modules


def electric(told: BatteryInput, motor_w: float | None = None) -> Pack:
    """Volts, energy, power limits, heat and mass of the pack; `motor_w` is the motor's peak, where [car] tells one."""
    strings, old, _, name, assumed = strings_of(told)
    low, high = strings.window
    least = told.inverter_v[0] if told.inverter_v is not None else 0.0
    most = told.inverter_v[1] if told.inverter_v is not None else np.inf
    wanted = told.power_w
    if wanted is None and motor_w is not None:
        share = default("pack.motor_share")
        wanted = motor_w / float(share.value)
        assumed.append(Assumed("pack.power", f"{wanted / 1000.0:.0f} kW, from the motor's", share.source))
    usable = energy_wh(strings, low, high)
    lasting = strings.parallel * strings.cells.lasting_a
    states = _states(told, strings, wanted)
    t, c = np.meshgrid(CELSIUS, CHARGE, indexing="ij")
    limits = Limits(
        CELSIUS,
        CHARGE,
        discharge_w(strings, c, t, least),
        discharge_w(strings, c, t, least, lasting=True),
        charge_w(strings, c, t, most),
    )
    crawl, slow = default("pack.crawl"), road_curve("pack.energy")
    assumed.append(Assumed("pack.crawl", f"{float(crawl.value):.0%} of its power", crawl.source))
    assumed.append(Assumed("energy against temperature", slow.what, slow.source))
    modules = told.series * told.parallel
    kilos = modules * strings.cells.heat_j_k / float(default("pack.heat").value)
    rise = float(warms_k_min(strings, lasting))
    checks = volts_checks(told, strings, states) + power_checks(told, strings, old, wanted) + cell_checks(strings, rise)
    return Pack(
        strings=strings,
        old=old,
        module=name,
        modules=modules,
        gross_wh=energy_wh(strings),
        usable_wh=usable,
        old_usable_wh=energy_wh(old, low, high),
        mean_v=usable / (strings.charge_ah * (high - low)),
        resistance_ohm=float(resistance_ohm(strings)),
        volts=tuple(states.values()),
        limits=limits,
        lasting_heat_w=float(heat_w(strings, lasting)),
        lasting_rise_k_min=rise,
        modules_kg=kilos,
        mass_kg=kilos * (1.0 + told.other_mass),
        cold=cold_table(strings, float(crawl.value) * float(discharge_w(strings, 0.5, 25.0, least)), least, most),
        inverter_least_v=least,
        inverter_most_v=most,
        checks=tuple(checks),
        assumed=tuple(dict.fromkeys(assumed)),
    )


def _states(told: BatteryInput, strings: Strings, wanted_w: float | None) -> dict[str, Volts]:
    """Volts full, empty, loaded and cold."""
    low, high = strings.window

    def state(name: str, charge: float, celsius: float, power: float) -> Volts:
        rest = float(open_v(strings, charge))
        return Volts(name, charge, celsius, rest, float(loaded_v(strings, power, charge, celsius)), power)

    found = {
        "full": state("full", high, 25.0, 0.0),
        "half full": state("half full", 0.5, 25.0, wanted_w or 0.0),
        "empty": state("empty", low, 25.0, 0.0),
    }
    for name, charge, celsius in (("empty, loaded", low, 25.0), ("cold, loaded", 0.5, told.cold_c)):
        if wanted_w is not None:
            # held back by the cells themselves first
            power = min(wanted_w, float(discharge_w(strings, charge, celsius)))
            found[name] = state(name, charge, celsius, power)
    return found


def searched(build: Build, measured: Measured, folder: Path, found: Pack, progress: Progress | None = None) -> Pack:
    """The pack with its places: bays, keep-outs, layouts, what fixings hold; none of them taken yet.

    Which layout the build names changes nothing of it.
    Raises ValueError where the build has no [pack].
    """
    told = build.pack
    if told is None:
        raise ValueError("the build has no [pack]")
    if not told.bay:
        return found
    tell = within(progress, 0.0, 1.0, "pack")
    _, _, block, _, _ = strings_of(told)
    bays, keeps, junction, checks = places_of(told, build, measured, folder)
    checks += [
        Check(STATION, f"bays {a} and {b}", "Two bays share room", _DERIVED, Severity.STOP,
              "Modules of both could lie in one place: move a corner.", failed_outright=True)
        for a, b in bays_that_meet(bays)
    ]  # fmt: skip
    stances = tuple(stances_of(block, bay.cooled) for bay in bays)
    count = told.series * told.parallel
    answers: tuple[Layout, ...] = ()
    most: tuple[tuple[int, bool], ...] = ()
    for spots in (MOST, FINE):
        tried = tuple(spots_of(b, s, keeps, told.gap_mm, spots) for b, s in zip(bays, stances, strict=True))
        rooms = Rooms(bays, stances, tried, keeps, told.gap_mm)
        tell(0.1 if spots == MOST else 0.3, "room in each bay")
        most = most_that_fit(rooms, work=1.0 if spots == MOST else 4.0)
        if sum(n for n, _ in most) >= count:
            answers = layouts(
                rooms, count, told.parallel, wishes(), station_mm=told.station_mm, side_mm=told.side_mm,
                junction_mm=junction, seed=build.build.seed, progress=within(progress, 0.3, 1.0, "pack"),
            )  # fmt: skip
        if answers or rooms.whole:
            break
    row = mount_load("car.class")
    kind = told.vehicle_class or str(row.value)
    assumed = list(found.assumed)
    if told.vehicle_class is None:
        assumed.append(Assumed("pack.class", kind, row.source))
    each = found.modules_kg / count * (1.0 + told.other_mass)
    found_ways = tuple(_answer(one, bays, keeps, told.gap_mm, each, kind) for one in answers)
    laid = Laid(bays, keeps, most, count, found_ways, junction_mm=junction, checks=(*found.checks, *checks))
    return replace(found, laid=laid, assumed=tuple(dict.fromkeys(assumed)))


def as_built(found: Pack, told: BatteryInput) -> Pack:
    """The pack with the layout taken that the build names, what it weighs and what is judged of it."""
    laid = found.laid
    if laid is None:
        return found
    number = min(told.layout, max(len(laid.answers), 1))
    built = laid.answers[number - 1].layout.modules if laid.answers else ()
    laid = replace(laid, number=number, lumps=lumps_of(built, laid.bays, found.modules_kg / laid.wanted))
    return replace(found, laid=laid, checks=(*laid.checks, *place_checks(told, laid)))


def _answer(
    layout: Layout, bays: Sequence[Bay], keeps: Sequence[Keep], gap_mm: float, each_kg: float, kind: str
) -> Answer:
    held = tuple(retention(bay.name, n, n * each_kg, kind) for bay, n in zip(bays, layout.counts, strict=True) if n)
    return Answer(layout, held, clashes(layout.modules, bays, keeps, gap_mm))
