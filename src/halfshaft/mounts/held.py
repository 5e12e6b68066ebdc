"""Whether a set of mounts holds the unit: mounts in, the moves that nothing resists out, in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.mounts.bushings import Rubber
from halfshaft.mounts.equilibrium import reach_mm, skews

Array = NDArray[np.float64]

_LOOSE = 1e-9  # of the stiffest move
_WAYS = ("fore and aft", "sideways", "up and down")
_TURNS = ("rolls", "pitches", "yaws")
_AXES = ("a fore-and-aft", "a crosswise", "an upright")


class NotHeld(ValueError):
    """The mounts leave the unit a move that nothing resists, or it tips over; the text names the move."""


@dataclass(frozen=True, eq=False)
class LooseMove:
    """A small move that meets no resistance: shift (3,) of the centre of mass in mm, turn (3,) in radians."""

    shift_mm: Array
    turn_rad: Array
    words: str


def stiffness_at_rest(rubber: Rubber, centre_mm: Array) -> Array:
    """Stiffness (6, 6) of the mounts at the drawn place about the centre of mass, preload left out: never negative.

    A pad that only pushes counts as if it stayed in touch.
    """
    along = np.einsum("mij,mj,mkj->mik", rubber.own, rubber.stiffness[:, :3], rubber.own)
    about = np.einsum("mij,mj,mkj->ik", rubber.own, rubber.stiffness[:, 3:], rubber.own)
    moves = np.concatenate([np.tile(np.eye(3), (len(along), 1, 1)), -skews(rubber.centre_mm - centre_mm)], axis=2)
    out = np.asarray(np.einsum("mia,mij,mjb->ab", moves, along, moves))
    out[3:, 3:] += about
    return out


def loose_moves(rubber: Rubber, centre_mm: Array) -> tuple[LooseMove, ...]:
    """The moves that the mounts leave free, shifts before turns; none where the unit is held.

    Told from the directions in which the stiffness at rest is under a thousand-millionth of the stiffest one, turns
    made comparable by the mounts' mean distance.
    """
    reach = reach_mm(rubber, centre_mm)
    size = np.array([1.0, 1.0, 1.0, reach, reach, reach])
    stiffness = stiffness_at_rest(rubber, centre_mm) / np.outer(size, size)
    return moves_of(stiffness, centre_mm, reach)


def moves_of(scaled: Array, centre_mm: Array, reach: float) -> tuple[LooseMove, ...]:
    """The loose moves of a symmetric stiffness (6, 6) whose turns are scaled by `reach` in mm."""
    values, vectors = np.linalg.eigh(scaled)
    top = float(values[-1])
    loose = vectors[:, values <= _LOOSE * max(top, 0.0)] if top > 0.0 else vectors
    if loose.shape[1] == 0:
        return ()
    # the loose moves without any turn come first: what is left over turns about some line
    _, turned, mix = np.linalg.svd(loose[3:])
    rank = int(np.sum(turned > 1e-6))
    basis = loose @ mix.T
    shifts, turns = basis[:3, rank:], basis[:, :rank]
    out = [LooseMove(v, np.zeros(3), _shift_words(v)) for v in _nearest_axes(shifts).T]
    for column in _nearest_axes(turns, slice(3, 6)).T:
        turn, shift = column[3:] / reach, column[:3]
        shift = shift - shifts @ (shifts.T @ shift)
        out.append(LooseMove(shift, turn, _turn_words(turn, shift, centre_mm)))
    return tuple(out)


def _nearest_axes(basis: Array, rows: slice = slice(0, 3)) -> Array:
    """The same space spanned by vectors that lie along the root axes as far as they can."""
    if basis.shape[1] <= 1:
        return basis
    part = basis[rows]
    near = [basis @ np.linalg.lstsq(part, np.eye(3)[axis], rcond=None)[0] for axis in range(3)]
    chosen: list[Array] = []
    for vector in sorted(near, key=lambda v: -float(np.linalg.norm(v[rows]))):
        size = float(np.linalg.norm(vector[rows]))
        more = [*chosen, vector / max(size, 1e-12)]
        spread = np.linalg.svd(np.column_stack(more)[rows], compute_uv=False)
        if size > 1e-3 and spread[-1] > 0.1 and len(chosen) < basis.shape[1]:
            chosen = more
    return np.column_stack(chosen) if len(chosen) == basis.shape[1] else basis


def _main(direction: Array) -> tuple[int, float]:
    size = np.abs(direction) / np.linalg.norm(direction)
    main = int(np.argmax(size))
    return main, float(size[main])


def _told(direction: Array) -> str:
    unit = direction / np.linalg.norm(direction)
    unit = unit if unit[int(np.argmax(np.abs(unit)))] > 0.0 else -unit
    return "(" + ", ".join(f"{value + 0.0:.2f}" for value in np.round(unit, 2)) + ")"


def _shift_words(shift: Array) -> str:
    main, share = _main(shift)
    if share > 0.999:
        return f"it slides {_WAYS[main]}"
    return f"it slides along {_told(shift)}, mostly {_WAYS[main]}"


def _turn_words(turn: Array, shift: Array, centre_mm: Array) -> str:
    main, share = _main(turn)
    through = centre_mm + np.cross(turn, shift) / float(turn @ turn)
    spot = ", ".join(f"{value + 0.0:.0f}" for value in np.round(through))
    axis = f"{_AXES[main]} line" if share > 0.999 else f"a line along {_told(turn)}"
    return f"it {_TURNS[main]} about {axis} through ({spot}) mm"


def hold(rubber: Rubber, centre_mm: Array) -> None:
    """Raises NotHeld with every loose move in words."""
    moves = loose_moves(rubber, centre_mm)
    if moves:
        raise NotHeld(
            f"the mounts ({', '.join(rubber.names)}) do not hold the unit: "
            + "; ".join(move.words for move in moves)
            + ". Add a mount off that line, or one that is stiff in that direction."
        )
