"""What a pack gives and takes at each temperature, and how much energy is left to it there. Strings in, a table out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue.road import road_curve
from halfshaft.pack.strings import Strings, charge_w, discharge_w, energy_wh, resistance_ohm

Array = NDArray[np.float64]

CELSIUS = np.arange(-30.0, 61.0, 5.0)
HALF = 0.5
_FINE = 201  # charges at which the power left is looked at


@dataclass(frozen=True, eq=False, slots=True)
class ColdTable:
    """Against temperature (t,): energy within the window, 10 s resistance and power out and in at half charge."""

    celsius: Array
    energy_wh: Array
    resistance_ohm: Array
    out_w: Array
    in_w: Array


def cold_table(strings: Strings, crawl_w: float, least_v: float = 0.0, most_v: float = np.inf) -> ColdTable:
    """Power and energy from -30 to 60 C. `crawl_w` is the power under which the car no longer gets along.

    The energy is the lesser of two: what lies above the charge at which the pack just gives `crawl_w` at that
    temperature, and the share that cells give out in a slow discharge there (a row of the catalogue).
    """
    row = road_curve("pack.energy")
    slow = np.interp(CELSIUS, *np.array(row.points).T)
    low, high = strings.window
    whole = energy_wh(strings, low, high)
    left = np.array([_left_wh(strings, float(t), crawl_w, least_v) for t in CELSIUS])
    return ColdTable(
        CELSIUS,
        np.minimum(left, slow * whole),
        resistance_ohm(strings, HALF, CELSIUS),
        discharge_w(strings, HALF, CELSIUS, least_v),
        charge_w(strings, HALF, CELSIUS, most_v),
    )


def _left_wh(strings: Strings, celsius: float, crawl_w: float, least_v: float) -> float:
    """Energy between the top of the window and the lowest charge from which up the power is enough."""
    low, high = strings.window
    charge = np.linspace(low, high, _FINE)
    enough = discharge_w(strings, charge, celsius, least_v) >= crawl_w
    short = np.flatnonzero(~enough)
    if not len(short):
        return energy_wh(strings, low, high)
    last = int(short[-1])
    return energy_wh(strings, float(charge[last + 1]), high) if last + 1 < _FINE - 1 else 0.0
