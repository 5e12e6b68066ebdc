"""A range with its 90 % band, and what the band comes from: inputs with their spreads in, shares of variance out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.road.cycles import Cycle
from halfshaft.road.inputs import Inputs, assemble
from halfshaft.road.reach import reach
from halfshaft.road.resistance import Number
from halfshaft.sure import TAILS

Array = NDArray[np.float64]

SAMPLES = 512
_CUT = 3.0  # spreads: no mass below nought, no headwind of a storm

Change = Callable[[Inputs, Number], Inputs]


@dataclass(frozen=True, eq=False)
class Spread:
    """One input that is not known well. `change` moves it by so many of its standard deviations.

    Several of one name are told as one.
    """

    name: str
    words: str
    change: Change


@dataclass(frozen=True, eq=False)
class Share:
    """How much of the band one input makes, 0 to 1, and what its one standard deviation does to the range, m."""

    name: str
    words: str
    share: float
    one_spread_m: float


@dataclass(frozen=True, eq=False)
class Band:
    """Range with the 5th and 95th hundredth of it. `rest` is the share of inputs working together."""

    cycle: str
    middle_m: float
    low_m: float
    high_m: float
    shares: tuple[Share, ...]  # the largest first
    rest: float


def band(told: Inputs, cycle: Cycle, spreads: tuple[Spread, ...], seed: int, samples: int = SAMPLES) -> Band:
    """Draw all inputs together by a scrambled Sobol' sequence, normal and cut at three spreads, and drive each car.

    Shares are squared standardised regression coefficients: right where the range answers nearly straight, as it does
    for spreads of some per cent; what straight lines leave is told as `rest`. `samples` is a power of two.
    Source: Saltelli et al., Global Sensitivity Analysis: The Primer, ch. 1 (from memory).
    """
    here, now = assemble(told)
    middle = float(reach(here, cycle, now).range_m[0])
    if not spreads:
        return Band(cycle.name, middle, middle, middle, (), 0.0)
    z = draws(len(spreads), seed, samples)
    moved = told
    for spread, column in zip(spreads, z.T, strict=True):
        moved = spread.change(moved, column)
    car, day = assemble(moved)
    metres = reach(car, cycle, day, points=1).range_m
    if not np.all(np.isfinite(metres)) or not np.isfinite(middle):
        return Band(cycle.name, middle, float(np.min(metres)), np.inf, (), 0.0)
    # draws use one charge, the middle three: the difference is the same for all of them
    metres = metres * middle / float(reach(here, cycle, now, points=1).range_m[0])
    low, high = np.quantile(metres, TAILS)
    slopes, *_ = np.linalg.lstsq(np.column_stack([np.ones(samples), z]), metres, rcond=None)
    variance = float(metres.var())
    parts = slopes[1:] ** 2 * z.var(axis=0) / variance if variance > 0.0 else np.zeros(len(spreads))
    parts = parts / max(1.0, float(parts.sum()))
    by_name: dict[str, Share] = {}
    for one, part, slope in zip(spreads, parts, slopes[1:], strict=True):
        before = by_name.get(one.name)
        move = float(slope) if before is None else float(np.hypot(before.one_spread_m, slope))
        by_name[one.name] = Share(one.name, one.words, float(part) + (before.share if before else 0.0), move)
    shares = list(by_name.values())
    shares.sort(key=lambda one: -one.share)
    return Band(cycle.name, middle, float(low), float(high), tuple(shares), max(0.0, 1.0 - float(parts.sum())))


def load_library() -> None:
    """Load the library of draws ahead of its first use."""
    import scipy.stats  # noqa: F401


def draws(count: int, seed: int, samples: int) -> Array:
    """Scrambled Sobol' draws (samples, count) of standard normals cut at three spreads."""
    from scipy.stats import qmc, truncnorm  # slow to load, and only who works a band wants it

    if not count:
        return np.zeros((samples, 0))
    even = np.asarray(qmc.Sobol(count, scramble=True, rng=np.random.default_rng(seed)).random(samples))
    return np.asarray(truncnorm.ppf(np.clip(even, 1e-9, 1.0 - 1e-9), -_CUT, _CUT))


def scale(field: str, share: float) -> Change:
    """A change that multiplies a field of the inputs by 1 + share times the draw, never by less than a twentieth."""

    def change(told: Inputs, draw: Number) -> Inputs:
        return replace(told, **{field: getattr(told, field) * np.maximum(1.0 + share * draw, 0.05)})

    return change


def shift(field: str, by: float) -> Change:
    """A change that adds so much times the draw to a field of the inputs."""

    def change(told: Inputs, draw: Number) -> Inputs:
        return replace(told, **{field: getattr(told, field) + by * draw})

    return change
