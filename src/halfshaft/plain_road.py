"""The road as plain values for programs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from halfshaft.road.curves import Curve
    from halfshaft.road.label import Printed
    from halfshaft.road.model import Drive, Plug, Road
    from halfshaft.road.plain_car import PlainUse
from halfshaft.plain import judged, numbers


def road(one: Road) -> dict[str, Any]:
    """Road load, range with its band, pull, weather, the climb, charging and checks."""
    pull, weather, up = one.pull, one.weather, one.climb
    return {
        "road_load": {
            "a_n": float(one.inputs.load.a_n),
            "b_n_s_m": float(one.inputs.load.b_n_s_m),
            "c_n_s2_m2": float(one.inputs.load.c_n_s2_m2),
            "mass_kg": float(one.inputs.load.mass_kg),
            "rolling": one.rolling,
            "drag_area_m2": one.drag_area_m2,
            "spread": numbers(one.coast.spread) if one.coast is not None else None,
            "times_missed_s": numbers(one.coast.missed_s) if one.coast is not None else None,
        },
        "drives": [_drive(d) for d in one.drives],
        "pull": {name: numbers(value) for name, value in vars(pull).items()},
        "weather": None
        if weather is None
        else {
            "temperature_c": numbers(weather.temperature_c),
            "speed_m_s": numbers(weather.speed_m_s),
            "range_m": numbers(weather.range_m),
            "cycle": weather.cycle,
            "cycle_range_m": numbers(weather.cycle_range_m),
            "cycle_range_without_cabin_m": numbers(weather.cycle_no_cabin_m),
        },
        "range_by_speed": _curve(one.over_speed, "speed_m_s"),
        "range_by_temperature": _curve(one.over_temperature, "temperature_c"),
        "climb": {
            "grade": up.grade,
            "ended": up.ended,
            "held_back_after_s": numbers(up.held_back_s),
            "lasting_speed_m_s": numbers(one.climb_lasting_m_s),
            "time_s": numbers(_few(up.time_s)),
            "speed_m_s": numbers(_few(up.speed_m_s)),
            "motor_c": numbers(_few(up.motor_c)),
            "pack_c": numbers(_few(up.pack_c)),
            "charge": numbers(_few(up.charge)),
        },
        "charging": [_plug(p) for p in one.plugs],
        **judged(one),
    }


def _curve(one: Curve | None, along: str) -> dict[str, Any] | None:
    """Range along something, with its 5th and 95th hundredth."""
    if one is None:
        return None
    ends = {"low_m": numbers(one.low_m), "high_m": numbers(one.high_m)}
    return {along: numbers(one.along), "range_m": numbers(one.range_m), **ends}


def _drive(one: Drive) -> dict[str, Any]:
    band = one.band
    return {
        "name": one.name,
        "kind": one.kind,
        "distance_m": one.distance_m,
        "seconds": one.seconds,
        "use_wh_km": numbers(1000.0 * one.wh_m),
        "wall_wh_km": numbers(1000.0 * one.wall_wh_m),
        "range_m": numbers(one.range_m),
        "band": None
        if band is None
        else {
            "low_m": numbers(band.low_m),
            "high_m": numbers(band.high_m),
            "from": [{"what": s.words, "share": s.share, "one_spread_m": numbers(s.one_spread_m)} for s in band.shares],
            "together": band.rest,
        },
        "parts_wh_km": {name: 1000.0 * value for name, value in one.parts_wh_m.items()},
        "taken_up_braking_wh_km": 1000.0 * one.back_wh_m,
        "most_pull_w": one.most_pull_w,
        "motor_short_s": one.motor_short_s,
        "pack_short_s": one.pack_short_s,
        "up_m": one.up_m,
        "down_m": one.down_m,
    }


def _plug(one: Plug) -> dict[str, Any]:
    run = one.run
    return {
        "name": one.name,
        "kind": one.kind,
        "most_w": one.wall_w,
        "ten_to_eighty_s": numbers(one.ten_eighty_s),
        "ten_to_full_s": numbers(one.ten_full_s),
        "ten_minutes_m": numbers(one.ten_minutes_m),
        "each_ten_minutes_m": numbers(one.each_ten_m),
        "drawn_10_80_wh": one.drawn_10_80_wh,
        "ended": run.ended,
        "ended_at": float(run.charge[-1]),
        "charges_cold": one.cold is not None,
        "charge": numbers(_few(run.charge)),
        "time_s": numbers(_few(run.time_s)),
        "power_w": numbers(_few(run.watts)),
        "pack_c": numbers(_few(run.pack_c)),
    }


def _few(values: Any, most: int = 101) -> Any:
    """A long row thinned to at most so many, both ends kept."""
    count = len(values)
    return values if count <= most else values[np.unique(np.linspace(0, count - 1, most).round().astype(int))]


def printed(one: Printed | None) -> dict[str, float] | None:
    """Label numbers of a city and a highway cycle, where both were driven."""
    if one is None:
        return None
    return {
        "ac_wh_km": 1000.0 * one.mixed_wh_m,
        "city_mpge": one.city,
        "highway_mpge": one.highway,
        "mixed_mpge": one.mixed,
        "label_city_mpge": one.label_city,
        "label_highway_mpge": one.label_highway,
        "label_mixed_mpge": one.label_mixed,
        "derived_city_mpge": one.derived_city,
        "derived_highway_mpge": one.derived_highway,
    }


def plain_use(rows: Iterable[PlainUse]) -> list[dict[str, Any]]:
    """Use of a car told by its road load, a row a cycle or speed."""
    return [
        {
            "name": one.cycle,
            "distance_m": one.distance_m,
            "seconds": one.seconds,
            "wheels_driving_wh_km": one.pull_wh_km,
            "wheels_braking_wh_km": one.push_wh_km,
            "aux_wh_km": one.aux_wh_km,
            "dc_wh_km": one.dc_wh_km,
            "ac_wh_km": one.wall_wh_km,
            "range_km": None if one.range_m is None else numbers(one.range_m / 1000.0),
            "most_wheel_kw": one.most_kw,
        }
        for one in rows
    ]
