"""Does the folded bracket hit anything. Panels and obstacles in; how deep, where and what to trim out, as checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPoint, MultiPolygon, Polygon

from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fold.model import Fold, Hole, Panel
from halfshaft.fold.slab import figure, trimmed
from halfshaft.geometry import Plane, Pose, mesh
from halfshaft.measure.obstacles import Obstacle

if TYPE_CHECKING:
    from halfshaft.measure.model import Measured

Array = NDArray[np.float64]

_SEARCH_MM = 60.0  # farther than this from an obstacle nothing is said
TOUCH_MM = 0.05  # a common region thinner than this is a touch: rounding, not metal
_SOURCE = Source(Origin.DERIVED, "exact intersection of the folded solid with the obstacle")


def interference(
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    obstacles: Sequence[Obstacle],
    bracket_name: str = "",
    reach_mm: Callable[[Hole], float] | None = None,
    measured: Measured | None = None,
) -> tuple[Check, ...]:
    """One check for each panel and obstacle within 60 mm of each other, and for each bolt with its socket.

    Found is the gap in mm, or less than zero by the amount of the overlap: how far the obstacle enters through one
    side of the panel, or, where it goes right through, how far the panel's outline runs past it. The limit is the
    clearance. Within two spreads of the limit a passing gap is a CAUTION. `reach_mm` gives the length of socket and
    extension that stands on a hole; bolts are left out without it. With `measured`, points of the car and the unit
    near the spot are named.
    """
    rigid = {name: trimmed(panel, folds, holes=True) for name, panel in panels.items()}
    slabs = {
        name: mesh.prism(shape, 0.0, panels[name].thickness_mm, panels[name].pose) for name, shape in rigid.items()
    }
    tools = [] if reach_mm is None else _tools(panels, reach_mm)
    checks: list[Check] = []
    for obstacle in obstacles:
        for name, panel in panels.items():
            resting = panel.face in obstacle.faces
            solid = _off_the_face(panel, rigid[name]) if resting else slabs[name]
            check = _against(bracket_name, f"panel {name}", solid, panel, obstacle, panels, resting, measured)
            if check is not None:
                checks.append(check)
        for panel, hole, tool in tools:
            if panel.face in obstacle.faces:
                continue  # its bolt goes through that face, also where the panel stands off it
            about = f"bolt and socket of hole {hole.name}"
            check = _against(bracket_name, about, tool, panel, obstacle, panels, False, measured, tool=True)
            if check is not None and not check.ok:
                checks.append(check)
    return tuple(checks)


def faces_of(measured: Measured, panels: Mapping[str, Panel], metal_mm: float, source: Source) -> tuple[Obstacle, ...]:
    """The measured faces as plates `metal_mm` thick behind the hull of the points read on them.

    A face behind which a panel of the bracket lies is left out, since its metal is then on the other side.
    """
    out = []
    for name, face in measured.faces.items():
        if not face.tied or _lies_behind(face.plane, [p for p in panels.values() if p.face == name]):
            continue
        spots = np.array([measured.points[point].xyz_mm for point in face.points if point in measured.points])
        if len(spots) < 3:
            continue
        plane = face.plane
        first = np.cross(plane.normal, np.eye(3)[int(np.argmin(np.abs(plane.normal)))])
        first /= np.linalg.norm(first)
        pose = Pose(
            np.column_stack([first, np.cross(plane.normal, first), plane.normal]), plane.foot_mm(face.middle_mm)
        )
        shape = MultiPoint(pose.inverse().apply(spots)[:, :2]).convex_hull
        if shape.geom_type != "Polygon" or shape.area < 1.0:
            continue
        spread = float(np.sqrt(max(_height_variance(face.covariance, spot) for spot in spots)))
        solid = mesh.prism(shape, -metal_mm, 0.0, pose)
        out.append(Obstacle(f"face {name}", solid, 0.0, spread, faces=frozenset({name}), sure=False, source=source))
    return tuple(out)


def _height_variance(covariance: Array, spot: Array) -> float:
    slope = np.append(spot, -1.0)
    return max(float(slope @ covariance @ slope), 0.0)


def _lies_behind(plane: Plane, on_it: Sequence[Panel]) -> bool:
    middles = [panel.pose.apply([0.0, 0.0, panel.thickness_mm / 2.0]) for panel in on_it]
    return any(float(plane.height_mm(middle)) < 0.0 for middle in middles)


def _off_the_face(panel: Panel, shape: Polygon | MultiPolygon) -> mesh.MeshSolid:
    """The panel less a skin on the side that lies on its face: touching that face is what it is for."""
    skin = min(0.5, panel.thickness_mm / 4.0)
    low, high = (skin, panel.thickness_mm) if panel.contact == "under" else (0.0, panel.thickness_mm - skin)
    return mesh.prism(shape, low, high, panel.pose)


def _against(
    bracket: str, about: str, solid: mesh.MeshSolid, panel: Panel, obstacle: Obstacle,
    panels: Mapping[str, Panel], resting: bool, measured: Measured | None, tool: bool = False,
) -> Check | None:  # fmt: skip
    limit = 0.0 if resting else obstacle.clearance_mm
    search = max(_SEARCH_MM, 2.0 * limit)
    if not mesh.boxes_meet(solid, obstacle.solid, search):
        return None
    hidden = " (hidden)" if obstacle.hidden else ""
    label = f"{bracket}, {about}, {obstacle.name}" if bracket else f"{about}, {obstacle.name}"
    both = mesh.overlap(solid, obstacle.solid)
    # Near a measured face, less than two of its spreads is nothing known.
    least = TOUCH_MM if obstacle.sure else max(TOUCH_MM, 2.0 * obstacle.spread_mm)
    if not both.empty and thinnest_mm(both) > least:
        spots, _ = both.triangles
        middle = spots.mean(axis=0)
        where = f"{_spot_words(middle)}{_near_words(middle, panels, measured)}"
        square = panel.pose.rotation[:, 2]
        if tool:
            depth = mesh.depth_along_mm(both, square)
            act = (
                "The socket and its extension cannot reach: turn the bolt round, weld a stud or nut there, "
                "or take a shorter socket"
            )
        else:
            depth, cut_mm, toward = _amount(panel, both, limit)
            act = (
                f"Trim its outline back by {cut_mm:.0f} mm {toward}, or move its plane, hole or fold off by "
                f"{depth + limit:.1f} mm"
            )
        return Check(
            "fold", label, "Hits an obstacle", _SOURCE, Severity.STOP if obstacle.sure else Severity.CAUTION,
            f"{about[0].upper()}{about[1:]} runs {depth:.1f} mm into {obstacle.name}{hidden} at {where} "
            f"({both.volume_mm3 / 1000.0:.2f} cm³ in common). {act}.",
            found=-depth, limit=limit, unit="mm",
        )  # fmt: skip
    if resting or not obstacle.sure:
        return None
    gap = mesh.gap_mm(solid, obstacle.solid, search)
    if gap >= search:
        return None
    spare = gap - limit
    unsure = 2.0 * obstacle.spread_mm
    if spare >= unsure:
        words = f"{about[0].upper()}{about[1:]} clears {obstacle.name}{hidden} by {gap:.1f} mm."
        return Check(
            "fold", label, "Clear of obstacle", obstacle.source, Severity.NOTE, words,
            found=gap, limit=limit, unit="mm", good=Good.AT_LEAST,
        )  # fmt: skip
    near, there = mesh.nearest_spot(solid, obstacle.solid)
    where = f"{_spot_words((near + there) / 2.0)}{_near_words(near, panels, measured)}"
    lacking = unsure - spare
    inside = _in_panel(panel, near)
    why = (
        f"the clearance wanted is {limit:.1f} mm"
        if spare < 0.0
        else f"the obstacle's own spread is ±{unsure:.1f} mm (two spreads)"
    )
    return Check(
        "fold", label, "Little room to an obstacle", obstacle.source, Severity.CAUTION,
        f"{about[0].upper()}{about[1:]} passes {obstacle.name}{hidden} at {gap:.1f} mm near {where}; {why}. "
        + (
            "Use a shorter socket, or measure the obstacle again."
            if tool
            else f"Trim about {lacking:.0f} mm there ({inside}), or measure the obstacle again."
        ),
        found=gap, limit=limit + unsure, unit="mm",
    )  # fmt: skip


def _tools(panels: Mapping[str, Panel], reach_mm: Callable[[Hole], float]) -> list[tuple[Panel, Hole, mesh.MeshSolid]]:
    """The room of every socket that must stand on a hole."""
    return [
        (panel, hole, tool)
        for panel in panels.values()
        for hole in panel.holes
        if hole.use != "locate" and hole.socket_mm > 0.0 and reach_mm(hole) > 0.0
        for tool in tool_solids(panel, hole, hole.socket_mm, reach_mm(hole))
    ]


def tool_solids(panel: Panel, hole: Hole, diameter_mm: float, reach_mm: float) -> list[mesh.MeshSolid]:
    """Room of the socket on a hole, in root axes: on the side away from the contact face, or on both without one."""
    up = np.array([0.0, 0.0, 1.0])
    foot = np.append(hole.centre_mm, 0.0)
    sides = []
    if panel.contact != "upper":
        sides.append((foot + up * panel.thickness_mm, up))
    if panel.contact != "under":
        sides.append((foot, -up))
    pose = panel.pose
    return [
        mesh.cylinder(pose.apply(start), pose.rotation @ way, diameter_mm / 2.0, reach_mm, sides=48)
        for start, way in sides
    ]


def _amount(panel: Panel, both: mesh.MeshSolid, clearance_mm: float) -> tuple[float, float, str]:
    """How far the two are in each other, how far the panel's outline must go back, and toward where, in words."""
    past_mm, toward = run_past_mm(panel, both)
    through = mesh.depth_along_mm(both, panel.pose.rotation[:, 2])
    depth = past_mm if through >= panel.thickness_mm - TOUCH_MM else min(through, past_mm)
    return depth, past_mm + clearance_mm, toward


