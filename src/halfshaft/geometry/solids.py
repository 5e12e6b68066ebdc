"""The one door to the solid modeller (netgen.occ): outlines in, exact solids, volumes, triangles and STEP files out."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from netgen import meshing, occ
from numpy.typing import ArrayLike, NDArray

from halfshaft.geometry.contour import Contour
from halfshaft.geometry.pose import Pose

Array = NDArray[np.float64]
Solid = Any  # netgen.occ.TopoDS_Shape, which carries no types


_SHORT_MM = 1e-6  # the modeller cannot hold an edge shorter than its own tolerance of 1e-7


def _point(values: ArrayLike) -> Any:
    x, y, z = (float(v) for v in np.asarray(values))
    return occ.Pnt(x, y, z)


def _checked(points_mm: Array, what: str) -> None:
    """Raises ValueError for corners that the modeller would fail on without a word."""
    if not np.all(np.isfinite(points_mm)):
        raise ValueError(f"{what} has a corner that is no number")
    if len(points_mm) < 2 or np.any(np.linalg.norm(points_mm - np.roll(points_mm, -1, axis=0), axis=1) < _SHORT_MM):
        raise ValueError(f"{what} has two corners in one place")


def _vector(values: ArrayLike) -> Any:
    x, y, z = (float(v) for v in np.asarray(values))
    return occ.Vec(x, y, z)


def _wire(contour: Contour, pose: Pose) -> Any:
    """A closed wire of segments and true arcs in the pose's plane z = 0."""
    points = contour.points_mm
    _checked(points, "the outline")
    edges = []
    for start, end, bulge in zip(points, np.roll(points, -1, axis=0), contour.bulge, strict=True):
        a, b = (pose.apply([*p, 0.0]) for p in (start, end))
        if abs(bulge) < 1e-9:
            edges.append(occ.Segment(_point(a), _point(b)))
        else:
            chord = end - start
            # the middle of an arc lies off its chord by bulge x half the chord, on the right for a positive bulge
            middle = (start + end) / 2.0 + np.array([chord[1], -chord[0]]) / 2.0 * bulge
            edges.append(occ.ArcOfCircle(_point(a), _point(pose.apply([*middle, 0.0])), _point(b)))
    return occ.Wire(edges)


def _sensed(contour: Contour, sense: float) -> Contour:
    """The contour counter-clockwise for a sense > 0, else clockwise."""
    return contour if contour.area_mm2 * sense > 0.0 else contour.reversed()


def plate(outline: Contour, openings: Iterable[Contour], pose: Pose, low_mm: float, high_mm: float) -> Solid:
    """The outline less its openings, from z = low to z = high of the pose.

    Openings lie within the outline and clear of each other: they bound the face, nothing is cut off it.
    Raises ValueError where the modeller cannot make a solid of it.
    """
    at = Pose(pose.rotation, pose.apply([0.0, 0.0, low_mm]))
    up = pose.rotation[:, 2] * (high_mm - low_mm)
    try:
        border = _wire(_sensed(outline, 1.0), at)
        inner = [_wire(_sensed(opening, -1.0), at) for opening in openings]
        face = occ.Face(border)
        return occ.Prism(occ.Face(face, [border, *inner]) if inner else face, _vector(up))
    except (occ.OCCException, RuntimeError) as error:
        raise ValueError(f"no solid can be made of the outline: {error}") from error


