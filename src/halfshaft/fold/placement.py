"""Misfits of a rigid part at its bolts and faces in; whether some placement of it lets every bolt and face pass, out.

A part may be shifted and turned a little, x (6,). At every hole the bolt has play: the offset between the two holes
must stay in a disc, or in a slot. At every spot where a panel sits on a face the gap must stay in a slab. Offsets and
gaps are misfit + rows @ x. The question whether such an x exists is a second-order cone problem. It is answered for
thousands of misfits at once by a barrier method (Boyd and Vandenberghe, Convex Optimization, 2004, 11.4: 'phase I'),
and each answer rests on a proof: a placement that passes, or a push on the part, in balance with itself, which no play
can take up (theorem of alternatives, the same book, 5.9.4).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_LEAST_PLAY_MM = 1e-6
_SETTLED_MM = 1e-6  # undecided to this: passes when the best placement found is off by less
_STEPS = 60
_SHARPEN = 8.0


@dataclass(frozen=True, eq=False, slots=True)
class Play:
    """Room of a rigid part: h holes and g face spots.

    `rows` (2 h + g, 6 or more) say how a small move of the part shifts each offset and gap: for each hole first along
    its slot, then across it (any two square directions when round), then the gaps. Columns past six: folds that give.
    `clear_mm` (h,) radius of the disc; `half_slot_mm` (h,) half the length of the slot; `half_gap_mm` (g,) half the
    slab, gaps being told from its middle.
    """

    rows: Array
    clear_mm: Array
    half_slot_mm: Array
    half_gap_mm: Array

    @property
    def holes(self) -> int:
        return len(self.clear_mm)

    def without_hole(self, hole: int) -> tuple[Play, Flags]:
        """The play with one hole left out, and the mask (2 h + g,) of rows that stay."""
        stay = np.ones(len(self.rows), dtype=bool)
        stay[2 * hole : 2 * hole + 2] = False
        others = np.arange(self.holes) != hole
        return Play(self.rows[stay], self.clear_mm[others], self.half_slot_mm[others], self.half_gap_mm), stay

    def without_gaps(self, gaps: Flags) -> tuple[Play, Flags]:
        """The play with some face spots (mask (g,)) left out, and the mask of rows that stay."""
        stay = np.concatenate([np.ones(2 * self.holes, dtype=bool), ~gaps])
        return replace(self, rows=self.rows[stay], half_gap_mm=self.half_gap_mm[~gaps]), stay

    def slotted(self, hole: int, way: Array, slot_mm: float) -> tuple[Play, Array]:
        """The play with one hole made a slot along `way` (2,) of its own two directions, and the turn (2, 2) to apply
        to that hole's two misfits."""
        along = np.asarray(way, dtype=float) / np.linalg.norm(way)
        turn = np.array([along, [-along[1], along[0]]])
        rows, half = self.rows.copy(), self.half_slot_mm.copy()
        rows[2 * hole : 2 * hole + 2] = turn @ rows[2 * hole : 2 * hole + 2]
        half[hole] = slot_mm / 2.0
        return replace(self, rows=rows, half_slot_mm=half), turn

    def opened(self, hole: int, more_mm: float) -> Play:
        """The play with one hole's clearance radius grown."""
        clear = self.clear_mm.copy()
        clear[hole] += more_mm
        return replace(self, clear_mm=clear)


@dataclass(frozen=True, eq=False, slots=True)
class Verdict:
    """`fits` (n,); `push` (n, 2 h + g), zero where it fits: the balanced push, of unit size, that proves the misfit."""

    fits: Flags
    push: Array


