"""What a file does to a sheet: the control's steps in, cuts, swaths and the parts that fall out."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from halfshaft.cut.layers import Figure
from tests.cut.path.random_parts import drawn
from tests.cut.path.rs274 import Step


@dataclass
class Burn:
    """The torch on once: where it was lit, and the way of its middle."""

    start: Point
    line: LineString
    waited: float


def burns(steps: list[Step]) -> list[Burn]:
    out = []
    for on, group in groupby(steps, key=lambda step: step.on):
        if not on:
            continue
        own = list(group)
        points = [own[0].start[:2]]
        for step in own:
            points += step.points()[1:]
        waited = sum(step.seconds for step in own if step.kind == "wait")
        out.append(Burn(Point(points[0]), LineString(points), waited))
    return out


def faults(steps: list[Step], sheet: Polygon, clear: float) -> list[str]:
    """What no file may do, whatever is cut."""
    found = []
    for step in steps:
        if step.on and step.kind == "rapid":
            found.append(f"line {step.line}: a rapid with the torch on")
        if not step.on and not step.marker and step.kind in ("line", "arc") and step.start[:2] != step.end[:2]:
            found.append(f"line {step.line}: a feed over the plate with nothing on")
    inside = sheet.buffer(-clear)
    found += [f"a cut by {burn.start} leaves the sheet" for burn in burns(steps) if not inside.covers(burn.line)]
    return found


def swath(found: list[Burn], kerf: float) -> shapely.Geometry:
    return shapely.union_all([burn.line.buffer(kerf / 2.0, quad_segs=32) for burn in found])


def dropped(sheet: Polygon, gone: shapely.Geometry, part: Polygon) -> Polygon:
    """The piece of sheet that comes out where a part was drawn."""
    spot = part.buffer(-0.5).representative_point()
    return next(piece for piece in shapely.get_parts(sheet.difference(gone)) if piece.contains(spot))


def reachable(figures: tuple[Figure, ...], kerf: float, least_hole: float) -> Polygon:
    """The part as a round cutter can make it: inner corners are filled where it does not reach."""
    half = kerf / 2.0
    outer = Polygon(figures[-1].shape.flattened_mm(1e-3))
    metal = outer.buffer(half, quad_segs=32).buffer(-half, quad_segs=32)
    for figure in figures[:-1]:
        gone = outer.difference(drawn((figure, figures[-1]), kerf, least_hole))
        if figure.layer != "slit":
            gone = gone.buffer(-half, quad_segs=32).buffer(half, quad_segs=32)
        metal = metal.difference(gone)
    return max(shapely.get_parts(metal), key=shapely.area)  # slivers between chords are no part


def apart(a: Polygon, b: Polygon) -> float:
    """Most that one edge lies off the other, either way."""
    edges = [shapely.segmentize(g.boundary, 2.0) for g in (a, b)]
    for edge in edges:
        shapely.prepare(edge)
    spots = [shapely.points(shapely.get_coordinates(edge)) for edge in edges]
    return float(max(shapely.distance(edges[1], spots[0]).max(), shapely.distance(edges[0], spots[1]).max()))


def rapid_way(steps: list[Step]) -> float:
    return float(sum(np.hypot(s.end[0] - s.start[0], s.end[1] - s.start[1]) for s in steps if s.kind == "rapid"))