def prism(corners_mm: ArrayLike, along_mm: ArrayLike) -> Solid:
    """A flat polygon with corners (n, 3) in order, swept along a vector (3,).

    Raises ValueError where two corners are one.
    """
    corners = np.asarray(corners_mm, dtype=float)
    _checked(corners, "the profile")
    ring = [occ.Segment(_point(a), _point(b)) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    return occ.Prism(occ.Face(occ.Wire(ring)), _vector(along_mm))


def bar(start_mm: ArrayLike, way: ArrayLike, length_mm: float, radius_mm: float) -> Solid:
    """A round bar."""
    return occ.Cylinder(_point(start_mm), _vector(way), r=float(radius_mm), h=float(length_mm))


def joined(solids: Sequence[Solid]) -> Solid:
    """One solid of several that touch or overlap."""
    return solids[0] if len(solids) == 1 else occ.Fuse(list(solids))


def less(solid: Solid, cutter: Solid) -> Solid:
    return solid - cutter


def mesh_of(corners_mm: Array, tets: NDArray[np.int64], surface: Mapping[str, NDArray[np.int64]]) -> Any:
    """Volume mesh of the library's own kind: corners (n, 3), tetrahedra (m, 4), named triangles (t, 3) of its skin."""
    out = meshing.Mesh()
    out.AddPoints(np.ascontiguousarray(corners_mm, dtype=float))
    # the library counts a tetrahedron positive that the trade counts negative
    out.AddElements(dim=3, index=1, data=np.ascontiguousarray(tets[:, [0, 2, 1, 3]], dtype=np.int32), base=0)
    for number, (name, triangles) in enumerate(surface.items()):
        out.Add(meshing.FaceDescriptor(bc=number + 1, domin=1, domout=0, surfnr=number + 1))
        out.AddElements(dim=2, index=number + 1, data=np.ascontiguousarray(triangles, dtype=np.int32), base=0)
        out.SetBCName(number, name)
    return out


def volume_mm3(solid: Solid) -> float:
    return float(solid.mass)


def pieces(solid: Solid) -> int:
    """How many separate solids there are."""
    return len(solid.solids)


def vertices_mm(solid: Solid) -> Array:
    """Corners (n, 3) of a solid, each once."""
    return np.array([[v.p.x, v.p.y, v.p.z] for v in solid.vertices])


def bounds_mm(solid: Solid) -> tuple[Array, Array]:
    low, high = solid.bounding_box
    return np.array([low.x, low.y, low.z]), np.array([high.x, high.y, high.z])


def mesh(solid: Solid) -> tuple[Array, NDArray[np.int64]]:
    """Vertices (n, 3) and triangles (m, 3) of the surface; curved faces by chords between points that lie on them."""
    low, high = bounds_mm(solid)
    size = float(np.linalg.norm(high - low))
    settings = meshing.MeshingParameters(maxh=size, curvaturesafety=2.0, perfstepsend=meshing.MeshingStep.MESHSURFACE)
    surface = occ.OCCGeometry(solid).GenerateMesh(settings)
    vertices = np.array([list(p.p) for p in surface.Points()])
    corners = [[v.nr - 1 for v in element.vertices] for element in surface.Elements2D()]
    used, at = np.unique(np.array(corners, dtype=np.int64), return_inverse=True)
    return vertices[used], at.reshape(-1, 3).astype(np.int64)


def write_step(solid: Solid, path: Path) -> None:
    """A STEP file (ISO 10303-21), written whole or not at all."""
    handle, name = tempfile.mkstemp(suffix=".step", dir=path.parent)
    os.close(handle)
    try:
        solid.WriteStep(name)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def read_step(path: Path) -> Solid:
    """The shape in a STEP file. Raises ValueError, in plain words, where the file holds none."""
    try:
        with _quiet():
            return occ.OCCGeometry(str(path)).shape
    except Exception as error:  # the modeller's own words tell a builder nothing
        raise ValueError(
            f"'{path.name}' is not a STEP file that can be read; export the part again, as STEP or as STL"
        ) from error


@contextmanager
def _quiet() -> Iterator[None]:
    """What the modeller prints past Python while it reads goes nowhere."""
    with _ONE_AT_A_TIME:
        sys.stdout.flush()
        sys.stderr.flush()
        kept = [(fd, os.dup(fd)) for fd in (1, 2)]
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            for fd, _ in kept:
                os.dup2(nowhere, fd)
            yield
        finally:
            os.close(nowhere)
            for fd, copy in kept:
                os.dup2(copy, fd)
                os.close(copy)


_ONE_AT_A_TIME = Lock()
