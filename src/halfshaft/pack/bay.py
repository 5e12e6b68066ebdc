"""A place in the car for modules, and what must stay free in it. A box told by corners or by measured points in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.geometry import Pose, mesh
from halfshaft.pack.block import WAYS

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Keep:
    """What modules stay clear of, in the root's axes, with the distance to it."""

    name: str
    solid: mesh.MeshSolid
    room_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class Bay:
    """A box in the car: `pose` takes its axes to the root's, its rear right lower corner the origin; size (3,).

    `cooled` is the side with a cooling plate, '' for none; cables leave at the middle of the side `cables`.
    """

    name: str
    pose: Pose
    size_mm: Array
    wall_mm: float
    cooled: str = ""
    cables: str = "top"

    @property
    def exit_mm(self) -> Array:
        """Where cables leave, in the bay's axes."""
        return np.asarray(self.size_mm / 2.0 * (1.0 + WAYS[self.cables]))

    @property
    def solid(self) -> mesh.MeshSolid:
        """The bay in the root's axes."""
        return mesh.moved(mesh.box(np.zeros(3), self.size_mm), self.pose)


def bay_of_corners(one_mm: ArrayLike, other_mm: ArrayLike) -> tuple[Pose, Array]:
    """Pose and size of a box square to the car from two opposite corners. Raises ValueError where it has no room."""
    corners = np.array([one_mm, other_mm], dtype=float)
    low, size = corners.min(axis=0), np.ptp(corners, axis=0)
    if np.any(size < 1.0):
        raise ValueError("its two corners lie in one plane: name opposite corners")
    return Pose(np.eye(3), low), size


def bay_of_points(
    corner_mm: ArrayLike, along_mm: ArrayLike, across_mm: ArrayLike, height_mm: float
) -> tuple[Pose, Array]:
    """Pose and size of a box on a floor told by three of its corners: rear right, front right, rear left.

    The third is dropped square to the line of the first two: a floor measured a little askew becomes the largest box
    that those three span. Raises ValueError where they lie in one line or are named in another order.
    """
    corner, along, across = (np.asarray(spot, dtype=float) for spot in (corner_mm, along_mm, across_mm))
    length = float(np.linalg.norm(along - corner))
    if length < 1.0:
        raise ValueError("its first two corners lie in one place")
    x = (along - corner) / length
    side = across - corner - ((across - corner) @ x) * x
    width = float(np.linalg.norm(side))
    if width < 1.0:
        raise ValueError("its three corners lie in one line")
    y = side / width
    z = np.cross(x, y)
    if z[2] <= 0.0:
        raise ValueError("its floor looks down: name the rear right corner, the front right, then the rear left")
    return Pose(np.column_stack([x, y, z]), corner), np.array([length, width, height_mm])


def keep_box(keep: Keep, bay: Bay) -> tuple[Array, Array] | None:
    """Low and high corner (3,) of a keep-out in the bay's axes where it fills its own box there, else None."""
    inside = mesh.moved(keep.solid, bay.pose.inverse())
    low, high = inside.bounds_mm
    whole = float(np.prod(high - low))
    return (low, high) if abs(inside.volume_mm3 - whole) <= 1e-6 * max(whole, 1.0) else None
