"""Every place worth trying for a module in a bay. A bay, its keep-outs and a block's stances in, corners out.

Any packing can be pushed toward one corner of its bay until each module rests on a wall, a keep-out or another module;
its coordinates are then sums of sizes counted from walls and keep-outs. So the sums from one corner lose no packing
(Herz, 1972; Christofides and Whitlock, 1977, from memory); sums from the other end are added where there is room for
them in the count, for layouts that lean that way.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry import mesh
from halfshaft.pack.bay import Bay, Keep, keep_box
from halfshaft.pack.block import Stance

Array = NDArray[np.float64]

MOST = 900  # spots in one bay: past these, rows of modules that lie alike
LARGEST = 12_000  # spots of one stance
_PER_MM = 100  # lengths are summed in hundredths


@dataclass(frozen=True, eq=False, slots=True)
class Spots:
    """Rooms that a module may take in a bay: corner (n, 3) in the bay's axes, and number (n,) of the stance.

    `whole` says that no packing is lost; `cover` lists spots of which one at most can be taken; `row` (n,) marks those
    of rows of modules that lie alike: few, and near the best.
    """

    corner_mm: Array
    stance: NDArray[np.int64]
    whole: bool
    cover: tuple[tuple[int, ...], ...]
    row: NDArray[np.bool_]


def spots_of(bay: Bay, stances: Sequence[Stance], keeps: Iterable[Keep], gap_mm: float, most: int = MOST) -> Spots:
    """Corners that are worth trying, clear of walls and keep-outs."""
    boxes, rough = [], []
    for keep in keeps:
        if not mesh.boxes_meet(keep.solid, bay.solid, keep.room_mm):
            continue
        box = keep_box(keep, bay)
        low, high = box or mesh.moved(keep.solid, bay.pose.inverse()).bounds_mm
        boxes.append((low - keep.room_mm, high + keep.room_mm, box is not None))
        if box is None:
            rough.append(keep)
    found = _tried(bay, stances, boxes, gap_mm, both=True, rows=False)
    if len(found[1]) > most or not found[2]:
        found = _tried(bay, stances, boxes, gap_mm, both=False, rows=False)
    if len(found[1]) > most or not found[2]:
        found = np.zeros((0, 3)), np.zeros(0, dtype=np.int64), False
    corner, number, whole = found
    in_rows, of_rows, _ = _tried(bay, stances, boxes, gap_mm, both=True, rows=True)
    known = {(*at, n) for at, n in zip(np.round(in_rows, 2).tolist(), of_rows.tolist(), strict=True)}
    more = [(*at, n) not in known for at, n in zip(np.round(corner, 2).tolist(), number.tolist(), strict=True)]
    corner = np.concatenate([in_rows, corner[np.array(more, dtype=bool)]])
    number = np.concatenate([of_rows, number[np.array(more, dtype=bool)]])
    row = np.arange(len(number)) < len(of_rows)
    free = _clear(bay, stances, corner, number, rough)
    corner, number, row = corner[free], number[free], row[free]
    rooms = np.array([stance.room_mm for stance in stances]).reshape(-1, 3)[number]
    return Spots(corner, number, whole and not rough, _cover(corner, rooms + gap_mm), row)


def _tried(
    bay: Bay,
    stances: Sequence[Stance],
    boxes: Sequence[tuple[Array, Array, bool]],
    gap_mm: float,
    both: bool,
    rows: bool,
) -> tuple[Array, NDArray[np.int64], bool]:
    """Corners (n, 3), stances (n,), and whether these are all there are."""
    thinned = False
    low, high = np.full(3, bay.wall_mm), bay.size_mm - bay.wall_mm
    corners, numbers = [np.zeros((0, 3))], [np.zeros(0, dtype=np.int64)]
    sizes = [sorted({_whole(s.room_mm[axis] + gap_mm) for s in stances}) for axis in range(3)]
    for number, stance in enumerate(stances):
        axes = []
        for axis in range(3):
            own = _whole(stance.room_mm[axis] + gap_mm)
            steps = [own] if rows else sizes[axis]
            first, last = _whole(low[axis]), _whole(high[axis] + gap_mm) - own
            faces = {_whole(box[1][axis]) for box in boxes}
            begins = {first} | {face for face in faces if face > first}
            faces = {_whole(box[0][axis] + gap_mm) for box in boxes}
            ends = {last + own} | {face for face in faces if face < last + own}
            at = _sums(begins, steps, last)
            if both:
                turned = _sums({-end for end in ends}, steps, -first - own)
                at |= {-end - own for end in turned}
            axes.append(np.array(sorted(x for x in at if first <= x <= last), dtype=float) / _PER_MM)
        if min(len(a) for a in axes) == 0:
            continue
        while np.prod([len(a) for a in axes]) > LARGEST:
            # a bay far larger than its modules: its low corner alone is more than can be worked
            longest = int(np.argmax([len(a) for a in axes]))
            axes[longest] = axes[longest][: (len(axes[longest]) + 1) // 2]
            thinned = True
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
        if stance.cooled:
            grid = grid[_touching(grid, stance, bay)]
        free = np.ones(len(grid), dtype=bool)
        for under, over, exact in boxes:
            if exact:
                free &= np.any((grid + stance.room_mm <= under + 1e-6) | (grid >= over - 1e-6), axis=1)
        corners.append(grid[free])
        numbers.append(np.full(int(free.sum()), number))
    return np.concatenate(corners), np.concatenate(numbers), not thinned


def _touching(corner: Array, stance: Stance, bay: Bay) -> NDArray[np.bool_]:
    """Spots whose room rests on the cooled side."""
    axis, high = _AXIS[bay.cooled]
    if high:
        return np.asarray(np.abs(corner[:, axis] + stance.room_mm[axis] - bay.size_mm[axis] + bay.wall_mm) < 0.02)
    return np.asarray(np.abs(corner[:, axis] - bay.wall_mm) < 0.02)


_AXIS = {
    "front": (0, True),
    "rear": (0, False),
    "left": (1, True),
    "right": (1, False),
    "top": (2, True),
    "bottom": (2, False),
}


def _whole(length_mm: float) -> int:
    # up, so that rounding never takes a hair of clearance
    return int(np.ceil(round(float(length_mm) * _PER_MM, 3)))


def _sums(begins: set[int], steps: Iterable[int], last: int) -> set[int]:
    """Everything that is reached from a beginning by steps, up to the last place."""
    found: set[int] = set()
    ahead = [at for at in begins if at <= last]
    while ahead:
        at = ahead.pop()
        if at not in found and len(found) < LARGEST:
            found.add(at)
            ahead += [at + step for step in steps if at + step <= last]
    return found


def _clear(
    bay: Bay, stances: Sequence[Stance], corner: Array, number: NDArray[np.int64], keeps: Sequence[Keep]
) -> NDArray[np.bool_]:
    """Spots clear of keep-outs of any shape: exact distances between solids."""
    free = np.ones(len(corner), dtype=bool)
    for keep in keeps:
        solid = mesh.moved(keep.solid, bay.pose.inverse())
        under, over = solid.bounds_mm
        for n in np.flatnonzero(free):
            low = corner[n]
            high = low + stances[number[n]].room_mm
            if np.all(low < over + keep.room_mm) and np.all(high > under - keep.room_mm):
                free[n] = mesh.gap_mm(mesh.box(low, high), solid, keep.room_mm + 1.0) >= keep.room_mm - 1e-6
    return free


def _cover(corner: Array, room: Array) -> tuple[tuple[int, ...], ...]:
    """Sets of rooms that share a place: two rooms overlap just where one of these sets holds both.

    Where two boxes overlap, the lowest corner of what they share has each coordinate from one of their corners; so
    those places tell all (Beasley, Oper. Res. 33 (1985) 49, from memory).
    """
    if not len(corner):
        return ()
    found: set[tuple[int, ...]] = set()
    xs, ys, zs = (np.unique(corner[:, axis]) for axis in range(3))
    held = [
        (corner[:, axis, None] <= at + 1e-6) & (corner[:, axis, None] + room[:, axis, None] > at + 1e-6)
        for axis, at in enumerate((xs, ys, zs))
    ]
    for i in range(len(xs)):
        for j in range(len(ys)):
            both = held[0][:, i] & held[1][:, j]
            if both.sum() < 2:
                continue
            for k in range(len(zs)):
                share = np.flatnonzero(both & held[2][:, k])
                if len(share) > 1:
                    found.add(tuple(share.tolist()))
    return tuple(sorted(found))
