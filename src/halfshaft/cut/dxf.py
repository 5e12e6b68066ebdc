"""A flat part as a DXF for the cutting table. Part in, text of the file out. Only door to ezdxf.

R2010 (AC1024), true arcs as bulges of polylines and circles as the DXF reference defines them, lengths in mm or inch as
$INSUNITS and $MEASUREMENT say. The same part gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path as FilePath
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from halfshaft.cut.layers import LAYERS, Disc, Figure, Path, figures_of
from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour

Array = NDArray[np.float64]

_MM_PER_INCH = 25.4
_OUTLINES = {"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"}
_INSUNITS = {"mm": 4, "inch": 1}  # DXF reference, header variable $INSUNITS


class Faulty(Exception):
    """A drawing that the audit of the writing library does not pass."""


def load_library() -> None:
    """Load the library ahead of its first use."""
    import ezdxf  # noqa: F401


def dxf_text(part: FlatPart, kerf_mm: float, units: Literal["mm", "inch"] = "mm") -> str:
    """The whole DXF. Raises ValueError for a part without area, Faulty when the audit finds anything."""
    return figures_text(figures_of(part, kerf_mm), part.name, units)


def figures_text(figures: Iterable[Figure], name: str, units: Literal["mm", "inch"] = "mm") -> str:
    """The whole DXF of shapes that already lie on their layers."""
    import ezdxf  # takes longer to load than the rest of the house: only when a drawing is written

    scale = 1.0 if units == "mm" else 1.0 / _MM_PER_INCH
    with _fixed_dates(ezdxf):
        document = ezdxf.new("R2010")
        document.header["$INSUNITS"] = _INSUNITS[units]
        document.header["$MEASUREMENT"] = 1 if units == "mm" else 0
        document.header["$LUNITS"] = 2
        for layer in LAYERS.values():
            entry = document.layers.add(layer.name, color=layer.dxf_colour)
            entry.description = layer.what
        space = document.modelspace()
        corners = []
        for figure in figures:
            corners.append(_extent(figure.shape) * scale)
            _draw(space, figure, scale)
        reach = np.vstack(corners)
        for key, at in (("$EXTMIN", reach.min(axis=0)), ("$EXTMAX", reach.max(axis=0))):
            document.header[key] = (float(at[0]), float(at[1]), 0.0)
        document.set_modelspace_vport(
            height=float(1.1 * np.ptp(reach[:, 1]) + scale), center=tuple(float(v) for v in reach.mean(axis=0))
        )
        audit = document.audit()
        if audit.errors or audit.fixes:
            faults = "; ".join(f"{e.code}: {e.message}" for e in (*audit.errors, *audit.fixes))
            raise Faulty(f"the drawing of '{name}' is not sound: {faults}")
        for kind in sorted(
            document.entitydb.dxf_types_in_use()
        ):  # else in the order of a set, which differs run by run
            document.classes.add_class(kind)
        out = io.StringIO()
        document.write(out)
    return out.getvalue()


def read_figures(text: str) -> tuple[Figure, ...]:
    """Shapes of a DXF written here, in mm again; for checking a file after it was written."""
    import ezdxf

    document = ezdxf.read(io.StringIO(text))
    scale = {4: 1.0, 1: _MM_PER_INCH}[int(document.header["$INSUNITS"])]
    found: list[Figure] = []
    for entity in document.modelspace():
        layer, kind = str(entity.dxf.layer), entity.dxftype()
        if kind == "CIRCLE":
            centre = np.array([entity.dxf.center.x, entity.dxf.center.y])
            found.append(Figure(layer, Disc(centre * scale, float(entity.dxf.radius) * scale)))
        elif kind == "LINE":
            ends = np.array([[p.x, p.y] for p in (entity.dxf.start, entity.dxf.end)])
            found.append(Figure(layer, Path(ends * scale)))
        elif kind == "LWPOLYLINE":
            rows = np.array(list(entity.get_points("xyb")), dtype=float)
            closed = bool(entity.closed)
            shape = Contour(rows[:, :2] * scale, rows[:, 2].copy()) if closed else Path(rows[:, :2] * scale)
            found.append(Figure(layer, shape))
    return tuple(found)


def outline_of(path: FilePath, units: Literal["metric", "inch"] = "metric") -> Polygon:
    """The piece that a drawing shows, in mm: its largest closed outline, with the closed outlines inside as openings.

    Lines, arcs, circles, polylines, ellipses and splines are joined where their ends meet within 0.1 mm; a drawing
    that names no unit is in the build's `units`. Raises ValueError that says what to do, where nothing is closed.
    """
    import ezdxf
    from ezdxf.path import make_path

    try:
        document = ezdxf.readfile(path)
    except (ezdxf.DXFError, OSError, UnicodeError, ValueError) as why:
        raise ValueError(f"{path.name} cannot be read as DXF: {why}. Save it again as DXF R2010, ASCII") from why
    named = int(document.header.get("$INSUNITS", 0))
    known = {0: _MM_PER_INCH if units == "inch" else 1.0, 1: _MM_PER_INCH, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}
    if named not in known:
        raise ValueError(f"{path.name} is drawn in a unit that is not known; save it in mm or inch")
    scale, lines = known[named], []
    for entity in document.modelspace():
        if entity.dxftype() not in _OUTLINES:
            continue
        way = [(float(p.x), float(p.y)) for p in make_path(entity).flattening(0.01 / scale)]
        if len(way) > 1:
            lines.append(LineString(np.round(np.asarray(way) * scale, 6)))
    if not lines:
        raise ValueError(f"{path.name} holds no lines, arcs or polylines: draw the piece's outline")
    joined = shapely.snap(shapely.union_all(lines), shapely.MultiPoint([e for line in lines for e in _ends(line)]), 0.1)
    faces = list(shapely.polygonize([shapely.node(joined)]).geoms)
    if not faces:
        raise ValueError(f"{path.name} holds no closed outline: close it, ends must meet within 0.1 mm")
    base = max(faces, key=lambda face: Polygon(face.exterior).area)
    if Polygon(base.exterior).area < 0.999 * shapely.union_all([Polygon(face.exterior) for face in faces]).area:
        raise ValueError(f"{path.name} holds lines that cross the outline: leave the outline and its openings alone")
    return base


def _ends(line: LineString) -> list[tuple[float, float]]:
    return [line.coords[0], line.coords[-1]]


def _draw(space: Any, figure: Figure, scale: float) -> None:
    at = {"layer": figure.layer}
    shape = figure.shape
    if isinstance(shape, Disc):
        x, y = shape.centre_mm * scale
        space.add_circle((float(x), float(y)), float(shape.radius_mm * scale), dxfattribs=at)
    elif isinstance(shape, Path):
        points = [(float(x), float(y)) for x, y in shape.points_mm * scale]
        if len(points) == 2:
            space.add_line(points[0], points[1], dxfattribs=at)
        else:
            space.add_lwpolyline(points, dxfattribs=at)
    else:
        rows = [(float(x), float(y), float(b)) for (x, y), b in zip(shape.points_mm * scale, shape.bulge, strict=True)]
        space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs=at)


def _extent(shape: Contour | Disc | Path) -> Array:
    if isinstance(shape, Disc):
        return np.array([shape.centre_mm - shape.radius_mm, shape.centre_mm + shape.radius_mm])
    points = shape.flattened_mm() if isinstance(shape, Contour) else shape.points_mm
    return np.array([points.min(axis=0), points.max(axis=0)])


@contextmanager
def _fixed_dates(ezdxf: Any) -> Iterator[None]:
    """Dates and identifiers that do not change from run to run, so that equal drawings are equal files."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
