"""A bracket's play and the misfits that miss, in; what would make enough of them fit, in sentences, out.

Every remedy only widens the play, so what fitted still fits and just the misses are tried again, with the same draws.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import bolt, default
from halfshaft.fold.fit_samples import Misfit
from halfshaft.fold.further import Plan, draws_with, further_readings
from halfshaft.fold.model import Change
from halfshaft.fold.placement import Play, placeable
from halfshaft.measure.model import Measured

Array = NDArray[np.float64]

_TRIED = 250  # misses on which a remedy is searched
_PROVED = 4000  # misses on which the one chosen is tried again


@dataclass(frozen=True, eq=False, slots=True)
class _State:
    """Play and misfits after some remedies."""

    play: Play
    misses: Array


@dataclass(frozen=True, eq=False, slots=True)
class _Remedy:
    words: str
    change: Callable[[_State], _State]
    writes: Change | None = None


def remedies(
    build: Build, measured: Measured, misfit: Misfit, misses: Array, push: Array, passes: float, name: str = ""
) -> tuple[tuple[str, ...], tuple[Change, ...]]:
    """Sentences, the ones that reach the wanted chance first, and of these what the build can be changed to.

    Both are empty where the wanted chance is reached already.

    `misses` (k, 2 h + g) are all draws that do not fit, `push` (k, 2 h + g) their proofs, `passes` the chance as it is.
    """
    wanted = float(default("fit.wanted").value)
    if passes >= wanted or not len(misses):
        return (), ()
    state, few = _State(misfit.play, misses[:_PROVED]), _State(misfit.play, misses[:_TRIED])

    def chance(remedy: Sequence[_Remedy], on: _State) -> float:
        for one in remedy:
            on = one.change(on)
        return passes + (1.0 - passes) * float(placeable(on.play, on.misses).fits.mean())

    slot = _best_slot(misfit, few, push, passes, wanted)
    give = _let_folds_give(build, misfit)
    big = [_oversize(misfit, hole) for hole in range(misfit.play.holes)]
    bigger = [one for one in big if one is not None]
    bolted = set(misfit.hole_panels)
    packs = [
        _pack(misfit, panel) if panel in bolted else _stand_off(build, name, misfit, panel)
        for panel in dict.fromkeys(misfit.gap_panel)
    ]
    single = [*([slot] if slot else []), *bigger, *([give] if give else []), *packs]
    scored = sorted(((chance([one], few), i) for i, one in enumerate(single)), reverse=True)
    said: list[str] = []
    good: list[_Remedy] = []
    for likely, i in scored[:4]:
        now = chance([single[i]], state) if likely >= wanted - 0.02 else 0.0
        if now >= wanted:
            said.append(f"{single[i].words}: the chance of fit becomes {_percent(now)}.")
            good.append(single[i])
    chosen: list[_Remedy] = []
    if not said and scored:
        chosen, words = _together(single, scored, state, few, passes, wanted, chance)
        said += words
    known, coupon = _coupon(build, misfit, push, passes)
    plan = _readings(build, measured, misfit, push, passes)
    said = said[:3] + list(coupon)
    if plan.words:
        said.append(f"Read also: {'; '.join(plan.words)}. With them the chance of fit becomes {_percent(plan.chance)}.")
    reached = [chance(chosen, few), plan.chance] if chosen else [plan.chance]
    if len(said) > 1 and chosen and max(reached) < wanted:
        all_in = _State(misfit.play, draws_with(known, plan.covariance, np.random.default_rng(build.build.seed)))
        for one in chosen:
            all_in = one.change(all_in)
        now = float(placeable(all_in.play, all_in.misses).fits.mean())
        said.append(f"All of this together: {_percent(now)}.")
    changes = dict.fromkeys(one.writes for one in [*good[:3], *chosen] if one.writes is not None)
    return tuple(said), tuple(changes)


def _together(
    single: Sequence[_Remedy],
    scored: Sequence[tuple[float, int]],
    state: _State,
    few: _State,
    passes: float,
    wanted: float,
    chance: Callable[[Sequence[_Remedy], _State], float],
) -> tuple[list[_Remedy], list[str]]:
    """Remedies added one by one by what they gain, until the wanted chance is reached or nothing more helps."""
    chosen = [scored[0][1]]
    best = scored[0][0]
    while best < wanted and len(chosen) < min(len(single), 4):
        gains = sorted(
            ((chance([single[j] for j in [*chosen, i]], few), i) for i in range(len(single)) if i not in chosen),
            reverse=True,
        )
        if not gains or gains[0][0] <= best + 0.002:
            break
        best = gains[0][0]
        chosen.append(gains[0][1])
    now = chance([single[i] for i in chosen], state)
    if now <= passes + 0.002:
        return [], []
    words = "; and ".join(_lowered(single[i].words, k) for k, i in enumerate(chosen))
    remedies_chosen = [single[i] for i in chosen]
    if now >= wanted:
        return remedies_chosen, [f"{words}: together the chance of fit becomes {_percent(now)}."]
    return remedies_chosen, [f"{words}: the chance of fit becomes {_percent(now)}, still under {_percent(wanted)}."]


def _lowered(words: str, number: int) -> str:
    return words if number == 0 else words[0].lower() + words[1:]


def _best_slot(misfit: Misfit, few: _State, push: Array, passes: float, wanted: float) -> _Remedy | None:
    """The shortest single slot that reaches the wanted chance, else the longest one allowed where it helps most."""
    most = float(default("fit.slot_most").value)
    best: tuple[float, float, int, Array] | None = None
    for hole in range(misfit.play.holes):
        if misfit.play.half_slot_mm[hole] > 0.0:
            continue
        at = push[:, 2 * hole : 2 * hole + 2]
        way = _round_way(misfit, hole, np.linalg.eigh(at.T @ at)[1][:, -1])

        def with_slot(length: float, hole: int = hole, way: Array = way) -> float:
            on = _slotted(few, hole, way, length)
            return passes + (1.0 - passes) * float(placeable(on.play, on.misses).fits.mean())

        gained = with_slot(most)
        length = most
        if gained >= wanted:
            short, long = 0, int(most)
            while long - short > 1:
                middle = (short + long) // 2
                short, long = (short, middle) if with_slot(float(middle)) >= wanted else (middle, long)
            length = float(long)
        key = (length, -gained, hole, way)
        if best is None or key[:2] < best[:2]:
            best = key
    if best is None:
        return None
    length, _, hole, way = best
    words = (
        f'Make hole {misfit.holes[hole].name} a slot: slot_length = "{length:.0f} mm", '
        f'slot_angle = "{_angle(misfit, hole, way):.0f} deg" ({_which_way(misfit, hole, way)}), under a washer that '
        "covers it"
    )
    slot = (
        ("shape", "slot"),
        ("slot_length", f"{length:.0f} mm"),
        ("slot_angle", f"{_angle(misfit, hole, way):.0f} deg"),
    )
    name = misfit.holes[hole].name
    change = Change(f"Make hole {name} a slot, {length:.0f} mm", misfit.hole_panels[hole], name, slot)
    return _Remedy(words, lambda state: _slotted(state, hole, way, length), change)


def _slotted(state: _State, hole: int, way: Array, length_mm: float) -> _State:
    play, turn = state.play.slotted(hole, way, length_mm)
    misses = state.misses.copy()
    misses[:, 2 * hole : 2 * hole + 2] = misses[:, 2 * hole : 2 * hole + 2] @ turn.T
    return _State(play, misses)


def _round_way(misfit: Misfit, hole: int, way: Array) -> Array:
    """The nearest direction (2,) at a multiple of 15 degrees from the u axis: easy to set out, near enough."""
    along = misfit.holes[hole].slot_way
    own = np.arctan2(along[1], along[0])
    angle = np.radians(15.0 * np.round(np.degrees(own + np.arctan2(way[1], way[0])) / 15.0)) - own
    return np.array([np.cos(angle), np.sin(angle)])


def _angle(misfit: Misfit, hole: int, way: Array) -> float:
    """Angle of the slot from the panel's u axis, 0 to 180."""
    along = misfit.holes[hole].slot_way
    turned = np.arctan2(along[1], along[0]) + np.arctan2(way[1], way[0])
    return round(float(np.degrees(turned))) % 180.0


