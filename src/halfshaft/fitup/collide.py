"""Whether a body goes along a straight move: body, what stands still and the move in; true clearance on the way out.

No spot of the body moves, between two poses looked at, by more than half of what is clear there.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from halfshaft.fitup.moves import Leg
from halfshaft.geometry import Pose, nearest
from halfshaft.geometry.mesh import MeshSolid, overlap, union
from halfshaft.geometry.mesh import moved as carried

Array = NDArray[np.float64]

MUCH_WORK = 200_000  # pairs of triangles from which boxes and grids answer faster than one question for all
_FAR_MM = 1e6
_LEAST_MM = 0.01  # skins nearer than this are taken to touch
_MOST_LOOKS = 4000
_TRUST_MM = 6.0  # a screen's word is taken where it says that more than this is clear


class Clearance(Protocol):
    """Anything that says how much is clear at poses: never more than there is."""

    def least_mm(self, poses: Sequence[Pose]) -> Array: ...


@dataclass(frozen=True, eq=False)
class Pairs:
    """The pieces of a body and the things about it one by one, their boxes kept: most pairs are told apart by boxes.

    `corners_mm` (p, 8, 3) of the pieces' boxes, `low_mm` and `high_mm` (t, 3) of the things'.
    """

    pieces: tuple[nearest.Body, ...]
    things: tuple[nearest.Body, ...]
    corners_mm: Array
    low_mm: Array
    high_mm: Array

    def gap(self, pose: Pose) -> nearest.Gap:
        """Least distance over all pairs, those first whose boxes are nearest."""
        best = nearest.Gap(_FAR_MM, pose.shift_mm, pose.shift_mm)
        spots = self.corners_mm @ pose.rotation.T + pose.shift_mm
        low, high = spots.min(axis=1)[:, None], spots.max(axis=1)[:, None]
        away = np.maximum(np.maximum(self.low_mm - high, low - self.high_mm), 0.0)
        least = np.sqrt(np.einsum("ptk,ptk->pt", away, away)).ravel()
        still = Pose.identity()
        for at in np.argsort(least, kind="stable"):
            if least[at] >= best.distance_mm:
                break
            piece, thing = divmod(int(at), len(self.things))
            found = nearest.gap(self.pieces[piece], pose, self.things[thing], still)
            if found.distance_mm < best.distance_mm:
                best = found
        return best


def _pairs(pieces: Sequence[MeshSolid], things: Sequence[MeshSolid]) -> Pairs:
    boxes = [piece.bounds_mm for piece in pieces]
    corners = [[[box[i][0], box[j][1], box[k][2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)] for box in boxes]
    still = np.array([thing.bounds_mm for thing in things]).reshape(-1, 2, 3)
    return Pairs(
        tuple(nearest.body(piece) for piece in pieces),
        tuple(nearest.body(thing) for thing in things),
        np.array(corners),
        still[:, 0],
        still[:, 1],
    )


@dataclass(frozen=True, eq=False)
class Around:
    """A body, its middle at the origin, and all that stands still about it, each as one skin, with exact distances.

    `radius_mm` reaches from the middle to the farthest corner. A `screen` answers first where much is clear.
    """

    body: nearest.Body
    fixed: nearest.Body | None
    radius_mm: float
    parts: Pairs | None = None  # where there is so much of both that boxes tell most of it apart
    screen: Clearance | None = None

    def gap(self, pose: Pose) -> nearest.Gap:
        """Least distance and a spot on each; nought where the skins meet."""
        if self.parts is not None:
            return self.parts.gap(pose)
        if self.fixed is None:
            return nearest.Gap(_FAR_MM, pose.shift_mm, pose.shift_mm)
        return nearest.gap(self.body, pose, self.fixed, Pose.identity())

    def clear_mm(self, pose: Pose) -> float:
        """What is clear at a pose, exactly where little is."""
        if self.screen is not None:
            told = float(self.screen.least_mm([pose])[0])
            if told > _TRUST_MM:
                return told
        return self.gap(pose).distance_mm

    def least_mm(self, poses: Sequence[Pose]) -> Array:
        """Exact distances (k,); nought where the skins meet."""
        return np.array([self.gap(pose).distance_mm for pose in poses])

    def overlap_mm3(self, pose: Pose) -> float:
        """Metal shared at a pose: also where one solid lies wholly inside another."""
        if self.fixed is None:
            return 0.0
        return overlap(carried(self.body.solid, pose), self.fixed.solid).volume_mm3


def around(solids: Iterable[MeshSolid], fixed: Iterable[MeshSolid], screen: Clearance | None = None) -> Around:
    """Raises ValueError where the body has no metal."""
    pieces, things = ([solid for solid in some if not solid.empty] for some in (solids, fixed))
    body = nearest.body(union(pieces))
    still = union(things)
    radius = float(np.linalg.norm(body.corners_mm, axis=1).max())
    if still.empty:
        return Around(body, None, radius, None, screen)
    fixed_body = nearest.body(still)
    much = len(body.triangles) * len(fixed_body.triangles) > MUCH_WORK
    return Around(body, fixed_body, radius, _pairs(pieces, things) if much else None, screen)


def advance(move: Leg, about: Around, room_mm: float, clear_mm: float | None = None) -> float:
    """The share of the move, from its start on, that goes with `room_mm` clear wherever it is looked at.

    A look at clearance c vouches for c / 2 of travel: conservative advancement, so that c / 2 is clear between looks.
    """
    travel = move.travel_mm(about.radius_mm)
    now = about.clear_mm(move.start) if clear_mm is None else clear_mm
    if now < room_mm:
        return 0.0
    if travel <= 0.0:
        return 1.0
    share = 0.0
    for _ in range(_MOST_LOOKS):
        further = min(share + max(now, _LEAST_MM) / 2.0 / travel, 1.0)
        now = about.clear_mm(move.at(further))
        if now < room_mm:
            return share
        share = further
        if share >= 1.0:
            return 1.0
    return share


def goes(move: Leg, about: Around, room_mm: float) -> bool:
    """Whether the whole move goes with `room_mm` clear: halved until each part is vouched for, its middle first."""
    travel = move.travel_mm(about.radius_mm)
    ends = (about.clear_mm(move.at(0.0)), about.clear_mm(move.at(1.0)))
    if min(ends) < room_mm:
        return False
    todo = [(0.0, 1.0, *ends)]
    looks = 0
    while todo:
        coming = []
        for first, last, at_first, at_last in todo:
            if (last - first) * travel <= max((at_first + at_last) / 2.0, _LEAST_MM):
                continue
            middle = (first + last) / 2.0
            clear = about.clear_mm(move.at(middle))
            looks += 1
            if clear < room_mm or looks > _MOST_LOOKS:
                return False
            coming += [(first, middle, at_first, clear), (middle, last, clear, at_last)]
        todo = coming
    return True


def least_along(move: Leg, about: Around, within_mm: float = 0.1) -> tuple[float, float]:
    """Least clearance along a move: a bound that it never falls below, and the least that was found.

    Parts are halved, the worst first, until the two are within `within_mm`: distance changes no faster than travel.
    """
    travel = move.travel_mm(about.radius_mm)
    ends = about.least_mm([move.at(0.0), move.at(1.0)])
    found = float(ends.min())

    def bound(one: float, other: float, share: float) -> float:
        return (one + other - share * travel) / 2.0

    heap = [(bound(ends[0], ends[1], 1.0), 0.0, 1.0, float(ends[0]), float(ends[1]))]
    for _ in range(_MOST_LOOKS):
        low, first, last, at_first, at_last = heap[0]
        if found - low <= within_mm or travel <= 0.0:
            break
        heapq.heappop(heap)
        middle = (first + last) / 2.0
        clear = about.gap(move.at(middle)).distance_mm
        found = min(found, clear)
        half = (last - first) / 2.0
        heapq.heappush(heap, (bound(at_first, clear, half), first, middle, at_first, clear))
        heapq.heappush(heap, (bound(clear, at_last, half), middle, last, clear, at_last))
    return max(min(heap[0][0], found), 0.0), found
