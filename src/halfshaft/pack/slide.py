"""Modules slid along their bays till their centre lies where it is wanted. A choice of spots in, corners out.

A spot rests against a wall, a keep-out or a neighbour; what room is then left lies at one end. Here each module may
slide along one axis of its bay as far as that end and its neighbours let it, none passing another.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_matrix

from halfshaft.geometry import mesh
from halfshaft.pack.bay import Bay, Keep

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

_HAIR = 1e-6
_STAYS = 1e-3  # price of a millimetre that a module slides against one off the wanted centre: none slides for nothing


def slid(
    bays: Sequence[Bay],
    keeps: Sequence[Keep],
    gap_mm: float,
    bay: Whole,
    corner_mm: Array,
    room_mm: Array,
    cooled: NDArray[np.bool_],
    middle_mm: Array,
    axis: int,
    wanted_mm: float,
) -> Array:
    """Corners (n, 3) of rooms (n, 3) in their bays' axes, slid so that the mean of their middles lies as near to
    `wanted_mm` along `axis` of the root as it can be had; what slides beyond need is least.

    `bay` (n,) numbers each room's bay, `cooled` (n,) those that must stay on a cooled side, `middle_mm` (n, 3) is where
    a module's middle lies in its room. A linear program: displacement of each, its size, and the miss.
    Source: separation of boxes in one order kept, as in floor plans; any text of linear programming.
    """
    n = len(bay)
    along = np.array([int(np.argmax(np.abs(one.pose.rotation[axis]))) for one in bays])[bay]
    slope = np.array([bays[b].pose.rotation[axis, k] for b, k in zip(bay, along, strict=True)])
    low, high = _ends(bays, keeps, bay, corner_mm, room_mm, along)
    fixed = cooled & np.array([_cooled_axis(bays[b], k) for b, k in zip(bay, along, strict=True)])
    low, high = np.where(fixed, 0.0, low), np.where(fixed, 0.0, high)
    rows, limits = [], []

    def row(parts: dict[int, float], limit: float) -> None:
        rows.append(parts)
        limits.append(limit)

    for i, j in combinations(range(n), 2):
        if bay[i] != bay[j] or not _beside(corner_mm, room_mm, gap_mm, i, j, int(along[i])):
            continue
        first, second = (i, j) if corner_mm[i, along[i]] <= corner_mm[j, along[i]] else (j, i)
        k = along[first]
        free = corner_mm[second, k] - corner_mm[first, k] - room_mm[first, k] - gap_mm
        row({first: 1.0, second: -1.0}, max(free, 0.0))
    spots = np.array([bays[b].pose.apply(c + m) for b, c, m in zip(bay, corner_mm, middle_mm, strict=True)])
    off = float(spots[:, axis].mean()) - wanted_mm
    shift = {i: float(slope[i]) / n for i in range(n)}
    row({**shift, 2 * n: -1.0}, -off)
    row({**{i: -s for i, s in shift.items()}, 2 * n: -1.0}, off)
    for i in range(n):
        row({i: 1.0, n + i: -1.0}, 0.0)
        row({i: -1.0, n + i: -1.0}, 0.0)
    where = [(r, c) for r, parts in enumerate(rows) for c in parts]
    values = [v for parts in rows for v in parts.values()]
    r, c = zip(*where, strict=True)
    table = csr_matrix((values, (r, c)), shape=(len(rows), 2 * n + 1))
    price = np.concatenate([np.zeros(n), np.full(n, _STAYS / n), [1.0]])
    bounds = [*zip(low, high, strict=True), *[(0.0, None)] * (n + 1)]
    found = linprog(price, A_ub=table, b_ub=np.array(limits), bounds=bounds, method="highs")
    if not found.success:
        return corner_mm
    out = corner_mm.copy()
    out[np.arange(n), along] += np.where(np.abs(found.x[:n]) > _HAIR, found.x[:n], 0.0)
    return out


def _ends(
    bays: Sequence[Bay],
    keeps: Sequence[Keep],
    bay: Whole,
    corner: Array,
    room: Array,
    along: Whole,
) -> tuple[Array, Array]:
    """How far each room may slide back (n,) and forward (n,) before a wall or a keep-out: 0 at least."""
    n = len(bay)
    at = np.arange(n)
    wall = np.array([bays[b].wall_mm for b in bay])
    size = np.array([bays[b].size_mm for b in bay])
    low = wall - corner[at, along]
    high = size[at, along] - wall - room[at, along] - corner[at, along]
    boxes = {b: _boxes(bays[b], keeps) for b in set(bay.tolist())}
    for i in range(n):
        k = int(along[i])
        others = [axis for axis in range(3) if axis != k]
        for under, over in boxes[int(bay[i])]:
            beside = all(
                corner[i, o] < over[o] - _HAIR and corner[i, o] + room[i, o] > under[o] + _HAIR for o in others
            )
            if not beside:
                continue
            if over[k] <= corner[i, k] + _HAIR:
                low[i] = max(low[i], over[k] - corner[i, k])
            elif under[k] >= corner[i, k] + room[i, k] - _HAIR:
                high[i] = min(high[i], under[k] - corner[i, k] - room[i, k])
            else:  # beside a keep-out that is no box: it stays where it was found clear
                low[i] = high[i] = 0.0
    return np.minimum(low, 0.0), np.maximum(high, 0.0)


def _boxes(bay: Bay, keeps: Sequence[Keep]) -> list[tuple[Array, Array]]:
    """Bounds of keep-outs in the bay's axes with their room about them."""
    found = []
    for keep in keeps:
        if mesh.boxes_meet(keep.solid, bay.solid, keep.room_mm):
            under, over = mesh.moved(keep.solid, bay.pose.inverse()).bounds_mm
            found.append((np.asarray(under) - keep.room_mm, np.asarray(over) + keep.room_mm))
    return found


def _beside(corner: Array, room: Array, gap: float, i: int, j: int, along: int) -> bool:
    """Whether two rooms would meet if one slid along: nearer than the gap in both other axes."""
    others = [axis for axis in range(3) if axis != along]
    return all(
        corner[i, o] < corner[j, o] + room[j, o] + gap - _HAIR
        and corner[j, o] < corner[i, o] + room[i, o] + gap - _HAIR
        for o in others
    )


def _cooled_axis(bay: Bay, axis: int) -> bool:
    """Whether sliding along this axis would leave the cooled side."""
    return axis == {"front": 0, "rear": 0, "left": 1, "right": 1, "top": 2, "bottom": 2}.get(bay.cooled, -1)
