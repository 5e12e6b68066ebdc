"""What stands in the way: the build's words and measured points in, solids with their clearance and spread out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.geometry import Plane, Pose, mesh
from halfshaft.sure import worst_spread

if TYPE_CHECKING:
    from halfshaft.build.schema import Build, ObstacleInput
    from halfshaft.measure.model import Measured

Array = NDArray[np.float64]

_SOURCE = Source(Origin.DERIVED, "places of measured points")
_MISSES, _LEAST_MM = 4.0, 0.5  # spreads of the points that three spots may miss them by, each counted as no less


@dataclass(frozen=True, eq=False, slots=True)
class Obstacle:
    """A thing the bracket must not hit, in root axes.

    `spread_mm` is one standard deviation of its surface; `faces` names the measured faces that are part of it, which
    a panel may touch because it lies on them; `source` says who gave the clearance. `sure` is False where the metal is
    only taken to span between measured points.
    """

    name: str
    solid: mesh.MeshSolid
    clearance_mm: float
    spread_mm: float = 0.0
    hidden: bool = False
    faces: frozenset[str] = frozenset()
    what: str = ""
    sure: bool = True
    source: Source = field(default_factory=lambda: Source(Origin.COMMON_PRACTICE, "clearance"))


def obstacles_of(build: Build, measured: Measured, folder: Path) -> tuple[tuple[Obstacle, ...], tuple[Check, ...]]:
    """The obstacles of a build as solids, and STOP checks for those that cannot be made.

    A panel through points grows `thickness` behind its points, away from the root's origin side being unknown: half to
    each side. Its spread is that of its points square to the panel; a mesh takes the spread of the points it is put on.
    """
    made: list[Obstacle] = []
    checks: list[Check] = []
    for name, wish in build.obstacle.items():
        try:
            obstacle, misfits = _obstacle(name, wish, build, measured, folder)
            made.append(obstacle)
            checks += misfits
        except (ValueError, KeyError) as problem:
            words = problem.args[0] if problem.args else str(problem)
            checks.append(
                Check(
                    "measure", f"obstacle {name}", "Obstacle cannot be placed", _SOURCE, Severity.STOP,
                    f"Obstacle {name}: {words}. Until then nothing is known of what it hits.", failed_outright=True,
                )
            )  # fmt: skip
    return tuple(made), tuple(checks)


def _obstacle(
    name: str, wish: ObstacleInput, build: Build, measured: Measured, folder: Path
) -> tuple[Obstacle, list[Check]]:
    """The obstacle, and a caution where its mesh does not fit the points that it is put on."""
    checks: list[Check] = []
    given = Source(Origin.BUILDER, f"obstacle.{name}.clearance")
    if not wish.given("clearance_mm"):
        given = default("obstacle.clearance").source
    spread = 0.0
    if wish.box is not None:
        solid = mesh.box(*wish.box)
        low, high = solid.bounds_mm
        if np.any(high - low < 1e-6):
            raise ValueError("the two corners of the box share a coordinate; write opposite corners")
    elif wish.panel:
        spots, covariances = points_of(wish.panel, build, measured)
        solid = flat_panel(spots, wish.thickness_mm)
        normal = Plane.through(spots).normal
        spread = float(np.sqrt(max(normal @ c @ normal for c in covariances)))
    elif wish.mesh is not None:
        solid = mesh.read_mesh(folder / wish.mesh)
        if wish.at is not None or wish.on:
            if wish.at is None or len(wish.on) != 3:
                raise ValueError("write three spots as 'at' and three points as 'on'")
            spots, covariances = points_of(wish.on, build, measured)
            pose, miss = mesh.placing(np.asarray(wish.at, dtype=float), spots)
            solid = mesh.moved(solid, pose)
            known = float(worst_spread(covariances).max())
            spread = float(np.hypot(known, miss))
            if miss > _MISSES * max(known, _LEAST_MM):
                checks.append(_misfit(name, wish, miss, _MISSES * max(known, _LEAST_MM)))
    else:
        raise ValueError("write a box, a panel or a mesh")
    return Obstacle(name, solid, wish.clearance_mm, spread, wish.hidden, what=wish.what, source=given), checks


def _misfit(name: str, wish: ObstacleInput, miss_mm: float, limit_mm: float) -> Check:
    """The triangle of the mesh's three spots is not that of the points."""
    return Check(
        "measure", f"obstacle {name}", "Mesh does not fit its points", _SOURCE, Severity.CAUTION,
        f"The triangle of the spots in 'at' is not that of {', '.join(wish.on)}: look at the spots, the order of the "
        "points, and whether the mesh is drawn in millimetres. Until then it is taken to stand off by that much.",
        found=miss_mm, limit=limit_mm, unit="mm", good=Good.AT_MOST,
    )  # fmt: skip


def flat_panel(corners_mm: ArrayLike, thickness_mm: float) -> mesh.MeshSolid:
    """A flat panel through corners (n, 3) in order round it, half its thickness to each side of them.

    Raises ValueError where the corners lie on one line or cross over.
    """
    corners = np.asarray(corners_mm, dtype=float)
    plane = Plane.through(corners)
    middle = corners.mean(axis=0)
    first = plane.foot_mm(corners[0]) - plane.foot_mm(middle)
    first /= np.linalg.norm(first)
    pose = Pose(np.column_stack([first, np.cross(plane.normal, first), plane.normal]), plane.foot_mm(middle))
    shape = Polygon(pose.inverse().apply(corners)[:, :2])
    if not shape.is_valid:
        raise ValueError("the points cross over: name them in order round the panel")
    return mesh.prism(shape, -thickness_mm / 2.0, thickness_mm / 2.0, pose)


def points_of(names: Sequence[str], build: Build, measured: Measured, least: int = 3) -> tuple[Array, list[Array]]:
    """Places (n, 3) of named points in root axes, and their covariances. Raises ValueError naming what is missing."""
    spots, covariances, missing = [], [], []
    for name in names:
        full = _full_name(name, measured)
        if full is None or not measured.points[full].tied:
            missing.append(name)
            continue
        spots.append(measured.points[full].xyz_mm)
        covariances.append(measured.points[full].covariance_mm2)
    if missing:
        raise ValueError(f"{', '.join(missing)} not located in the axes of '{build.root}'; take more readings of it")
    if len(spots) < least:
        raise ValueError(f"{least} points are wanted, found {len(spots)}")
    return np.array(spots), covariances


def _full_name(name: str, measured: Measured) -> str | None:
    if name in measured.points:
        return name
    fitting = [full for full in measured.points if full.split(".", 1)[-1] == name]
    return fitting[0] if len(fitting) == 1 else None
