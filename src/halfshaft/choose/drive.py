"""Some variants of a sweep driven at once. A sweep and numbers of variants in, what each does out.

Nothing here hangs on where or when it runs: the same numbers in the same order give the same last digits.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import default
from halfshaft.build.choices import Option
from halfshaft.build.keys import with_value
from halfshaft.build.pack import BatteryInput
from halfshaft.build.road import CarInput
from halfshaft.checks import Severity
from halfshaft.choose.model import Driven, Sweep
from halfshaft.pack.model import Pack
from halfshaft.pack.station import electric
from halfshaft.road.charge import Station, Warmth, from_station
from halfshaft.road.cycles import Cycle, named, read_cycle
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.reach import reach
from halfshaft.road.spent import Spent
from halfshaft.road.sprint import sprint
from halfshaft.road.station import onboard_of, wall_share
from halfshaft.road.supply import Supply
from halfshaft.road.told import taper_of, told
from halfshaft.sums import one_thread

Array = NDArray[np.float64]
T = TypeVar("T")


@one_thread()
def driven(sweep: Sweep, begin: int, end: int) -> list[Driven]:
    """Variants from `begin` to before `end`."""
    return _Road(sweep).driven(range(begin, end))


class _Road:
    """A sweep being driven: packs, fast charges and the cycle are worked once for all variants that share them."""

    def __init__(self, sweep: Sweep) -> None:
        self.sweep = sweep
        self.known: dict[tuple[str, Hashable], Any] = {}
        self.cycle = _cycle(sweep)
        # parts that the pack and a fast charge hang on
        self.of_pack, self.of_charge = _touching(sweep, ("motor",)), _touching(sweep, ("pack",))
        self.base_pack = self._pack(sweep.pack, sweep.car, ())
        self.base_cells = _cells_kg(sweep.car)
        self.boxes = 1.0 + float(default("pack.other_mass").value)
        self.behind = float(default("choose.behind").value)

    def once(self, what: str, key: Hashable, work: Callable[[], T]) -> T:
        if (what, key) not in self.known:
            self.known[what, key] = work()
        return self.known[what, key]  # type: ignore[no-any-return]

    def driven(self, variants: Sequence[int]) -> list[Driven]:
        cars = [self._told(variant) for variant in variants]
        rows: list[Driven | None] = [None] * len(cars)
        groups: dict[Hashable, list[int]] = {}
        for at, one in enumerate(cars):
            if isinstance(one, Driven):
                rows[at] = one
            else:
                groups.setdefault(_alike(one.inputs), []).append(at)
        for members in groups.values():
            some = [cars[at] for at in members]
            for at, row in zip(members, self._group([one for one in some if isinstance(one, _One)]), strict=True):
                rows[at] = row
        return [row for row in rows if row is not None]

    def _told(self, variant: int) -> _One | Driven:
        """One variant's numbers; what it is worth where it cannot be told."""
        sweep = self.sweep
        at = sweep.options(variant)
        options = [part.options[n] for part, n in zip(sweep.parts, at, strict=True)]
        car, pack = sweep.car, sweep.pack
        for option in options:
            for table, path, value in option.writes:
                if table == "car":
                    car = with_value(car, path, value)
                elif pack is not None:
                    pack = with_value(pack, path, value)
        cost = sweep.told.cost + sum(one.cost for one in options)
        spread = float(np.hypot.reduce([sweep.told.cost_spread, *(one.cost_spread for one in options)]))
        of_pack, of_charge = (tuple(at[n] for n in which) for which in (self.of_pack, self.of_charge))
        try:
            worked = self._pack(pack, car, of_pack)
            weight = self._weight(car, worked, options)
            car = car.model_copy(update={"mass_kg": weight})
            text = sweep.texts.get(car.motor.map) if car.motor.map is not None else None
            inputs = self._scaled(told(car, sweep.road, text, worked).inputs, car)
        except ValueError as why:
            never, weighs = float("inf"), sweep.car.mass_kg or 0.0
            return Driven(0.0, never, weighs, never, 0.0, never, cost, spread, str(why))
        charge = self.once("charge", (of_pack, of_charge), lambda: self._charge_s(car, inputs))
        return _One(inputs, car, weight, charge, cost, spread, self._stops(worked, weight + car.load_kg))

    def _pack(self, pack: BatteryInput | None, car: CarInput, key: Hashable) -> Pack | None:
        if pack is None:
            return None
        return self.once("pack", key, lambda: electric(pack, car.motor.power_w))

    def _weight(self, car: CarInput, pack: Pack | None, options: Sequence[Option]) -> float:
        """The empty car, heavier by what pack, motor and options weigh more than those of the build."""
        base = self.sweep.car
        more = sum(one.mass_kg for one in options) + _motor_kg(car) - _motor_kg(base)
        if pack is not None and self.base_pack is not None:
            more += pack.mass_kg - self.base_pack.mass_kg
        elif pack is None:
            more += (_cells_kg(car) - self.base_cells) * self.boxes
        weight = (base.mass_kg or 0.0) + more
        if not weight > 50.0:
            raise ValueError(f"the car would weigh {weight:.0f} kg: look at the masses of its options")
        return weight

    def _scaled(self, inputs: Inputs, car: CarInput) -> Inputs:
        """Losses of a map that stands for another motor, as much larger as the torque: the same at a share of load."""
        base = self.sweep.car.motor
        share = car.motor.torque_nm / base.torque_nm
        if car.motor.map is None or car.motor.map != base.map or share == 1.0:
            return inputs
        one = inputs.motor
        motor = replace(one, kc=one.kc / share, ki=one.ki * share, kw=one.kw * share, c_w=one.c_w * share)
        return replace(inputs, motor=motor)

    def _stops(self, pack: Pack | None, laden_kg: float) -> str:
        """What stops a variant before it is driven: the pack's volts, and the weight that the car may have."""
        found = []
        if pack is not None:
            found += [c.title.lower() for c in pack.checks if c.severity is Severity.STOP and not c.ok]
        most = self.sweep.gross_kg
        if most is not None and laden_kg > most:
            found.append(f"{laden_kg - most:.0f} kg over the gross mass")
        return "; ".join(found)

    def _charge_s(self, car: CarInput, inputs: Inputs) -> float:
        """Seconds from 10 to 80 % at the fast charger; infinite without one, or where it does not get there."""
        name = self.sweep.station
        if name is None:
            return float("inf")
        one = self.sweep.road.station[name]
        supply: Supply = inputs.supply
        warm = inputs.temperature_c if inputs.pack_c is None else inputs.pack_c
        warmth = Warmth(float(warm), float(inputs.temperature_c), car.pack.cooling_w_k)
        run = from_station(
            supply, Station(one.power_w, one.current_a, one.volts_v), end=0.8, taper=taper_of(car.pack, supply),
            warmth=warmth, least_a=0.02 * float(supply.charge_ah),
        )  # fmt: skip
        return run.seconds(0.1, 0.8)

    def _group(self, some: Sequence[_One]) -> list[Driven]:
        """Variants that differ in numbers alone, driven as arrays."""
        car, day = assemble(_stacked([one.inputs for one in some]))
        far = reach(car, self.cycle, day)
        quick = sprint(car, day)
        rows = []
        for n, one in enumerate(some):
            metres = float(_at(far.range_m, n))
            refill = float(_at(car.supply.energy_wh, n)) / metres if 0.0 < metres < np.inf else np.inf
            wall = refill / wall_share(one.inputs.supply, onboard_of(one.car.charger))
            why = "; ".join(w for w in (one.why, self._falls_behind(far.spent, n)) if w)
            rows.append(
                Driven(
                    metres, wall, one.weight_kg, float(_at(quick.hundred_s, n)), float(_at(quick.top_m_s, n)),
                    one.charge_s, one.cost, one.cost_spread, why,
                )
            )  # fmt: skip
        return rows

    def _falls_behind(self, spent: Spent, n: int) -> str:
        late = float(_at(spent.motor_short_s, n) + _at(spent.pack_short_s, n))
        long = late > self.behind * float(_at(spent.seconds, n))
        return f"falls behind in the cycle for {late:.0f} s" if long else ""