def run_past_mm(panel: Panel, both: mesh.MeshSolid) -> tuple[float, str]:
    """How far the panel's outline runs past the inner end of a common region, and the way back from it in words.

    Of the ways in the panel's plane, the one in which the least metal is lost; every 5 degrees is tried.
    """
    spots, edge = shapely.get_coordinates(mesh.shadow(both, panel.pose)), shapely.get_coordinates(figure(panel))
    if len(spots) == 0:
        return 0.0, "all round"
    angles = np.radians(np.arange(0, 360, 5))
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    cuts = (edge @ ways.T).max(axis=0) - (spots @ ways.T).min(axis=0)
    best = int(np.argmin(cuts))
    return float(cuts[best]), _way_words(panel.pose.rotation @ np.append(-ways[best], 0.0))


def thinnest_mm(both: mesh.MeshSolid) -> float:
    """Least span of the common region, square to its own faces; zero where its faces are slivers."""
    spots, triangles = both.triangles
    faces = spots[triangles]
    normals = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    size = np.linalg.norm(normals, axis=1)
    ways = np.unique(np.round(normals[size > 1e-9] / size[size > 1e-9][:, None], 6), axis=0)
    if len(ways) == 0:
        return 0.0
    spans = spots @ ways.T
    return float((spans.max(axis=0) - spans.min(axis=0)).min())


