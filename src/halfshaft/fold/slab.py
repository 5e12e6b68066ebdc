"""A panel as metal: plane figure and slab in space, its fold zones, and where a fold carries the next panel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from halfshaft.fold.model import Fold, Hole, Panel
from halfshaft.geometry import Pose, mesh
from halfshaft.geometry.pose import turn

Array = NDArray[np.float64]

DEVIATION_MM = 0.005  # arcs are flattened this finely before figures are cut, then taken back to true arcs


@lru_cache(maxsize=512)  # a panel never changes, and every step of the work asks for its figure
def figure(panel: Panel, holes: bool = False) -> Polygon:
    """The panel's metal in its own axes: outline less openings, and less bolt holes when asked."""
    shape = panel.outline.polygon(DEVIATION_MM)
    cuts = [opening.polygon(DEVIATION_MM) for opening in panel.openings]
    if holes:
        cuts += [hole_figure(hole) for hole in panel.holes]
    shape = shapely.make_valid(shape)
    return shape.difference(shapely.union_all(cuts)) if cuts else shape


@lru_cache(maxsize=2048)
def hole_figure(hole: Hole, grow_mm: float = 0.0) -> Polygon:
    """The hole, or slot, as a figure grown by a margin all round."""
    reach = np.asarray(hole.slot_way, dtype=float) * hole.slot_mm / 2.0
    centre = np.asarray(hole.centre_mm, dtype=float)
    path = LineString([centre - reach, centre + reach]) if hole.slot_mm > 0.0 else Point(centre)
    return path.buffer(hole.diameter_mm / 2.0 + grow_mm, quad_segs=32)


def line_of(fold: Fold, panel_name: str) -> Array:
    """The fold's line (2, 2) in the axes of one of its two panels.

    Raises KeyError where the fold does not touch the panel.
    """
    if panel_name == fold.a:
        return np.asarray(fold.line_a_mm, dtype=float)
    if panel_name == fold.b:
        return np.asarray(fold.line_b_mm, dtype=float)
    raise KeyError(f"fold '{fold.name}' does not touch panel '{panel_name}'")


def along(line_mm: ArrayLike) -> Array:
    """Unit direction (2,) of a line (2, 2)."""
    line = np.asarray(line_mm, dtype=float)
    return np.asarray((line[1] - line[0]) / np.linalg.norm(line[1] - line[0]))


def into_metal(shape: Polygon | MultiPolygon, line_mm: ArrayLike) -> Array:
    """Unit direction (2,), square to the line, toward the panel's metal.

    Told by spots beside the line rather than by areas: an overlay of figures that share an edge but for rounding is not
    to be trusted. Spots close to the line count most.
    """
    line = np.asarray(line_mm, dtype=float)
    left = np.array([-along(line)[1], along(line)[0]])
    length = max(float(np.linalg.norm(line[1] - line[0])), 1.0)
    feet = line[0] + np.linspace(0.04, 0.96, 24)[:, None] * (line[1] - line[0])
    aways = np.array([0.05, length / 50.0, length / 4.0, length / 2.0, length])
    weights = np.array([100.0, 100.0, 1.0, 1.0, 1.0])
    spots = feet + np.concatenate([aways, -aways])[:, None, None] * left
    within = np.count_nonzero(shapely.contains_xy(shape, spots[..., 0], spots[..., 1]), axis=1)
    score = float(np.concatenate([weights, -weights]) @ within)
    return left if score >= 0.0 else -left


def fold_zone(fold: Fold, panel_name: str) -> Polygon:
    """The strip of a panel that is slit or starts to bend: half a slit width about the line and past its ends."""
    half = fold.slit_width_mm / 2.0 if fold.kind == "slit" else 1e-3
    return LineString(line_of(fold, panel_name)).buffer(max(half, 1e-3), cap_style="square")


def trimmed(panel: Panel, folds: Iterable[Fold], holes: bool = False) -> Polygon:
    """The panel's flat metal with its fold zones taken off: what is rigid and at full thickness."""
    shape = figure(panel, holes)
    zones = [fold_zone(fold, panel.name) for fold in folds if panel.name in (fold.a, fold.b)]
    return shape.difference(shapely.union_all(zones)) if zones else shape


