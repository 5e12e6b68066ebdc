"""Way of the cables between terminals: square along the bay's sides, out of a bay where its cables leave."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfshaft.pack.bay import Bay

if TYPE_CHECKING:
    from halfshaft.pack.layout import Placed

Array = NDArray[np.float64]


def ways_mm(
    bays: Sequence[Bay], bay: NDArray[np.int64], minus_mm: Array, plus_mm: Array, junction_mm: Array | None
) -> tuple[Array, Array, Array]:
    """Ways (n, n) from each plus to each minus; (n,) from the start to each minus, and from each plus to the end.

    Terminals (n, 3) in the axes of the bay that `bay` (n,) numbers. Start and end lie at the junction, in the root's
    axes, or where none is told at the module's own bay's cable side.
    """
    exits = np.array([one.exit_mm for one in bays])[bay]
    doors = np.array([one.pose.apply(one.exit_mm) for one in bays])[bay]
    into, out = np.abs(minus_mm - exits).sum(axis=1), np.abs(plus_mm - exits).sum(axis=1)
    inside = np.abs(plus_mm[:, None] - minus_mm[None]).sum(axis=-1)
    between = np.abs(doors[:, None] - doors[None]).sum(axis=-1)
    ways = np.where(bay[:, None] == bay[None], inside, out[:, None] + between + into[None])
    if junction_mm is not None:
        reach = np.abs(doors - junction_mm).sum(axis=1)
        into, out = into + reach, out + reach
    return ways, into, out


def runs_mm(modules: Sequence[Placed], bays: Sequence[Bay], junction_mm: Array | None) -> list[Array]:
    """Each cable of a layout as corners (k, 3) in the root's axes, in the order of the strings: to draw, and as long
    as `ways_mm` says.
    """
    by_name = {bay.name: bay for bay in bays}
    strings: dict[int, list[Placed]] = {}
    for one in sorted(modules, key=lambda one: (one.string, one.place)):
        strings.setdefault(one.string, []).append(one)
    found = []
    for own in strings.values():
        found.append(_out(own[0].minus_mm, own[0].bay, by_name, junction_mm)[::-1])
        for one, other in pairwise(own):
            if one.bay == other.bay:
                found.append(_square(one.plus_mm, other.minus_mm, by_name[one.bay].pose.rotation))
            else:
                out, into = (
                    _out(s, b, by_name, None) for s, b in ((one.plus_mm, one.bay), (other.minus_mm, other.bay))
                )
                found.append(np.vstack([out, _square(out[-1], into[-1], np.eye(3))[1:], into[::-1][1:]]))
        found.append(_out(own[-1].plus_mm, own[-1].bay, by_name, junction_mm))
    return found


def _out(spot_mm: Array, bay: str, bays: Mapping[str, Bay], junction_mm: Array | None) -> Array:
    """From a terminal out of its bay, and on to the junction where there is one."""
    pose = bays[bay].pose
    door = pose.apply(bays[bay].exit_mm)
    way = _square(spot_mm, door, pose.rotation)
    return way if junction_mm is None else np.vstack([way, _square(door, junction_mm, np.eye(3))[1:]])


def _square(one_mm: Array, other_mm: Array, axes: Array) -> Array:
    """Corners (4, 3) of a way along the columns of `axes`, the upright one first."""
    legs = [axes[:, k] * float(axes[:, k] @ (other_mm - one_mm)) for k in (2, 0, 1)]
    return np.asarray(np.cumsum([one_mm, *legs], axis=0))
