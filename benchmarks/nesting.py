"""Nesting: published instances and the demonstration's parts, side by side with the library alone and with bottom-left.

Run: python benchmarks/nesting.py [--thorough] [--seed 1] [--gap 1]. Prints for each the length of the strip, the share
of it that is parts, and the ratio to the best; and whether gaps hold by the exact check. Quick searches take seconds;
--thorough lets the library better its layout until tries fail, which takes minutes an instance.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

from shapely.geometry import Polygon, box

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from halfshaft.cut.nest.fill import Want, fill, placed  # noqa: E402
from halfshaft.cut.nest.strip import Piece, pack  # noqa: E402
from tests.cut.nest.bottom_left import bottom_left  # noqa: E402
from tests.cut.nest.cases import brute_gap  # noqa: E402
from tests.reference.test_nesting_instances import DATA, instance  # noqa: E402

Layout = tuple[float, list[Polygon]]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--gap", type=float, default=1.0, help="mm between parts")
    parser.add_argument("--thorough", action="store_true")
    parser.add_argument("--only", default="", help="one instance")
    told = parser.parse_args()
    cases = {name: instance(name) for name in DATA if told.only in ("", name)}
    if told.only in ("", "demo"):
        cases["demo"] = demo()
    for name, (shapes, turns, height) in cases.items():
        row(name, shapes, turns, height, told.gap, told.seed, told.thorough)


def row(
    name: str, shapes: list[Polygon], turns: list[float], height: float, gap: float, seed: int, thorough: bool
) -> None:
    area = sum(shape.area for shape in shapes)
    print(f"{name}: {len(shapes)} parts, strip {height:.0f} mm, gap {gap:g} mm, seed {seed}")
    ways: dict[str, Callable[[], Layout]] = {
        "bottom-left": lambda: by_baseline(shapes, turns, height, gap),
        "library alone, quick": lambda: by_library(shapes, turns, height, gap, seed, False),
        "here, quick": lambda: by_fill(shapes, turns, height, gap, seed, False),
    }
    if thorough:
        ways["library alone, thorough"] = lambda: by_library(shapes, turns, height, gap, seed, True)
        ways["here, thorough"] = lambda: by_fill(shapes, turns, height, gap, seed, True)
    for way, work in ways.items():
        start = time.process_time()
        length, there = work()
        took = time.process_time() - start
        worst = brute_gap(there)
        held = "held" if worst >= gap else f"short by {gap - worst:.1e} mm"
        share = 100.0 * area / (length * height)
        print(f"  {way:24} length {length:8.1f} mm  parts {share:5.1f} %  gap {held:20}  {took:6.1f} s", flush=True)


def by_baseline(shapes: list[Polygon], turns: list[float], height: float, gap: float) -> Layout:
    rings = [shape.buffer(gap / 2.0, join_style="mitre") for shape in shapes]
    length, there = bottom_left(rings, turns, height + gap)
    return length - gap, [ring.buffer(-gap / 2.0, join_style="mitre") for ring in there]


def by_library(
    shapes: list[Polygon], turns: list[float], height: float, gap: float, seed: int, thorough: bool
) -> Layout:
    rings = [shape.buffer(gap / 2.0, join_style="mitre") for shape in shapes]
    told = pack([Piece(str(i), r, tuple(turns)) for i, r in enumerate(rings)], height + gap, seed, thorough)
    return told.length_mm - gap, [placed(shapes[int(put.name)], put) for put in told.puts]


def by_fill(shapes: list[Polygon], turns: list[float], height: float, gap: float, seed: int, thorough: bool) -> Layout:
    wants = [Want(str(i), shape, tuple(turns)) for i, shape in enumerate(shapes)]
    room = box(0.0, 0.0, 4.0 * height, height)
    there = [placed(shapes[int(put.name)], put) for put in fill(room, gap, wants, seed, thorough)]
    return max(shape.bounds[2] for shape in there), there


def demo() -> tuple[list[Polygon], list[float], float]:
    """The demonstration's parts of all kinds together, one of each, as if cut from one sheet; outlines to 1 mm."""
    from importlib.resources import files

    from halfshaft.cut.nest.shape import true_shape
    from halfshaft.cut.part import parts_of
    from halfshaft.study import work

    study = work(Path(str(files("halfshaft.demo"))), until="fold")
    own = parts_of(study.build, study.brackets.values())
    shapes = [true_shape(part, 0.5).simplify(1.0) for part in own]
    return shapes, [0.0, 90.0, 180.0, 270.0], 500.0


if __name__ == "__main__":
    main()
