"""Charts of the road: range by speed and temperature, charging, the long climb. A Road and units in, charts out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfshaft.bench.chart import Axis, Chart, Line, Spot, reach_to, round_step
from halfshaft.build.moving_units import M_PER_MILE, M_S_PER_MPH, format_way
from halfshaft.build.value import UnitSystem

if TYPE_CHECKING:
    from halfshaft.road.charge import Charging
    from halfshaft.road.model import Plug, Road

Array = NDArray[np.float64]
_POINTS = 160


def way_of(metres: Array, units: UnitSystem) -> Array:
    return np.asarray(metres, dtype=float) / (1000.0 if units == "metric" else M_PER_MILE)


def _way_word(units: UnitSystem) -> str:
    return "km" if units == "metric" else "miles"


def _speed(m_s: Array, units: UnitSystem) -> Array:
    return np.asarray(m_s, dtype=float) * 3.6 if units == "metric" else np.asarray(m_s, dtype=float) / M_S_PER_MPH


def _warmth(celsius: Array, units: UnitSystem) -> Array:
    return np.asarray(celsius, dtype=float) if units == "metric" else np.asarray(celsius, dtype=float) * 1.8 + 32.0


def range_by_speed(road: Road, units: UnitSystem) -> Chart | None:
    """Steady speeds on the flat, with the band."""
    curve = road.over_speed
    if curve is None:
        return None
    x, far = _speed(curve.along, units), way_of(curve.range_m, units)
    low, high = way_of(curve.low_m, units), way_of(curve.high_m, units)
    word = "km/h" if units == "metric" else "mph"
    return Chart(
        f"range against steady speed: from {far[0]:.0f} {_way_word(units)} at {x[0]:.0f} {word} to {far[-1]:.0f} at "
        f"{x[-1]:.0f}",
        Axis(f"steady speed, {word}", 0.0, reach_to(x)),
        Axis(f"range, {_way_word(units)}", 0.0, reach_to(high)),
        (Line("range", x, far, (low, high)),),
        names=False,
    )


def range_by_temperature(road: Road, units: UnitSystem) -> Chart | None:
    """The first cycle from cold to hot, with the band; and with the cabin's heat and cold off."""
    weather, curve = road.weather, road.over_temperature
    if weather is None:
        return None
    x, word = _warmth(weather.temperature_c, units), "C" if units == "metric" else "F"
    far, bare = way_of(weather.cycle_range_m, units), way_of(weather.cycle_no_cabin_m, units)
    band, along, most = None, None, bare
    if curve is not None:
        band, along = (way_of(curve.low_m, units), way_of(curve.high_m, units)), _warmth(curve.along, units)
        most = np.concatenate([bare, band[1]])
    step = round_step((float(x[-1]) - float(x[0])) / 6.0)
    today, drive = np.ravel(road.inputs.temperature_c), next(d for d in road.drives if d.name == weather.cycle)
    here = float(_warmth(today[:1], units)[0])
    told = (Spot("the day told", here, float(way_of(np.array([drive.range_m]), units)[0])),)
    return Chart(
        f"range on {weather.cycle} against outside temperature: {far[0]:.0f} {_way_word(units)} at {x[0]:.0f} {word}, "
        f"{far[-1]:.0f} at {x[-1]:.0f} {word}",
        Axis(f"outside temperature, {word}", step * np.floor(x[0] / step), step * np.ceil(x[-1] / step)),
        Axis(f"range, {_way_word(units)}", 0.0, reach_to(most)),
        (Line(weather.cycle, x, far, band, along), Line("cabin off", x, bare)),
        told if x[0] <= here <= x[-1] else (),
    )


def charge_charts(plug: Plug) -> tuple[Chart, ...]:
    """Power, volts and charge of one socket or station against time; with a cold pack beside it."""
    runs = [("pack as the day", plug.run), *([("pack at -10 C", plug.cold)] if plug.cold is not None else [])]
    last = max(float(run.time_s[-1]) for _, run in runs)
    size, word = (60.0, "minutes") if last < 3.0 * 3600.0 else (3600.0, "hours")
    x = Axis(f"{word} from 10 %", 0.0, reach_to([last / size]))
    names = len(runs) > 1

    def lines(read: str, times: float = 1.0) -> tuple[Line, ...]:
        return tuple(Line(words, *_few(run, getattr(run, read) * times, size)) for words, run in runs)

    volts = np.concatenate([run.volts for _, run in runs])
    low, high = float(volts.min()), float(volts.max())
    step = round_step(max(high - low, 1.0) / 4.0)
    told = f"at {plug.name}"
    power = lines("watts", 1e-3)
    marks = tuple(
        Spot(f"{share:.0%}", float(np.interp(share, plug.run.charge, plug.run.time_s)) / size, 100.0 * share)
        for share in (0.8,)
        if plug.run.charge[-1] >= share
    )
    return (
        Chart(f"power into the pack {told}", x, Axis("kW", 0.0, reach_to(np.concatenate([p.y for p in power]))), power,
              (), 220.0, names),
        Chart(f"volts of the pack {told}", x,
              Axis("V", step * np.floor(low / step), step * np.ceil(high / step)), lines("volts"), (), 190.0, names),
        Chart(f"charge {told}", x, Axis("charge, %", 0.0, 100.0), lines("charge", 100.0), marks, 220.0, names),
    )  # fmt: skip


def _few(run: Charging, values: Array, size: float) -> tuple[Array, Array]:
    at = np.unique(np.searchsorted(run.time_s, np.linspace(0.0, float(run.time_s[-1]), _POINTS)))
    at = np.unique(np.append(np.clip(at, 0, len(run.time_s) - 1), len(run.time_s) - 1))
    return run.time_s[at] / size, values[at]


def climb_charts(road: Road, units: UnitSystem) -> tuple[Chart, ...]:
    """Motor and pack warming, and the speed held, along the climb."""
    up = road.climb
    if len(up.time_s) < 2:
        return ()
    at = np.unique(np.linspace(0, len(up.time_s) - 1, _POINTS).round().astype(int))
    x = way_of(up.distance_m[at], units)
    axis = Axis(f"way up a slope of {100.0 * up.grade:.0f} %, {_way_word(units)}", 0.0, reach_to(x))
    motor, pack = _warmth(up.motor_c[at], units), _warmth(up.pack_c[at], units)
    speed, word = _speed(up.speed_m_s[at], units), "km/h" if units == "metric" else "mph"
    warm = "C" if units == "metric" else "F"
    return (
        Chart(
            f"warmth along the climb: motor to {motor.max():.0f} {warm}, pack to {pack.max():.0f} {warm}", axis,
            Axis(warm, min(0.0, float(pack.min())), reach_to(np.concatenate([motor, pack]))),
            (Line("motor", x, motor), Line("pack", x, pack)), (), 240.0,
        ),
        Chart(f"speed along the climb, {speed[-1]:.0f} {word} at its end", axis, Axis(word, 0.0, reach_to(speed)),
              (Line("speed held", x, speed),), (), 170.0),
    )  # fmt: skip


def each_ten_words(plug: Plug, units: UnitSystem) -> list[tuple[str, float, str]]:
    """Way gained in each ten minutes: words, share of the most, amount."""
    most = float(plug.each_ten_m.max()) if len(plug.each_ten_m) else 0.0
    return [
        (f"{10 * n} to {10 * n + 10} min", float(far) / most, format_way(float(far), units))
        for n, far in enumerate(plug.each_ten_m)
        if most > 0.0
    ]
