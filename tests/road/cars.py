"""Cars of the road tests: the plain one of the reference tables, and a whole one with every loss in it."""

from __future__ import annotations

import numpy as np

from halfshaft.road.cabin import Cabin
from halfshaft.road.car import Braking, Car, Day, Gear, Stance
from halfshaft.road.inputs import Cold, Inputs
from halfshaft.road.motor import Motor
from halfshaft.road.resistance import from_drag
from halfshaft.road.supply import Supply

MASS_KG = 1200.0
STILL = Day(20.0, 1.2)
NMC = ((0.0, 0.88), (0.2, 0.945), (0.5, 0.985), (0.8, 1.06), (1.0, 1.125))


def plain_car(rotating: float = 0.04, kw: float = 80.0, gear: float = 1.0) -> Car:
    """1200 kg, rolling 0.013, CdA 0.75 m² and a drive without losses but those of the gear."""
    return Car(
        from_drag(MASS_KG, 0.013, 0.75),
        MASS_KG,
        rotating * MASS_KG,
        Motor(250.0, kw * 1000.0, 2000.0, 0.0, 0.0, 0.0, 0.0),
        Gear(8.0, gear, 0.0, 0.29),
        Braking(1.0, 99.0, 0.0, 0.0),
        Supply(40_000.0, 355.0, 0.0, 1e6, 1e6),
        Stance(2.4, 0.52, 0.5, 5.0, "all"),
    )


def whole_inputs(**changes: object) -> Inputs:
    """A saloon with losses everywhere, in an invented but usual size."""
    told: dict[str, object] = {
        "load": from_drag(1400.0, 0.012, 0.80),
        "mass_kg": 1400.0,
        "rotating_share": 0.04,
        "motor": Motor(300.0, 110_000.0, 1300.0, 0.12, 1.2, 4e-7, 180.0, 50_000.0),
        "gear": Gear(9.0, 0.96, 0.4, 0.30),
        "braking": Braking(0.9, 2.0, 4.0, 1.5),
        "supply": Supply(45_000.0, 350.0, 0.12, 150_000.0, 70_000.0, NMC, 400.0, 130.0, 300_000.0),
        "stance": Stance(2.4, 0.52, 0.5, 0.9, "rear"),
        "cabin": Cabin(
            60.0, 0.04, 21.0, 5000.0, 2500.0, ((-20.0, 1.0), (20.0, 1.0)), ((20.0, 2.5), (40.0, 2.0)), 600.0, 120e3
        ),
        "cold": Cold(
            ((-20.0, 0.88), (-10.0, 0.93), (0.0, 0.96), (25.0, 1.0)),
            ((-20.0, 3.5), (0.0, 1.8), (25.0, 1.0), (40.0, 0.85)),
            ((-20.0, 0.05), (0.0, 0.4), (25.0, 1.0)),
        ),
        "aux_w": 300.0,
    }
    return Inputs(**(told | changes))  # type: ignore[arg-type]


def many(value: float, times: int) -> np.ndarray:
    return np.full(times, value)