def _which_way(misfit: Misfit, hole: int, way: Array) -> str:
    return ("mostly fore and aft", "mostly left and right", "mostly up and down")[
        int(np.argmax(np.abs(way @ misfit.axes[hole])))
    ]


def _oversize(misfit: Misfit, hole: int) -> _Remedy | None:
    row = misfit.holes[hole]
    try:
        more = (bolt(row.bolt).oversize_mm - row.diameter_mm) / 2.0
    except KeyError:
        return None
    if more <= 0.0:
        return None
    words = f'Make hole {row.name} oversize, {row.diameter_mm + 2.0 * more:.1f} mm (shape = "oversize")'
    panel = misfit.hole_panels[hole]
    change = Change(f"Make hole {row.name} oversize", panel, row.name, (("shape", "oversize"),))
    return _Remedy(words, lambda state: replace(state, play=state.play.opened(hole, more)), change)


def _let_folds_give(build: Build, misfit: Misfit) -> _Remedy | None:
    """Bolted up before welding, the slit folds set themselves; None where they do already or there are none."""
    rows = misfit.bolted_up().play.rows
    if build.shop.weld == "in place" or rows.shape == misfit.play.rows.shape:
        return None
    words = 'Bolt it up so that the folds set themselves, tack it there, then weld the slits ([shop] weld = "in place")'
    return _Remedy(words, lambda state: replace(state, play=replace(state.play, rows=rows)))


