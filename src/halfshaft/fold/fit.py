"""The chance that a bracket fits as first cut: build, measured points and bracket in, chance with its reasons out."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.checks import Assumed, Check, Severity
from halfshaft.fold.fit_samples import Misfit, misfit_of
from halfshaft.fold.model import Bracket, FitChance, HoleChance
from halfshaft.fold.placement import placeable
from halfshaft.fold.remedies import remedies
from halfshaft.measure.model import Measured
from halfshaft.sums import one_thread
from halfshaft.sure import ONE_WAY

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

FIT_TITLE = "chance that it fits as first cut"
UNSEEN = "slips that no other reading would show"
_LARGE, _NAMED = 0.2, 4  # part of the misses from which hidden slips are spoken of, and how many readings are named
_LOOKED_AT = 200  # misses in which each hole is set free in turn


@one_thread()
def chance_of_fit(
    build: Build,
    measured: Measured,
    bracket: Bracket,
    samples: int = 10_000,
    seed: int | None = None,
    propose: bool = True,
) -> FitChance:
    """Probability that the bracket, rigid as welded, can be placed so that every bolt passes and every panel pulls up.

    Each sample draws the true holes and faces about the measured ones (their joint covariance) and the bracket as made
    about the bracket as drawn (cut, fold angle, place and depth of each fold), now and then with a slip that the
    readings hide, then asks whether a small move of the part satisfies all: see docs/fit.md. `seed` None takes the
    build's. `propose` False leaves the remedies out.
    Raises ValueError naming points and faces that are not located, where no hole sits at a measured point, and where
    samples < 1.
    """
    if samples < 1:
        raise ValueError(f"a chance of fit wants at least one sample, not {samples}")
    misfit = misfit_of(build, measured, bracket)
    own = zlib.crc32(bracket.name.encode())
    rng = np.random.default_rng([build.build.seed if seed is None else seed, own])
    draws, struck, which, added = misfit.draw_told(rng, samples)
    verdict = placeable(misfit.play, draws)
    passes = float(verdict.fits.mean())
    missed = ~verdict.fits
    misses, push = draws[missed], verdict.push[missed]
    low, high = wilson(int(verdict.fits.sum()), samples)
    strained = push if len(push) else _nearest_to_missing(misfit, draws[:2000])
    unseen = _unseen(misfit, draws, missed, struck, which, added)
    in_misses = sum(unseen.values())
    every = {name: (1.0 - in_misses) * part for name, part in misfit.shares(strained).items()}
    shares = sorted((every | {UNSEEN: in_misses}).items(), key=lambda item: -item[1])
    holes, panels = _worst(misfit, misses, push, passes)
    said, changes = remedies(build, measured, misfit, misses, push, passes, bracket.name) if propose else ((), ())
    said += _take_again(unseen, passes) if propose else ()
    return FitChance(
        passes=passes,
        standard_error=float(np.sqrt(passes * (1.0 - passes) / samples)),
        samples=samples,
        holes=holes,
        mostly_from=shares[0][0] if shares else "",
        remedies=said,
        low=low,
        high=high,
        panels=panels,
        shares=tuple(shares),
        changes=changes,
    )


def fit_checks(bracket: Bracket, chance: FitChance) -> tuple[Check, ...]:
    """The chance as a judgement against the wanted one, with what to do."""
    row = default("fit.wanted")
    wanted = 100.0 * float(row.value)
    ranked = [(row.spoils, f"hole {row.hole}") for row in chance.holes]
    ranked += [(row.spoils, f"the seat of panel {row.hole}") for row in chance.panels]
    share, worst = max(ranked, default=(0.0, ""))
    why = f"Misses come mostly from {chance.mostly_from}" if chance.mostly_from else ""
    spoils = f"{worst} spoils most" if share > 0.0 else ""
    reason = "; ".join(words for words in (why, spoils) if words)
    # the first remedy reaches furthest; all of them stand in FitChance.remedies
    best = chance.remedies[0] if chance.remedies else "Take the readings listed to take next, then work it again."
    do = "Cut it." if 100.0 * chance.passes >= wanted else f"{reason[:1].upper()}{reason[1:]}. {best}".lstrip(". ")
    return (
        Check(
            station="fold",
            about=f"bracket {bracket.name}",
            title=FIT_TITLE,
            source=row.source,
            severity=Severity.CAUTION,
            do=do,
            found=100.0 * chance.passes,
            limit=wanted,
            unit="%",
        ),
    )


def fit_assumed(build: Build, bracket: Bracket) -> tuple[Assumed, ...]:
    """Spreads the chance of fit rests on that the builder did not give."""
    found = []
    for key, field in (("cut_spread_mm", "cut_spread"), ("fold_spread_deg", "fold_spread"), ("pull_up_mm", "pull_up")):
        if not build.shop.given(key):
            row = default(f"shop.{field}")
            found.append(Assumed(f"shop.{field}", f"{row.value} {row.unit}", row.source))
    if not build.shop.given("weld") and any(fold.kind == "slit" for fold in bracket.folds):
        found.append(Assumed("shop.weld", build.shop.weld, default("shop.weld").source))
    sheet = build.sheet.get(bracket.sheet)
    if any(fold.kind == "slit" for fold in bracket.folds) and (sheet is None or sheet.pivot_depth_mm is None):
        row = default("fit.pivot_spread")
        spread = float(row.value) * bracket.thickness_mm
        found.append(Assumed(f"sheet.{bracket.sheet}.pivot_depth", f"known to {spread:.1f} mm", row.source))
    return tuple(found)


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """95 % interval of a probability.

    Source: E. B. Wilson, Probable inference, J. Am. Stat. Assoc. 22 (1927) 209; NIST/SEMATECH e-Handbook 7.2.4.1.
    """
    z2, share = ONE_WAY**2, hits / trials
    middle = share + z2 / (2.0 * trials)
    half = ONE_WAY * float(np.sqrt(share * (1.0 - share) / trials + z2 / (4.0 * trials**2)))
    bottom = 1.0 + z2 / trials
    return max(0.0, (middle - half) / bottom), min(1.0, (middle + half) / bottom)


def _unseen(misfit: Misfit, draws: Array, missed: Bools, struck: Ints, which: Ints, added: Array) -> dict[str, float]:
    """Part of the misses that would fit but for a hidden slip, by the name of its reading, the worst first.

    Of several slips in one draw the one that moves most counts.
    """
    at = np.flatnonzero(missed[struck])
    if len(at) == 0:
        return {}
    spoiled, place = np.unique(struck[at], return_inverse=True)
    without = draws[spoiled].copy()
    np.subtract.at(without, place, added[at])
    caused = placeable(misfit.play, without).fits[place]
    size = np.max(np.abs(added[at]), axis=1)
    top = np.zeros(len(spoiled))
    np.maximum.at(top, place, size)
    largest = size >= top[place]
    share = np.bincount(which[at], weights=caused & largest, minlength=len(misfit.rare.names)) / int(missed.sum())
    out: dict[str, float] = {}
    for i in np.argsort(-share):
        if share[i] > 0.0:
            out[misfit.rare.names[i]] = out.get(misfit.rare.names[i], 0.0) + float(share[i])
    return out


def _take_again(unseen: Mapping[str, float], passes: float) -> tuple[str, ...]:
    """What to say where slips that no other reading shows are a large part of the misses, and misses too many."""
    if passes >= float(default("fit.wanted").value) or sum(unseen.values()) < _LARGE:
        return ()
    first = sorted(unseen, key=lambda name: -unseen[name])[:_NAMED]
    return (
        f"Take again, from another side or with another instrument: {'; '.join(first)}. Hardly any other reading "
        f"checks them, and a slip there is in {100.0 * sum(unseen[n] for n in first):.0f} % of the misses.",
    )


def _nearest_to_missing(misfit: Misfit, draws: Array) -> Array:
    """Pushes of the draws that would miss first if every play were less: where it would go wrong."""
    for tighter in (0.7, 0.5, 0.3, 0.15, 0.05, 0.01):
        play = replace(
            misfit.play,
            clear_mm=tighter * misfit.play.clear_mm,
            half_slot_mm=tighter * misfit.play.half_slot_mm,
            half_gap_mm=tighter * misfit.play.half_gap_mm,
        )
        verdict = placeable(play, draws)
        if (~verdict.fits).sum() >= 20:
            return np.asarray(verdict.push[~verdict.fits])
    return draws


def _worst(
    misfit: Misfit, misses: Array, push: Array, passes: float
) -> tuple[tuple[HoleChance, ...], tuple[HoleChance, ...]]:
    """Holes and panels, the one that spoils most first."""
    play, h = misfit.play, misfit.play.holes
    panels = tuple(dict.fromkeys(misfit.gap_panel))
    if not len(misses):
        calm = tuple(HoleChance(hole.name, 1.0, 0.0) for hole in misfit.holes)
        return calm, tuple(HoleChance(name, 1.0, 0.0) for name in panels)
    strength = [np.hypot(push[:, 2 * i], push[:, 2 * i + 1]) for i in range(h)]
    masks = [np.array([name == panel for name in misfit.gap_panel]) for panel in panels]
    strength += [np.sum(np.abs(push[:, 2 * h :][:, mask]), axis=1) for mask in masks]
    worst = np.argmax(np.array(strength), axis=0)
    spoils = np.bincount(worst, minlength=h + len(panels)) / len(misses)
    few = misses[:_LOOKED_AT]
    alone = []
    for i in range(h + len(panels)):
        freed, stay = play.without_hole(i) if i < h else play.without_gaps(masks[i - h])
        others = passes + (1.0 - passes) * float(placeable(freed, few[:, stay]).fits.mean())
        alone.append(passes / others if others > 0.0 else 0.0)
    names = [hole.name for hole in misfit.holes] + list(panels)
    rows = [HoleChance(n, float(a), float(s)) for n, a, s in zip(names, alone, spoils, strict=True)]
    return _sorted(rows[:h]), _sorted(rows[h:])


def _sorted(rows: Sequence[HoleChance]) -> tuple[HoleChance, ...]:
    return tuple(sorted(rows, key=lambda row: (-row.spoils, row.passes)))
