"""What a moving piece needs open in a wall: solid, poses, wall and clearance in; the least figure out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation
from shapely.geometry import MultiPolygon, Polygon

from halfshaft.fitup.walls import Wall
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, moved, overlap, shadow_between

Array = NDArray[np.float64]

_LEVEL_RAD = np.radians(3.0)
_MOST_LEVELS = 12  # of a piece's own corners
_SAME_MM = 1e-3
_PAST_EDGE_MM = 100.0  # how far past a wall's edge a need is followed
_STEP_MM = 2.0
_SEGMENTS = 32
_CHORD = float(np.cos(np.pi / (4.0 * _SEGMENTS)))  # a rim flattened by chords falls short of its circle by this


def need_of(solid: MeshSolid, poses: Sequence[Pose], wall: Wall, clearance_mm: float) -> Polygon | MultiPolygon:
    """The least opening in x, y of a wall that keeps all its metal `clearance_mm` from the piece along its way.

    `poses` (piece to root) are joined: between two of them the piece turns evenly and its middle goes straight.
    The need is the shadow of all that lies in the wall or less than c beyond its sides, what is h beyond grown by
    sqrt(c^2 - h^2). Layers are 3 degrees of arc apart and the ball drawn about its chord, so that the figure is never
    too small, and too large by no more than c (1 / cos 3 deg - 1).
    Source: derived here, docs/fitup.md, windows; the opening is the section of the piece's sum with a ball.
    """
    figures = []
    for pose, between in finely(solid, poses, wall, clearance_mm):
        figures.append(_need_at(solid, pose, wall, clearance_mm + between))
    return shapely.union_all([f for f in figures if not f.is_empty]) if figures else Polygon()


def finely(solid: MeshSolid, poses: Sequence[Pose], wall: Wall, clearance_mm: float) -> list[tuple[Pose, float]]:
    """Poses near the wall at most two millimetres of movement apart, each with what the bulge between two asks more."""
    vertices = solid.triangles[0]
    middle = vertices.mean(axis=0)
    reach = float(np.linalg.norm(vertices - middle, axis=1).max())
    low, high = _room(wall, clearance_mm)
    out = [(poses[0], 0.0)] if _comes_near(vertices, poses[0], wall, low, high) else []
    for one, other in pairwise(poses):
        vector = Rotation.from_matrix(other.rotation @ one.rotation.T).as_rotvec()
        start, end = one.apply(middle), other.apply(middle)
        travelled = float(np.linalg.norm(end - start) + np.linalg.norm(vector) * reach)
        count = max(1, int(np.ceil(travelled / _STEP_MM)))
        step = travelled / count
        bulge = step**2 / (8.0 * clearance_mm) if clearance_mm > step else step / 2.0
        spins = Rotation.from_rotvec(np.linspace(0.0, 1.0, count + 1)[1:, None] * vector).as_matrix()
        for share, spin in zip(np.linspace(0.0, 1.0, count + 1)[1:], spins, strict=True):
            rotation = spin @ one.rotation
            pose = Pose(rotation, (1.0 - share) * start + share * end - rotation @ middle)
            if _comes_near(vertices, pose, wall, low, high):
                out.append((pose, bulge))
    return out


def _room(wall: Wall, clearance_mm: float) -> tuple[Array, Array]:
    x0, y0, x1, y1 = wall.outline.bounds
    far = _PAST_EDGE_MM + clearance_mm
    return (
        np.array([x0 - far, y0 - far, -wall.thickness_mm - clearance_mm - 1.0]),
        np.array([x1 + far, y1 + far, clearance_mm + 1.0]),
    )


def _comes_near(vertices: Array, pose: Pose, wall: Wall, low: Array, high: Array) -> bool:
    seen = wall.pose.inverse().apply(pose.apply(vertices))
    return bool(np.all(seen.min(axis=0) <= high) and np.all(seen.max(axis=0) >= low))


def _need_at(solid: MeshSolid, pose: Pose, wall: Wall, clearance_mm: float) -> Polygon | MultiPolygon:
    seen = moved(solid, wall.pose.inverse().after(pose))
    near = overlap(seen, box(*_room(wall, clearance_mm)))
    if near.empty:
        return Polygon()
    flat, parts = Pose.identity(), []
    for height, radius in _levels(near, wall.thickness_mm, clearance_mm):
        shade = shadow_between(near, flat, -wall.thickness_mm - height - 1e-6, height + 1e-6)
        if not shade.is_empty:
            parts.append(shade.buffer(radius / _CHORD, quad_segs=_SEGMENTS))
    return shapely.union_all(parts) if parts else Polygon()


def _levels(near: MeshSolid, thickness_mm: float, clearance_mm: float) -> list[tuple[float, float]]:
    """Heights beyond the wall's sides up to which the piece is grown by a radius, so that all of it has its due.

    A face or edge that goes on past two levels gets it from the nearer one; a corner, or an edge level with the wall,
    from a level of its own. A piece of very many corners gets each layer grown by what the layer's foot asks.
    """
    if clearance_mm <= 0.0:
        return [(0.0, 0.0)]
    z = near.triangles[0][:, 2]
    beyond = np.maximum(z, -thickness_mm - z)
    own = np.unique(np.ceil(beyond[(beyond > 0.0) & (beyond < clearance_mm)] / _SAME_MM) * _SAME_MM)
    if len(own) > _MOST_LEVELS:
        turns = np.linspace(0.0, np.pi / 2.0, 2 * _MOST_LEVELS + 1)
        return [
            (float(clearance_mm * np.sin(top)), float(clearance_mm * np.cos(foot))) for foot, top in pairwise(turns)
        ]
    ball = clearance_mm / np.cos(_LEVEL_RAD)
    turns = np.arange(0.0, np.pi / 2.0, _LEVEL_RAD)
    due = np.sqrt(clearance_mm**2 - (own - _SAME_MM) ** 2)
    return [
        *zip((ball * np.sin(turns)).tolist(), (ball * np.cos(turns)).tolist(), strict=True),
        *zip(own.tolist(), due.tolist(), strict=True),
    ]
