"""What a builder writes for what moves, flows or carries current: text or number in, plain SI number out, and back.

Factors are exact by definition (NIST SP 811, appendix B), the metric horsepower of 75 kgf m/s among them.
"""

from __future__ import annotations

import re
from typing import Any

from halfshaft.build.units import MM_PER_INCH, N_PER_POUND_FORCE, STANDARD_GRAVITY, _with_unit

M_S_PER_MPH = 1609.344 / 3600.0
M_PER_MILE = 1609.344
_FT_M = 12 * MM_PER_INCH / 1000.0

_SPEED = {"m/s": 3.6, "km/h": 1.0, "kmh": 1.0, "kph": 1.0, "mph": 3.6 * M_S_PER_MPH}
_POWER = {
    "w": 1.0, "kw": 1e3, "mw": 1e6, "hp": 550.0 * N_PER_POUND_FORCE * _FT_M, "bhp": 550.0 * N_PER_POUND_FORCE * _FT_M,
    "ps": 75.0 * STANDARD_GRAVITY,
}  # fmt: skip
_ENERGY = {"wh": 1.0, "kwh": 1e3, "mwh": 1e6, "mj": 1e6 / 3600.0, "kj": 1e3 / 3600.0, "j": 1 / 3600.0}
_AREA = {"m2": 1.0, "sqm": 1.0, "cm2": 1e-4, "ft2": _FT_M**2, "sqft": _FT_M**2}
_WAY = {"m": 1.0, "km": 1e3, "mi": M_PER_MILE, "mile": M_PER_MILE, "miles": M_PER_MILE, "ft": _FT_M}
_CONSTANT = {"n": 1.0, "lbf": N_PER_POUND_FORCE, "kgf": STANDARD_GRAVITY}
_LINEAR = {
    "n/m/s": 1.0, "ns/m": 1.0, "n/km/h": 3.6, "lbf/mph": N_PER_POUND_FORCE / M_S_PER_MPH,
    "kgf/km/h": 3.6 * STANDARD_GRAVITY,
}  # fmt: skip
_SQUARE = {
    "n/m/s2": 1.0, "ns2/m2": 1.0, "n/km/h2": 3.6**2, "lbf/mph2": N_PER_POUND_FORCE / M_S_PER_MPH**2,
    "kgf/km/h2": 3.6**2 * STANDARD_GRAVITY,
}  # fmt: skip
_VOLT = {"v": 1.0, "kv": 1e3}
_AMP = {"a": 1.0, "ka": 1e3}
_OHM = {"ohm": 1.0, "ohms": 1.0, "ω": 1.0, "mohm": 1e-3, "mω": 1e-3}
_TURN = {"rpm": 1.0, "1/min": 1.0, "/min": 1.0}
_DECELERATION = {"m/s2": 1.0, "g": STANDARD_GRAVITY}
_DAMPING = {
    "ns/m": 1.0, "n/m/s": 1.0, "kns/m": 1e3, "ns/mm": 1e3, "lbfs/in": N_PER_POUND_FORCE / (MM_PER_INCH / 1000.0),
    "lbs/in": N_PER_POUND_FORCE / (MM_PER_INCH / 1000.0),
}  # fmt: skip


def read_speed_kmh(value: Any, units: str = "metric") -> float:
    """A speed in km/h from '90 km/h', '55 mph', '25 m/s'. A bare number is km/h, refused in an inch build."""
    return _with_unit(value, units, _SPEED, "km/h", "a speed", "'90 km/h' or '55 mph'")


def read_power_w(value: Any, units: str = "metric") -> float:
    """A power in W from '80 kW', '110 hp', '150 PS'. A bare number is W."""
    return _with_unit(value, "metric", _POWER, "w", "a power", "'80 kW' or '110 hp'")


def read_energy_wh(value: Any, units: str = "metric") -> float:
    """An energy in Wh from '42 kWh', '150 MJ'. A bare number is Wh."""
    return _with_unit(value, "metric", _ENERGY, "wh", "an energy", "'42 kWh'")


def read_area_m2(value: Any, units: str = "metric") -> float:
    """An area in m² from '1.9 m2', '20 ft2'. A bare number is m², refused in an inch build."""
    return _with_unit(value, units, _AREA, "m2", "an area", "'1.9 m2' or '20 ft2'")


def read_way_m(value: Any, units: str = "metric") -> float:
    """A way on the road in m from '8 km', '5 mi', '1200 m', '4000 ft'. A bare number is m, refused in an inch build."""
    return _with_unit(value, units, _WAY, "m", "a way", "'8 km' or '5 mi'")


def read_load_a_n(value: Any, units: str = "metric") -> float:
    """The constant part of a road load in N from '135 N', '30.5 lbf'. A bare number is N."""
    return _with_unit(value, "metric", _CONSTANT, "n", "a road load's A", "'135 N' or '30.5 lbf'")


def read_load_b_n_s_m(value: Any, units: str = "metric") -> float:
    """The linear part in N/(m/s) from '1.2 N/(m/s)', '0.015 lbf/mph'. A bare number is N/(m/s)."""
    return _with_unit(_open(value), "metric", _LINEAR, "n/m/s", "a road load's B", "'1.2 N/(m/s)' or '0.015 lbf/mph'")


