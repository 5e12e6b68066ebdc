"""Temperature, height and humidity in; the density of air out."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SEA_LEVEL_PA = 101_325.0
KELVIN = 273.15
DRY_J_KG_K = 287.05  # specific gas constant of dry air, ISO 2533
VAPOUR_J_KG_K = 461.5


def pressure_pa(altitude_m: ArrayLike) -> Array:
    """Pressure of the standard atmosphere at a height over the sea, below 11 km, in Pa.

    Source: ISO 2533 (ICAO standard atmosphere), lapse rate 6.5 K/km.
    """
    height = np.asarray(altitude_m, dtype=float)
    return np.asarray(SEA_LEVEL_PA * (1.0 - 0.0065 * height / 288.15) ** (9.80665 / (DRY_J_KG_K * 0.0065)))


def vapour_pressure_pa(temperature_c: ArrayLike) -> Array:
    """Pressure of saturated water vapour over water, in Pa, good from -45 to 60 C.

    Source: WMO-No. 8, Guide to Instruments and Methods of Observation, annex 4.B (Magnus form).
    """
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray(611.2 * np.exp(17.62 * t / (243.12 + t)))


def air_density_kg_m3(temperature_c: ArrayLike, pressure: ArrayLike = SEA_LEVEL_PA, humidity: ArrayLike = 0.0) -> Array:
    """Density of moist air as two ideal gases; `pressure` in Pa, `humidity` from 0 to 1, all of one shape.

    Raises ValueError where the humidity is not from 0 to 1, or the pressure not above nought.
    """
    t, p, damp = np.broadcast_arrays(
        np.asarray(temperature_c, dtype=float), np.asarray(pressure, dtype=float), np.asarray(humidity, dtype=float)
    )
    if np.any((damp < 0.0) | (damp > 1.0)):
        raise ValueError("humidity is a share from 0 to 1")
    if np.any(p <= 0.0):
        raise ValueError("air without pressure")
    vapour = damp * vapour_pressure_pa(t)
    kelvin = t + KELVIN
    return np.asarray((p - vapour) / (DRY_J_KG_K * kelvin) + vapour / (VAPOUR_J_KG_K * kelvin))
