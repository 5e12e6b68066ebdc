"""Tables of the road: range and its band, pull, weather, climb, charging."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from halfshaft.build.moving_units import (
    format_speed,
    format_temperature,
    format_use,
    format_way,
)
from halfshaft.build.value import UnitSystem
from halfshaft.road.cautions import CHARGING, DRIVING

if TYPE_CHECKING:
    from halfshaft.road.label import Printed
    from halfshaft.road.model import Drive, Road
    from halfshaft.road.plain_car import PlainUse
from halfshaft.tables import Table

ROAD_CAUTIONS = (DRIVING, CHARGING)


def range_table(road: Road, units: UnitSystem) -> Table:
    """How far it goes, with the band that nine of ten cases lie in."""
    rows, mood = [], []
    for one in road.drives:
        band = ""
        if one.band is not None and np.isfinite(one.band.high_m):
            band = f"{format_way(one.band.low_m, units)} to {format_way(one.band.high_m, units)}"
        rows.append(
            (
                _drive_name(one, units),
                format_speed(one.mean_m_s, units),
                format_use(one.wh_m, units),
                format_use(one.wall_wh_m, units),
                _way(one.range_m, units),
                band,
            )
        )
        mood.append("care" if one.motor_short_s > 0.0 or one.pack_short_s > 0.0 else "")
    columns = ("drive", "mean speed", "from the pack", "from the wall", "range", "in nine cases of ten")
    return Table("Range", columns, tuple(rows), (1, 2, 3, 4, 5), tuple(mood), "no cycle is told")


def _drive_name(one: Drive, units: UnitSystem) -> str:
    return f"steady {format_speed(one.mean_m_s, units)}" if one.kind == "steady" else one.name


def band_table(road: Road) -> Table:
    """What each range's band comes from, in per cent of its variance; bars for the first of them."""
    bands = [(one.name, one.band) for one in road.drives if one.band is not None and one.band.shares]
    rows: list[tuple[str, ...]] = []
    for first in bands[0][1].shares if bands else ():
        shares = [next((s.share for s in band.shares if s.name == first.name), 0.0) for _, band in bands]
        bar = "█" * round(20.0 * first.share) or "▏"
        rows.append((first.words, bar, *(f"{100.0 * share:.0f}" for share in shares)))
    columns = ("", bands[0][0] if bands else "", *(f"{name} %" for name, _ in bands))
    right = tuple(range(2, len(columns)))
    return Table("What the bands come from", columns, tuple(rows), right, (), "no band is worked")


def energy_table(road: Road, units: UnitSystem) -> Table:
    """Where the energy of each drive goes, as shares of what empties the pack."""
    from halfshaft.road.model import PARTS

    def row(one: Drive) -> tuple[str, ...]:
        whole = sum(one.parts_wh_m.values())
        shares = (f"{100.0 * one.parts_wh_m[part] / whole:.0f}" if whole > 0.0 else "" for part in PARTS)
        return (_drive_name(one, units), *shares, format_use(one.back_wh_m, units))

    columns = ("drive", *(f"{words} %" for words in PARTS.values()), "taken up braking")
    rows = tuple(row(one) for one in road.drives)
    return Table("Where the energy goes", columns, rows, tuple(range(1, len(columns))), (), "no cycle is told")


def pull_table(road: Road, units: UnitSystem) -> Table:
    """Acceleration, top speed and slopes."""
    pull, seconds = road.pull, seconds_words

    def slope(value: float) -> str:
        return f"{100.0 * value:.0f} %" if value < 3.0 else "steeper than any road"

    by = "by the motor's highest speed" if pull.top_by_speed else "by power"
    rows = (
        ("0 to 100 km/h", seconds(pull.hundred_s), f"{seconds(pull.low_hundred_s)} at 10 % charge"),
        ("0 to 60 mph", seconds(pull.sixty_s), ""),
        ("quarter mile from rest", seconds(pull.quarter_s), f"at {format_speed(pull.quarter_m_s, units)}"),
        ("0 to 100 km/h at -10 C", seconds(pull.cold_hundred_s), ""),
        ("most at the first moment", f"{pull.most_g:.2f} g", _spins(pull.slips_to_m_s, units)),
        ("top speed", format_speed(pull.top_m_s, units), by),
        ("steepest it starts on", slope(pull.start_grade), f"{slope(pull.start_grade_dry_motor)} by the motor alone"),
        ("steepest at 80 km/h", slope(pull.hold_80_grade), f"{slope(pull.lasting_hold_80_grade)} with lasting power"),
        ("steepest at 100 km/h", slope(pull.hold_100_grade), ""),
    )  # fmt: skip
    return Table("Pull", ("", "", ""), rows, (1,))


