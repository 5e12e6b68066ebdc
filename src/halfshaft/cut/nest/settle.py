"""A layout pushed together: parts slid toward the left end and down until they touch. Places in, tighter places out.

The packing library's first layout leaves play between parts; what is slid stays inside the room and clear of the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from halfshaft.cut.nest.shape import Area
from halfshaft.cut.nest.strip import Put

_ROUNDS = 3
_FIRST_MM, _LAST_MM = 64.0, 0.06
_WAYS = ((-1.0, 0.0), (0.0, -1.0), (-0.7, 0.7), (-0.7, -0.7), (-1.0, 0.0))


def settled(
    room: Area,
    true: Mapping[str, Polygon],
    grown: Mapping[str, Polygon],
    puts: Sequence[Put],
    taken: Area | None = None,
) -> list[Put]:
    """The same parts at the same turns. `true` shapes stay in `room`, `grown` ones clear of each other and of `barred`.

    A part whose grown shape touches another's to begin with is moved only to where it touches none.
    """
    there = [_at(grown[put.name], put) for put in puts]
    bare = [_at(true[put.name], put) for put in puts]
    moved = np.zeros((len(puts), 2))
    shapely.prepare(room)
    for _ in range(_ROUNDS):
        before = moved.copy()
        for number in sorted(range(len(puts)), key=lambda n: (there[n].bounds[0], there[n].bounds[1])):
            others = np.array(
                [s for k, s in enumerate(there) if k != number] + ([taken] if taken else []), dtype=object
            )
            for way in _WAYS:
                step = _FIRST_MM
                while step >= _LAST_MM:
                    x, y = step * way[0], step * way[1]
                    own = affinity.translate(there[number], x, y)
                    if _clear(own, others) and room.covers(inner := affinity.translate(bare[number], x, y)):
                        there[number], bare[number] = own, inner
                        moved[number] += (x, y)
                    else:
                        step /= 2.0
        if np.allclose(before, moved, atol=_LAST_MM):
            break
    return [
        Put(put.name, put.turn_deg, (put.shift_mm[0] + float(x), put.shift_mm[1] + float(y)))
        for put, (x, y) in zip(puts, moved, strict=True)
    ]


def _clear(own: Polygon, others: np.ndarray) -> bool:  # type: ignore[type-arg]
    return not len(others) or not bool(np.any(shapely.intersects(own, others)))


def _at(shape: Polygon, put: Put) -> Polygon:
    there = affinity.rotate(shape, put.turn_deg, origin=(0.0, 0.0))
    return affinity.translate(there, put.shift_mm[0], put.shift_mm[1])
