"""How fast the road is driven: one WLTC against the clock, and 10,000 variants at once against one after another.

Run: python benchmarks/road_speed.py [--variants 10000] [--one-by-one 200] [--seed 1]. Prints processor time of one
drive over the 1800 s of the cycle and its ratio to real time; then a sweep of mass, drag, tyres, ratio, motor and pack
worked as arrays, side by side with the same cars one by one, and how far the answers are apart.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np

from halfshaft.road.cycles import named
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.motor import scaled
from halfshaft.road.reach import reach
from halfshaft.road.spent import spend
from halfshaft.road.sprint import sprint
from tests.road.cars import whole_inputs


def variants(count: int, seed: int) -> Inputs:
    """So many cars: mass, drag, tyres, gear, motor and pack drawn evenly."""
    rng = np.random.default_rng(seed)
    told = whole_inputs()
    share = rng.uniform(0.6, 1.6, count)
    return replace(
        told,
        mass_kg=rng.uniform(1000.0, 2000.0, count),
        drag=rng.uniform(0.7, 1.4, count),
        tyres=rng.uniform(0.7, 1.4, count),
        motor=scaled(told.motor, share),
        gear=replace(told.gear, ratio=rng.uniform(7.0, 12.0, count)),
        supply=replace(
            told.supply,
            energy_wh=rng.uniform(25e3, 90e3, count),
            resistance_ohm=rng.uniform(0.05, 0.2, count),
        ),
        energy=np.ones(count),
    )


def one_of(told: Inputs, at: int) -> Inputs:
    """The inputs of a single car of many."""

    def pick(value: object) -> object:
        return float(value[at]) if isinstance(value, np.ndarray) else value

    inner = {
        name: replace(part, **{f: pick(getattr(part, f)) for f in part.__dataclass_fields__})
        for name, part in (("motor", told.motor), ("gear", told.gear), ("supply", told.supply))
    }
    plain = {f: pick(getattr(told, f)) for f in ("mass_kg", "drag", "tyres", "energy")}
    return replace(told, **plain, **inner)


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--variants", type=int, default=10_000)
    words.add_argument("--one-by-one", type=int, default=200)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    cycle = named("wltc")
    car, day = assemble(whole_inputs())
    spend(car, cycle, day)
    begin = time.process_time()
    for _ in range(200):
        spend(car, cycle, day)
    one = (time.process_time() - begin) / 200
    print(f"one WLTC: {1000.0 * one:.2f} ms of processor, {cycle.seconds / one:,.0f} x real time (asked: 100,000)")

    told = variants(asked.variants, asked.seed)
    cars, days = assemble(told)
    begin, wall = time.process_time(), time.perf_counter()
    found = reach(cars, cycle, days, points=1)
    ranged = time.process_time() - begin
    quick = sprint(cars, days)
    took, waited = time.process_time() - begin, time.perf_counter() - wall
    print(f"{asked.variants:,} variants, range on the WLTC: {ranged:.1f} s of processor")
    print(f"... with acceleration and top speed: {took:.1f} s of processor, {waited:.1f} s by the clock (asked: 60)")

    picks = np.linspace(0, asked.variants - 1, asked.one_by_one).astype(int)
    begin = time.process_time()
    apart = 0.0
    for at in picks:
        single = assemble(one_of(told, int(at)))
        far = reach(single[0], cycle, single[1], points=1).range_m[0]
        fast = sprint(*single).hundred_s[0]
        apart = max(apart, abs(far / found.range_m[at] - 1.0))
        if np.isfinite(fast) or np.isfinite(quick.hundred_s[at]):
            apart = max(apart, abs(fast / quick.hundred_s[at] - 1.0))
    each = (time.process_time() - begin) / len(picks)
    print(f"one by one: {1000.0 * each:.2f} ms a car, at once {1000.0 * took / asked.variants:.2f} ms a car,")
    print(f"ratio {each * asked.variants / took:.1f}; answers apart by at most {apart:.1e}")


if __name__ == "__main__":
    main()