def seconds_words(value: float) -> str:
    return f"{value:.1f} s" if np.isfinite(value) else "never"


def _spins(speed_m_s: float, units: UnitSystem) -> str:
    return f"wheels spin up to {format_speed(speed_m_s, units)}" if speed_m_s > 0.0 else "wheels grip on a dry road"


def _way(way_m: float, units: UnitSystem) -> str:
    return format_way(way_m, units) if np.isfinite(way_m) else "no end"


def weather_table(road: Road, units: UnitSystem) -> Table:
    """Range against temperature, for the first cycle and each steady speed."""
    weather = road.weather
    if weather is None:
        return Table("Range by temperature", ("",), (), empty="no cycle is told")
    rows = tuple(
        (
            format_temperature(float(t), units),
            _way(float(weather.cycle_range_m[k]), units),
            _way(float(weather.cycle_no_cabin_m[k]), units),
            *(_way(float(far), units) for far in weather.range_m[k]),
        )
        for k, t in enumerate(weather.temperature_c)
    )
    speeds = (format_speed(float(v), units) for v in weather.speed_m_s)
    columns = ("outside", weather.cycle, "cabin off", *speeds)
    return Table("Range by temperature, pack as cold as the day", columns, rows, tuple(range(len(columns))))


def climb_table(road: Road, units: UnitSystem) -> Table:
    """The long climb: speed, temperatures and charge at its quarters."""
    up = road.climb
    at = np.unique(np.linspace(0, len(up.time_s) - 1, 5).round().astype(int))
    rows = tuple(
        (
            f"{up.time_s[k] / 60.0:.1f} min",
            format_way(float(up.distance_m[k]), units),
            format_speed(float(up.speed_m_s[k]), units),
            format_temperature(float(up.motor_c[k]), units),
            format_temperature(float(up.pack_c[k]), units),
            f"{100.0 * up.charge[k]:.0f} %",
            f"{100.0 * up.share[k]:.0f} %",
        )
        for k in at
    )
    title = f"Climb of {100.0 * up.grade:.0f} %; {format_speed(road.climb_lasting_m_s, units)} can be held for good"
    columns = ("after", "way", "speed", "motor", "pack", "charge", "power left by heat")
    return Table(title, columns, rows, tuple(range(7)), ("care" if np.isfinite(up.held_back_s) else "",) * len(rows))


def charging_table(road: Road, units: UnitSystem) -> Table:
    """Times at each socket and fast charger."""

    def hours(seconds: float) -> str:
        if not np.isfinite(seconds):
            return "never"
        return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"

    rows = tuple(
        (
            plug.name,
            plug.kind,
            f"{plug.wall_w / 1000.0:.1f} kW",
            hours(plug.ten_eighty_s),
            hours(plug.ten_full_s),
            f"{plug.drawn_10_80_wh / 1000.0:.1f} kWh",
            _way(plug.ten_minutes_m, units),
            "charges" if plug.cold is not None else "does not charge",
        )
        for plug in road.plugs
    )
    columns = ("at", "", "most", "10 to 80 %", "10 % to full", "drawn 10 to 80 %", "gained in 10 min", "pack at -10 C")
    return Table("Charging", columns, rows, (2, 3, 4, 5, 6), (), "no socket and no station is told")


def printed_words(one: Printed) -> str:
    """City and highway mixed, and what a label would print, in a sentence."""
    return (
        f"City and highway, 55 to 45: {1000.0 * one.mixed_wh_m:.1f} Wh/km from the wall, {one.mixed:.0f} miles on a "
        f"gallon's energy; on a label, at 0.7 of the test: {one.label_city:.0f} city, {one.label_highway:.0f} highway."
    )


def plain_use_table(rows: Iterable[PlainUse], units: UnitSystem) -> Table:
    """Use of a car told by its road load."""
    told = tuple(
        (
            one.cycle,
            format_way(one.distance_m, units),
            f"{one.pull_wh_km:.1f}",
            f"{one.push_wh_km:.1f}",
            f"{one.dc_wh_km:.1f}",
            f"{one.wall_wh_km:.1f}",
            "" if one.range_m is None else _way(one.range_m, units),
        )
        for one in rows
    )
    columns = ("drive", "way", "wheels, driving", "wheels, braking", "from the pack", "from the wall", "range")
    return Table("Use in Wh/km", columns, told, (1, 2, 3, 4, 5, 6), (), "no cycle and no speed is told")