def read_load_c_n_s2_m2(value: Any, units: str = "metric") -> float:
    """The square part in N/(m/s)² from '0.45 N/(m/s)2', '0.0215 lbf/mph2'. A bare number is N/(m/s)²."""
    return _with_unit(
        _open(value), "metric", _SQUARE, "n/m/s2", "a road load's C", "'0.45 N/(m/s)2', '0.0215 lbf/mph2'"
    )


def read_volts_v(value: Any, units: str = "metric") -> float:
    """Volts from 350, '350 V'."""
    return _with_unit(value, "metric", _VOLT, "v", "a voltage", "'350 V'")


def read_current_a(value: Any, units: str = "metric") -> float:
    """Amps from 32, '32 A'."""
    return _with_unit(value, "metric", _AMP, "a", "a current", "'32 A'")


def read_resistance_ohm(value: Any, units: str = "metric") -> float:
    """Ohms from 0.1, '100 mohm'."""
    return _with_unit(value, "metric", _OHM, "ohm", "a resistance", "'0.1 ohm' or '100 mohm'")


def read_turns_rpm(value: Any, units: str = "metric") -> float:
    """Turns a minute from 9000, '9000 rpm'."""
    return _with_unit(value, "metric", _TURN, "rpm", "a speed of turning", "'9000 rpm'")


def read_change_m_s2(value: Any, units: str = "metric") -> float:
    """A deceleration in m/s² from 1.5, '1.5 m/s2', '0.15 g'."""
    return _with_unit(value, "metric", _DECELERATION, "m/s2", "a deceleration", "'1.5 m/s2' or '0.15 g'")


def read_damping_n_s_m(value: Any, units: str = "metric") -> float:
    """What a damper gives, in N s/m, from '1800 N s/m', '10 lbf s/in'. A bare number is N s/m."""
    return _with_unit(_open(value), units, _DAMPING, "ns/m", "a damper's rate", "'1800 N s/m' or '10 lbf s/in'")


_DEGREES = re.compile(r"\s*([+-]?\s*\d+(?:[.,]\d+)?)\s*(?:°|deg)?\s*([cCfF])?\s*")


def read_temperature_c(value: Any, units: str = "metric") -> float:
    """A temperature in C from -7, '-7 C', '20 F'. A bare number is C, refused in an inch build.

    Raises ValueError that says what was found and what to write.
    """
    write = "write for example '-7 C' or '20 F'"
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError(f"found {value!r} where a temperature is wanted: {write}")
    text = str(value).replace("−", "-").replace("–", "-")
    match = _DEGREES.fullmatch(text)
    if match is None:
        raise ValueError(f"'{value}' is not a temperature: {write}")
    number = float(match.group(1).replace(" ", "").replace(",", "."))
    scale = (match.group(2) or "").lower()
    if not scale and units != "metric":
        raise ValueError(f"found {value!r} without C or F: {write}")
    celsius = (number - 32.0) / 1.8 if scale == "f" else number
    if not -90.0 <= celsius <= 250.0:
        raise ValueError(f"found {value!r}, which no road and no motor is: {write}")
    return celsius


def _open(value: Any) -> Any:
    """'N/(m/s)^2' without its brackets."""
    return value.replace("(", "").replace(")", "") if isinstance(value, str) else value


def format_speed(speed_m_s: float, units: str) -> str:
    return f"{speed_m_s * 3.6:.0f} km/h" if units == "metric" else f"{speed_m_s / M_S_PER_MPH:.0f} mph"


def format_way(way_m: float, units: str) -> str:
    """Kilometres or miles, with a decimal under ten."""
    far = way_m / (1000.0 if units == "metric" else M_PER_MILE)
    return f"{far:.{1 if far < 10 else 0}f} {'km' if units == 'metric' else 'mi'}"


def format_use(wh_m: float, units: str) -> str:
    return f"{wh_m * 1000.0:.0f} Wh/km" if units == "metric" else f"{wh_m * M_PER_MILE:.0f} Wh/mi"


def format_temperature(celsius: float, units: str) -> str:
    return f"{celsius:.0f} C" if units == "metric" else f"{celsius * 1.8 + 32.0:.0f} F"


_FEED = {
    "mm/min": 1.0, "m/min": 1e3, "mm/s": 60.0, "in/min": MM_PER_INCH, "ipm": MM_PER_INCH, "in/s": 60.0 * MM_PER_INCH,
    "inch/min": MM_PER_INCH, "ft/min": 12 * MM_PER_INCH,
}  # fmt: skip
_SECOND = {"s": 1.0, "sec": 1.0, "ms": 1e-3, "min": 60.0}


def read_feed_mm_min(value: Any, units: str = "metric") -> float:
    """A feed in mm/min from 2400, '2.4 m/min', '95 in/min'. A bare number is mm/min, refused in an inch build."""
    return _with_unit(value, units, _FEED, "mm/min", "a feed", "'2400 mm/min' or '95 in/min'")


def read_seconds_s(value: Any, units: str = "metric") -> float:
    """A time in s from 0.6, '0.6 s', '400 ms'. A bare number is s."""
    return _with_unit(value, "metric", _SECOND, "s", "a time", "'0.6 s'")


def format_feed(feed_mm_min: float, units: str) -> str:
    return f"{feed_mm_min:.0f} mm/min" if units == "metric" else f"{feed_mm_min / MM_PER_INCH:.0f} in/min"
