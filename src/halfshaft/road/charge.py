"""Charging: a socket or a fast-charging station and the pack in; current, time and energy against charge out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.road.supply import Curve, Supply

Array = NDArray[np.float64]

STEPS = 1000


@dataclass(frozen=True, slots=True)
class Socket:
    """An outlet: `volts` between the wires a load sits on; between lines for three phases.

    `share` of the breaker's amps may be drawn for hours: 0.8 by NEC 210.20 and 625.41 (from memory).
    """

    volts: float
    breaker_a: float
    phases: int = 1
    share: float = 0.8

    @property
    def lasting_a(self) -> float:
        return self.share * self.breaker_a

    def power_w(self, amps: float) -> float:
        """Power at amps a phase: U I, or sqrt(3) U I for three phases."""
        return self.volts * amps * (math.sqrt(3.0) if self.phases == 3 else 1.0)


@dataclass(frozen=True, slots=True)
class Onboard:
    """The charger in the car: most power it takes from the wall and amps a phase, its phases and efficiency."""

    most_w: float
    most_a: float
    phases: int
    efficiency: float

    def takes_w(self, socket: Socket) -> float:
        """Power from the wall. On a three-phase outlet a single-phase charger sits between one line and neutral."""
        amps = min(socket.lasting_a, self.most_a)
        if socket.phases == 3 and self.phases == 1:
            return min(socket.volts / math.sqrt(3.0) * amps, self.most_w)
        return min(socket.power_w(amps), self.most_w)


@dataclass(frozen=True, slots=True)
class Station:
    """A fast charger: what it can give at the car's inlet."""

    most_w: float
    most_a: float
    most_v: float


@dataclass(frozen=True, slots=True)
class Taper:
    """What the pack takes at most: watts against charge, amps against charge, and shares against its temperature."""

    watts: Curve = ()
    amps: Curve = ()
    share_by_c: Curve = ((-100.0, 1.0), (100.0, 1.0))
    most_c: float = 100.0  # no charging beyond


@dataclass(frozen=True, eq=False)
class Warmth:
    """The pack's temperature while it charges: where it starts, what surrounds it, watts a kelvin to it."""

    start_c: float = 25.0
    around_c: float = 25.0
    loss_w_k: float = 0.0


@dataclass(frozen=True, eq=False)
class Charging:
    """A charge as arrays (k,) over its moments; `ended` says what stopped it."""

    charge: Array
    time_s: Array
    amps: Array
    volts: Array  # at the pack's terminals
    watts: Array
    pack_c: Array
    limit: tuple[str, ...]  # what bounds the current at each moment
    into_wh: float  # at the terminals
    drawn_wh: float  # from the wall or the station
    ended: str

    def seconds(self, begin: float, end: float) -> float:
        """Time from one charge to another; infinite where it does not get there."""
        if end > self.charge[-1] + 1e-9 or begin < self.charge[0] - 1e-9:
            return math.inf
        return float(np.interp(end, self.charge, self.time_s) - np.interp(begin, self.charge, self.time_s))

    def gained(self, seconds: float, begin: float) -> float:
        """Charge gained in a time from a charge."""
        start = float(np.interp(begin, self.charge, self.time_s))
        return float(np.interp(start + seconds, self.time_s, self.charge)) - begin


def from_wall(
    supply: Supply,
    socket: Socket,
    onboard: Onboard,
    *,
    begin: float = 0.1,
    end: float = 1.0,
    aux_w: float = 0.0,
    taper: Taper | None = None,
    warmth: Warmth | None = None,
    least_a: float = 0.0,
) -> Charging:
    """A charge from a socket. `aux_w` is what the car itself uses meanwhile."""
    power = max(onboard.takes_w(socket) * onboard.efficiency - aux_w, 0.0)
    if power <= 0.0:
        return _nothing(supply, begin, "the socket gives no more than the car uses meanwhile")
    done = _run(supply, lambda _: power, math.inf, math.inf, "charger", begin, end, taper, warmth, least_a)
    drawn = (done.into_wh + aux_w * done.time_s[-1] / 3600.0) / onboard.efficiency
    return _drawn(done, drawn)


def from_station(
    supply: Supply,
    station: Station,
    *,
    begin: float = 0.1,
    end: float = 0.8,
    aux_w: float = 0.0,
    taper: Taper | None = None,
    warmth: Warmth | None = None,
    least_a: float = 0.0,
) -> Charging:
    """A fast charge: at each moment the least of the station's power, amps and volts and of what the pack takes."""
    if float(supply.open_v(begin)) >= station.most_v:
        return _nothing(supply, begin, "the pack's voltage is beyond what the station gives")
    done = _run(
        supply, lambda _: station.most_w - aux_w, station.most_a, station.most_v, "station", begin, end, taper, warmth,
        least_a,
    )  # fmt: skip
    return _drawn(done, done.into_wh + aux_w * done.time_s[-1] / 3600.0)


def charge_by_current(supply: Supply, amps: float, *, begin: float, end: float = 1.0, least_a: float) -> Charging:
    """Constant current, then constant voltage until the current falls to `least_a`."""
    return _run(supply, lambda _: math.inf, amps, math.inf, "charger", begin, end, None, None, least_a)


def _nothing(supply: Supply, begin: float, why: str) -> Charging:
    volts = float(supply.open_v(begin))
    one = np.array([0.0])
    return Charging(np.array([begin]), one, one, np.array([volts]), one, np.array([25.0]), ("none",), 0.0, 0.0, why)


