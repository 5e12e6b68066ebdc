"""Where two slabs meet: the inside apex, the turn from flat, and which side of each is the inside of the fold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.fold.panels import Slab
from halfshaft.geometry import Plane

Array = NDArray[np.float64]

_PARALLEL = 0.0175  # sine of a degree: below it two planes have no line that a shop could find


@dataclass(frozen=True, eq=False)
class Meet:
    """The line in which the inside faces of two slabs meet, in root axes.

    `into_a`, `into_b` (3,) run from the line into each slab's metal, square to it. `inside_a`, `inside_b` say which
    side of the slab is the inside: +1 the high side along its normal, -1 the low one.
    """

    a: str
    b: str
    apex_mm: Array
    way: Array
    into_a: Array
    into_b: Array
    inside_a: int
    inside_b: int
    angle_deg: float


def meet_of(a: Slab, b: Slab) -> Meet:
    """How two slabs meet. The turn is measured from flat: 0 for one plane, 90 for a square corner.

    Raises ValueError where the faces are parallel or a slab has metal wanted on both sides of the line.
    """
    if float(np.linalg.norm(np.cross(a.normal, b.normal))) < _PARALLEL:
        raise ValueError(
            f"panels {a.name} and {b.name} lie on parallel faces and never meet: put a third panel between them"
        )
    foot, way = a.middle.meet(b.middle)
    into_a, into_b = _into(a, foot, way), _into(b, foot, way)
    inside_a = 1 if float(a.normal @ into_b) > 0.0 else -1
    inside_b = 1 if float(b.normal @ into_a) > 0.0 else -1
    plane_a = Plane(a.normal, a.high_mm if inside_a > 0 else a.low_mm)
    plane_b = Plane(b.normal, b.high_mm if inside_b > 0 else b.low_mm)
    apex, way = plane_a.meet(plane_b)
    for slab, into in ((a, into_a), (b, into_b)):
        reach = (slab.pulls_mm - apex) @ into
        if len(reach) and float(reach.min()) <= 0.0:
            raise ValueError(
                f"the fold line between {a.name} and {b.name} runs between the holes of {slab.name}: the metal of a "
                "panel must lie on one side of its fold"
            )
    turn = float(np.degrees(np.arccos(np.clip(-into_a @ into_b, -1.0, 1.0))))
    return Meet(a.name, b.name, apex, way, into_a, into_b, inside_a, inside_b, turn)


def _into(slab: Slab, foot: Array, way: Array) -> Array:
    """Unit direction in the slab's plane, square to the line, toward its metal."""
    across = np.cross(slab.normal, way)
    across /= np.linalg.norm(across)
    pulls = slab.pulls_mm
    if not len(pulls):
        raise ValueError(f"panel {slab.name} has neither hole, outline nor measured points that tell where it lies")
    return np.asarray(across if float(((pulls - foot) @ across).mean()) > 0.0 else -across)


def sheet_sides(names: Sequence[str], meets: Sequence[Meet]) -> dict[str, int]:
    """For each panel the side of its slab that is the sheet's upper side: +1 high, -1 low.

    One sheet has one upper side; the first panel of each part has its high side up.
    Raises ValueError where folds close a ring of panels, which no flat sheet does.
    """
    out: dict[str, int] = {}
    left = list(meets)
    for first in names:
        if first in out:
            continue
        out[first] = 1
        queue = [first]
        while queue:
            name = queue.pop(0)
            for meet in [m for m in left if name in (m.a, m.b)]:
                left.remove(meet)
                other = meet.b if meet.a == name else meet.a
                if other in out:
                    raise ValueError(
                        f"the folds close a ring through {meet.a} and {meet.b}: leave one fold out and weld that seam"
                    )
                # the inside of a fold is the same side of the sheet on both panels
                out[other] = meet.inside_a * meet.inside_b * out[name]
                queue.append(other)
    return out


def named(meets: Sequence[Meet]) -> Mapping[str, Meet]:
    return {f"{m.a}-{m.b}": m for m in meets}
