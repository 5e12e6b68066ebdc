"""How far a unit moves on its mounts: pieces, place and settled states in; the farthest move of each piece out.

Compared with the sway that fit-up kept room for, from the drawn place, since clearances were taken there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fitup.model import OutputFlange, Piece
from halfshaft.geometry import Pose
from halfshaft.mounts.loads import Case
from halfshaft.mounts.statics import Settled

Array = NDArray[np.float64]

_MOVED = Source(Origin.DERIVED, "corners of the piece as drawn, carried by the unit's settled pose")


@dataclass(frozen=True, eq=False)
class PieceMove:
    """The farthest move of one piece over all cases: which spot (3,) at the drawn place, where it goes (3,), root axes.

    `from_rest_mm` is the farthest move from where the unit hangs under its weight, and its case.
    """

    piece: str
    moved_mm: float
    case: str
    spot_mm: Array
    move_mm: Array
    from_rest_mm: float
    from_rest_case: str
    sway_mm: float  # what fit-up kept room for


@dataclass(frozen=True, eq=False)
class Motion:
    """Moves of each piece, the one that goes farthest over its sway first, and by case the farthest of any piece."""

    pieces: tuple[PieceMove, ...]
    by_case: tuple[tuple[str, str, float], ...]  # case, piece, mm

    @property
    def farthest(self) -> PieceMove:
        """Raises ValueError where the unit has no piece with a volume."""
        if not self.pieces:
            raise ValueError("the unit has no piece with a volume to follow")
        return max(self.pieces, key=lambda p: p.moved_mm)

    @property
    def sway_mm(self) -> dict[str, float]:
        """Sway of each piece to place the unit with, as worked here."""
        return {move.piece: move.moved_mm for move in self.pieces}


def moves_mm(spots_mm: Array, settled: Settled) -> Array:
    """Moves (n, 3) of root spots (n, 3) of the drawn place."""
    return np.asarray(settled.pose.apply(spots_mm) - spots_mm)


def motion(
    pieces: Sequence[Piece], pose: Pose, cases: Sequence[Case], states: Sequence[Settled], rest: Settled
) -> Motion:
    """Farthest move of every piece over all cases that are no crash; `pose` carries the unit's axes to the root's.

    The corners of a piece stand for all of it: the length of an affine move is greatest at a corner of its hull.
    Raises ValueError where cases and states do not belong together, or there is none to look at.
    """
    if len(cases) != len(states) or any(c.name != s.name for c, s in zip(cases, states, strict=True)):
        raise ValueError("each case wants its own settled state, in the same order")
    served = [state for case, state in zip(cases, states, strict=True) if case.kind != "crash"]
    if not served:
        raise ValueError("the unit's motion wants one case or more that is no crash")
    solid = [piece for piece in pieces if not piece.solid.empty]
    found: list[PieceMove] = []
    lengths = np.zeros((len(solid), len(served)))
    for row, piece in enumerate(solid):
        spots = pose.apply(piece.solid.triangles[0])
        moved = np.array([moves_mm(spots, state) for state in served])
        far = np.linalg.norm(moved, axis=2)
        lengths[row] = far.max(axis=1)
        case, spot = (int(i) for i in np.unravel_index(int(np.argmax(far)), far.shape))
        off = np.linalg.norm(moved - moves_mm(spots, rest), axis=2).max(axis=1)
        found.append(
            PieceMove(
                piece.name, float(far[case, spot]), served[case].name, spots[spot], moved[case, spot],
                float(off.max()), served[int(np.argmax(off))].name, piece.sway_mm,
            )
        )  # fmt: skip
    by_case = []
    if solid:
        worst = lengths.argmax(axis=0)
        by_case = [
            (s.name, solid[int(w)].name, float(lengths[w, i]))
            for i, (s, w) in enumerate(zip(served, worst, strict=True))
        ]
    return Motion(tuple(sorted(found, key=lambda m: m.sway_mm - m.moved_mm)), tuple(by_case))


def motion_checks(found: Motion) -> tuple[Check, ...]:
    """Of each piece whether it moves no farther than fit-up kept room for."""
    return tuple(
        Check(
            "mounts", f"piece {move.piece}", f"Move on its mounts, farthest under '{move.case}'", _MOVED,
            Severity.CAUTION,
            f"It moves {move.moved_mm:.1f} mm {_way(move.move_mm)} at ({_spot(move.spot_mm)}) mm: write that as its "
            "sway and place the unit again, or take stiffer mounts or snubbers.",
            move.moved_mm, move.sway_mm, "mm", Good.AT_MOST,
        )
        for move in found.pieces
    )  # fmt: skip


def flange_moves(
    outputs: Sequence[OutputFlange], pose: Pose, states: Sequence[Settled]
) -> tuple[tuple[str, str, Array], ...]:
    """Of each output flange the case that moves it farthest and the move (3,): what half-shafts must take besides."""
    out = []
    for flange in outputs:
        spot = pose.apply(flange.centre_mm)[None]
        moved = [moves_mm(spot, state)[0] for state in states]
        if moved:
            far = int(np.argmax(np.linalg.norm(moved, axis=1)))
            out.append((str(flange.side), states[far].name, moved[far]))
    return tuple(out)


def _way(move: Array) -> str:
    main = int(np.argmax(np.abs(move)))
    back, ahead = (("backward", "forward"), ("to the right", "to the left"), ("down", "up"))[main]
    return f"mostly {ahead if move[main] > 0.0 else back}"


def _spot(spot: Array) -> str:
    return ", ".join(f"{value + 0.0:.0f}" for value in np.round(spot))
