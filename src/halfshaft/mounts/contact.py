"""Seats that only press: how the part gives at the spots of its seats in; pressures out.

The pressure at each corner of a seat is a hat over the triangles about it. How the spots move one another is a smooth
matter: it is worked at a few spots spread over the seats and taken from there to all; what that misses is put right
case by case with the part's own stiffness, so that the answer does not depend on the spots chosen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_LAPS = 200
_SETTLED = 1e-10
_ROUNDS = 60


def spread(spots_mm: Array, count: int) -> Ints:
    """Numbers of spots, each as far as can be from those before."""
    count = min(count, len(spots_mm))
    picked = [int(np.argmax(np.linalg.norm(spots_mm - spots_mm.mean(axis=0), axis=1)))]
    away = np.linalg.norm(spots_mm - spots_mm[picked[0]], axis=1)
    while len(picked) < count:
        picked.append(int(np.argmax(away)))
        away = np.minimum(away, np.linalg.norm(spots_mm - spots_mm[picked[-1]], axis=1))
    return np.array(picked)


@dataclass(eq=False)
class Give:
    """How spots move one another, as far as it is known, as V V^T (spots, spots): V (spots, k) are the gaps that
    `patterns` (spots, k) of pressure make, patterns that do no work on one another.

    Every pattern that is worked makes it better, for later cases too.
    Source: Nystroem's method, C. K. I. Williams and M. Seeger, 2001.
    """

    patterns: Array
    shapes: Array

    @staticmethod
    def of(patterns: Array, effects: Array) -> Give:
        """From patterns (spots, k) and the gaps (spots, k) that they make."""
        square = patterns.T @ effects
        values, axes = np.linalg.eigh((square + square.T) / 2.0)
        keep = values > 1e-10 * values[-1]
        turn = axes[:, keep] / np.sqrt(values[keep])
        return Give(patterns @ turn, effects @ turn)

    def more(self, pattern: Array, effect: Array) -> None:
        work = float(pattern @ effect)
        for _ in range(2):
            share = self.shapes.T @ pattern
            pattern, effect = pattern - self.patterns @ share, effect - self.shapes @ share
        new = float(pattern @ effect)
        if new > 1e-12 * work:
            self.patterns = np.column_stack([self.patterns, pattern / np.sqrt(new)])
            self.shapes = np.column_stack([self.shapes, effect / np.sqrt(new)])


def pressed(gap: Array, shapes: Array, give: Array, start: Array | None = None) -> Array:
    """Pressures (spots,) with gaps `gap` + V V^T p, each p = max(0, -gap) / give.

    All gaps are weighted by area, as is `give` > 0; the search begins at pressures `start`.
    Raises ValueError where it does not settle.
    Source: least energy, convex; Newton's method with halved steps.
    """
    q = np.zeros(shapes.shape[1]) if start is None else shapes.T @ start
    scale = float(np.abs(gap).max()) if len(gap) else 0.0
    if scale == 0.0:
        return np.zeros(len(gap))

    def energy(at: Array) -> float:
        into = np.minimum(gap + shapes @ at, 0.0)
        return 0.5 * float(at @ at) + 0.5 * float((into**2 / give).sum())

    now = energy(q)
    for _ in range(_LAPS):
        left = gap + shapes @ q
        on = left < 0.0
        slope = q + shapes[on].T @ (left[on] / give[on])
        size = float(np.linalg.norm(shapes[on].T @ (left[on] / give[on]))) + 1e-300
        if float(np.linalg.norm(slope)) <= _SETTLED * size:
            return np.asarray(np.maximum(-left, 0.0) / give)
        bent = np.eye(len(q)) + (shapes[on].T / give[on]) @ shapes[on]
        step = -linalg.solve(bent, slope, assume_a="pos")
        reach, fall = 1.0, float(slope @ step)
        while energy(q + reach * step) > now + 1e-4 * reach * fall and reach > 1e-6:
            reach /= 2.0
        if reach <= 1e-6:
            return np.asarray(np.maximum(-left, 0.0) / give)
        q = q + reach * step
        now = energy(q)
    raise ValueError("where the part presses on what it lies on is not found: is it held at all?")


def settled(gap: Array, known: Give, give: Array, effect: Callable[[Array], Array], enough: float) -> tuple[Array, int]:
    """Pressures (spots,) with the part's own give, and how often it was asked.

    `gap` (spots,) is that without a seat; `effect` gives what pressures do to all gaps, exactly, and is told to
    `known`. `enough` is what the pressures may still change by, as a share of their sum.
    Steps are shortened where what is not known yet outweighs what is. Raises ValueError where they do not settle.
    Source: splitting for linear complementarity, R. W. Cottle, J.-S. Pang and R. E. Stone, The Linear Complementarity
    Problem, 1992, 5.2.
    """
    pressure = pressed(gap, known.shapes, give)
    softer, before = 0.0, np.inf
    for asked in range(1, _ROUNDS + 1):
        if not pressure.any():
            return pressure, asked - 1
        moved = effect(pressure)
        known.more(pressure, moved)
        rest = gap + moved - known.shapes @ (known.shapes.T @ pressure) - softer * give * pressure
        better = pressed(rest, known.shapes, (1.0 + softer) * give, pressure)
        change = float(np.abs((better - pressure) * give).sum()) / max(float((better * give).sum()), 1e-300)
        pressure = better
        if change * (1.0 + softer) < enough:
            return pressure, asked
        if change > 0.8 * before:
            softer = 2.0 * softer + 0.5
        before = change
    raise ValueError("where the part presses on what it lies on does not settle: is it held at all?")
