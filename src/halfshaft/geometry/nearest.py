"""How far rigid solids are apart: solids and poses in, exact distances and spots out. Only door to python-fcl."""

from __future__ import annotations

from dataclasses import dataclass

import fcl
import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.geometry.mesh import MeshSolid
from halfshaft.geometry.pose import Pose

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Body:
    """A solid made ready for many questions; `seeds_mm` (k, 3) is one corner of each piece it falls into."""

    solid: MeshSolid
    tree: fcl.BVHModel
    corners_mm: Array
    triangles: NDArray[np.int64]
    seeds_mm: Array


@dataclass(frozen=True, eq=False, slots=True)
class Gap:
    """Distance between the skins of two solids, nought where they meet, and a spot (3,) on each."""

    distance_mm: float
    spot_mm: Array
    other_spot_mm: Array


def body(solid: MeshSolid) -> Body:
    """Raises ValueError where the solid is empty."""
    if solid.empty:
        raise ValueError("the solid is empty")
    corners, triangles = solid.triangles
    tree = fcl.BVHModel()
    tree.beginModel(len(corners), len(triangles))
    tree.addSubModel(corners, triangles)
    tree.endModel()
    seeds = [MeshSolid(part).triangles[0][0] for part in solid.kernel.decompose()]
    return Body(solid, tree, corners, triangles, np.array(seeds))


def _at(thing: Body, pose: Pose) -> fcl.CollisionObject:
    return fcl.CollisionObject(thing.tree, fcl.Transform(pose.rotation, pose.shift_mm))


def gap(one: Body, pose: Pose, other: Body, other_pose: Pose) -> Gap:
    """Exact distance between the skins of two solids at their poses; a solid inside another is not noticed here."""
    found = fcl.DistanceResult()
    wish = fcl.DistanceRequest(enable_nearest_points=True)
    distance = float(fcl.distance(_at(one, pose), _at(other, other_pose), wish, found))
    spots = [np.asarray(spot, dtype=float) for spot in found.nearest_points]
    return Gap(max(distance, 0.0), spots[0], spots[1])


def meet(one: Body, pose: Pose, other: Body, other_pose: Pose) -> bool:
    """Whether the two skins meet."""
    return bool(fcl.collide(_at(one, pose), _at(other, other_pose), fcl.CollisionRequest(), fcl.CollisionResult()))


def skin_feet(thing: Body, spots_mm: ArrayLike) -> tuple[Array, Array]:
    """Distances (n,) of spots (n, 3), in the body's own axes, from its skin, in and outside alike, and feet (n, 3)."""
    skin = fcl.CollisionObject(thing.tree, fcl.Transform())
    spots = np.atleast_2d(np.asarray(spots_mm, dtype=float))
    feet = np.empty_like(spots)
    dot = fcl.CollisionObject(_dot(), fcl.Transform())
    wish = fcl.DistanceRequest(enable_nearest_points=True)
    for at, spot in enumerate(spots):
        dot.setTransform(fcl.Transform(spot))
        found = fcl.DistanceResult()
        # spots on the skin itself come back without a foot
        feet[at] = found.nearest_points[0] if fcl.distance(skin, dot, wish, found) > 0.0 else spot
    return np.linalg.norm(spots - feet, axis=1), feet


def _dot() -> fcl.BVHModel:
    """A mesh of one triangle without size: a spot asked for as a mesh is exact, as a ball it is not."""
    tree = fcl.BVHModel()
    tree.beginModel(1, 1)
    tree.addSubModel(np.zeros((1, 3)), np.zeros((1, 3), dtype=np.int64))
    tree.endModel()
    return tree


def inside(thing: Body, spots_mm: ArrayLike) -> NDArray[np.bool_]:
    """Which spots (n, 3), in the body's own axes, its metal fills.

    Source: winding number as a sum of solid angles, Van Oosterom and Strackee,
    IEEE Transactions on Biomedical Engineering BME-30 (1983), p. 125.
    """
    spots = np.atleast_2d(np.asarray(spots_mm, dtype=float))
    low, high = thing.solid.bounds_mm
    out = np.zeros(len(spots), dtype=bool)
    for at in np.flatnonzero(np.all((spots >= low) & (spots <= high), axis=1)):
        a, b, c = np.moveaxis(thing.corners_mm[thing.triangles] - spots[at], 1, 0)
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        over = np.einsum("ij,ij->i", a, np.cross(b, c))
        under = la * lb * lc
        under += np.einsum("ij,ij->i", a, b) * lc + np.einsum("ij,ij->i", b, c) * la + np.einsum("ij,ij->i", c, a) * lb
        out[at] = np.sum(2.0 * np.arctan2(over, under)) > 2.0 * np.pi
    return out
