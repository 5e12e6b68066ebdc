"""A shop on the computer: random frames measured with honest noise and slips, brackets made from them. Prints tables.

Run: python benchmarks/simulated_shop.py [--frames 500] [--slips 300] [--brackets 100] [--seed 1] [--jobs 2]
     [--keep DIR] [--quick]

1. Frames with 3 % slips, no starting values. Converged: what was found costs no more than what is found from the true
   places as starting values, or every point is within 1 mm of it. How often that is within 15 mm of the truth: with two
   readings that contradict each other and no third, the best answer may still be wrong, and is told with both named.
   How often the 95 % ellipsoids hold the truth.
2. One slip of ten spreads in an otherwise honest frame, on a reading of redundancy 0.3 or more: is it named?
3. Brackets: made from the usual readings; again after the next best readings were followed; and by a builder who drafts
   from the fewest readings. The chance of fit that was told against what happened, judged by shop_bracket.py.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import pickle
import sys
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from shop_bracket import best_excess_mm, made
from shop_frames import SHOP_WORDS, Row, Truth, build_of, fewest_rows, random_truth, read, usual_rows

from halfshaft.build.schema import Build
from halfshaft.fold.fit import chance_of_fit
from halfshaft.fold.model import Bracket
from halfshaft.fold.station import fold
from halfshaft.measure.adjust import adjust, wanted_of
from halfshaft.measure.hidden import hidden_slips
from halfshaft.measure.model import Measured
from halfshaft.measure.network import network_of
from halfshaft.measure.next_best import next_readings, relative_spread_mm
from halfshaft.measure.robust import cost_of
from halfshaft.measure.snoop import Snooped, snoop
from halfshaft.measure.station import Surveyed, measured_of, survey
from halfshaft.measure.system import root_points_mm

T = TypeVar("T")

CHI2_95 = 7.814727903  # three degrees of freedom, 95 %
RIGHT_MM = 15.0  # a frame has come out right when no point is further off than this and six spreads
SAME_MM = 1.0
PICKS, ROUNDS, WANTED = 8, 4, 0.97
MAKES = 3


@dataclass(frozen=True)
class FrameResult:
    seed: int
    converged: bool
    right: bool
    worst_mm: float
    unlocated: int
    wrong: int
    named: int
    false: int
    held: int
    points: int
    seconds: float
    trouble: str = ""


@dataclass(frozen=True)
class SlipResult:
    seed: int
    named: bool
    first: bool
    among: bool
    false: int


@dataclass(frozen=True)
class BracketResult:
    seed: int
    arm: str
    predicted: float
    fits: float
    spread_mm: float
    readings: int
    trouble: str = ""


def _errors(truth: Truth, measured: Measured) -> tuple[np.ndarray, np.ndarray]:
    """Error in spreads (Mahalanobis, squared) and in mm of every located point."""
    far, off = [], []
    for name, point in measured.points.items():
        away = point.xyz_mm - truth.in_car_mm(name)
        far.append(float(away @ np.linalg.pinv(point.covariance_mm2, rcond=1e-9) @ away))
        off.append(float(np.linalg.norm(away)))
    return np.array(far), np.array(off)


def one_frame(seed: int) -> FrameResult:
    rng = np.random.default_rng([seed, 1])
    truth = random_truth(rng)
    rows = usual_rows(truth, rng)
    honest = read(truth, rows, np.random.default_rng([seed, 2]), 0.0)
    readings = read(truth, rows, np.random.default_rng([seed, 2]), 0.03)
    wrong = {i for i, (a, b) in enumerate(zip(honest, readings, strict=True)) if a.value != b.value}
    build = build_of(truth, readings)
    begin = time.perf_counter()
    try:
        surveyed = survey(build)
        measured = measured_of(build, surveyed)
    except Exception as error:
        return FrameResult(
            seed, False, False, np.inf, 0, len(wrong), 0, 0, 0, 0, 0.0, f"{type(error).__name__}: {error}"
        )
    seconds = time.perf_counter() - begin
    far, off = _errors(truth, measured)
    spreads = np.array([np.sqrt(np.max(np.linalg.eigvalsh(p.covariance_mm2))) for p in measured.points.values()])
    suspects = {s.index for s in measured.suspects if s.index >= 0}
    right = not measured.unlocated and bool(np.all((off <= RIGHT_MM) | (off <= 6.0 * spreads)))
    return FrameResult(
        seed, _converged(truth, build, surveyed), right, float(off.max()), len(measured.unlocated), len(wrong),
        len(suspects & wrong), len(suspects - wrong), int(np.sum(far <= CHI2_95)), len(far), seconds,
    )  # fmt: skip


def _converged(truth: Truth, build: Build, surveyed: Surveyed) -> bool:
    """Whether the search for starting values led where the truth as starting values leads, or to something cheaper."""
    network = surveyed.network
    if surveyed.unlocated:
        return False
    use = np.ones(len(network.equations), dtype=bool)
    best = snoop(network, truth.state(network), use, wanted_of(network, build)).adjustment.state
    found = surveyed.snooped.adjustment.state
    apart = np.linalg.norm(root_points_mm(network, found) - root_points_mm(network, best), axis=1)
    return bool(apart.max() <= SAME_MM or cost_of(network, found, use) <= cost_of(network, best, use))


def one_slip(seed: int) -> SlipResult | None:
    rng = np.random.default_rng([seed, 3])
    truth = random_truth(rng)
    readings = list(read(truth, usual_rows(truth, rng), rng, 0.0))
    # the honest readings only say which reading is well checked: the true places do as their starting values
    honest = build_of(truth, readings)
    network = network_of(honest)
    first = snoop(
        network, truth.state(network), np.ones(len(network.equations), dtype=bool), wanted_of(network, honest)
    )
    adjustment = first.adjustment
    before = {network.equations[a.equation].row for a in first.aside}
    able = [
        i for i, eq in enumerate(network.equations)
        if eq.row >= 0 and adjustment.use[i] and adjustment.redundancy[i] >= 0.3
    ]  # fmt: skip
    chosen = network.equations[int(rng.choice(able))]
    slip = 10.0 * chosen.sigma * float(rng.choice([-1.0, 1.0]))
    old = readings[chosen.row]
    if old.kind in ("tape", "caliper", "angle", "bevel") and old.value[0] + slip <= 0.0:
        slip = -slip
    readings[chosen.row] = old.model_copy(update={"value": (old.value[0] + slip,), "text": ""})
    build = build_of(truth, readings)
    suspects = measured_of(build, survey(build)).suspects
    named = [s.index for s in suspects]
    among = any(chosen.row in s.among for s in suspects)
    return SlipResult(
        seed,
        chosen.row in named,
        bool(named) and named[0] == chosen.row,
        among,
        len(set(named) - before - {chosen.row}),
    )


def _happened(build: Build, bracket: Bracket, truth: Truth, rng: np.random.Generator) -> float:
    return float(np.mean([best_excess_mm(build, made(build, bracket, rng), truth) <= 1e-3 for _ in range(MAKES)]))


def _spread(surveyed: Surveyed, holes: list[str]) -> float:
    return relative_spread_mm(surveyed.network, surveyed.snooped.adjustment, holes)


def one_bracket(seed: int) -> list[BracketResult]:
    """The left front bracket of one frame, made three ways."""
    rng = np.random.default_rng([seed, 4])
    truth = random_truth(rng)
    side = "LR"[seed % 2]
    name = f"front_{side}"
    holes = [f"car.{side}F1", f"car.{side}F2", f"car.{side}W1", f"car.{side}W2", f"unit.{side}E1", f"unit.{side}E2"]
    faces = [f"car.flange{side}", f"car.web{side}", f"unit.ear{side}"]
    out: list[BracketResult] = []

    def judged(arm: str, build: Build, surveyed: Surveyed) -> float:
        measured = measured_of(build, surveyed)
        spread, count = _spread(surveyed, holes), len(build.readings)
        try:
            bracket = fold(build, measured, name)
        except Exception as error:
            out.append(BracketResult(seed, arm, np.nan, np.nan, spread, count, f"{type(error).__name__}: {error}"))
            return 1.0
        if not bracket.parts:
            stop = next((c.do or c.title for c in bracket.checks if not c.ok), "refused")
            out.append(BracketResult(seed, arm, np.nan, np.nan, spread, count, stop))
            return 1.0
        chance = (bracket.fit or chance_of_fit(build, measured, bracket, propose=False)).passes
        out.append(BracketResult(seed, arm, chance, _happened(build, bracket, truth, rng), spread, count))
        return chance

    readings = list(read(truth, usual_rows(truth, rng), rng, 0.03))
    build = build_of(truth, readings)
    surveyed = survey(build)
    chance = judged("usual readings", build, surveyed)
    for _ in range(ROUNDS):
        if chance >= WANTED or (out and out[-1].trouble):
            break
        picks = next_readings(
            build, surveyed.network, surveyed.snooped.adjustment, [*holes, *faces], PICKS,
            hidden=hidden_slips(surveyed.snooped),
        )  # fmt: skip
        rows: list[Row] = [(p.kind, p.names, p.frame) for p in picks]
        readings += read(truth, rows, rng, 0.03)
        build = build_of(truth, readings)
        surveyed = survey(build, before=surveyed)
        if len(out) > 1:
            out.pop()
        chance = judged("next best followed", build, surveyed)
    if len(out) == 1:
        first = out[0]
        out.append(BracketResult(seed, "next best followed", *_rest(first)))
    for arm, share in (("fewest readings", 0.03), ("fewest, no slips", 0.0)):
        fewest = list(read(truth, fewest_rows(truth), rng, share))
        build = build_of(truth, fewest)
        try:
            judged(arm, build, _drafted(truth, build))
        except Exception as error:
            out.append(BracketResult(seed, arm, np.nan, 0.0, np.nan, len(fewest), f"{type(error).__name__}: {error}"))
    return out


def _rest(one: BracketResult) -> tuple[float, float, float, int, str]:
    return one.predicted, one.fits, one.spread_mm, one.readings, one.trouble


def _drafted(truth: Truth, build: Build) -> Surveyed:
    """Places drawn from just enough readings: nothing is left over to check or to adjust."""
    network = network_of(build)
    use = np.ones(len(network.equations), dtype=bool)
    adjustment = adjust(network, truth.state(network), build, use)
    every = [
        np.ones(n, dtype=bool) for n in (len(network.point_names), len(network.face_names), len(network.body_names))
    ]
    return Surveyed(network, Snooped(adjustment, ()), *every, ())


def _all(what: Callable[[int], T], seeds: Iterable[int], jobs: int, title: str, keep: Path | None) -> list[T]:
    """One result a seed; with `keep` they are kept in that folder as they come, and found there by the next run."""
    done: dict[int, T] = {}
    kept = keep / f"{title}.pickle" if keep else None
    if kept and kept.exists():
        with kept.open("rb") as file, suppress(EOFError):
            while True:
                done.update(pickle.load(file))
    seeds = list(seeds)
    left = [seed for seed in seeds if seed not in done]
    begin = time.perf_counter()
    with ProcessPoolExecutor(jobs) as pool:
        for number, (seed, result) in enumerate(zip(left, pool.map(what, left), strict=True), 1):
            done[seed] = result
            if kept:
                with kept.open("ab") as file:
                    pickle.dump({seed: result}, file)
            if sys.stderr.isatty() or number % 50 == 0:
                print(f"{title}: {number} of {len(left)}, {time.perf_counter() - begin:.0f} s", file=sys.stderr)
    return [done[seed] for seed in seeds]


def _row(what: str, found: str, bar: str, ok: bool | None) -> None:
    print(f"{what:62}{found:>18}{bar:>14}  {'' if ok is None else 'holds' if ok else 'FAILS'}")


def _plus_minus(share: float, count: int) -> str:
    return f"{100 * share:.1f} ± {196 * np.sqrt(max(share * (1 - share), 1e-12) / max(count, 1)):.1f} %"


def tell_frames(found: list[FrameResult]) -> bool:
    converged = float(np.mean([f.converged for f in found]))
    right = float(np.mean([f.right for f in found]))
    points, held = sum(f.points for f in found), sum(f.held for f in found)
    print(f"\nFrames: {len(found)}, 3 % slips, no starting values")
    _row("converged", _plus_minus(converged, len(found)), ">= 99 %", converged >= 0.99)
    _row(f"every point within {RIGHT_MM:.0f} mm or six spreads", _plus_minus(right, len(found)), "", None)
    cover = held / max(points, 1)
    # Points of one frame share readings, so the error of the share is told frame by frame.
    by_frame = np.array([f.held / f.points for f in found if f.points])
    error = 1.96 * float(by_frame.std(ddof=1) / np.sqrt(len(by_frame))) if len(by_frame) > 1 else np.nan
    _row(
        "95 % ellipsoids that hold the truth",
        f"{100 * cover:.1f} ± {100 * error:.1f} %",
        "93 to 97 %",
        0.93 <= cover <= 0.97,
    )
    fine = [f for f in found if f.right]
    cover_fine = sum(f.held for f in fine) / max(sum(f.points for f in fine), 1)
    _row("  the same, of frames that came out right", f"{100 * cover_fine:.1f} %", "", None)
    wrong = sum(f.wrong for f in found)
    _row(
        "slips that are named, whatever their size and redundancy",
        _plus_minus(sum(f.named for f in found) / max(wrong, 1), wrong),
        "",
        None,
    )
    _row("readings named that were no slips, a frame", f"{np.mean([f.false for f in found]):.2f}", "", None)
    _row("seconds a frame, median", f"{np.median([f.seconds for f in found]):.2f}", "", None)
    for f in [f for f in found if not (f.right and f.converged)][:20]:
        off = f"worst {f.worst_mm:.0f} mm, {f.unlocated} not located"
        how = "converged" if f.converged else "not converged"
        print(f"  seed {f.seed}: {how}, {off}, {f.wrong} slips, {f.false} named falsely {f.trouble[:90]}")
    return converged >= 0.99 and 0.93 <= cover <= 0.97


def tell_slips(found: list[SlipResult]) -> bool:
    named = float(np.mean([f.named for f in found]))
    print(f"\nOne slip of ten spreads, redundancy 0.3 or more: {len(found)} frames")
    _row("named", _plus_minus(named, len(found)), ">= 95 %", named >= 0.95)
    _row("named first", _plus_minus(float(np.mean([f.first for f in found])), len(found)), "", None)
    either = float(np.mean([f.named or f.among for f in found]))
    _row("named, or told as not to be told from the one named", _plus_minus(either, len(found)), "", None)
    _row("other readings named that were not before, a frame", f"{np.mean([f.false for f in found]):.2f}", "", None)
    return named >= 0.95


def tell_brackets(found: list[BracketResult]) -> bool:
    fine = True
    print(f"\nBrackets of three panels: {len({f.seed for f in found})} frames, {MAKES} cuts of each; {SHOP_WORDS}")
    print(f"{'':24}{'readings':>10}{'holes, mm':>11}{'told':>9}{'happened':>16}{'refused':>9}")
    for arm in dict.fromkeys(f.arm for f in found):
        those = [f for f in found if f.arm == arm]
        good = [f for f in those if not f.trouble]
        happened = float(np.mean([f.fits for f in good])) if good else np.nan
        told = float(np.mean([f.predicted for f in good])) if good else np.nan
        spread = float(np.median([f.spread_mm for f in good])) if good else np.nan
        print(
            f"{arm:24}{np.mean([f.readings for f in those]):10.0f}{spread:11.2f}"
            f"{100 * told:8.1f}%{_plus_minus(happened, len(good)):>16}{len(those) - len(good):9d}"
        )
        if arm == "next best followed":
            _row("  fits on the first cut", f"{100 * happened:.1f} %", ">= 95 %", happened >= 0.95)
            fine &= happened >= 0.95
        if arm in ("usual readings", "next best followed"):
            _row(
                "  told less happened",
                f"{100 * (told - happened):+.1f} points",
                "within 5",
                abs(told - happened) <= 0.05,
            )
            fine &= abs(told - happened) <= 0.05
    ours = [f for f in found if f.arm in ("usual readings", "next best followed") and not f.trouble]
    print("told against happened, ours together:")
    for low, high in ((0.0, 0.5), (0.5, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 1.001)):
        those = [f for f in ours if low <= f.predicted < high]
        if those:
            told, happened = np.mean([f.predicted for f in those]), float(np.mean([f.fits for f in those]))
            print(f"  told {100 * low:3.0f} to {100 * min(high, 1):3.0f} %: {len(those):4d} brackets, "
                  f"told {100 * told:5.1f} %, happened {_plus_minus(happened, len(those))}")  # fmt: skip
    for trouble in list(dict.fromkeys(f"{f.arm}: {f.trouble}" for f in found if f.trouble))[:8]:
        print(f"  {trouble[:150]}")
    return fine


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--frames", type=int, default=500)
    parser.add_argument("--slips", type=int, default=300)
    parser.add_argument("--brackets", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--keep", type=Path, help="a folder for results as they come: the next run goes on from them")
    parser.add_argument("--quick", action="store_true", help="a few of each, to see that it runs")
    told = parser.parse_args()
    frames, slips, brackets = (6, 6, 4) if told.quick else (told.frames, told.slips, told.brackets)
    base = 100_000 * told.seed
    fine = True
    if told.keep:
        told.keep.mkdir(parents=True, exist_ok=True)
    if frames:
        fine &= tell_frames(_all(one_frame, range(base, base + frames), told.jobs, "frames", told.keep))
    if slips:
        fine &= tell_slips([s for s in _all(one_slip, range(base, base + slips), told.jobs, "slips", told.keep) if s])
    if brackets:
        by_seed = _all(one_bracket, range(base, base + brackets), told.jobs, "brackets", told.keep)
        fine &= tell_brackets([one for several in by_seed for one in several])
    print(f"\n{'all bars hold' if fine else 'a bar fails'}")


if __name__ == "__main__":
    main()
