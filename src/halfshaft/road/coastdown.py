"""The shop's own coast-down: times between speeds in, road-load coefficients with their spread out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from halfshaft.road.resistance import RoadLoad

Array = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)


@dataclass(frozen=True, slots=True)
class Timed:
    """Seconds to roll in neutral from one speed down to another, with their spread as one standard deviation."""

    from_m_s: float
    to_m_s: float
    seconds: float
    spread_s: float


@dataclass(frozen=True, eq=False)
class CoastDown:
    """Coefficients found. `covariance` (3, 3) is of a, b, c; `missed_s` (n,) is each time less what they would give."""

    load: RoadLoad
    covariance: Array
    missed_s: Array

    @property
    def spread(self) -> Array:
        """One standard deviation of a, b and c (3,)."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))


def both_ways_s(there_s: float, back_s: float) -> float:
    """One time of a run each way, so that slope and steady wind fall out: the harmonic mean, as decelerations add.

    Source: UN GTR No. 15, annex 4, 4.3.1.4.
    """
    return 2.0 * there_s * back_s / (there_s + back_s)


def coast_time_s(a_n: float, b: float, c: float, moving_kg: float, from_m_s: Array, to_m_s: Array) -> Array:
    """Seconds to roll down from speeds (n,) to speeds (n,): the integral of m dv / F(v), by Gauss's rule."""
    half = 0.5 * (from_m_s - to_m_s)
    v = 0.5 * (from_m_s + to_m_s)[:, None] + half[:, None] * _NODES
    return np.asarray(moving_kg * half * ((1.0 / (a_n + b * v + c * v * v)) @ _WEIGHTS))


def fit_coast_down(
    times: tuple[Timed, ...],
    mass_kg: float,
    rotating_kg: float,
    *,
    with_b: bool = False,
    air_kg_m3: float = 1.2,
    temperature_c: float = 20.0,
) -> CoastDown:
    """Coefficients by weighted least squares on the times themselves, none below nought; b only where asked for.

    Two intervals tell a and c; more show the spread. Raises ValueError with fewer intervals than coefficients, or with
    one that does not fall. Source: the equation of motion; form as SAE J1263 and J2263.
    """
    unknowns = 3 if with_b else 2
    if len({(t.from_m_s, t.to_m_s) for t in times}) < unknowns:
        raise ValueError(f"{len(times)} coast-down interval(s): write {unknowns} or more, at different speeds")
    for t in times:
        if not t.from_m_s > t.to_m_s >= 0.0 or not t.seconds > 0.0 or not t.spread_s > 0.0:
            raise ValueError(
                f"a coast-down from {t.from_m_s * 3.6:.1f} to {t.to_m_s * 3.6:.1f} km/h in {t.seconds:g} s: "
                "write a speed, a lower one, and seconds over nought"
            )
    high, low = np.array([t.from_m_s for t in times]), np.array([t.to_m_s for t in times])
    seconds, spread = np.array([t.seconds for t in times]), np.array([t.spread_s for t in times])
    moving = mass_kg + rotating_kg
    pick = np.array([0, 1, 2] if with_b else [0, 2])
    # start: mean decelerations as a straight line in v²
    slope = np.polyfit(((high + low) / 2.0) ** 2, moving * (high - low) / seconds, 1)
    scale = np.array([mass_kg * 0.1, 1.0, 0.5])[pick]
    first = np.array([max(slope[1], 0.02 * mass_kg), 0.1, max(slope[0], 0.05)])[pick] / scale

    def misses(x: Array) -> Array:
        abc = np.zeros(3)
        abc[pick] = x * scale
        return np.asarray((coast_time_s(abc[0], abc[1], abc[2], moving, high, low) - seconds) / spread)

    least = np.full(len(pick), 0.0)
    least[0] = 1e-6
    found = least_squares(misses, np.maximum(first, 1e-3), bounds=(least, np.inf), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    abc = np.zeros(3)
    abc[pick] = found.x * scale
    inner = np.linalg.pinv(found.jac.T @ found.jac) * np.outer(scale, scale)
    beyond = len(times) - len(pick)
    worse = max(1.0, float(found.fun @ found.fun) / beyond) if beyond > 0 else 1.0
    covariance = np.zeros((3, 3))
    covariance[np.ix_(pick, pick)] = inner * worse
    load = RoadLoad(float(abc[0]), float(abc[1]), float(abc[2]), mass_kg, air_kg_m3, temperature_c)
    return CoastDown(load, covariance, -misses(found.x) * spread)