def _drawn(done: Charging, drawn_wh: float) -> Charging:
    return Charging(
        done.charge, done.time_s, done.amps, done.volts, done.watts, done.pack_c, done.limit, done.into_wh, drawn_wh,
        done.ended,
    )  # fmt: skip


def _run(
    supply: Supply,
    power_of: Callable[[float], float],
    most_a: float,
    most_v: float,
    giver: str,
    begin: float,
    end: float,
    taper: Taper | None,
    warmth: Warmth | None,
    least_a: float,
) -> Charging:
    """March over charge. Within a step the current is taken as straight, whose time is its logarithmic mean: exact for
    constant current, for constant voltage on a straight curve, and for power that falls straight with charge.
    """
    if not 0.0 <= begin < end <= 1.0:
        raise ValueError(f"a charge from {begin:g} to {end:g}: write two shares from 0 to 1, the second larger")
    taper, warmth = taper or Taper(), warmth or Warmth()
    resistance, capacity_as = float(supply.resistance_ohm), float(supply.charge_ah) * 3600.0
    heat_j_k, full_v = float(supply.heat_j_k), float(supply.full_v)
    grid = np.linspace(begin, end, STEPS + 1)
    knots = [x for curve in (supply.curve, taper.watts, taper.amps) for x, _ in curve if begin < x < end]
    grid = np.unique(np.concatenate([grid, knots]))
    open_v = np.broadcast_to(supply.open_v(grid), grid.shape)
    watts = np.interp(grid, *np.array(taper.watts).T) if taper.watts else np.full(len(grid), math.inf)
    amps = np.interp(grid, *np.array(taper.amps).T) if taper.amps else np.full(len(grid), math.inf)

    def allowed(n: int, pack_c: float) -> tuple[float, str]:
        u = float(open_v[n])
        share = float(np.interp(pack_c, *np.array(taper.share_by_c).T)) if pack_c < taper.most_c else 0.0
        wants = [
            (min(float(amps[n]), float(supply.charge_a)) * share, "pack current" if share >= 1.0 else "temperature"),
            (_amps_of(float(watts[n]) * share, u, resistance), "pack power" if share >= 1.0 else "temperature"),
            (most_a, f"{giver} current"),
            (_amps_of(power_of(u), u, resistance), f"{giver} power"),
        ]
        ceiling, name = min((full_v, "full voltage"), (most_v, f"{giver} voltage"))
        if math.isfinite(ceiling):
            room = (ceiling - u) / resistance if resistance > 0.0 else (math.inf if u < ceiling else 0.0)
            wants.append((room, name))
        return min(wants)

    time, into, pack_c = 0.0, 0.0, warmth.start_c
    here, why = allowed(0, pack_c)
    moments = [(float(grid[0]), time, here, why, pack_c)]
    ended = "full" if end >= 1.0 else "there"
    for n in range(1, len(grid)):
        ahead, why_ahead = allowed(n, pack_c)
        if not math.isfinite(here) or not math.isfinite(ahead):
            raise ValueError("nothing bounds the charging current: tell a power or a current")
        if here <= max(least_a, 1e-9) or ahead < 0.0:
            ended = f"stopped by {why}"
            break
        span = float(grid[n] - grid[n - 1])
        cut = 1.0
        if ahead < least_a:  # ends within this step, where the current has fallen to the least
            cut = (here - least_a) / (here - ahead)
            ahead, ended = least_a, "full" if why_ahead == "full voltage" else f"stopped by {why_ahead}"
        if ahead <= 0.0:
            ended = f"stopped by {why_ahead}"
            break
        mean = here if math.isclose(here, ahead, rel_tol=1e-9) else (ahead - here) / math.log(ahead / here)
        dt = span * cut * capacity_as / mean
        middle = 0.5 * (here + ahead)
        u = 0.5 * float(open_v[n] + open_v[n - 1])
        into += (u + middle * resistance) * span * cut * capacity_as / 3600.0
        heat = middle * middle * resistance
        if math.isfinite(heat_j_k):
            pack_c = _warmer(pack_c, heat, dt, heat_j_k, warmth)
        time += dt
        moments.append((float(grid[n - 1]) + span * cut, time, ahead, why_ahead, pack_c))
        if cut < 1.0:
            break
        here, why = allowed(n, pack_c)
    charge, times, current, limits, warm = zip(*moments, strict=True)
    a = np.array(current)
    v = np.interp(charge, grid, open_v) + a * resistance
    return Charging(np.array(charge), np.array(times), a, v, a * v, np.array(warm), tuple(limits), into, into, ended)


def _amps_of(power_w: float, open_v: float, resistance: float) -> float:
    """Charging current of a power at the terminals."""
    if not math.isfinite(power_w):
        return math.inf
    return 2.0 * power_w / (open_v + math.sqrt(open_v * open_v + 4.0 * resistance * power_w))


def _warmer(pack_c: float, heat_w: float, dt: float, heat_j_k: float, warmth: Warmth) -> float:
    """Temperature after a step of constant heat: exact for one lump."""
    if warmth.loss_w_k <= 0.0:
        return pack_c + heat_w * dt / heat_j_k
    rest = warmth.around_c + heat_w / warmth.loss_w_k
    return rest + (pack_c - rest) * math.exp(-warmth.loss_w_k * dt / heat_j_k)
