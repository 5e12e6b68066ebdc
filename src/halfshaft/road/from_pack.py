"""The pack that the pack station has worked, as the road sees it. A Pack in, a Supply out."""

from __future__ import annotations

import numpy as np

from halfshaft.pack.model import Pack
from halfshaft.pack.strings import charge_w, discharge_w, open_v, share_at
from halfshaft.road.supply import Supply

WARM_C = 25.0
POINTS = 41  # of the volts over the window


def supply_of_pack(pack: Pack, least_v: float = 0.0, most_v: float = np.inf) -> Supply:
    """The pack within its window at 25 C; limits half full, the inverter's volts among them.

    What cold and heat do to it is the road's own.
    """
    strings = pack.strings
    low, high = strings.window
    charge = np.linspace(0.0, 1.0, POINTS)
    shares = open_v(strings, low + charge * (high - low)) / pack.mean_v
    amps = strings.parallel * strings.cells.charge_a * float(share_at(strings.takes, WARM_C))
    return Supply(
        energy_wh=pack.usable_wh,
        volts_v=pack.mean_v,
        resistance_ohm=pack.resistance_ohm,
        discharge_w=float(discharge_w(strings, 0.5, WARM_C, least_v)),
        charge_w=float(charge_w(strings, 0.5, WARM_C, most_v)),
        curve=tuple((float(q), float(v)) for q, v in zip(charge, shares, strict=True)),
        full_v=strings.most_v,
        charge_a=amps,
        heat_j_k=pack.modules * strings.cells.heat_j_k,
    )
