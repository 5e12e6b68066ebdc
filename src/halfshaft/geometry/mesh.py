"""Solids of triangles: prisms, boxes and files in; overlaps, gaps and nearest spots out. Only door to mesh kernels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from halfshaft.geometry.pose import Pose

Array = NDArray[np.float64]

_OPEN_SHEET_MM = 0.2  # an open surface is taken as a sheet this thick
_OPEN_MOST = 4000
_NEAR_MM = 500.0
_FARTHEST_MM = 1e6
_MOST_STEPS = 400


@dataclass(frozen=True, eq=False, slots=True)
class MeshSolid:
    """A closed solid bounded by triangles, possibly empty, lengths in mm."""

    kernel: manifold3d.Manifold

    @property
    def empty(self) -> bool:
        return bool(self.kernel.is_empty())

    @property
    def volume_mm3(self) -> float:
        return float(self.kernel.volume())

    @property
    def bounds_mm(self) -> tuple[Array, Array]:
        """Lowest and highest corner, each (3,)."""
        box = np.asarray(self.kernel.bounding_box(), dtype=float)
        return box[:3], box[3:]

    @property
    def triangles(self) -> tuple[Array, NDArray[np.int64]]:
        """Vertices (v, 3) and triangles (t, 3)."""
        mesh = self.kernel.to_mesh64()
        return np.asarray(mesh.vert_properties[:, :3], dtype=float), np.asarray(mesh.tri_verts, dtype=np.int64)

    def __reduce__(self) -> tuple[Any, ...]:
        """As its triangles: the kernel itself does not go from one process to another."""
        mesh = self.kernel.to_mesh64()
        return _again, (
            np.array(mesh.vert_properties),
            np.array(mesh.tri_verts),
            np.array(mesh.merge_from_vert),
            np.array(mesh.merge_to_vert),
        )


def _again(
    vertices: Array, triangles: NDArray[np.uint64], merged: NDArray[np.uint64], into: NDArray[np.uint64]
) -> MeshSolid:
    if len(triangles) == 0:
        return MeshSolid(manifold3d.Manifold())
    mesh = manifold3d.Mesh64(vertices, triangles, merge_from_vert=merged, merge_to_vert=into)
    return MeshSolid(manifold3d.Manifold(mesh))


def solid_of(vertices_mm: ArrayLike, triangles: ArrayLike) -> MeshSolid:
    """Solid from vertices (v, 3) and triangles (t, 3), outward by the right-hand rule.

    Corners that coincide within 1e-6 mm are joined first. A surface that does not close is taken as sheet 0.2 mm thick.
    Raises ValueError where there is no triangle, or too many for an open surface.
    """
    import trimesh  # slow to load: only where a mesh comes from a file, or something is too near

    mesh = trimesh.Trimesh(
        np.asarray(vertices_mm, dtype=float), np.asarray(triangles, dtype=np.int64), process=True, validate=False
    )
    mesh.merge_vertices(digits_vertex=6)
    mesh.update_faces(mesh.nondegenerate_faces())
    if len(mesh.faces) == 0:
        raise ValueError("the mesh holds no triangles")
    if mesh.is_watertight:
        if not mesh.is_winding_consistent:
            mesh.fix_normals()
        if mesh.volume < 0.0:
            mesh.invert()
        kernel = manifold3d.Manifold(
            manifold3d.Mesh64(
                np.ascontiguousarray(mesh.vertices, dtype=np.float64),
                np.ascontiguousarray(mesh.faces, dtype=np.uint64),
            )
        )
        if kernel.status() == manifold3d.Error.NoError:
            return MeshSolid(kernel)
    if len(mesh.faces) > _OPEN_MOST:
        raise ValueError(
            f"the mesh is open and has {len(mesh.faces)} triangles; close it, or bring it under {_OPEN_MOST} triangles"
        )
    corners = np.asarray(mesh.triangles, dtype=float)
    lift = np.asarray(mesh.face_normals, dtype=float)[:, None, :] * (_OPEN_SHEET_MM / 2.0)
    slivers = [
        manifold3d.Manifold.hull_points(np.ascontiguousarray(np.vstack([c + n, c - n])))
        for c, n in zip(corners, lift, strict=True)
    ]
    return MeshSolid(manifold3d.Manifold.batch_boolean(slivers, manifold3d.OpType.Add))


def prism(shape: Polygon | MultiPolygon, low_mm: float, high_mm: float, pose: Pose | None = None) -> MeshSolid:
    """The plane figure `shape` between z = low and z = high, then moved by `pose`.

    Raises ValueError where high <= low.
    """
    if high_mm <= low_mm:
        raise ValueError(f"a prism wants its top ({high_mm} mm) over its foot ({low_mm} mm)")
    section = _section(shape)
    if section.is_empty():
        return MeshSolid(manifold3d.Manifold())
    solid = MeshSolid(section.extrude(high_mm - low_mm).translate((0.0, 0.0, low_mm)))
    return solid if pose is None else moved(solid, pose)


def box(one_mm: ArrayLike, other_mm: ArrayLike) -> MeshSolid:
    """The box between two opposite corners (3,), given in any order."""
    corners = np.sort(np.vstack([np.asarray(one_mm, dtype=float), np.asarray(other_mm, dtype=float)]), axis=0)
    size = corners[1] - corners[0]
    return MeshSolid(manifold3d.Manifold.cube(tuple(size)).translate(tuple(corners[0])))


def cylinder(foot_mm: ArrayLike, way: ArrayLike, radius_mm: float, length_mm: float, sides: int = 64) -> MeshSolid:
    """Cylinder from `foot` (3,) along `way` (3,), its sides circumscribed so that it is never too small."""
    axis = np.asarray(way, dtype=float) / np.linalg.norm(way)
    first = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    first /= np.linalg.norm(first)
    pose = Pose(np.column_stack([first, np.cross(axis, first), axis]), np.asarray(foot_mm, dtype=float))
    outer = radius_mm / float(np.cos(np.pi / sides))
    return moved(MeshSolid(manifold3d.Manifold.cylinder(length_mm, outer, outer, sides)), pose)


def hull(points_mm: ArrayLike) -> MeshSolid:
    """Convex hull of points (n, 3)."""
    return MeshSolid(manifold3d.Manifold.hull_points(np.ascontiguousarray(points_mm, dtype=float)))


def rod_hull(rods_mm: Sequence[tuple[ArrayLike, ArrayLike]], radius_mm: float) -> MeshSolid:
    """Convex hull of round-ended rods, each told by its two ends (3,); never smaller, at most 3 % thicker."""
    ball = radius_mm * _ball_about()
    ends = np.array([end for rod in rods_mm for end in rod], dtype=float)
    return hull((ends[:, None, :] + ball[None]).reshape(-1, 3))


@cache
def _ball_about() -> Array:
    """Corners (n, 3) of a solid whose faces all stand outside the unit ball."""
    mesh = manifold3d.Manifold.sphere(1.0, 24).to_mesh64()
    corners = np.asarray(mesh.vert_properties)[:, :3]
    a, b, c = (corners[np.asarray(mesh.tri_verts, dtype=np.int64)[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    return np.asarray(corners / np.min(np.sum(normal * a, axis=1) / np.linalg.norm(normal, axis=1)))


def moved(solid: MeshSolid, pose: Pose) -> MeshSolid:
    """The solid carried by a rigid move."""
    return MeshSolid(solid.kernel.transform(np.ascontiguousarray(np.column_stack([pose.rotation, pose.shift_mm]))))


def union(solids: Sequence[MeshSolid]) -> MeshSolid:
    return MeshSolid(manifold3d.Manifold.batch_boolean([s.kernel for s in solids], manifold3d.OpType.Add))


def overlap(one: MeshSolid, other: MeshSolid) -> MeshSolid:
    """What both solids fill; empty when they do not meet."""
    return MeshSolid(one.kernel ^ other.kernel)


def without(one: MeshSolid, other: MeshSolid) -> MeshSolid:
    """What the first fills and the other does not."""
    return MeshSolid(one.kernel - other.kernel)


def boxes_meet(one: MeshSolid, other: MeshSolid, within_mm: float = 0.0) -> bool:
    """Whether the bounding boxes come within a distance of each other: the cheap first question."""
    if one.empty or other.empty:
        return False
    (low, high), (low_b, high_b) = one.bounds_mm, other.bounds_mm
    return bool(np.all(low <= high_b + within_mm) and np.all(low_b <= high + within_mm))


def gap_mm(one: MeshSolid, other: MeshSolid, search_mm: float) -> float:
    """Least distance between the solids, zero when they overlap, `search_mm` when they are farther apart than that."""
    if one.empty or other.empty:
        return search_mm
    return min(float(one.kernel.min_gap(other.kernel, search_mm)), search_mm)


def nearest_spot(one: MeshSolid, other: MeshSolid, step_mm: float = 8.0) -> tuple[Array, Array]:
    """A spot (3,) on each where they are nearest, among corners of faces cut to `step_mm`, large ones coarser.

    Raises ValueError where one of the solids is empty.
    """
    if one.empty or other.empty:
        raise ValueError("one of the solids is empty")
    from trimesh.triangles import closest_point

    found = []
    for a, b in ((one, other), (other, one)):
        low, high = b.bounds_mm
        # a large obstacle cut down fine throughout is more triangles than a machine holds
        about = overlap(a, box(low - _NEAR_MM, high + _NEAR_MM))
        whole = a if about.empty else about
        step = max(step_mm, float(np.ptp(np.array(whole.bounds_mm), axis=0).max()) / _MOST_STEPS)
        spots, _ = MeshSolid(whole.kernel.refine_to_length(step)).triangles
        spots = spots[np.argsort(np.linalg.norm(spots - np.clip(spots, low, high), axis=1))[:64]]
        vertices, triangles = b.triangles
        faces = vertices[triangles]
        near_low, near_high = spots.min(axis=0), spots.max(axis=0)
        apart = np.maximum(faces.min(axis=1) - near_high, near_low - faces.max(axis=1)).clip(min=0.0)
        faces = faces[np.argsort(np.linalg.norm(apart, axis=1))[:128]]
        asked = np.tile(spots, (len(faces), 1))
        feet = np.asarray(closest_point(np.repeat(faces, len(spots), axis=0), asked))
        distance = np.linalg.norm(feet - asked, axis=1)
        at = int(np.argmin(distance))
        found.append((float(distance[at]), asked[at], feet[at]))
    if found[0][0] <= found[1][0]:
        return found[0][1], found[0][2]
    return found[1][2], found[1][1]


def shadow(solid: MeshSolid, pose: Pose) -> Polygon | MultiPolygon:
    """The solid seen along the z axis of `pose`: its outline in that pose's x, y."""
    if solid.empty:
        return Polygon()
    return _figure(moved(solid, pose.inverse()).kernel.project())


