"""Flat slabs cut into tetrahedra: triangles of a plate and its layers, or any prisms, in; tetrahedra that fit out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_FACES = ((1, 2, 3), (0, 3, 2), (0, 1, 3), (0, 2, 1))  # outward for a tetrahedron of positive volume


@dataclass(frozen=True, eq=False)
class TetMesh:
    """Corners (n, 3) in mm, tetrahedra (m, 4) of positive volume, and the surface's triangles (t, 3), outward, parted
    into named groups: rows of `skin`."""

    corners_mm: Array
    tets: Ints
    skin: Ints
    groups: Mapping[str, Ints]

    @property
    def volume_mm3(self) -> float:
        return float(volumes(self.corners_mm, self.tets).sum())


def volumes(corners_mm: Array, tets: Ints) -> Array:
    """Signed volumes (m,)."""
    a, b, c, d = (corners_mm[tets[:, i]] for i in range(4))
    return np.asarray(np.einsum("ij,ij->i", np.cross(b - a, c - a), d - a) / 6.0)


def prisms_to_tets(prisms: Ints) -> Ints:
    """Tetrahedra (3 p, 4) of prisms (p, 6), a triangle and the one over it corner by corner.

    Each four-sided face is parted from its corner of the least number, so neighbours fit whatever made them.
    Source: J. Dompierre et al., How to subdivide pyramids, prisms and hexahedra into tetrahedra, 1999.
    """
    turns = np.array(
        [[0, 1, 2, 3, 4, 5], [1, 2, 0, 4, 5, 3], [2, 0, 1, 5, 3, 4], [3, 5, 4, 0, 2, 1], [4, 3, 5, 1, 0, 2],
         [5, 4, 3, 2, 1, 0]]
    )  # fmt: skip
    p = np.take_along_axis(prisms, turns[np.argmin(prisms, axis=1)], axis=1)
    first = np.minimum(p[:, 1], p[:, 5]) < np.minimum(p[:, 2], p[:, 4])
    one = np.stack([p[:, [0, 1, 2, 5]], p[:, [0, 1, 5, 4]], p[:, [0, 4, 5, 3]]], axis=1)
    other = np.stack([p[:, [0, 1, 2, 4]], p[:, [0, 4, 2, 5]], p[:, [0, 4, 5, 3]]], axis=1)
    return np.asarray(np.where(first[:, None, None], one, other).reshape(-1, 4))


def righted(corners_mm: Array, tets: Ints) -> Ints:
    """The tetrahedra, each turned to a positive volume."""
    out = tets.copy()
    wrong = volumes(corners_mm, out) < 0.0
    out[wrong] = out[wrong][:, [0, 2, 1, 3]]
    return out


def skin_of(tets: Ints) -> Ints:
    """Triangles (t, 3) that belong to one tetrahedron only, outward."""
    every = np.vstack([tets[:, list(face)] for face in _FACES])
    _, first, count = np.unique(np.sort(every, axis=1), axis=0, return_index=True, return_counts=True)
    return np.asarray(every[np.sort(first[count == 1])])


def extruded(
    points_mm: Array,
    triangles: Ints,
    heights_mm: Array,
    pose_rotation: Array | None = None,
    shift_mm: Array | None = None,
) -> tuple[Array, Ints]:
    """Corners and tetrahedra of a plate: its triangles at each of the heights; corner i of layer k is k n + i."""
    count = len(points_mm)
    flat = np.vstack([np.column_stack([points_mm, np.full(count, z)]) for z in heights_mm])
    prisms = np.vstack(
        [np.hstack([triangles + k * count, triangles + (k + 1) * count]) for k in range(len(heights_mm) - 1)]
    )
    corners = flat if pose_rotation is None else flat @ pose_rotation.T
    corners = corners if shift_mm is None else corners + shift_mm
    return corners, righted(corners, prisms_to_tets(prisms))
