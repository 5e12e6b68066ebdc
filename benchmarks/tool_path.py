"""Tool path: way and heat against simpler orders, and the exact offset against a buffer of chords, side by side.

Run: python benchmarks/tool_path.py [--seed 1] [--sheets 4] [--parts 12]. Sheets of random parts as the tests make them.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

sys.path.insert(0, str(Path(__file__).parents[1]))

from halfshaft.build.cutter import CutterInput
from halfshaft.build.schema import Shop
from halfshaft.cut.path.model import Cut, OnSheet, Stock
from halfshaft.cut.path.offset import offset
from halfshaft.cut.path.order import close_pierces
from halfshaft.cut.path.sheet import sheet_path
from tests.cut.path.random_parts import outline, sheet


def way_mm(cuts: list[Cut]) -> float:
    """Torch off, from the corner and back to it."""
    ends = [np.zeros(2), *(cut.whole.end_mm for cut in cuts)]
    starts = [*(cut.whole.start_mm for cut in cuts), np.zeros(2)]
    return float(sum(np.linalg.norm(b - a) for a, b in zip(ends, starts, strict=True)))


def part_by_part(cuts: list[Cut]) -> list[Cut]:
    """Parts in the order in which they were drawn, each one's cuts as drawn, its outline last."""
    return sorted(cuts, key=lambda cut: (int(cut.part[1:]), cut.kind == "outline"))


def nearest_first(cuts: list[Cut]) -> list[Cut]:
    """The nearest cut that may come next."""
    out: list[Cut] = []
    left, here = list(cuts), np.zeros(2)
    while left:
        inner = {cut.part for cut in left if cut.kind != "outline"}
        free = [cut for cut in left if cut.kind != "outline" or cut.part not in inner]
        chosen = min(free, key=lambda cut: float(np.linalg.norm(cut.whole.start_mm - here)))
        left.remove(chosen)
        out.append(chosen)
        here = chosen.whole.end_mm
    return out


def orders(seed: int, sheets: int, count: int) -> None:
    print(f"{'sheet':>5} {'cuts':>5}   {'way, mm':>38}   {'pierces within 40 mm of the last':>33}")
    print(
        f"{'':>5} {'':>5}   {'ours':>10} {'nearest':>13} {'by part':>13}   {'ours':>8} {'nearest':>11} {'by part':>11}"
    )
    for number in range(sheets):
        parts, whole = sheet(np.random.default_rng(seed + number), count, 1.5, 9.0)
        own = [OnSheet(f"P{n}", figures) for n, figures in enumerate(parts)]
        path = sheet_path(Stock("S", whole, 6.0, "mild steel S275"), own, Shop(kerf=1.5), CutterInput())
        cuts = list(path.cuts)
        ways, close = [], []
        for order in (cuts, nearest_first(cuts), part_by_part(cuts)):
            ways.append(way_mm(order))
            spots = np.array([cut.whole.start_mm for cut in order])
            close.append(close_pierces(spots, range(len(order)), path.setup.heat_gap_mm))
        told = " ".join(f"{w:7.0f} x{w / ways[0]:4.2f}" for w in ways[1:])
        print(f"{number:5d} {len(cuts):5d}   {ways[0]:10.0f} {told}   {close[0]:8d} {close[1]:11d} {close[2]:11d}")


def offsets(seed: int, count: int = 60) -> None:
    rng = np.random.default_rng(seed)
    worst = {"exact": 0.0, "chords": 0.0}
    runs = {"exact": 0, "chords": 0}
    seconds = {"exact": 0.0, "chords": 0.0}
    for _ in range(count):
        own = outline(rng)
        start = time.perf_counter()
        curves = offset(own, 0.75)
        seconds["exact"] += time.perf_counter() - start
        start = time.perf_counter()
        wide = Polygon(own.flattened_mm(0.01)).buffer(0.75, quad_segs=16)
        seconds["chords"] += time.perf_counter() - start
        rim = Polygon(own.flattened_mm(1e-4)).exterior
        shapely.prepare(rim)
        for name, points, number in (
            ("exact", np.vstack([curve.flattened_mm(1e-3) for curve in curves]), sum(len(c.bulge) for c in curves)),
            ("chords", np.asarray(wide.exterior.coords), len(wide.exterior.coords) - 1),
        ):
            off = np.abs(shapely.distance(shapely.points(points), rim) - 0.75).max()
            worst[name] = max(worst[name], float(off))
            runs[name] += number
    print(f"\n{count} outlines, half a kerf of 0.75 mm        exact   buffer of chords")
    print(f"worst distance from 0.75 mm, mm        {worst['exact']:9.5f}   {worst['chords']:9.5f}")
    more = runs["chords"] / runs["exact"]
    print(f"runs in the code                       {runs['exact']:9d}   {runs['chords']:9d}  x{more:.1f}")
    print(f"time                                          1   {seconds['chords'] / seconds['exact']:9.2f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sheets", type=int, default=4)
    parser.add_argument("--parts", type=int, default=12)
    told = parser.parse_args()
    orders(told.seed, told.sheets, told.parts)
    offsets(told.seed)