def swept(figure: Polygon | MultiPolygon, spans: ArrayLike, spots_mm: ArrayLike) -> MeshSolid:
    """A plane figure carried through two or more places: closed, its ends flat in the first and last place.

    Point (a, b) of the figure goes to `spot + span @ (a, b)` at each place: `spans` (m, 3, 2), `spots_mm` (m, 3).
    Raises ValueError where there are fewer than two places or the figure is empty.
    """
    turns, places = np.asarray(spans, dtype=float), np.asarray(spots_mm, dtype=float)
    if len(places) < 2 or figure.is_empty:
        raise ValueError("a sweep wants a figure and two places or more")
    straight = _section(figure).extrude(float(len(places) - 1), len(places) - 2)

    def carried(corners: Array) -> Array:
        at = np.rint(corners[:, 2]).astype(int)
        return np.asarray(places[at] + np.einsum("nij,nj->ni", turns[at], corners[:, :2]))

    return MeshSolid(straight.warp_batch(carried))


def slice_of(solid: MeshSolid, pose: Pose) -> Polygon | MultiPolygon:
    """The figure in which the plane z = 0 of `pose` cuts the solid, in that pose's x, y; empty where it misses."""
    if solid.empty:
        return Polygon()
    return _figure(moved(solid, pose.inverse()).kernel.slice(0.0))


