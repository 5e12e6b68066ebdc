"""What a slip most likely was: a reading set aside and what the others say in, its cause and a proposal out.

Each cause is weighed by its prior weight (catalogue/slips.toml) times the density of its value about the prediction of
the other readings; a slip of any size without a cause has a density even in the logarithm of its size. Causes that lead
to the same names and value count together. The number of names and digits tried is paid for: each kind's weight is
shared out among all its candidates. Formulas: docs/measure.md.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import OSA

from halfshaft.build import catalogue
from halfshaft.build.schema import Build
from halfshaft.build.units import format_length
from halfshaft.measure.adjust import Adjustment
from halfshaft.measure.network import Equation, Network, predict_and_jacobian, with_equations
from halfshaft.measure.slip_kinds import guesses
from halfshaft.measure.words import label_of, short_name, slip_words

Array = NDArray[np.float64]
Proposal = tuple[tuple[str, ...], tuple[float, ...]]

_REACH = 1e4  # a slip without a cause lies between one spread and this many, evenly in its logarithm
_AGREES = 3.3  # spreads within which a proposal counts as agreeing


class Recognised(NamedTuple):
    """`kind` as in `Suspect.kind`; `words` for the builder, empty for a plain slip; names and value that agree."""

    kind: str
    words: str
    proposal: Proposal | None


@dataclass(frozen=True)
class _Candidate:
    """One explanation: `row` of catalogue/slips.toml, log of prior times density, what would have been read."""

    row: str
    weight: float  # logarithm
    off: float  # largest misfit in spreads
    names: tuple[str, ...]
    value: tuple[float, ...]
    asks: str


def recognise(network: Network, adjustment: Adjustment, build: Build, row: int) -> Recognised:
    """The cause of a slip in row `row` of the build's readings, from an adjustment that leaves it out.

    `Recognised.kind` is 'slip' with empty words and no proposal where no cause is clearly better than chance.
    Raises ValueError where no equation of that row was left out, or none of its points is held by the others.
    """
    equations = _of_row(network, row)
    outside = [i for i in equations if not adjustment.use[i]]
    if not outside:
        raise ValueError(f"row {row} of the readings took part in the adjustment: leave it out first")
    if not all(adjustment.known[i] for i in equations):
        return Recognised("slip", "", None)
    plain = _plain(adjustment, equations)
    found = [*_by_value(adjustment, build, row, equations), *_by_names(adjustment, build, row, equations)]
    return _chosen(adjustment, build, row, plain, found)


def recognise_all(
    network: Network, adjustment: Adjustment, build: Build, rows: Sequence[int]
) -> Mapping[int, Recognised]:
    """`recognise` for several rows left out, where two points taken for each other in two or more rows explain all."""
    out = {row: recognise(network, adjustment, build, row) for row in rows}
    for pair, among in _swapped_pairs(network, adjustment, build, rows):
        if any(out[row].kind == catalogue.slips()["swapped"].title for row in among):
            continue
        a, b = (short_name(build, network.point_names[p]) for p in pair)
        for row in among:
            reading = build.readings[row]
            names = _interchanged(reading.names, network.point_names[pair[0]], network.point_names[pair[1]])
            head = _head(adjustment, build, row)
            others = [r for r in among if r != row]
            lines = ", ".join(str(build.readings[r].line or r + 1) for r in others)
            told = f"{a} and {b} taken for each other, as in line{'s' if len(others) > 1 else ''} {lines}?"
            agrees = " ".join(short_name(build, n) for n in names)
            words = f"{head}: {told} It agrees as {reading.kind} {agrees}. Look at the points again"
            out[row] = Recognised(catalogue.slips()["swapped"].title, words, (names, reading.value))
    return out


def _of_row(network: Network, row: int) -> list[int]:
    found = [i for i, eq in enumerate(network.equations) if eq.row == row]
    return sorted(found, key=lambda i: network.equations[i].part)


def _density(off: Array, spread: Array) -> tuple[float, float]:
    """Log of the normal density of independent misfits, and the largest in spreads."""
    z = off / spread
    return float(np.sum(-0.5 * z**2 - np.log(spread * math.sqrt(2.0 * math.pi)))), float(np.max(np.abs(z)))


def _spread(adjustment: Adjustment, equations: Sequence[int]) -> Array:
    at = list(equations)
    return np.hypot(adjustment.network.sigmas[at], adjustment.spread_of_prediction[at])


def _plain(adjustment: Adjustment, equations: Sequence[int]) -> float:
    """Log weight of a slip of any size: even in the logarithm of its size in each equation that was left out."""
    spread = _spread(adjustment, equations)
    total = math.log(catalogue.slips()["plain"].weight)
    for i, s in zip(equations, spread, strict=True):
        size = abs(float(adjustment.residuals[i]))
        if adjustment.use[i]:
            total += _density(np.array([size]), np.array([s]))[0]
        else:
            total -= math.log(2.0 * max(size, float(s)) * math.log(_REACH))
    return total


def _by_value(adjustment: Adjustment, build: Build, row: int, equations: Sequence[int]) -> list[_Candidate]:
    """Same names, another value."""
    reading = build.readings[row]
    network = adjustment.network
    at = list(equations)
    said = network.values[at] - adjustment.residuals[at]
    spread = _spread(adjustment, equations)
    found = list(guesses(reading, build.build.units))
    total: dict[str, float] = {}
    for guess in found:
        total[guess.kind] = total.get(guess.kind, 0.0) + guess.share
    out = []
    for guess in found:
        density, off = _density(np.asarray(guess.value) - said, spread)
        prior = catalogue.slips()[guess.kind].weight * guess.share / total[guess.kind]
        out.append(_Candidate(guess.kind, math.log(prior) + density, off, reading.names, guess.value, guess.asks))
    return out


def _by_names(adjustment: Adjustment, build: Build, row: int, equations: Sequence[int]) -> list[_Candidate]:
    """Same value, other points: one point replaced by another of its body, or the names in another order."""
    network = adjustment.network
    first = network.equations[equations[0]]
    if not first.points:
        return []
    tried: list[tuple[str, float, tuple[int, ...], str]] = []
    located = adjustment.active[network.point_at]
    for slot, point in enumerate(first.points):
        name = network.point_names[point]
        for other in np.flatnonzero(located & (network.point_body == network.point_body[point])):
            if int(other) in first.points:
                continue
            points = (*first.points[:slot], int(other), *first.points[slot + 1 :])
            new = network.point_names[other]
            asks = f"{short_name(build, new)} taken for {short_name(build, name)}?"
            tried.append(("names", nearness(build, name, new), points, asks))
    for points in _orders(first):
        what = "ends read the other way round?" if len(points) == 2 else "another point in the middle?"
        tried.append(("order", 1.0, points, what))
    if not tried:
        return []
    total: dict[str, float] = {}
    for kind, share, _, _ in tried:
        total[kind] = total.get(kind, 0.0) + share
    trials = [[replace(network.equations[i], points=points) for i in equations] for _, _, points, _ in tried]
    said, spread = _said(adjustment, trials)
    reading = build.readings[row]
    out = []
    for (kind, share, points, asks), predicted, s in zip(tried, said, spread, strict=True):
        density, off = _density(network.values[list(equations)] - predicted, s)
        prior = catalogue.slips()[kind].weight * share / total[kind]
        names = (*(network.point_names[p] for p in points), *reading.names[len(points) :])
        out.append(_Candidate(kind, math.log(prior) + density, off, names, reading.value, asks))
    return out


def _orders(equation: Equation) -> list[tuple[int, ...]]:
    if equation.kind in ("rise", "slope"):
        return [equation.points[::-1]]
    if equation.kind == "angle":
        a, b, c = equation.points
        return [(b, a, c), (a, c, b)]
    return []


def _said(adjustment: Adjustment, trials: Sequence[Sequence[Equation]]) -> tuple[Array, Array]:
    """Prediction and spread (k, parts) of each trial's equations."""
    network = adjustment.network
    flat = [eq for trial in trials for eq in trial]
    trial_network = with_equations(network, flat)
    said, slopes = predict_and_jacobian(trial_network, adjustment.state)
    half = np.asarray(slopes @ adjustment.covariance)
    variance = np.asarray(slopes.multiply(half).sum(axis=1)).ravel()
    spread = np.sqrt(np.maximum(variance, 0.0) + trial_network.sigmas**2)
    shape = (len(trials), len(trials[0]))
    return said.reshape(shape), spread.reshape(shape)