def placeable(play: Play, misfit_mm: Array) -> Verdict:
    """Decide for each misfit (n, 2 h + g) whether a small move of the part lets every bolt and face pass."""
    misfit = np.atleast_2d(np.asarray(misfit_mm, dtype=float))
    count, h = len(misfit), play.holes
    fits, push = np.zeros(count, dtype=bool), np.zeros_like(misfit)
    if misfit.shape[1] == 0:
        return Verdict(np.ones(count, dtype=bool), push)
    room = np.maximum(np.concatenate([play.clear_mm, play.half_gap_mm]), _LEAST_PLAY_MM)
    base = _range_of(play.rows)
    weight = np.concatenate([np.repeat(1.0 / room[:h], 2), 1.0 / room[h:]])
    fit_once = -np.linalg.pinv(base * weight[:, None]) * weight
    at = misfit @ fit_once.T

    open_ = np.arange(count)
    offset = misfit + at @ base.T
    excess, size = _excess(play, offset)
    easy = np.all(size <= room, axis=1)
    fits[open_[easy]] = True
    trial = _balanced(excess * weight**2, base)
    proved = ~easy & _proves(play, room, trial, misfit)
    push[proved] = trial[proved]
    left = ~(easy | proved)
    open_, at, body = open_[left], at[left], misfit[left]
    if not len(open_):
        return Verdict(fits, push)

    second = _second_order(base, h)
    rank = base.shape[1]
    slack = np.max(size[left] - room, axis=1) + 0.2 * float(np.median(room))
    tension = np.full(len(open_), 4.0 * len(room) / float(np.median(room)))
    trial = _balanced(excess[left], base)
    for _ in range(_STEPS):
        offset = body + at @ base.T
        excess, size = _excess(play, offset)
        reach = slack[:, None] + room
        depth = reach**2 - size**2
        per_row, lean = _to_rows(1.0 / depth, h), _to_rows(reach / depth, h)
        pull = excess * per_row

        # Newton's step on tension * slack - sum of log(depth), in the moves and the slack
        gradient = np.empty((len(open_), rank + 1))
        gradient[:, :rank] = 2.0 * pull @ base
        gradient[:, rank] = tension - np.sum(2.0 * reach / depth, axis=1)
        stiff = 2.0 * per_row * _bears(play, offset)
        hessian = np.empty((len(open_), rank + 1, rank + 1))
        hessian[:, :rank, :rank] = (_curvature(h, pull, stiff) @ second).reshape(-1, rank, rank)
        cross = -4.0 * (pull * lean) @ base
        hessian[:, :rank, rank] = cross
        hessian[:, rank, :rank] = cross
        hessian[:, rank, rank] = np.sum(2.0 * (reach**2 + size**2) / depth**2, axis=1)
        step = -np.linalg.solve(hessian, gradient[:, :, None])[:, :, 0]
        change, rise = step[:, :rank] @ base.T, step[:, rank]
        fraction = _inside(play, room, offset, change, slack, rise, size)
        at = at + fraction[:, None] * step[:, :rank]
        slack = slack + fraction * rise
        tension = np.where(fraction > 0.5, tension * _SHARPEN, tension)

        # the pushes after a whole step balance by Newton's own equation; rounding is taken off
        push_on = 2.0 * pull + stiff * change + 4.0 * pull * (_to_terms(pull * change, h) - lean * rise[:, None])
        trial = _balanced(push_on, base)
        size = _excess(play, body + at @ base.T)[1]
        passing = np.all(size <= room, axis=1)
        barred = ~passing & _proves(play, room, trial, body)
        push[open_[barred]] = trial[barred]
        fits[open_[passing]] = True
        keep = ~(passing | barred) & (2.0 * len(room) / tension > _SETTLED_MM)
        settled = ~(passing | barred | keep)
        fits[open_[settled]] = np.max(size[settled] - room, axis=1) <= _SETTLED_MM
        push[open_[settled]] = np.where(fits[open_[settled], None], 0.0, trial[settled])
        open_, at, body, slack, tension, trial = (v[keep] for v in (open_, at, body, slack, tension, trial))
        if not len(open_):
            return Verdict(fits, push)
    size = _excess(play, body + at @ base.T)[1]
    fits[open_] = np.max(size - room, axis=1) <= _SETTLED_MM
    push[open_] = np.where(fits[open_, None], 0.0, trial)
    return Verdict(fits, push)


def _range_of(rows: Array) -> Array:
    """Orthonormal basis of the moves that shift anything."""
    left, size, _ = np.linalg.svd(rows, full_matrices=False)
    return np.asarray(left[:, size > 1e-9 * max(float(size[0]) if len(size) else 0.0, 1e-12)])


def _to_rows(per_term: Array, h: int) -> Array:
    """Spread a value for each hole and gap over its rows."""
    return np.concatenate([np.repeat(per_term[:, :h], 2, axis=1), per_term[:, h:]], axis=1)


