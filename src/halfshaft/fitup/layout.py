"""A need made fit for scribe and cutter: a figure, a least radius and what to keep off in; a short contour out."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.polygon import orient

from halfshaft.geometry import Contour
from halfshaft.geometry.arcs import contours_of

Array = NDArray[np.float64]

_SEGMENTS = 64
_TRUE_MM = 0.005
_SNAP_MM = 0.01
_MOST_OUT_MM = 0.1
_DUST_MM2 = 0.01
_NEAR_SHARE = 0.1  # of the slack that lines may still be saved with where there is something to keep off
_ROUND_SHARE = 0.25  # of the slack: how far from a circle a need may be to be bored as one


def laid_out(need: Polygon, round_mm: float, slack_mm: float, keep_off: Polygon | MultiPolygon) -> Contour:
    """A clockwise contour about the whole need, of straight lines and arcs no sharper than `round_mm`.

    Corners come from a figure shrunk by the radius, whose edges are put together while the opening grows by no more
    than `slack_mm` anywhere, and by a tenth of it within `keep_off`. What is never done: fall short of the need.
    Source: derived here, docs/fitup.md, windows.
    """
    whole = Polygon(need.exterior)
    ring = _as_circle(whole, round_mm, slack_mm, keep_off)
    if ring is not None:
        return ring
    core = _core(whole, round_mm)
    short = _fewer(core, round_mm, slack_mm, keep_off.difference(whole), whole)
    contour = _rounded(_drawn_in(short, whole, round_mm), round_mm)
    return contour.reversed() if contour.area_mm2 > 0.0 else contour


def _drawn_in(core: Polygon, need: Polygon, round_mm: float) -> Polygon:
    """The core with its edges moved in, or out a hair, until the opening about it just takes in the need.

    Corners put together often spare the room that a sharp need had to be grown for.
    """

    def moved(by_mm: float) -> Polygon | MultiPolygon:
        return core.buffer(-by_mm, join_style="mitre", mitre_limit=50.0)

    def holds(by_mm: float) -> bool:
        tried = moved(by_mm)
        if tried.is_empty or tried.geom_type != "Polygon":
            return False
        return bool(_rounded(tried, round_mm).polygon(1e-4).buffer(1e-3).covers(need))

    low, high = -_MOST_OUT_MM, round_mm
    while high - low > _SNAP_MM / 2.0:
        middle = (low + high) / 2.0
        low, high = (middle, high) if holds(middle) else (low, middle)
    return moved(low)


def _rounded(core: Polygon, round_mm: float) -> Contour:
    grown = round_mm / np.cos(np.pi / (4.0 * _SEGMENTS))
    return contours_of(core.buffer(grown, quad_segs=_SEGMENTS))[0][0]


def _as_circle(need: Polygon, round_mm: float, slack_mm: float, keep_off: Polygon | MultiPolygon) -> Contour | None:
    """A bored hole where the need is nearly round, or smaller than the least hole."""
    circle = shapely.minimum_bounding_circle(need)
    middle = circle.centroid
    least = float(np.linalg.norm(np.asarray(need.exterior.coords) - [middle.x, middle.y], axis=1).max()) + 1e-3
    if least <= round_mm:
        return Contour.circle((middle.x, middle.y), round_mm).reversed()
    if least - float(need.exterior.distance(middle)) > _ROUND_SHARE * slack_mm:
        return None
    more = Point(middle).buffer(least, quad_segs=_SEGMENTS).difference(need)
    if more.intersection(keep_off).area > _DUST_MM2:
        return None
    return Contour.circle((middle.x, middle.y), least).reversed()


def _core(need: Polygon, round_mm: float) -> Polygon:
    """The least figure that, grown by the radius, takes in the whole need: the need grown first where it is sharp."""

    def tried(more: float) -> Polygon | MultiPolygon:
        return need.buffer(more, quad_segs=_SEGMENTS).buffer(-round_mm, quad_segs=_SEGMENTS)

    def holds(core: Polygon | MultiPolygon) -> bool:
        return not core.is_empty and bool(core.buffer(round_mm + _TRUE_MM, quad_segs=_SEGMENTS).covers(need))

    low, high = 0.0, round_mm + 2.0 * _SNAP_MM
    if not holds(tried(0.0)):
        while high - low > _SNAP_MM / 2.0:
            middle = (low + high) / 2.0
            low, high = (low, middle) if holds(tried(middle)) else (middle, high)
    else:
        high = 0.0
    core = tried(high)
    if core.geom_type != "Polygon":
        core = core.convex_hull
    if core.geom_type != "Polygon" or core.area < 1e-3:
        core = core.buffer(_SNAP_MM, cap_style="square", join_style="mitre")
    core = Polygon(core.exterior)
    thin = core.simplify(_SNAP_MM / 2.0)
    return thin.buffer(_SNAP_MM / 2.0, join_style="mitre") if thin.is_valid and thin.area > 0.0 else core


def _fewer(core: Polygon, round_mm: float, slack_mm: float, keep_off: Polygon | MultiPolygon, need: Polygon) -> Polygon:
    """Corners dropped one by one, always outward, the one that costs least first."""
    ring = list(np.asarray(orient(core).exterior.coords)[:-1])
    shapely.prepare(core)
    while len(ring) > 3:
        choices = []
        for at in range(len(ring)):
            for made, edge, more in _droppings(ring, at):
                off = float(shapely.distance(core, shapely.points(edge)).max())
                if off <= slack_mm:
                    choices.append((off, at, made, more))
        for off, _, made, more in sorted(choices, key=lambda c: (c[0], c[1])):
            grown = Polygon(more).buffer(round_mm).difference(need)
            free = off <= _NEAR_SHARE * slack_mm or grown.intersection(keep_off).area <= _DUST_MM2
            if free and Polygon(made).is_valid:
                ring = made
                break
        else:
            break
    return Polygon(ring)


def _droppings(ring: list[Array], at: int) -> list[tuple[list[Array], Array, list[Array]]]:
    """Ways to lose a corner at `at`: new ring, spots on its new edges, and the figure added."""
    count = len(ring)
    a, b, c, d = (ring[(at + k) % count] for k in (-1, 0, 1, 2))
    out = []
    if _turn(a, b, c) <= 1e-12:  # a corner that points inward: straight past it
        rest = [p for i, p in enumerate(ring) if i != at]
        out.append((rest, np.array([a + (c - a) * k for k in np.linspace(0.1, 0.9, 9)]), [a, b, c]))
    if count > 4 and _turn(a, b, c) > 0.0 and _turn(b, c, d) > 0.0:  # an edge between two that run on and meet
        e, f = b - a, c - d
        cross = e[0] * f[1] - e[1] * f[0]
        if cross < -1e-9:
            meet = b + e * (((d - b)[0] * f[1] - (d - b)[1] * f[0]) / cross)
            if (meet - b) @ e > 0.0 and (meet - c) @ f > 0.0:
                after = (at + 1) % count
                made = [meet if i == at else p for i, p in enumerate(ring) if i != after]
                out.append((made, np.array([meet]), [b, meet, c]))
    return out


def _turn(a: Array, b: Array, c: Array) -> float:
    return float((b - a)[0] * (c - b)[1] - (b - a)[1] * (c - b)[0])


def keep_off(outline: Polygon, edge_mm: float, welds: list[LineString], weld_mm: float) -> Polygon | MultiPolygon:
    """All of the plane that an opening should stay out of."""
    around = outline.buffer(1e4, join_style="mitre").difference(outline.buffer(-edge_mm, join_style="mitre"))
    return shapely.union_all([around, *(weld.buffer(weld_mm) for weld in welds)])