def nearness(build: Build, name: str, other: str) -> float:
    """How easily one name is written for another: the twin across the car most, then one letter off, then the rest."""
    body, _, a = name.partition(".")
    b = other.partition(".")[2]
    hints = build.body[body].point if body in build.body else {}
    if any(hint is not None and hint.twin in (y, f"{body}.{y}") for hint, y in ((hints.get(a), b), (hints.get(b), a))):
        return 10.0
    turned = {"l": "r", "r": "l"}
    twins = {a[:i] + turned[ch.lower()].upper() + a[i + 1 :] for i, ch in enumerate(a) if ch.lower() in turned}
    twins |= {re.sub("left", "right", a, flags=re.IGNORECASE), re.sub("right", "left", a, flags=re.IGNORECASE)} - {a}
    if b.upper() in {t.upper() for t in twins}:
        return 10.0
    steps = int(OSA.distance(a.upper(), b.upper()))
    return {1: 6.0, 2: 1.5}.get(steps, 0.3)


def _chosen(adjustment: Adjustment, build: Build, row: int, plain: float, found: Sequence[_Candidate]) -> Recognised:
    if not found:
        return Recognised("slip", "", None)
    reading = build.readings[row]
    width = float(np.min(_spread(adjustment, _of_row(adjustment.network, row))))
    top = max([plain, *(c.weight for c in found)])
    groups: dict[tuple[tuple[str, ...], tuple[int, ...]], list[_Candidate]] = {}
    for candidate in found:
        rough = tuple(round(v / max(0.25 * width, 1e-9)) for v in candidate.value)
        groups.setdefault((candidate.names, rough), []).append(candidate)
    odds = {key: sum(math.exp(c.weight - top) for c in group) for key, group in groups.items()}
    all_odds = sum(odds.values()) + math.exp(plain - top)
    best = max(odds, key=lambda key: odds[key])
    probability = odds[best] / all_odds
    told = max(groups[best], key=lambda c: c.weight)
    if probability < float(catalogue.default("measure.slip_certainty").value) or told.off > _AGREES:
        return Recognised("slip", "", None)
    agrees = _agrees(build, reading.kind, told, reading.names)
    words = f"{_head(adjustment, build, row)}: {told.asks} {agrees} would agree. Measure again"
    return Recognised(catalogue.slips()[told.row].title, words, (told.names, told.value))


