"""Whether what lies on a sheet may be cut: true contours against each other, edge and clamps. Sheet in, checks out.

Distances are taken between the true contours, arcs within 1 µm of them; nothing of how the parts came to lie there is
used.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.cut.grain import across_deg, fold_directions_deg
from halfshaft.cut.nest.model import Blank, copy_name
from halfshaft.cut.nest.shape import true_shape
from halfshaft.cut.part import Laid

_FINE_MM = 1e-3
_EXACT_MM = 1e-6
OVERLAP_MM2 = 1e-6
_SOURCE = Source(Origin.COMMON_PRACTICE, "docs/sheets.md; no published source")


@dataclass(frozen=True, slots=True)
class Clash:
    """Two parts nearer than the gap, or a part too near the edge or a clamp, where `other` says which.

    `apart_mm` is negative where they overlap.
    """

    name: str
    other: str
    apart_mm: float
    least_mm: float


def lies(laid: Laid, deviation_mm: float = _FINE_MM) -> Polygon:
    """The laid part's true outline with its openings, in the sheet's axes."""
    there = affinity.rotate(true_shape(laid.part, deviation_mm), laid.rotation_deg, origin=(0.0, 0.0))
    return affinity.translate(there, *laid.shift_mm)


def clashes(blank: Blank, laid: tuple[Laid, ...], deviation_mm: float = _FINE_MM) -> list[Clash]:
    """All that may not be, the worst first; empty when the sheet can be cut."""
    found = [clash for clash in nearest(blank, laid, deviation_mm) if clash.apart_mm < clash.least_mm - _EXACT_MM]
    return sorted(found, key=lambda clash: clash.apart_mm - clash.least_mm)


def nearest(blank: Blank, laid: tuple[Laid, ...], deviation_mm: float = _FINE_MM) -> list[Clash]:
    """Distances of all neighbours: pairs of parts nearer than three gaps, every part from the edge and from clamps."""
    shapes = [lies(one, deviation_mm) for one in laid]
    slack = 2.0 * deviation_mm  # arcs bulge out of their runs by so much on either side
    out: list[Clash] = []
    for (a, one), (b, two) in combinations(enumerate(laid), 2):
        apart = float(shapely.distance(shapes[a], shapes[b]))
        if apart > 3.0 * blank.gap_mm + 1.0:
            continue
        if apart <= 0.0:
            apart = min(0.0, -_depth(shapes[a], shapes[b]))
        out.append(Clash(label(one), label(two), apart - (slack if apart > 0.0 else 0.0), blank.gap_mm))
    metal = blank.metal
    strips = [Polygon(ring) for ring in blank.clamps_mm]
    for one, shape in zip(laid, shapes, strict=True):
        inside = metal.covers(shape)
        apart = float(shapely.distance(metal.boundary, shape)) if inside else -_depth_outside(metal, shape)
        out.append(Clash(label(one), "edge", apart - (deviation_mm if inside else 0.0), blank.margin_mm))
        for strip in strips:
            gap = float(shapely.distance(strip, shape))
            gap = gap - deviation_mm if gap > 0.0 else -_depth(strip, shape)
            out.append(Clash(label(one), "clamp", gap, blank.clamp_gap_mm))
    return out


def label(laid: Laid) -> str:
    return copy_name(laid.part, laid.copy)


def sheet_checks(blank: Blank, laid: tuple[Laid, ...]) -> list[Check]:
    """Judgements of one sheet: gaps, overlap, edge, clamps, and folds against the rolling direction."""
    if not laid:
        return []
    near = nearest(blank, laid)
    about = f"sheet {blank.name}"
    do = "Move or turn one of them on the page Sheets, or take its line out of sheets.laid and lay it anew."
    out = []
    pairs = [clash for clash in near if clash.other not in ("edge", "clamp")]
    for kind, title, limit in (
        ("", "Least gap between parts", blank.gap_mm),
        ("edge", "Parts from the edge of the sheet", blank.margin_mm),
        ("clamp", "Parts from the clamps' strips", blank.clamp_gap_mm),
    ):
        own = [clash for clash in near if clash.other == kind] if kind else pairs
        if not own:
            continue
        worst = min(own, key=lambda clash: clash.apart_mm)
        names = f"{worst.name} and {worst.other}" if not kind else worst.name
        found = limit if limit - _EXACT_MM <= worst.apart_mm < limit else worst.apart_mm
        out.append(
            Check("sheets", f"{about}, {names}", title, _SOURCE, Severity.STOP, do, found, limit, "mm", Good.AT_LEAST)
        )
    overlap = max((float(shapely.intersection(lies(a), lies(b)).area) for a, b in _touching(pairs, laid)), default=0.0)
    out.append(
        Check(
            "sheets",
            about,
            "Parts that overlap",
            Source(Origin.DERIVED, "docs/sheets.md"),
            Severity.STOP,
            do,
            overlap,
            OVERLAP_MM2,
            "mm²",
            Good.AT_MOST,
        )
    )
    return out + (_grain_checks(blank, laid) if blank.rolling_deg is not None else [])


def _touching(pairs: list[Clash], laid: tuple[Laid, ...]) -> list[tuple[Laid, Laid]]:
    by_name = {label(one): one for one in laid}
    return [(by_name[c.name], by_name[c.other]) for c in pairs if c.apart_mm <= 0.01]


def _grain_checks(blank: Blank, laid: tuple[Laid, ...]) -> list[Check]:
    row = default("sheets.fold_across")
    out = []
    for one in laid:
        directions = fold_directions_deg(one.part.flat)
        if not directions or one.part.grain is None:
            continue
        found = across_deg(directions, one.rotation_deg - (blank.rolling_deg or 0.0))
        best = max(across_deg(directions, turn) for turn in one.part.grain)
        limit = min(float(row.value), best)
        out.append(
            Check(
                "sheets",
                f"sheet {blank.name}, {label(one)}",
                "Folds against the rolling direction",
                row.source,
                Severity.CAUTION,
                "Turn the part so that its folds cross the rolling direction.",
                limit if abs(found - limit) < 1e-3 else found,
                limit,
                "deg",
                Good.AT_LEAST,
            )
        )
    return out


def _depth(a: Polygon, b: Polygon) -> float:
    """How deep two shapes reach into each other: twice the radius of the greatest circle in what they share."""
    shared = shapely.intersection(a, b)
    pieces = [p for p in getattr(shared, "geoms", [shared]) if isinstance(p, Polygon) and not p.is_empty]
    if not pieces:
        return 0.0
    return float(max(2.0 * shapely.maximum_inscribed_circle(p, tolerance=1e-3).length for p in pieces if p.area > 0.0))


def _depth_outside(metal: Polygon, shape: Polygon) -> float:
    """How far a shape reaches over the edge."""
    out = shapely.difference(shape, metal)
    points = shapely.get_coordinates(out)
    if not len(points):
        return 0.0
    return float(np.max(shapely.distance(shapely.points(points), metal)))