def _excess(play: Play, offset: Array) -> tuple[Array, Array]:
    """Offsets less what a slot takes up (n, 2 h + g), and their size for each hole and gap (n, h + g)."""
    h = play.holes
    excess = offset
    slots = np.flatnonzero(play.half_slot_mm > 0.0)
    if len(slots):
        excess = offset.copy()
        along = offset[:, 2 * slots]
        excess[:, 2 * slots] = np.sign(along) * np.maximum(np.abs(along) - play.half_slot_mm[slots], 0.0)
    size = np.empty((len(offset), h + offset.shape[1] - 2 * h))
    size[:, :h] = np.hypot(excess[:, 0 : 2 * h : 2], excess[:, 1 : 2 * h : 2])
    size[:, h:] = np.abs(excess[:, 2 * h :])
    return excess, size


def _balanced(push: Array, base: Array) -> Array:
    """The pushes made to balance, so that they neither shift nor turn the part, and of unit size."""
    balanced = push - (push @ base) @ base.T
    return np.asarray(balanced / np.maximum(np.linalg.norm(balanced, axis=1, keepdims=True), 1e-300))


def _proves(play: Play, room: Array, push: Array, misfit: Array) -> Flags:
    """Whether a balanced push does more work on the misfit than the play can take up."""
    h = play.holes
    most = np.hypot(push[:, 0 : 2 * h : 2], push[:, 1 : 2 * h : 2]) @ room[:h]
    most += np.abs(push[:, 0 : 2 * h : 2]) @ play.half_slot_mm + np.abs(push[:, 2 * h :]) @ room[h:]
    return np.asarray(np.einsum("ij,ij->i", push, misfit) > most * (1.0 + 1e-12))


def _second_order(base: Array, h: int) -> Array:
    """Products of rows (3 h + g, r * r): along-along, across-across, along-across for each hole, then the gaps."""
    along, across, gaps = base[0 : 2 * h : 2], base[1 : 2 * h : 2], base[2 * h :]
    mixed = along[:, :, None] * across[:, None, :]
    parts = [
        along[:, :, None] * along[:, None, :],
        across[:, :, None] * across[:, None, :],
        mixed + np.swapaxes(mixed, 1, 2),
        gaps[:, :, None] * gaps[:, None, :],
    ]
    return np.concatenate(parts).reshape(-1, base.shape[1] ** 2)


def _bears(play: Play, offset: Array) -> Array:
    """1 where an offset is borne, next to nothing along a slot's straight run; a trace keeps the step defined."""
    bears = np.ones_like(offset)
    slots = np.flatnonzero(play.half_slot_mm > 0.0)
    bears[:, 2 * slots] = np.where(np.abs(offset[:, 2 * slots]) <= play.half_slot_mm[slots], 1e-6, 1.0)
    return bears


def _curvature(h: int, pull: Array, stiff: Array) -> Array:
    """Weights (n, 3 h + g) of the products of rows in the barrier's Hessian."""
    both = 4.0 * pull**2 + stiff
    mixed = 4.0 * pull[:, 0 : 2 * h : 2] * pull[:, 1 : 2 * h : 2]
    return np.concatenate([both[:, 0 : 2 * h : 2], both[:, 1 : 2 * h : 2], mixed, both[:, 2 * h :]], axis=1)


def _to_terms(per_row: Array, h: int) -> Array:
    """Sum the two rows of each hole, and spread the sum over both again."""
    both = per_row[:, 0 : 2 * h : 2] + per_row[:, 1 : 2 * h : 2]
    return np.concatenate([np.repeat(both, 2, axis=1), per_row[:, 2 * h :]], axis=1)


def _inside(play: Play, room: Array, offset: Array, change: Array, slack: Array, rise: Array, size: Array) -> Array:
    """Fraction (n,) of the step that leaves a twentieth of every term's spare.

    Spare is concave along the step, so the secant between two fractions lies under it: what it allows is safe.
    """
    spare = slack[:, None] + room - size

    def safe(at: NDArray[np.intp], fraction: Array) -> Array:
        there = _excess(play, offset[at] + fraction[:, None] * change[at])[1]
        loss = spare[at] - ((slack[at] + fraction * rise[at])[:, None] + room - there)
        return np.asarray(fraction * np.min(0.95 * spare[at] / np.maximum(loss, 0.95 * spare[at]), axis=1))

    fraction = safe(np.arange(len(offset)), np.ones(len(offset)))
    short = np.flatnonzero(fraction < 1.0)
    if len(short):
        fraction[short] = np.maximum(fraction[short], safe(short, np.minimum(1.0, 2.0 * fraction[short])))
    return fraction