def _head(adjustment: Adjustment, build: Build, row: int) -> str:
    """'tape RL3 RL7 reads 25 mm long', of the equation of the row that is furthest out."""
    network = adjustment.network
    outside = [i for i in _of_row(network, row) if not adjustment.use[i]] or _of_row(network, row)
    spread = _spread(adjustment, outside)
    worst = outside[int(np.argmax(np.abs(adjustment.residuals[outside]) / spread))]
    words = slip_words(build, network, network.equations[worst], float(adjustment.residuals[worst]))
    label = label_of(build, network, network.equations[worst])
    return label + words[len(label) :].rpartition(": ")[0]


def _agrees(build: Build, kind: str, told: _Candidate, names: tuple[str, ...]) -> str:
    if told.names != names:
        return " ".join([kind, *(short_name(build, n) for n in told.names)])
    return value_words(kind, told.value, build.build.units)


def value_words(kind: str, value: tuple[float, ...], system: str) -> str:
    """A value as a builder writes it: '412.0 mm', '412.0 mm left', '31.50 deg', '0; -20; 5 mm'."""
    if kind in ("angle", "slope", "bevel"):
        return f"{value[0]:.2f} deg"
    if kind in ("offset", "station"):
        ways = ("left", "right") if kind == "offset" else ("front", "rear")
        return f"{format_length(abs(value[0]), system)} {ways[0] if value[0] >= 0.0 else ways[1]}"
    return "; ".join(format_length(v, system) for v in value)


def _interchanged(names: Iterable[str], a: str, b: str) -> tuple[str, ...]:
    return tuple(b if n == a else a if n == b else n for n in names)


def _swapped_pairs(
    network: Network, adjustment: Adjustment, build: Build, rows: Sequence[int]
) -> list[tuple[tuple[int, int], list[int]]]:
    """Pairs of points that explain two or more of the rows when interchanged, the best explained first."""
    touched: dict[int, set[int]] = {}
    equations = {row: _of_row(network, row) for row in rows}
    usable = [row for row in rows if all(adjustment.known[i] for i in equations[row])]
    for row in usable:
        for point in network.equations[equations[row][0]].points:
            touched.setdefault(point, set()).add(row)
    located = adjustment.active[network.point_at]
    pairs: dict[tuple[int, int], set[int]] = {}
    for point, there in touched.items():
        for other in np.flatnonzero(located & (network.point_body == network.point_body[point])):
            if int(other) != point:
                pair = (min(point, int(other)), max(point, int(other)))
                pairs.setdefault(pair, set()).update(there | touched.get(int(other), set()))
    wanted = {pair: sorted(among) for pair, among in pairs.items() if len(among) > 1}
    if not wanted:
        return []
    total = sum(nearness(build, network.point_names[a], network.point_names[b]) for a, b in wanted)
    scored = []
    for (a, b), among in wanted.items():
        prior = catalogue.slips()["swapped"].weight * nearness(build, network.point_names[a], network.point_names[b])
        gain = math.log(prior / total)
        agreeing = []
        for row in among:
            at = equations[row]
            turned = {a: b, b: a}
            trial = [
                replace(network.equations[i], points=tuple(turned.get(p, p) for p in network.equations[i].points))
                for i in at
            ]
            if set(trial[0].points) == set(network.equations[at[0]].points) and trial[0].kind in ("distance", "mirror"):
                continue
            said, spread = _said(adjustment, [trial])
            density, off = _density(network.values[at] - said[0], spread[0])
            if off <= _AGREES:
                gain += density - _plain(adjustment, at)
                agreeing.append(row)
        if len(agreeing) > 1 and gain > 0.0:
            scored.append((gain, (a, b), agreeing))
    return [(pair, agreeing) for _, pair, agreeing in sorted(scored, key=lambda s: -s[0])]