def slab(panel: Panel, shape: Polygon | MultiPolygon | None = None, pose: Pose | None = None) -> mesh.MeshSolid:
    """The panel's metal in root axes, full thickness."""
    return mesh.prism(figure(panel) if shape is None else shape, 0.0, panel.thickness_mm, pose or panel.pose)


def flat_move(fold: Fold, shape_a: Polygon, turned: bool = False, inward: Array | None = None) -> tuple[Array, Array]:
    """Rotation (2, 2) and shift (2,) that bring panel b's axes into a's, both in the flat.

    `turned` leaves the allowance of a brake bend out, so that the two lines coincide.
    """
    way_a, way_b = along(fold.line_a_mm), along(fold.line_b_mm)
    cosine, sine = float(way_b @ way_a), float(way_b[0] * way_a[1] - way_b[1] * way_a[0])
    rotation = np.array([[cosine, -sine], [sine, cosine]])
    start = np.asarray(fold.line_a_mm[0], dtype=float)
    if not turned and fold.allowance_mm:
        start = start - (into_metal(shape_a, fold.line_a_mm) if inward is None else inward) * fold.allowance_mm
    return rotation, start - rotation @ np.asarray(fold.line_b_mm[0], dtype=float)


def fold_pose(
    fold: Fold, thickness_mm: float, shape_a: Polygon, angle_deg: float | None = None, inward: Array | None = None
) -> Pose:
    """Pose of panel b in panel a's axes with the fold turned by `angle_deg` (its full angle when None).

    `inward` (2,) is the side of the line on which panel a lies, where it is known already.
    Slit: turns about the line at the pivot's depth under the inside face. Brake: the neutral layer keeps its length
    while the radius closes, so at an angle phi the inside radius is allowance / phi - K t.
    Source: derived here, docs/folding.md.
    """
    angle = float(np.radians(fold.angle_deg if angle_deg is None else angle_deg))
    depth, toward = fold.pivot_depth_mm, 1.0 if fold.up else -1.0
    inside = thickness_mm if fold.up else 0.0
    bent = fold.kind == "brake"
    if inward is None:
        inward = into_metal(shape_a, fold.line_a_mm)
    if bent and angle < 1e-9:
        rotation, shift = flat_move(fold, shape_a, inward=inward)
        return _lifted(rotation, shift)
    rotation, shift = flat_move(fold, shape_a, turned=True)
    height = inside + toward * (fold.allowance_mm / angle - depth) if bent else inside - toward * depth
    line = np.asarray(fold.line_a_mm, dtype=float)
    direction = np.append(along(line), 0.0)
    # The flange must rise toward z when folded up: the axis runs so that axis x outward = +z.
    if direction[1] * inward[0] - direction[0] * inward[1] < 0.0:
        direction = -direction
    spin = turn(direction * angle * toward)
    centre = np.append(line[0], height)
    return Pose(spin, centre - spin @ centre).after(_lifted(rotation, shift))


def _lifted(rotation: Array, shift: Array) -> Pose:
    lifted = np.eye(3)
    lifted[:2, :2] = rotation
    return Pose(lifted, np.append(shift, 0.0))


def tree(panels: Sequence[str], folds: Sequence[Fold]) -> dict[str, list[tuple[Fold, str]]]:
    """Neighbours of each panel: fold and the panel across it."""
    out: dict[str, list[tuple[Fold, str]]] = {name: [] for name in panels}
    for fold in folds:
        if fold.a in out and fold.b in out:
            out[fold.a].append((fold, fold.b))
            out[fold.b].append((fold, fold.a))
    return out


def parts_of(panels: Sequence[str], folds: Sequence[Fold]) -> list[list[str]]:
    """Groups of panels that are one sheet, each in the order reached from its first panel."""
    beside, left, groups = tree(panels, folds), list(panels), []
    while left:
        group, queue = [], [left[0]]
        while queue:
            name = queue.pop(0)
            if name in group:
                continue
            group.append(name)
            queue.extend(other for _, other in beside[name])
        left = [name for name in left if name not in group]
        groups.append(group)
    return groups
