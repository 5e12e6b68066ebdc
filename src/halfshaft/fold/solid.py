"""The folded part as an exact solid: panels, bridges and bends in, one solid per part and its mass out.

A slit fold's panels end half a slit width from the fold line; between them stand the bridges, each the hull of the two
end faces it joins. Welds are not drawn. A brake bend is a sector of a hollow cylinder.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point

from halfshaft.fold.model import Bracket, Fold, Hole, Panel
from halfshaft.fold.slab import DEVIATION_MM, figure, hole_figure, into_metal, line_of, parts_of, trimmed
from halfshaft.geometry import Contour, Pose, solids
from halfshaft.geometry.arcs import contours_of

Array = NDArray[np.float64]

_CLEAR_MM = 0.02  # a hole nearer to an edge than this is cut off the plate, not drawn in its face
_SAME_MM = 1e-5  # corners nearer than this are one


def bracket_solid(bracket: Bracket, part: str | None = None) -> solids.Solid:
    """The folded solid in root axes: of one part, by the name of its flat part, or of all parts together.

    Raises KeyError for a part the bracket does not have; ValueError where no solid can be made.
    """
    groups = parts_of(tuple(bracket.panels), bracket.folds)
    if part is not None:
        flat = next((p for p in bracket.parts if p.name == part), None)
        if flat is None:
            raise KeyError(f"bracket '{bracket.name}' has no part '{part}'")
        names = set(flat.placed)
        # a folded part is told with the plates that are welded to it
        plates = {g.panel for g in bracket.gussets if g.a in names and g.b in names}
        groups = [g for g in groups if set(g) == names or set(g) <= plates]
    shapes = [s for group in groups for s in _pieces(group, bracket.panels, bracket.folds)]
    return solids.joined(shapes)


def _pieces(group: Sequence[str], panels: Mapping[str, Panel], folds: Sequence[Fold]) -> list[solids.Solid]:
    own = [f for f in folds if f.a in group and f.b in group]
    out = [panel_solid(panels[name], own) for name in group]
    for fold in own:
        out += bend_solids(fold, panels)
    return out


def panel_solid(panel: Panel, folds: Sequence[Fold]) -> solids.Solid:
    """One panel's slab, cut back at its slits, bored."""
    shape = _slab_figure(panel, folds)
    inside, crossing = _bores(panel, shape)
    pieces = []
    for outline, openings in contours_of(shape):
        border = outline.polygon(DEVIATION_MM)
        # pierced by true circles and slots rather than by what the figure's flattened ones leave
        bores = [hole_contour(hole) for hole in inside if border.covers(Point(hole.centre_mm))]
        pieces.append(solids.plate(outline, [*openings, *bores], panel.pose, 0.0, panel.thickness_mm))
    out = solids.joined(pieces)
    for hole in crossing:
        out = solids.less(out, solids.plate(hole_contour(hole), (), panel.pose, -1.0, panel.thickness_mm + 1.0))
    return out


def _bores(panel: Panel, shape: shapely.Polygon) -> tuple[list[Hole], list[Hole]]:
    """Holes that lie clear within the metal, and holes that run over an edge or into each other."""
    inside: list[Hole] = []
    crossing: list[Hole] = []
    taken = shape.buffer(-_CLEAR_MM)
    for hole in panel.holes:
        figure_of_it = hole_figure(hole, _CLEAR_MM)
        if taken.contains(figure_of_it):
            inside.append(hole)
            taken = taken.difference(figure_of_it)
        else:
            crossing.append(hole)
    return inside, crossing


def _slab_figure(panel: Panel, folds: Sequence[Fold]) -> shapely.Polygon:
    slit = [f for f in folds if f.kind == "slit"]
    return trimmed(panel, slit) if slit else figure(panel)


def hole_contour(hole: Hole) -> Contour:
    """A hole as a contour of true arcs: a circle, or a slot with round ends."""
    centre, radius = np.asarray(hole.centre_mm), hole.diameter_mm / 2.0
    slot, way = hole.slot_mm, np.asarray(hole.slot_way)
    if slot <= 0.0:
        return Contour.circle(centre, radius)
    half, side = way * slot / 2.0, np.array([-way[1], way[0]]) * radius
    points = np.array([centre - half - side, centre + half - side, centre + half + side, centre - half + side])
    return Contour(points, np.array([0.0, 1.0, 0.0, 1.0]))


def bend_solids(fold: Fold, panels: Mapping[str, Panel]) -> list[solids.Solid]:
    """The metal between two panels: bridges of a slit fold, the sector of a brake bend."""
    a, b = panels[fold.a], panels[fold.b]
    if fold.kind == "slit":
        out = []
        for bridge in fold.bridges:
            corners, way = seam_profile(fold, a, b, bridge.start_mm)
            out.append(solids.prism(corners, way * (bridge.end_mm - bridge.start_mm)))
        return out
    pose, profile = bend_profile(fold, a)
    return [solids.plate(profile, (), pose, 0.0, fold.length_mm)]


