"""Whether a layout truly fits: every box against the others, its bay and the keep-outs, apart from how it was found."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry import mesh
from halfshaft.pack.bay import Bay, Keep
from halfshaft.pack.layout import Placed

Array = NDArray[np.float64]

_HAIR = 0.05  # mm


def clashes(modules: Sequence[Placed], bays: Sequence[Bay], keeps: Sequence[Keep], gap_mm: float) -> tuple[str, ...]:
    """What is wrong with a layout in words, one a fault; empty where it fits."""
    by_name = {bay.name: bay for bay in bays}
    solids = [box_of(one, by_name[one.bay]) for one in modules]
    names = [f"module {one.string + 1}.{one.place + 1}" for one in modules]
    found = []
    for one, name in zip(modules, names, strict=True):
        bay = by_name[one.bay]
        high = one.corner_mm + one.turn.size_mm
        if np.any(one.corner_mm < bay.wall_mm - _HAIR) or np.any(high > bay.size_mm - bay.wall_mm + _HAIR):
            found.append(f"{name} is nearer than {bay.wall_mm:g} mm to a side of {bay.name}")
    for (a, first), (b, second) in combinations(enumerate(solids), 2):
        if mesh.boxes_meet(first, second, gap_mm) and mesh.gap_mm(first, second, gap_mm + 1.0) < gap_mm - _HAIR:
            found.append(f"{names[a]} and {names[b]} are nearer than {gap_mm:g} mm")
    for solid, name in zip(solids, names, strict=True):
        for keep in keeps:
            near = mesh.boxes_meet(solid, keep.solid, keep.room_mm)
            if near and mesh.gap_mm(solid, keep.solid, keep.room_mm + 1.0) < keep.room_mm - _HAIR:
                found.append(f"{name} is nearer than {keep.room_mm:g} mm to {keep.name}")
    return tuple(found)


def box_of(one: Placed, bay: Bay) -> mesh.MeshSolid:
    """The module's own box in the root's axes."""
    return mesh.moved(mesh.box(one.corner_mm, one.corner_mm + one.turn.size_mm), bay.pose)


def bays_that_meet(bays: Sequence[Bay]) -> tuple[tuple[str, str], ...]:
    """Pairs of bays that share room."""
    solids = [(bay.name, bay.solid) for bay in bays]
    return tuple(
        (a, b) for (a, one), (b, other) in combinations(solids, 2) if mesh.overlap(one, other).volume_mm3 > 1.0
    )
