"""A bracket's misfit and where it misses, in; the further readings of its own points and faces that would mend it, out.

A reading more takes c c' / (j C j' + s^2) off the covariance C, with j its slope, s its spread and c = C j': the update
of a linear estimate by one observation (Gauss-Markov; Koch, Parameter Estimation and Hypothesis Testing, 1999, 3.2).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.build.schema import Reading
from halfshaft.fold.fit_samples import Misfit, root_of
from halfshaft.fold.placement import placeable
from halfshaft.measure.model import Measured
from halfshaft.measure.network import spread_of

Array = NDArray[np.float64]

_SAMPLES = 2000
_ROUGH_DEG = 5.0  # flatter than this two faces are one to a bevel gauge


@dataclass(frozen=True, eq=False, slots=True)
class Further:
    """One reading to take: as in readings.csv, its slope (m,) on what was read and its spread, in mm or radians."""

    words: str
    slope: Array
    spread: float


@dataclass(frozen=True, eq=False, slots=True)
class Plan:
    """Readings in the order to take them, the covariance (m, m) once they are taken, and the chance of fit then."""

    words: tuple[str, ...]
    covariance: Array
    chance: float


def further_readings(build: Build, measured: Measured, misfit: Misfit, push: Array) -> Plan:
    """The further readings of a bracket's own points and faces that bring most.

    Each is the one that takes most off the scatter along `push` (n, 2 h + g), the earlier ones counted as taken. As few
    as reach the wanted chance, or as many as are proposed at once.
    """
    wanted, most = float(default("fit.wanted").value), int(default("fit.most_readings").value)
    tried = _candidates(build, measured, misfit)
    if not tried:
        return Plan((), misfit.read_covariance, 0.0)
    slopes = np.array([one.slope for one in tried])
    own = np.array([one.spread for one in tried]) ** 2
    felt = push @ misfit.read_rows
    weights = felt.T @ felt
    covariance = misfit.read_covariance
    chosen: list[int] = []
    chance = 0.0
    for _ in range(most):
        moved = covariance @ slopes.T
        total = np.einsum("ij,ji->i", slopes, moved) + own
        gain = np.einsum("im,ij,jm->m", moved, weights, moved) / total
        gain[chosen] = 0.0  # the same spot read again brings its own flaw again
        best = int(np.argmax(gain))
        if gain[best] <= 0.02 * float(np.sum(weights * covariance)):
            break
        covariance = covariance - np.outer(moved[:, best], moved[:, best]) / total[best]
        chosen.append(best)
        chance = _chance(build, misfit, covariance)
        if chance >= wanted:
            break
    return Plan(tuple(tried[i].words for i in chosen), covariance, chance)


def _chance(build: Build, misfit: Misfit, read_covariance: Array) -> float:
    draws = draws_with(misfit, read_covariance, np.random.default_rng(build.build.seed))
    return float(placeable(misfit.play, draws).fits.mean())


def draws_with(misfit: Misfit, read_covariance: Array, rng: np.random.Generator) -> Array:
    """Misfits (2000, 2 h + g) with another covariance of what was read."""
    readings = [cause.name for cause in misfit.causes if cause.draws == "readings"]
    total = misfit.covariance(without=readings) + misfit.read_rows @ read_covariance @ misfit.read_rows.T
    draws = rng.standard_normal((_SAMPLES, len(total))) @ root_of(total).T + misfit.mean_mm
    struck, _, added = misfit.rare.draw(rng, _SAMPLES)
    np.add.at(draws, struck, added)
    return np.asarray(draws)


def _candidates(build: Build, measured: Measured, misfit: Misfit) -> list[Further]:
    """Tape or caliper between any two points, bevel between any two faces, each point over each face of its body."""
    start: dict[str, int] = {}
    for name in misfit.read:
        start[name] = sum(4 if n in measured.faces else 3 for n in misfit.read[: len(start)])
    points = [name for name in misfit.read if name in measured.points]
    faces = [name for name in misfit.read if name in measured.faces]
    reach = float(default("fit.caliper_reach").value)
    found = []
    for a, b in combinations(points, 2):
        away = measured.points[b].xyz_mm - measured.points[a].xyz_mm
        length = float(np.linalg.norm(away))
        if length < 1.0:
            continue
        kind = "caliper" if length <= reach else "tape"
        slope = _slope(misfit, {start[a]: -away / length, start[b]: away / length})
        found.append(Further(f"{kind} {a} {b}", slope, _spread(build, kind, length)))
    for f, g in combinations(faces, 2):
        one, two = measured.faces[f].plane.normal, measured.faces[g].plane.normal
        sine = float(np.linalg.norm(np.cross(one, two)))
        if sine < np.sin(np.radians(_ROUGH_DEG)):
            continue
        slope = _slope(misfit, {start[f]: -two / sine, start[g]: -one / sine})
        found.append(Further(f"bevel {f} {g}", slope, float(np.radians(_spread(build, "bevel", 90.0)))))
    for p in points:
        for f in faces:
            at, plane = measured.points[p].xyz_mm, measured.faces[f].plane
            if measured.points[p].body == measured.faces[f].body and abs(float(plane.height_mm(at))) <= reach:
                slope = _slope(misfit, {start[p]: plane.normal, start[f]: np.append(at, -1.0)})
                found.append(Further(f"onface {p} {f}", slope, _spread(build, "onface", 0.0)))
    return found


def _slope(misfit: Misfit, parts: Mapping[int, Array]) -> Array:
    slope = np.zeros(len(misfit.read_covariance))
    for at, part in parts.items():
        slope[at : at + len(part)] = part
    return slope


def _spread(build: Build, kind: str, value: float) -> float:
    return float(spread_of(build, Reading(kind=kind, names=()), value).sigma)
