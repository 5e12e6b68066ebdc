"""Frequencies and travel over a choice of stiffness: mounts and factors in; arrays for a plot out.

Modes keep their place in the arrays as they cross: each is followed by its shape.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from halfshaft.mounts.bulk import Body
from halfshaft.mounts.bushings import AXES, Bushing, laid_out
from halfshaft.mounts.held import NotHeld
from halfshaft.mounts.loads import Case
from halfshaft.mounts.modes import Modes, modes
from halfshaft.mounts.statics import settle_case
from halfshaft.progress import Progress, silent

Array = NDArray[np.float64]
FACTORS = np.geomspace(0.4, 2.5, 13)  # the middle one is as told


@dataclass(frozen=True, eq=False)
class StiffnessChoice:
    """Over factors (n,): frequencies (n, 6), main motions, sag at rest and the most travel of any mount.

    Where the mounts do not hold the unit the numbers are NaN, and `refused` tells why.
    """

    factor: Array
    frequency_hz: Array
    names: tuple[tuple[str, ...], ...]
    decoupled: Array  # (n, 6)
    sag_mm: Array  # of the centre of mass under weight
    most_shift_mm: Array  # (n, c) of the centre of mass under each case
    most_turn_deg: Array  # (n, c)
    most_used: Array  # (n, c) share of the travel of the mount that uses most
    cases: tuple[str, ...]
    refused: tuple[str, ...]


def stiffened(
    mounts: Sequence[Bushing], factor: float, only: Collection[str] = (), axes: Collection[str] = ()
) -> tuple[Bushing, ...]:
    """The mounts with their stiffness times a factor: those named in `only`, in the own `axes` named; empty for all.

    Snubbers and preload stay. Raises ValueError for a factor not over nought, or names that there are not.
    """
    if not (np.isfinite(factor) and factor > 0.0):
        raise ValueError(f"a stiffness factor is over nought, found {factor:g}")
    wrong = sorted((set(only) - {m.name for m in mounts}) | (set(axes) - set(AXES)))
    if wrong:
        raise ValueError(
            f"not there: {', '.join(wrong)}; mounts: {', '.join(m.name for m in mounts)}; axes: {', '.join(AXES)}"
        )
    out = []
    for mount in mounts:
        if only and mount.name not in only:
            out.append(mount)
            continue
        new = [
            replace(axis, stiffness=axis.stiffness * factor) if not axes or name in axes else axis
            for name, axis in zip(AXES, mount.axes, strict=True)
        ]
        out.append(replace(mount, along=(new[0], new[1], new[2]), about=(new[3], new[4], new[5])))
    return tuple(out)


def stiffness_choice(
    mounts: Sequence[Bushing],
    body: Body,
    at_rest: Case,
    factors: ArrayLike,
    cases: Sequence[Case] = (),
    only: Collection[str] = (),
    axes: Collection[str] = (),
    dynamic_ratio: float = 1.0,
    progress: Progress = silent,
) -> StiffnessChoice:
    """Modes about rest, and travel under the cases, with one stiffness factor varied.

    Raises ValueError as `stiffened` does, or where mounts make no sense at all.
    """
    told = np.asarray(factors, dtype=float).reshape(-1)
    n, c = len(told), len(cases)
    frequency, decoupled = np.full((n, 6), np.nan), np.full((n, 6), np.nan)
    sag, shift, turned, used = (np.full(shape, np.nan) for shape in ((n,), (n, c), (n, c), (n, c)))
    names: list[tuple[str, ...]] = []
    refused: list[str] = []
    last: Modes | None = None
    for at, factor in enumerate(told):
        progress(at / n, f"stiffness times {factor:.2f}")
        rubber = laid_out(stiffened(mounts, float(factor), only, axes))
        try:
            rest = settle_case(rubber, body, at_rest)
            found = modes(rubber, body, rest, dynamic_ratio)
        except NotHeld as problem:
            names.append(("",) * 6)
            refused.append(str(problem))
            continue
        order = np.arange(6) if last is None else _followed(last, found)
        last = _ordered(found, order)
        frequency[at], decoupled[at] = last.frequency_hz, last.decoupled
        names.append(last.names)
        sag[at] = float(np.linalg.norm(rest.shift_mm))
        said = ""
        for column, case in enumerate(cases):
            try:
                state = settle_case(rubber, body, case)
            except NotHeld as problem:
                said = said or str(problem)
                continue
            shift[at, column] = float(np.linalg.norm(state.shift_mm))
            turned[at, column] = float(np.linalg.norm(state.turn_deg))
            used[at, column] = max(float(m.used.max()) for m in state.mounts)
        refused.append(said)
    return StiffnessChoice(
        told, frequency, tuple(names), decoupled, sag, shift, turned, used, tuple(k.name for k in cases), tuple(refused)
    )


def _followed(before: Modes, now: Modes) -> NDArray[np.int64]:
    """For each mode before, the one now whose shape is most like it."""
    alike = np.abs(before.shapes.T @ now.mass @ now.shapes)
    return np.asarray(linear_sum_assignment(-(alike**2))[1])


def _ordered(found: Modes, order: NDArray[np.int64]) -> Modes:
    return replace(
        found,
        frequency_hz=found.frequency_hz[order],
        shapes=found.shapes[:, order],
        energy=found.energy[order],
        loss=found.loss[order],
    )
