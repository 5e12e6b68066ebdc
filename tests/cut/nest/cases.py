"""Plain parts and sheets to lay, for tests."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from halfshaft.cut.nest.model import Blank
from halfshaft.cut.part import SheetKey, SheetPart, sheet_part
from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour

KEY = SheetKey("mild steel S275", 5.0)


def flat(name: str, points, openings=()) -> FlatPart:
    outline = Contour.of_points(np.asarray(points, dtype=float))
    return FlatPart(name, "plate", 5.0, outline, tuple(openings), (), (), 0.0, {}, (), {})


def part(name: str, points, quantity: int = 1, station: str = "bracket", openings=()) -> SheetPart:
    return sheet_part(flat(name, points, openings), station, "", KEY, 1.5, quantity)


def rectangle(name: str, length: float, width: float, quantity: int = 1, station: str = "bracket") -> SheetPart:
    return part(name, [(0, 0), (length, 0), (length, width), (0, width)], quantity, station)


def folded(own: SheetPart, direction_deg: float) -> SheetPart:
    """The part with one fold line that way."""
    way = np.array([np.cos(np.radians(direction_deg)), np.sin(np.radians(direction_deg))])
    with_fold = replace(own.flat, fold_lines_mm={"f": np.array([[10.0, 10.0], [10.0, 10.0] + 5.0 * way])})
    return sheet_part(with_fold, own.station, "", own.key, 1.5, own.quantity)


def blank(
    outline, *, table: str = "stock.plate", margin: float = 8.0, gap: float = 6.0, clamps=(), openings=(), rolling=None
) -> Blank:
    ring = np.asarray(outline, dtype=float)
    return Blank(
        table, 1, KEY, ring, tuple(np.asarray(o, dtype=float) for o in openings), margin, gap,
        tuple(np.asarray(c, dtype=float) for c in clamps), 3.0, rolling, 7850.0, 100.0,
    )  # fmt: skip


def box(length: float, width: float):
    return [(0, 0), (length, 0), (length, width), (0, width)]


def brute_gap(shapes: list[Polygon]) -> float:
    """Least distance of any two shapes, by their points and edges alone."""
    least = np.inf
    for i, one in enumerate(shapes):
        for two in shapes[:i]:
            if one.intersects(two):
                return 0.0
            for a, b in ((one, two), (two, one)):
                points = shapely.points(shapely.get_coordinates(a))
                least = min(least, float(shapely.distance(points, b).min()))
    return least
