"""A car told by its road-load coefficients alone, so that measured cars can be put against the bench."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import default
from halfshaft.checks import Assumed
from halfshaft.road.cycles import Cycle, at_each_second
from halfshaft.road.resistance import RoadLoad, force_n

Array = NDArray[np.float64]


# rows of defaults: what a plain car takes where these two are not told
BACK, ROTATING = "braking.share", "car.rotating"


@dataclass(frozen=True, eq=False)
class EfficiencyMap:
    """Efficiency between pack and wheels on a grid: speeds (k,), wheel powers (j,) in W (below nought braking), and
    efficiencies (k, j); between its lines straight, beyond its edges as at the edge.
    """

    speed_m_s: Array
    power_w: Array
    efficiency: Array

    def __post_init__(self) -> None:
        if self.efficiency.shape != (len(self.speed_m_s), len(self.power_w)):
            raise ValueError("an efficiency map wants one efficiency for each pair of speed and power")
        if np.any(np.diff(self.speed_m_s) <= 0.0) or np.any(np.diff(self.power_w) <= 0.0):
            raise ValueError("an efficiency map wants speeds and powers that rise")
        if not np.all((self.efficiency > 0.0) & (self.efficiency <= 1.0)):
            raise ValueError("an efficiency is over 0 and at most 1")

    def at(self, speed_m_s: Array, power_w: Array) -> Array:
        """Efficiencies at speeds and powers of one shape."""

        def place(value: Array, grid: Array) -> tuple[NDArray[np.int64], Array]:
            if len(grid) == 1:
                return np.zeros(value.shape, dtype=np.int64), np.zeros(value.shape)
            low = np.clip(np.searchsorted(grid, value) - 1, 0, len(grid) - 2)
            return low, np.clip((value - grid[low]) / (grid[low + 1] - grid[low]), 0.0, 1.0)

        i, u = place(speed_m_s, self.speed_m_s)
        j, w = place(power_w, self.power_w)
        up, on = np.minimum(i + 1, len(self.speed_m_s) - 1), np.minimum(j + 1, len(self.power_w) - 1)
        e = self.efficiency
        return np.asarray((1 - u) * ((1 - w) * e[i, j] + w * e[i, on]) + u * ((1 - w) * e[up, j] + w * e[up, on]))


@dataclass(frozen=True, eq=False)
class PlainCar:
    """Road load a + b v + c v² in N, N/(m/s), N/(m/s)²; test mass; what lies between wall, pack and wheels.

    `drive` is one efficiency between pack and wheels, the same both ways, or a map. `back` is the share of the braking
    at the wheels that goes to the motor. `rotating_share` of the mass is added for wheels and rotor where it speeds up.
    """

    a_n: float
    b_n_s_m: float
    c_n_s2_m2: float
    mass_kg: float
    drive: float | EfficiencyMap
    charger: float = 1.0
    aux_w: float = 0.0
    back: float = field(default_factory=lambda: float(default(BACK).value))
    rotating_share: float = field(default_factory=lambda: float(default(ROTATING).value))
    usable_wh: float | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.drive, EfficiencyMap) and not 0.0 < self.drive <= 1.0:
            raise ValueError(f"a drive efficiency of {self.drive:g}: write one over 0 and at most 1")
        if not 0.0 < self.charger <= 1.0:
            raise ValueError(f"a charger efficiency of {self.charger:g}: write one over 0 and at most 1")
        if not 0.0 <= self.back <= 1.0:
            raise ValueError(f"a share of braking of {self.back:g}: write one from 0 to 1")
        RoadLoad(self.a_n, self.b_n_s_m, self.c_n_s2_m2, 1.0)  # raises where these cannot be
        if not self.mass_kg > 0.0 or not np.isfinite(self.mass_kg):
            raise ValueError(f"a test mass of {self.mass_kg:g} kg: write one over nought")
        if not self.aux_w >= 0.0 or not self.rotating_share >= 0.0:
            raise ValueError("auxiliary watts and rotating share are nought or more")
        if self.usable_wh is not None and not self.usable_wh > 0.0:
            raise ValueError(f"a usable energy of {self.usable_wh:g} Wh: write one over nought")


@dataclass(frozen=True, slots=True)
class PlainUse:
    """Use of one cycle or steady speed, in Wh/km: at the wheels, from the pack (DC), from the wall (AC)."""

    cycle: str
    distance_m: float
    seconds: float
    pull_wh_km: float
    push_wh_km: float
    aux_wh_km: float
    dc_wh_km: float
    wall_wh_km: float
    range_m: float | None  # where the usable energy is told
    most_kw: float  # at the wheels


def use(car: PlainCar, cycle: Cycle, headwind_m_s: float = 0.0) -> PlainUse:
    """Energy of a plain car over a cycle: E = pull / eta - back x eta x push + aux x time, at each step."""
    load = RoadLoad(car.a_n, car.b_n_s_m, car.c_n_s2_m2, car.mass_kg)
    trace = at_each_second(cycle)
    dt = np.diff(trace.time_s)
    v = 0.5 * (trace.speed_m_s[1:] + trace.speed_m_s[:-1])
    change = np.diff(trace.speed_m_s) / dt
    steady = force_n(load, v, grade=trace.grade, headwind_m_s=headwind_m_s + trace.headwind_m_s)
    force = np.where(v > 0.0, steady + car.mass_kg * (1.0 + car.rotating_share) * change, 0.0)
    power = force * v
    share = car.drive.at(v, power) if isinstance(car.drive, EfficiencyMap) else np.full(v.shape, car.drive)
    dc = np.where(power > 0.0, power / share, car.back * share * power) + car.aux_w
    km = trace.distance_m / 1000.0

    def wh_km(watts: Array) -> float:
        return float(watts @ dt) / 3600.0 / km

    used = wh_km(dc)
    far = None
    if car.usable_wh is not None:
        far = car.usable_wh / used * 1000.0 if used > 0.0 else float("inf")
    return PlainUse(
        cycle.name, trace.distance_m, trace.seconds, wh_km(np.maximum(power, 0.0)), wh_km(np.maximum(-power, 0.0)),
        car.aux_w * trace.seconds / 3600.0 / km, used, used / car.charger, far, float(power.max()) / 1000.0,
    )  # fmt: skip


def read_map(text: str) -> EfficiencyMap:
    """An efficiency map from CSV: first row 'km/h', then wheel powers in kW; each further row a speed in km/h and its
    efficiencies, as shares or in per cent.

    Raises ValueError with the line and what to write.
    """
    rows = [(n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip()]
    rows = [(n, line) for n, line in rows if not line.startswith("#")]
    if len(rows) < 2:
        raise ValueError("line 1: a map wants a row of powers and a row a speed: write 'km/h,-20,0,20,40' first")
    mark = ";" if ";" in rows[0][1] else ","

    def numbers(line: int, cells: list[str]) -> list[float]:
        out = []
        for cell in cells:
            try:
                out.append(float(cell.replace(",", ".") if mark == ";" else cell))
            except ValueError:
                raise ValueError(f"line {line}: '{cell.strip()}' is no number") from None
        return out

    powers = numbers(rows[0][0], rows[0][1].split(mark)[1:])
    table = []
    for n, line in rows[1:]:
        values = numbers(n, line.split(mark))
        if len(values) != len(powers) + 1:
            raise ValueError(f"line {n}: {len(values) - 1} efficiencies where {len(powers)} are wanted: fill the row")
        table.append(values)
    grid = np.array(table)
    eta = grid[:, 1:] / (100.0 if grid[:, 1:].max() > 1.0 else 1.0)
    return EfficiencyMap(grid[:, 0] / 3.6, np.array(powers) * 1000.0, eta)


def assumed_of(back: float | None, rotating: float | None) -> tuple[Assumed, ...]:
    """The shares of braking and of rotating mass that were not told, each with its source."""
    rows = (
        ("share of the braking that goes to the motor", default(BACK), back),
        ("share of the mass that wheels and rotor add", default(ROTATING), rotating),
    )
    return tuple(Assumed(words, f"{row.value:g}", row.source) for words, row, told in rows if told is None)