def _pack(misfit: Misfit, panel: str) -> _Remedy:
    more = float(default("fit.packing").value)
    gaps = np.array([name == panel for name in misfit.gap_panel])

    def change(state: _State) -> _State:
        half, misses = state.play.half_gap_mm.copy(), state.misses.copy()
        half[gaps] += more / 2.0
        misses[:, 2 * state.play.holes :][:, gaps] -= more / 2.0
        return _State(replace(state.play, half_gap_mm=half), misses)

    return _Remedy(f"Keep packing of up to {more:.0f} mm at hand for panel {panel}", change)


def _stand_off(build: Build, bracket: str, misfit: Misfit, panel: str) -> _Remedy:
    """A lip without bolts set off its face, so that it does not jam before the bolts are home."""
    more = float(default("fit.lip_standoff").value)
    gaps = np.array([name == panel for name in misfit.gap_panel])

    def change(state: _State) -> _State:
        misses = state.misses.copy()
        misses[:, 2 * state.play.holes :][:, gaps] += more
        return replace(state, misses=misses)

    writes = None
    if bracket in build.bracket and panel in build.bracket[bracket].panel:
        told = build.bracket[bracket].panel[panel]
        now = told.standoff_mm if told.given("standoff_mm") else float(default("fold.lip_gap").value)
        off = f"{now + more:.2f}".rstrip("0").rstrip(".")
        writes = Change(f"Stand panel {panel} off by {off} mm", panel, "", (("standoff", f"{off} mm"),))
    return _Remedy(f'Stand panel {panel} off its edge (standoff = "{more:g} mm" more than now)', change, writes)


def _coupon(build: Build, misfit: Misfit, push: Array, passes: float) -> tuple[Misfit, tuple[str, ...]]:
    """Where the unknown depth of the slit folds is a large part: the misfit with a coupon folded, and what to say."""
    shares = misfit.shares(push)
    unknown = [cause for cause in misfit.causes if cause.kind == "pivot"]
    if sum(shares[cause.name] for cause in unknown) < 0.15:
        return misfit, ()
    better = float(default("fit.pivot_spread_coupon").value) / float(default("fit.pivot_spread").value)
    causes = tuple(replace(c, spread=better * c.spread) if c.kind == "pivot" else c for c in misfit.causes)
    known = replace(misfit, causes=causes)
    now = float(placeable(misfit.play, known.draw(np.random.default_rng(build.build.seed), 2000)).fits.mean())
    if now <= passes + 0.01:
        return misfit, ()
    return known, (
        "Cut and fold the sheet's test coupon and write the pivot_depth it gives: with the depth known the chance of "
        f"fit becomes {_percent(now)}.",
    )


def _readings(build: Build, measured: Measured, misfit: Misfit, push: Array, passes: float) -> Plan:
    """The further readings that help, where readings are a large part of the misses; none where they do not."""
    shares = misfit.shares(push)
    none = Plan((), misfit.read_covariance, 0.0)
    if sum(shares[cause.name] for cause in misfit.causes if cause.draws == "readings") < 0.2:
        return none
    plan = further_readings(build, measured, misfit, push[:_TRIED])
    return plan if plan.chance > passes + 0.01 else none


def _percent(value: float) -> str:
    return f"{100.0 * value:.0f} %"