def seam_profile(fold: Fold, a: Panel, b: Panel, at_mm: float, depth_mm: float | None = None) -> tuple[Array, Array]:
    """Corners (n, 3) of the hull of a slit fold's two end faces, square to the fold, and the fold's direction (3,).

    With `depth_mm` the end faces count only as deep as that from the outside of the fold.
    """
    line = line_of(fold, a.name)
    way2 = (line[1] - line[0]) / fold.length_mm
    way = a.pose.rotation @ np.append(way2, 0.0)
    ends = []
    for panel in (a, b):
        own = line_of(fold, panel.name)
        along = (own[1] - own[0]) / fold.length_mm
        spot = own[0] + along * at_mm + into_metal(figure(panel), own) * fold.slit_width_mm / 2.0
        deep = panel.thickness_mm if depth_mm is None else min(depth_mm, panel.thickness_mm)
        heights = (0.0, deep) if fold.up else (panel.thickness_mm - deep, panel.thickness_mm)
        ends += [panel.pose.apply([*spot, z]) for z in heights]
    corners = np.array(ends)
    # seen along the fold: across and up make the plane of the profile
    across = a.pose.rotation @ np.append(into_metal(figure(a), line), 0.0)
    up = a.pose.rotation[:, 2]
    flat = np.column_stack([(corners - corners[0]) @ across, (corners - corners[0]) @ up])
    # on a closed slit the inside edges are one: corners are told apart on a grid
    hull = shapely.set_precision(shapely.MultiPoint(flat), _SAME_MM).convex_hull
    at = [int(np.argmin(np.linalg.norm(flat - corner, axis=1))) for corner in shapely.get_coordinates(hull)[:-1]]
    ring = flat[list(dict.fromkeys(at))]
    return corners[0] + ring[:, :1] * across + ring[:, 1:] * up, way


def bend_profile(fold: Fold, a: Panel) -> tuple[Pose, Contour]:
    """The sector of a brake bend: pose whose z runs along the fold from its start, and the profile in its x, y.

    x runs from panel a out over the bend, y toward the inside; the bend's centre is at y = R above the inside face.
    """
    line = line_of(fold, a.name)
    out2 = -into_metal(figure(a), line)
    toward = 1.0 if fold.up else -1.0
    inside = a.thickness_mm if fold.up else 0.0
    x = a.pose.rotation @ np.append(out2, 0.0)
    y = a.pose.rotation[:, 2] * toward
    z = np.cross(x, y)
    along = a.pose.rotation @ np.append((line[1] - line[0]) / fold.length_mm, 0.0)
    start = line[0] if float(z @ along) > 0.0 else line[1]
    centre = a.pose.apply([*start, inside + toward * fold.radius_mm])
    r, big, theta = fold.radius_mm, fold.radius_mm + a.thickness_mm, np.radians(fold.angle_deg)
    far = np.array([np.sin(theta), -np.cos(theta)])
    points = np.array([[0.0, -r], [0.0, -big], big * far, r * far])
    bulge = float(np.tan(theta / 4.0))
    return Pose(np.column_stack([x, y, z]), centre), Contour(points, np.array([0.0, bulge, 0.0, -bulge]))


def volume_mm3(panels: Mapping[str, Panel], folds: Sequence[Fold]) -> float:
    """Volume of the folded solid, by areas times thickness: panels less slits and holes, bridges, bends."""
    out = 0.0
    for panel in panels.values():
        own = [f for f in folds if panel.name in (f.a, f.b)]
        area = sum(
            outline.area_mm2 - sum(abs(o.area_mm2) for o in openings)
            for outline, openings in contours_of(_slab_figure(panel, own))
        )
        area -= sum(abs(hole_contour(hole).area_mm2) for hole in panel.holes)
        out += area * panel.thickness_mm
    for fold in folds:
        a, b = panels[fold.a], panels[fold.b]
        if fold.kind == "brake":
            out += bend_profile(fold, a)[1].area_mm2 * fold.length_mm
            continue
        for bridge in fold.bridges:
            corners, way = seam_profile(fold, a, b, bridge.start_mm)
            out += _area3(corners, way) * (bridge.end_mm - bridge.start_mm)
    return out


def _area3(corners: Array, normal: Array) -> float:
    after = np.roll(corners, -1, axis=0)
    return abs(float(np.cross(corners, after).sum(axis=0) @ normal)) / 2.0


def mass_kg(panels: Mapping[str, Panel], folds: Sequence[Fold], density_kg_m3: float) -> float:
    """Mass of a bracket without its welds."""
    return volume_mm3(panels, folds) * 1e-9 * density_kg_m3
