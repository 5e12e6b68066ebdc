"""A bracket of three and one of four panels: flat part with marks, solid and STEP file, timed step by step.

Run: python benchmarks/bracket_speed.py [--rounds 5]. Prints the best of the rounds in wall and processor time and the
bar of 0.5 s; beside it the same solid made the plain way, every bore cut off as a solid and every piece joined to the
last in turn, its time as a ratio, and how far the two volumes differ. The brackets are the invented ones of the demo.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from halfshaft.build import Build, load, new_build
from halfshaft.fold.model import Bracket, Panel
from halfshaft.fold.solid import bend_solids, bracket_solid, hole_contour
from halfshaft.fold.station import shaped
from halfshaft.geometry import solids
from halfshaft.measure import measure
from halfshaft.measure.model import Measured

BAR_S = 0.5


def plain_solid(bracket: Bracket) -> solids.Solid:
    """The solid without the shortcuts: bores taken off one by one, pieces fused pair by pair."""
    whole = None
    for panel in bracket.panels.values():
        piece = _plain_panel(bracket, panel)
        whole = piece if whole is None else whole + piece
    for fold in bracket.folds:
        for bend in bend_solids(fold, bracket.panels):
            whole = whole + bend
    return whole


def _plain_panel(bracket: Bracket, panel: Panel) -> solids.Solid:
    from halfshaft.fold.slab import figure, trimmed
    from halfshaft.geometry.arcs import contours_of

    slit = [f for f in bracket.folds if f.kind == "slit"]
    outline, openings = contours_of(trimmed(panel, slit) if slit else figure(panel))[0]
    piece = solids.plate(outline, (), panel.pose, 0.0, panel.thickness_mm)
    for cut in [*openings, *(hole_contour(hole) for hole in panel.holes)]:
        piece = solids.less(piece, solids.plate(cut, (), panel.pose, -1.0, panel.thickness_mm + 1.0))
    return piece


def best(rounds: int, call: Callable[[], object]) -> tuple[float, float, object]:
    """Least wall and processor seconds of some rounds, and the last result."""
    walls, works, out = [], [], None
    for _ in range(rounds):
        wall, work = time.perf_counter(), time.process_time()
        out = call()
        walls.append(time.perf_counter() - wall)
        works.append(time.process_time() - work)
    return min(walls), min(works), out


def told(build: Build, measured: Measured, name: str, rounds: int) -> None:
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "part.step"
        steps: list[tuple[str, float, float]] = []
        wall, work, bracket = best(rounds, lambda: shaped(build, measured, name))
        assert isinstance(bracket, Bracket)
        steps.append(("flat part", wall, work))
        wall, work, solid = best(rounds, lambda: bracket_solid(bracket))
        steps.append(("solid", wall, work))
        wall, work, _ = best(rounds, lambda: solids.write_step(solid, path))
        steps.append(("STEP file", wall, work))
        plain_wall, plain_work, plain = best(max(1, rounds // 2), lambda: plain_solid(bracket))
    volume, other = solids.volume_mm3(solid), solids.volume_mm3(plain)
    print(f"{name}: {len(bracket.panels)} panels, {len(bracket.folds)} folds, {volume / 1000.0:.1f} cm3")
    print(f"  {'':<12}{'wall s':>8}{'cpu s':>8}")
    total = ("together", sum(s[1] for s in steps), sum(s[2] for s in steps))
    for what, wall, work in [*steps, total]:
        print(f"  {what:<12}{wall:>8.3f}{work:>8.3f}")
    print(
        f"  bar {BAR_S} s: {'met' if total[1] <= BAR_S else 'met in processor time' if total[2] <= BAR_S else 'missed'}"
    )
    print(
        f"  {'plain solid':<12}{plain_wall:>8.3f}{plain_work:>8.3f}   {plain_work / steps[1][2]:.2f} x the solid's time"
    )
    print(f"  volumes differ by {abs(volume / other - 1.0):.1e} of the whole")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        new_build(folder, demo=True)
        build = load(folder)
    measured = measure(build)
    for name in ("front_left", "front_right"):
        told(build, measured, name, rounds)


if __name__ == "__main__":
    main()