def _spot_words(spot: Array) -> str:
    x, y, z = spot
    side = "left" if y >= 0.0 else "right"
    return f"x {x:.0f} mm, {abs(y):.0f} mm {side}, z {z:.0f} mm"


def _near_words(spot: Array, panels: Mapping[str, Panel], measured: Measured | None) -> str:
    """The nearest hole of the bracket, else the nearest measured point, within half a metre."""
    best: tuple[float, str] = (500.0, "")
    for panel in panels.values():
        for hole in panel.holes:
            centre = panel.pose.apply(np.append(hole.centre_mm, panel.thickness_mm / 2.0))
            away = float(np.linalg.norm(centre - spot))
            if away < best[0]:
                best = (away, f"hole {hole.name}")
    if measured is not None:
        for name, point in measured.points.items():
            away = float(np.linalg.norm(point.xyz_mm - spot))
            if point.tied and away < best[0]:
                best = (away, f"point {name}")
    return f", {best[0]:.0f} mm from {best[1]}" if best[1] else ""


def _way_words(way: Array) -> str:
    names = (("forward", "rearward"), ("to the left", "to the right"), ("upward", "downward"))
    axis = int(np.argmax(np.abs(way)))
    return names[axis][0 if way[axis] > 0.0 else 1]


def _in_panel(panel: Panel, spot: Array) -> str:
    x, y, _ = panel.pose.inverse().apply(spot)
    return f"panel {panel.name} at {x:.0f} mm, {y:.0f} mm of its own axes"
