"""How long ten thousand choices take: the demonstration's parts with more ratios, here by one process and by all.

Run: python benchmarks/choose_speed.py [--variants 10000]. Prints processor and clock time of the sweep by one process,
clock time by one for each processor, and that both give the same rows.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from halfshaft.build import load, new_build
from halfshaft.build.choices import parts_of
from halfshaft.build.weighed import Standing, Weighed
from halfshaft.choose.model import Sweep
from halfshaft.choose.station import chosen
from halfshaft.choose.told import sweep_of


def sweep(folder: Path, variants: int) -> Sweep:
    """The demonstration's choices with as many ratios as make up the count."""
    new_build(folder, demo=True)
    build = load(folder)
    told = build.choose
    assert told is not None
    others = sweep_of(build, folder, Weighed(2920.0, Standing(1703.0, 7.0, 0.46, 595.0))).count // 13
    gear = told.part["gear"].model_copy(update={"steps": max(2, round(variants / others))})
    told = told.model_copy(update={"part": {**told.part, "gear": gear}})
    one = sweep_of(build, folder, Weighed(2920.0, Standing(1703.0, 7.0, 0.46, 595.0)))
    by_name = {part.name: part for part in parts_of(told, one.car, one.pack, build.build.units)}
    return replace(one, told=told, parts=tuple(by_name[part.name] for part in one.parts))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--variants", type=int, default=10_000)
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        one = sweep(Path(name), told.variants)
        clock, work = time.perf_counter(), time.process_time()
        alone = chosen(one, processes=1)
        clock, work = time.perf_counter() - clock, time.process_time() - work
        print(f"{one.count} variants by one process: {clock:.1f} s, of the processor {work:.1f} s")
        start = time.perf_counter()
        shared = chosen(one)
        spent = time.perf_counter() - start
        print(f"by {os.cpu_count()} processors: {spent:.1f} s, {clock / spent:.2f} times as fast")
        print(f"the same rows: {'yes' if alone.rows == shared.rows else 'NO'}; unbeaten: {int(alone.kept.sum())}")


if __name__ == "__main__":
    main()