def shadow_between(solid: MeshSolid, pose: Pose, low_mm: float, high_mm: float) -> Polygon | MultiPolygon:
    """Shadow along the z axis of `pose` of what lies between z = low and z = high, in that pose's x, y."""
    if solid.empty:
        return Polygon()
    kernel = moved(solid, pose.inverse()).kernel
    box_ = np.asarray(kernel.bounding_box(), dtype=float)
    if box_[5] <= low_mm or box_[2] >= high_mm:
        return Polygon()
    if box_[2] < low_mm:
        kernel = kernel.trim_by_plane((0.0, 0.0, 1.0), low_mm)
    if box_[5] > high_mm:
        kernel = kernel.trim_by_plane((0.0, 0.0, -1.0), -high_mm)
    return _figure(kernel.project())


def _section(figure: Polygon | MultiPolygon) -> manifold3d.CrossSection:
    rings: list[Array] = []
    for part in shapely.get_parts(figure):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        turned = orient(part)
        rings.extend(np.asarray(ring.coords)[:-1] for ring in (turned.exterior, *turned.interiors))
    return manifold3d.CrossSection([np.ascontiguousarray(ring, dtype=float) for ring in rings])


def _figure(section: manifold3d.CrossSection) -> Polygon | MultiPolygon:
    figure: Polygon | MultiPolygon = Polygon()
    for ring in section.to_polygons():
        if len(ring) >= 3:
            figure = figure.symmetric_difference(shapely.make_valid(Polygon(ring)))
    return figure


