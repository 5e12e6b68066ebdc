"""Stress of the demo's brackets, timed: one load case from bracket to answer; all cases of all mounts; another solver.

Run: python benchmarks/bracket_stress_speed.py. Bars: one case 3 s, all cases 30 s. The last table solves the very same
mesh, supports and loads with CalculiX (Debian calculix-ccx) where it is installed: wall times as a ratio, and by how
much motion and stress differ. The brackets and loads are invented.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np

from halfshaft.build import load, new_build
from halfshaft.fold.model import Bracket
from halfshaft.fold.station import shaped
from halfshaft.measure import measure
from halfshaft.mounts.bracket_mesh import bracket_mesh, usual
from halfshaft.mounts.bracket_stress import Duty, bracket_stress, hole_spot
from halfshaft.mounts.elastic import Body, mises_mpa
from halfshaft.mounts.held_part import Case, Push
from tests.reference import calculix

STEEL = "mild steel S275"
HELD = {"front_left": ("web", "flange"), "front_right": ("web", "flange"), "rear": ("cross",)}
ONE_S, ALL_S = 3.0, 30.0
WAYS = [(0, 0, 3000), (0, 0, -3000), (2000, 0, 0), (-2000, 0, 0), (0, 1500, 0), (0, -1500, 0), (900, 0, 1500)]


def holes_of(bracket: Bracket, panels: Sequence[str]) -> tuple[list[str], list[str]]:
    bolts = [hole.name for panel in bracket.panels.values() for hole in panel.holes if hole.use == "bolt"]
    held = [name for name in bolts if name.split(".")[0] in panels]
    return held, [name for name in bolts if name not in held]


def cases_of(bracket: Bracket, loaded: Sequence[str]) -> list[Case]:
    """Sixteen cases: seven forces alone and with a moment, and two more moments."""
    middle = np.mean([hole_spot(bracket, name)[2] for name in loaded], axis=0)
    out = []
    for number, force in enumerate([*WAYS, *WAYS, (0, 0, 0), (0, 0, 0)]):
        moment = np.zeros(3) if number < 7 else np.array([20_000.0, -30_000.0, 10_000.0]) * (1 + number % 3)
        out.append(Case(f"case {number + 1}", (Push(tuple(loaded), np.array(force, float), moment, middle),)))
    return out


def timed(call: Callable[[], object]) -> tuple[float, float, object]:
    wall, work = time.perf_counter(), time.process_time()
    out = call()
    return time.perf_counter() - wall, time.process_time() - work, out


def met(wall: float, work: float, bar: float) -> str:
    return "met" if wall <= bar else "met in processor time" if work <= bar else "missed"


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        new_build(folder, demo=True)
        build = load(folder)
    measured = measure(build)
    brackets = {name: shaped(build, measured, name) for name in HELD}
    # the library's first call loads it
    first = brackets["front_left"]
    held, loaded = holes_of(first, HELD["front_left"])
    bracket_stress(first, held, cases_of(first, loaded)[:1], material=STEEL, compare=False, fields=False)

    print(f"one load case, bracket to answer ({ONE_S:g} s)\n  {'':<14}{'wall s':>8}{'cpu s':>8}")
    for name, bracket in brackets.items():
        held, loaded = holes_of(bracket, HELD[name])
        case = cases_of(bracket, loaded)[:1]
        wall, work, _ = timed(
            lambda b=bracket, h=held, c=case: bracket_stress(b, h, c, material=STEEL, compare=False)  # type: ignore[misc]
        )
        print(f"  {name:<14}{wall:>8.2f}{work:>8.2f}  {met(wall, work, ONE_S)}")

    print(f"16 cases, 4 unit cases of the duty, finer mesh of the worst ({ALL_S:g} s for all)")
    walls, works = [], []
    for name, bracket in brackets.items():
        held, loaded = holes_of(bracket, HELD[name])
        cases = cases_of(bracket, loaded)
        units = dict(zip(("torque", "vertical", "lateral", "longitudinal"), cases[6:10], strict=True))
        throat = bracket.thickness_mm - 2.0
        wall, work, _ = timed(
            lambda b=bracket, h=held, c=cases, u=units, t=throat: bracket_stress(  # type: ignore[misc]
                b, h, c, material=STEEL, throat_mm=t, duty=Duty(u, 150_000.0)
            )
        )
        walls.append(wall)
        works.append(work)
        print(f"  {name:<14}{wall:>8.2f}{work:>8.2f}")
    print(f"  {'together':<14}{sum(walls):>8.2f}{sum(works):>8.2f}  {met(sum(walls), sum(works), ALL_S)}")
    beside(brackets)


def beside(brackets: dict[str, Bracket]) -> None:
    if calculix.PROGRAM is None:
        print("CalculiX is not installed (Debian calculix-ccx): nothing to compare with")
        return
    print(
        "the same mesh here and in CalculiX, one thread each\n"
        "  bracket       unknowns  here s  there s   ratio  motion  stress"
    )
    for name, bracket in brackets.items():
        held, loaded = holes_of(bracket, HELD[name])
        for finer in (False, True):
            mesh = bracket_mesh(bracket, None, usual(bracket.thickness_mm, finer), (*held, *loaded)).mesh
            fixed = {f"ring {hole}": (True, True, True) for hole in held}
            groups = [f"ring {hole}" for hole in loaded]

            def here(mesh=mesh, fixed=fixed, groups=groups):  # type: ignore[no-untyped-def]
                body = Body(mesh, 210_000.0, 0.3, {}, fixed)
                pull = body.traction(groups, np.broadcast_to([1.0, -0.4, 2.0], mesh.corners_mm.shape))
                moved = body.moved_mm(body.solved(pull[:, None])[:, 0])
                return body, pull, moved, mises_mpa(body.stress_mpa(moved))

            wall, _, (body, pull, moved, mine) = timed(here)  # type: ignore[misc]
            rest = np.unique(np.concatenate([body.nodes_on(mesh.skin[mesh.groups[g]]) for g in fixed]))
            with tempfile.TemporaryDirectory() as scratch:
                other = calculix.solved(body, pull, rest, Path(scratch))
            theirs = mises_mpa(other.stress_mpa)
            off = np.linalg.norm(moved - other.moved_mm, axis=1).max() / np.linalg.norm(other.moved_mm, axis=1).max()
            stress = np.abs(mine - theirs).max() / theirs.max()
            print(
                f"  {name:<14}{body.unknowns:>8,}{wall:>8.2f}{other.seconds:>9.2f}{wall / other.seconds:>8.2f}"
                f"{100 * off:>7.3f}%{100 * stress:>7.3f}%"
            )


if __name__ == "__main__":
    main()