class _One:
    """One variant before it is driven."""

    __slots__ = ("car", "charge_s", "cost", "cost_spread", "inputs", "weight_kg", "why")

    def __init__(
        self, inputs: Inputs, car: CarInput, weight_kg: float, charge_s: float, cost: float, spread: float, why: str
    ) -> None:
        self.inputs, self.car, self.weight_kg, self.charge_s = inputs, car, weight_kg, charge_s
        self.cost, self.cost_spread, self.why = cost, spread, why


def _cycle(sweep: Sweep) -> Cycle:
    """Raises ValueError where a file of the builder's is no cycle."""
    if sweep.cycle in sweep.texts:
        return read_cycle(sweep.texts[sweep.cycle], sweep.cycle.removesuffix(".csv"))
    return named(sweep.cycle)


def _touching(sweep: Sweep, of_car: Sequence[str]) -> tuple[int, ...]:
    """Numbers of the parts with an option that writes to [pack], or to one of these tables of [car]."""
    return tuple(
        n
        for n, part in enumerate(sweep.parts)
        if any(t == "pack" or path[0] in of_car for one in part.options for t, path, _ in one.writes)
    )


def _motor_kg(car: CarInput) -> float:
    return car.motor.mass_kg or float(default("motor.mass_per_kw").value) * car.motor.power_w / 1000.0


def _cells_kg(car: CarInput) -> float:
    """Cells of a pack that is told by plain numbers."""
    return car.pack.mass_kg or float(default("pack.mass_per_kwh").value) * (car.pack.energy_wh or 0.0) / 1000.0


def _at(values: Any, n: int) -> Any:
    one = np.asarray(values)
    return one if one.ndim == 0 else one[n if len(one) > 1 else 0]


def _alike(inputs: Inputs) -> Hashable:
    """All that arrays cannot tell apart: curves, names, what is not told."""

    def of(value: object) -> Hashable:
        if is_dataclass(value) and not isinstance(value, type):
            return tuple(of(getattr(value, f.name)) for f in fields(value))
        return None if isinstance(value, (int, float)) else (type(value).__name__, value)

    return of(inputs)


def _stacked(some: Sequence[T]) -> T:
    """Many of one kind as one whose numbers are arrays (n,), where they differ."""
    first = some[0]
    changes: dict[str, Any] = {}
    for f in fields(first):  # type: ignore[arg-type]
        values = [getattr(one, f.name) for one in some]
        if is_dataclass(values[0]):
            changes[f.name] = _stacked(values)
        elif isinstance(values[0], (int, float)) and any(value != values[0] for value in values):
            changes[f.name] = np.array(values, dtype=float)
    return replace(first, **changes)  # type: ignore[type-var]
