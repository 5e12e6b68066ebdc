"""The pack that the pack station has worked, as the road sees it. A Pack in, a Supply and what cold does to it out."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from halfshaft.pack.model import Pack
from halfshaft.pack.strings import charge_w, discharge_w, open_v, share_at
from halfshaft.road.inputs import Cold
from halfshaft.road.supply import Curve, Supply

Array = NDArray[np.float64]
WARM_C = 25.0
HALF = 0.5  # of the charge: where limits are told
POINTS = 41  # of the volts over the window


@lru_cache(maxsize=64)  # many cars may share one pack
def supply_of_pack(pack: Pack) -> Supply:
    """The pack within its window at 25 C; limits half full, the inverter's volts among them, their shares by charge.

    What cold and heat do to it is `cold_of_pack`.
    """
    strings = pack.strings
    low, high = strings.window
    charge = np.linspace(0.0, 1.0, POINTS)
    whole = low + charge * (high - low)
    shares = open_v(strings, whole) / pack.mean_v
    amps = strings.parallel * strings.cells.charge_a * float(share_at(strings.takes, WARM_C))
    gives = discharge_w(strings, whole, WARM_C, pack.inverter_least_v)
    takes = charge_w(strings, whole, WARM_C, pack.inverter_most_v)
    most_out = float(discharge_w(strings, HALF, WARM_C, pack.inverter_least_v))
    most_in = float(charge_w(strings, HALF, WARM_C, pack.inverter_most_v))
    return Supply(
        energy_wh=pack.usable_wh,
        volts_v=pack.mean_v,
        resistance_ohm=pack.resistance_ohm,
        discharge_w=most_out,
        charge_w=most_in,
        curve=_curve(charge, shares),
        full_v=strings.most_v,
        charge_a=amps,
        heat_j_k=pack.modules * strings.cells.heat_j_k,
        gives=_shares(charge, gives, most_out),
        takes=_shares(charge, takes, most_in),
    )


@lru_cache(maxsize=64)
def cold_of_pack(pack: Pack) -> Cold:
    """Shares of energy, power and current against temperature, from the pack's own table, half full."""
    table, strings = pack.cold, pack.strings
    at = int(np.argmin(np.abs(table.celsius - WARM_C)))
    takes = share_at(strings.takes, table.celsius) / float(share_at(strings.takes, WARM_C))
    return Cold(
        energy=_shares(table.celsius, table.energy_wh, float(table.energy_wh[at])),
        resistance=_shares(table.celsius, table.resistance_ohm, float(table.resistance_ohm[at])),
        charge=_curve(table.celsius, takes),
        discharge=_shares(table.celsius, table.out_w, float(table.out_w[at])),
        charge_power=_shares(table.celsius, table.in_w, float(table.in_w[at])),
    )


def _curve(x: Array, y: Array) -> Curve:
    return tuple((float(a), float(b)) for a, b in zip(x, y, strict=True))


def _shares(x: Array, y: Array, whole: float) -> Curve:
    """Shares of a whole; level where there is none of it."""
    return _curve(x, np.asarray(y) / whole if whole > 0.0 else np.ones(len(x)))
