"""What stands round a bracket in a picture. What was measured and the bracket in; surfaces by name and hits out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPoint

from halfshaft.fold.interfere import TOUCH_MM, thinnest_mm
from halfshaft.fold.model import Bracket
from halfshaft.fold.slab import trimmed
from halfshaft.geometry import Plane, mesh
from halfshaft.measure.model import FaceEstimate, Measured
from halfshaft.measure.obstacles import Obstacle

Array = NDArray[np.float64]

_LEAST_PATCH_MM = 25.0  # half the side of the patch that stands for a face with fewer than three points
_LOOK_MM = 8.0  # the patch runs this far past the points
_FILM_MM = 0.4


@dataclass(frozen=True, eq=False)
class Surface:
    """Vertices (v, 3) in root axes and triangles (t, 3)."""

    name: str
    vertices_mm: Array
    triangles: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Hit:
    """The room that a panel and an obstacle both take, in root axes. `sure` False: only taken to be metal there."""

    panel: str
    obstacle: str
    surface: Surface
    middle_mm: Array
    sure: bool


def face_surface(measured: Measured, face: FaceEstimate) -> Surface:
    """A face as a thin patch on its plane about the points read on it."""
    plane: Plane = face.plane
    first = np.cross(plane.normal, np.eye(3)[int(np.argmin(np.abs(plane.normal)))])
    first /= np.linalg.norm(first)
    axes = np.column_stack([first, np.cross(plane.normal, first), plane.normal])
    middle = plane.foot_mm(face.middle_mm)
    spots = np.array([measured.points[p].xyz_mm for p in face.points if p in measured.points]).reshape(-1, 3)
    shape = MultiPoint([(0.0, 0.0), *((spots - middle) @ axes)[:, :2]]).convex_hull
    grown = shape.buffer(_LOOK_MM, quad_segs=4)
    if shape.geom_type != "Polygon":
        grown = shape.buffer(_LEAST_PATCH_MM, quad_segs=4)
    vertices, triangles = mesh.prism(grown, -_FILM_MM, 0.0).triangles
    return Surface(face.name, vertices @ axes.T + middle, triangles)


def obstacle_surface(obstacle: Obstacle) -> Surface:
    """An obstacle's own surface."""
    vertices, triangles = obstacle.solid.triangles
    return Surface(obstacle.name, vertices, triangles)


def near_face(measured: Measured, face: str, reach_mm: float = 40.0) -> tuple[tuple[str, float], ...]:
    """Points read on a face, then others within reach of its plane and patch, with their height over it in mm.

    Raises KeyError where the face is not located.
    """
    known = measured.faces[face]
    on_it = [measured.points[name] for name in known.points if name in measured.points]
    spots = np.array([known.middle_mm, *(point.xyz_mm for point in on_it)])
    far = float(np.linalg.norm(spots - spots[0], axis=1).max()) + reach_mm
    rows = [(point.name, float(known.plane.height_mm(point.xyz_mm))) for point in on_it]
    others = []
    for name, point in measured.points.items():
        if point.tied and name not in known.points:
            height = float(known.plane.height_mm(point.xyz_mm))
            if abs(height) <= reach_mm and float(np.linalg.norm(point.xyz_mm - spots[0])) <= far:
                others.append((name, height))
    return (*rows, *sorted(others, key=lambda row: abs(row[1])))


def hits(bracket: Bracket, obstacles: Sequence[Obstacle]) -> tuple[Hit, ...]:
    """Every panel with every obstacle it runs into, by the same rule as the checks of what is in the way."""
    out = []
    for name, panel in bracket.panels.items():
        slab = mesh.prism(trimmed(panel, bracket.folds, holes=True), 0.0, panel.thickness_mm, panel.pose)
        for obstacle in obstacles:
            if panel.face in obstacle.faces or not mesh.boxes_meet(slab, obstacle.solid):
                continue
            both = mesh.overlap(slab, obstacle.solid)
            least = TOUCH_MM if obstacle.sure else max(TOUCH_MM, 2.0 * obstacle.spread_mm)
            if both.empty or thinnest_mm(both) <= least:
                continue
            vertices, triangles = both.triangles
            surface = Surface(f"{name}, {obstacle.name}", vertices, triangles)
            out.append(Hit(name, obstacle.name, surface, vertices.mean(axis=0), obstacle.sure))
    return tuple(out)