def depth_along_mm(solid: MeshSolid, way: ArrayLike) -> float:
    """Length of the solid's span along a unit direction (3,)."""
    if solid.empty:
        return 0.0
    spans = solid.triangles[0] @ np.asarray(way, dtype=float)
    return float(spans.max() - spans.min())


def mean_width_mm(solid: MeshSolid) -> float:
    """Twice the volume over the surface: a sheet's thickness, a third of a cube's side; zero for an empty solid.

    Source: elementary geometry, the limit of a wide thin plate.
    """
    surface = 0.0 if solid.empty else float(solid.kernel.surface_area())
    return 2.0 * solid.volume_mm3 / surface if surface > 0.0 else 0.0


def bulk(solid: MeshSolid) -> tuple[float, Array, Array]:
    """Volume in mm3, its centre (3,), and the second moments about the centre (3, 3) in mm5 as an inertia tensor.

    The tensor is that of density one: times kg/mm3 it is kg mm2, products of inertia with the minus sign in.
    Raises ValueError where the solid is empty.
    """
    if solid.empty:
        raise ValueError("an empty solid has no centre")
    from trimesh.triangles import mass_properties

    vertices, triangles = solid.triangles
    middle = vertices.mean(axis=0)  # sums about a far origin lose digits
    found = mass_properties((vertices - middle)[triangles], density=1.0)
    return (
        float(found.volume),
        np.asarray(found.center_mass, dtype=float) + middle,
        np.asarray(found.inertia, dtype=float),
    )


def load_library() -> None:
    """Load the reader of mesh files ahead of its first use."""
    import trimesh  # noqa: F401


def read_mesh(path: Path) -> MeshSolid:
    """An STL or STEP file as a solid, in the file's own axes, mm.

    Raises ValueError with the file's name where it cannot be read or holds nothing.
    """
    ending = path.suffix.lower()
    if not path.is_file():
        raise ValueError(f"mesh file '{path.name}' is not there")
    if ending in {".step", ".stp"}:
        from halfshaft.geometry.solids import mesh as surface_of  # the modeller is slow to load and seldom needed
        from halfshaft.geometry.solids import read_step

        solid = read_step(path)
        try:
            return solid_of(*surface_of(solid))
        except Exception as problem:
            raise ValueError(
                f"'{path.name}' holds no solid that can be meshed; export the part again as STL"
            ) from problem
    if ending != ".stl":
        raise ValueError(f"'{path.name}' is neither .stl nor .step")
    import trimesh

    try:
        with np.errstate(all="ignore"):  # corners that are no numbers are told below
            loaded = trimesh.load_mesh(str(path), file_type="stl")
        vertices, triangles = np.asarray(loaded.vertices, dtype=float), np.asarray(loaded.faces)
    except Exception as problem:  # whatever the reader trips over, its own words tell a builder nothing
        raise ValueError(f"'{path.name}' is not an STL file that can be read") from problem
    if not np.all(np.abs(vertices) <= _FARTHEST_MM):
        raise ValueError(f"'{path.name}' has corners more than a kilometre away, or that are no numbers")
    try:
        return solid_of(vertices, triangles)
    except Exception as problem:
        raise ValueError(f"'{path.name}' is not an STL file that can be read: {problem}") from problem


def placing(spots_mm: ArrayLike, on_mm: ArrayLike) -> tuple[Pose, float]:
    """Pose that brings three or more spots (n, 3) onto measured points (n, 3), least squares, and the worst miss in mm.

    Raises ValueError where the spots lie on one line.
    Source: Kabsch, Acta Crystallographica A32 (1976), p. 922.
    """
    spots, on = np.asarray(spots_mm, dtype=float), np.asarray(on_mm, dtype=float)
    if len(spots) < 3 or len(spots) != len(on):
        raise ValueError("placing a mesh wants three spots and three points")
    centre, target = spots.mean(axis=0), on.mean(axis=0)
    for cloud in (spots - centre, on - target):
        spread = np.linalg.svd(cloud, compute_uv=False)
        if spread[1] < 1e-6 * max(spread[0], 1.0):
            raise ValueError("the three spots lie on one line")
    u, _, vt = np.linalg.svd((spots - centre).T @ (on - target))
    sign = np.sign(np.linalg.det(vt.T @ u.T))
    rotation = vt.T @ np.diag([1.0, 1.0, sign]) @ u.T
    pose = Pose(rotation, target - rotation @ centre)
    return pose, float(np.linalg.norm(pose.apply(spots) - on, axis=1).max())
