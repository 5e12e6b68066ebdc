"""How much is clear of a unit, told fast and never too much: solids in; a bound at many poses out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from halfshaft.fitup.field import Field, field_of, step_for
from halfshaft.fitup.loops import sweep
from halfshaft.fitup.model import Array, Piece
from halfshaft.fitup.screen import Probe, probe
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid

_POINTS = 2500
_NODES = 4e6
_FAR_MM = 150.0
_NO_FLOOR = -1e9


@dataclass(frozen=True, eq=False)
class Roughly:
    """Distances of a unit's points on a grid of what stands still, less all that grid and points may be wrong by.

    What lies wholly inside the unit is not noticed, as with exact distances of skins.
    """

    field: Field
    unit: Probe

    def least_mm(self, poses: Sequence[Pose]) -> Array:
        """At poses of the unit (k,): no more than is clear, so it may be under nought where something is."""
        out = np.empty(len(poses))
        unit, field = self.unit, self.field
        sweep(
            np.array([pose.rotation for pose in poses]),
            np.array([pose.shift_mm for pose in poses]),
            unit.centre_mm,
            unit.radius_mm,
            unit.grow_mm,
            unit.skip,
            np.zeros((0, 4)),
            field.values,
            field.coarse,
            field.origin_mm,
            field.step_mm,
            field.ratio,
            _NO_FLOOR,
            _FAR_MM,
            out,
        )
        return np.asarray(out - unit.cover_mm - field.bound_mm(out))


def field_about(fixed: Iterable[MeshSolid], low_mm: Array, high_mm: Array) -> Field:
    """The grid of what stands still within a box from low to high corner (3,)."""
    return field_of([(solid, 0.0) for solid in fixed], low_mm, high_mm, step_for(low_mm, high_mm, _NODES))


def roughly(body: MeshSolid, field: Field) -> Roughly:
    """A body made ready; its own grid, of no use here, is kept coarse."""
    return Roughly(field, probe([Piece("body", body)], _POINTS, grow_mm=0.0, step_mm=20.0))
