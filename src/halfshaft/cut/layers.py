"""What of a flat part goes on which layer. Part and kerf in; shapes by layer out, in the order they are cut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point

from halfshaft.fold.model import FlatPart, Hole
from halfshaft.geometry import Contour

Array = NDArray[np.float64]

_WIDER_MM = 0.05  # a slit this much wider than the kerf is cut round as a slot
_AT_EDGE_MM = 0.02


@dataclass(frozen=True, slots=True)
class Layer:
    """`dxf_colour` is a colour index as the DXF reference lists them; `cut` tells metal cut through from marks."""

    name: str
    dxf_colour: int
    web_colour: str
    cut: bool
    what: str


_ALL = (
    Layer("bore", 5, "#1f4fa3", True, "holes and bolt slots, cut through, before everything else"),
    Layer("slit", 30, "#c65911", True, "fold slits, cut through; a line is run once along its middle"),
    Layer("mark", 3, "#2e7d4f", False, "names, angles and fold witness marks, etched or scribed, never cut through"),
    Layer("foldline", 8, "#8a8a8a", False, "where a brake bend begins and ends, for the eye, never cut through"),
    Layer("cut", 7, "#101010", True, "windows and reliefs, then the outer edge, cut through, last"),
)
LAYERS: Mapping[str, Layer] = MappingProxyType({layer.name: layer for layer in _ALL})


@dataclass(frozen=True, eq=False)
class Disc:
    """A round hole."""

    centre_mm: Array  # (2,)
    radius_mm: float


@dataclass(frozen=True, eq=False)
class Path:
    """An open line of straight runs."""

    points_mm: Array  # (n, 2)


Shape = Contour | Disc | Path


@dataclass(frozen=True, eq=False)
class Figure:
    layer: str
    shape: Shape


def slot_contour(centre_mm: Array, way: Array, between_mm: float, diameter_mm: float) -> Contour:
    """A slot with round ends: `between_mm` from end centre to end centre along `way` (2,), clockwise as an opening."""
    along = np.asarray(way, dtype=float) / np.linalg.norm(way)
    left = np.array([-along[1], along[0]])
    reach, half = along * between_mm / 2.0, left * diameter_mm / 2.0
    corners = np.array([reach + half, reach - half, -reach - half, -reach + half]) + np.asarray(centre_mm, dtype=float)
    return Contour(corners, np.array([-1.0, 0.0, -1.0, 0.0]))


def bore_shape(hole: Hole) -> Shape:
    if hole.slot_mm > 0.0:
        return slot_contour(hole.centre_mm, hole.slot_way, hole.slot_mm, hole.diameter_mm)
    return Disc(np.asarray(hole.centre_mm, dtype=float), hole.diameter_mm / 2.0)


def slit_shape(part: FlatPart, line_mm: Array, kerf_mm: float) -> Shape:
    """The torch's path for one slit: its middle, or round a slot where the slit is wider than the kerf.

    The metal taken away ends where the slit ends: a line is run half a kerf short at each end that is closed, and to
    the very edge of the part at an end that is open. A slit shorter than the kerf is a single spot.
    """
    line = np.asarray(line_mm, dtype=float)
    length = float(np.linalg.norm(line[1] - line[0]))
    along = (line[1] - line[0]) / length
    if part.slit_width_mm > kerf_mm + _WIDER_MM and length > part.slit_width_mm:
        return slot_contour(line.mean(axis=0), along, length - part.slit_width_mm, part.slit_width_mm)
    edge = part.outline.polygon().exterior
    back = [0.0 if edge.distance(Point(end)) < _AT_EDGE_MM else kerf_mm / 2.0 for end in line]
    if back[0] + back[1] >= length - 1e-3:
        middle = line.mean(axis=0)
        return Path(np.array([middle - along * 5e-4, middle + along * 5e-4]))
    return Path(np.array([line[0] + along * back[0], line[1] - along * back[1]]))


def figures_of(part: FlatPart, kerf_mm: float) -> tuple[Figure, ...]:
    """Every shape of the part on its layer: what is inside is cut before the edge that lets the part go.

    Raises ValueError where the outline encloses nothing.
    """
    if len(part.outline.points_mm) < 2 or abs(part.outline.area_mm2) < 1e-6:
        raise ValueError(f"part '{part.name}' has an outline that encloses nothing")
    marks = [Figure("mark", Path(np.asarray(s, dtype=float))) for mark in part.marks for s in mark.strokes_mm]
    bends = [
        Figure("foldline", Path(line[at : at + 2]))
        for line in (np.asarray(v, dtype=float) for v in part.fold_lines_mm.values())
        if len(line) == 4
        for at in (0, 2)
    ]
    bores = [Figure("bore", bore_shape(hole)) for hole in part.bores]
    slits = [Figure("slit", slit_shape(part, line, kerf_mm)) for line in part.slits_mm]
    edges = [Figure("cut", opening) for opening in part.openings]
    return (*marks, *bends, *bores, *slits, *edges, Figure("cut", part.outline))


def bounds_mm(part: FlatPart) -> tuple[float, float, float, float]:
    """Least x, least y, most x, most y of the outline, arcs included."""
    x0, y0, x1, y1 = part.outline.polygon(1e-3).bounds
    return float(x0), float(y0), float(x1), float(y1)
