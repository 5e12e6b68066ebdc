"""Parts that nobody drew: outlines of straight runs and arcs, concave corners, holes, slots, windows, slits. Seeded."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from halfshaft.cut.layers import Disc, Figure, Path, slot_contour
from halfshaft.geometry import Contour


def moved(figure: Figure, turn: float, shift: np.ndarray) -> Figure:
    c, s = np.cos(turn), np.sin(turn)
    matrix, shape = np.array([[c, -s], [s, c]]), figure.shape
    if isinstance(shape, Disc):
        return Figure(figure.layer, Disc(matrix @ shape.centre_mm + shift, shape.radius_mm))
    if isinstance(shape, Path):
        return Figure(figure.layer, Path(shape.points_mm @ matrix.T + shift))
    return Figure(figure.layer, shape.moved(matrix, shift))


def outline(rng: np.random.Generator) -> Contour:
    """Counter-clockwise, without runs that cross, thick enough to hold something."""
    while True:
        count = int(rng.integers(4, 12))
        angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, count))
        radius = rng.uniform(35.0, 120.0, count)
        points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
        bulge = np.where(rng.random(count) < 0.5, rng.uniform(-0.6, 0.6, count), 0.0)
        if np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).min() < 8.0:
            continue
        found = Contour(points, bulge)
        figure = Polygon(found.flattened_mm(1e-3))
        if figure.is_valid and found.area_mm2 > 4000.0 and not figure.buffer(-8.0).is_empty:
            return found


def part(rng: np.random.Generator, kerf: float) -> tuple[Figure, ...]:
    """An outline with up to eight things in it, each some mm clear of the others."""
    around = outline(rng)
    free = Polygon(around.flattened_mm(0.01)).buffer(-7.0)
    inner: list[Figure] = []

    def place(reach: float) -> np.ndarray | None:
        room = free.buffer(-reach)
        if room.is_empty:
            return None
        x0, y0, x1, y1 = room.bounds
        for _ in range(20):
            spot = rng.uniform([x0, y0], [x1, y1])
            if room.contains(Point(spot)):
                return spot
        return None

    for _ in range(int(rng.integers(1, 9))):
        kind = rng.choice(["hole", "slot", "window", "slits"])
        way = rng.uniform(0.0, np.pi)
        along = np.array([np.cos(way), np.sin(way)])
        if kind == "hole":
            radius = rng.uniform(2.0, 16.0)
            spot = place(radius)
            if spot is not None:
                inner.append(Figure("bore", Disc(spot, radius)))
                free = free.difference(Point(spot).buffer(radius + 7.0))
        elif kind == "slot":
            wide, long = rng.uniform(7.0, 16.0), rng.uniform(4.0, 30.0)
            spot = place(long / 2.0 + wide / 2.0)
            if spot is not None:
                inner.append(Figure("bore", slot_contour(spot, along, long, wide)))
                free = free.difference(Point(spot).buffer(long / 2.0 + wide / 2.0 + 7.0))
        elif kind == "window":
            size = rng.uniform(10.0, 25.0)
            spot = place(size)
            if spot is None:
                continue
            angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, 6))[::-1]
            radius = rng.uniform(0.5, 0.95, 6) * size
            points = spot + np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
            window = Contour(points, np.where(rng.random(6) < 0.5, rng.uniform(-0.35, 0.35, 6), 0.0))
            figure = Polygon(window.flattened_mm(1e-3))
            if figure.is_valid and figure.buffer(-2.0 * kerf).geom_type == "Polygon" and window.area_mm2 < -60.0:
                inner.append(Figure("cut", window))
                free = free.difference(figure.buffer(7.0))
        else:
            reach = rng.uniform(15.0, 40.0)
            spot = place(reach)
            if spot is None:
                continue
            ends = [spot - along * reach, spot - along * 4.0, spot + along * 4.0, spot + along * reach]
            for a, b in (ends[:2], ends[2:]):
                half = along * kerf / 2.0
                inner.append(Figure("slit", Path(np.array([a + half, b - half]))))
            free = free.difference(LineString([ends[0], ends[3]]).buffer(7.0))
    return (*inner, Figure("cut", around))


def drawn(figures: tuple[Figure, ...], kerf: float, least_hole: float) -> Polygon:
    """The part as drawn, of straight runs within 1 um: outline less openings, holes that are cut, and slits."""
    metal = Polygon(figures[-1].shape.flattened_mm(1e-3))
    for figure in figures[:-1]:
        shape = figure.shape
        if isinstance(shape, Disc):
            if 2.0 * shape.radius_mm >= least_hole:
                ring = Contour.circle(shape.centre_mm, shape.radius_mm).flattened_mm(1e-3)
                metal = metal.difference(Polygon(ring))
        elif isinstance(shape, Path):
            metal = metal.difference(LineString(shape.points_mm).buffer(kerf / 2.0, quad_segs=32))
        else:
            metal = metal.difference(Polygon(shape.flattened_mm(1e-3)))
    return metal


def sheet(rng: np.random.Generator, count: int, kerf: float, gap: float) -> tuple[list[tuple[Figure, ...]], Polygon]:
    """`count` parts in rows on a sheet, `gap` or more apart."""
    x = y = gap + 6.0
    high = wide = 0.0
    out = []
    for _ in range(count):
        figures = part(rng, kerf)
        turn = rng.uniform(0.0, 2.0 * np.pi)
        turned = tuple(moved(f, turn, np.zeros(2)) for f in figures)
        x0, y0, x1, y1 = shapely.bounds(Polygon(turned[-1].shape.flattened_mm(0.01)))
        if x + x1 - x0 > 1200.0:
            x, y, high = gap + 6.0, y + high + gap, 0.0
        shift = np.array([x - x0, y - y0])
        out.append(tuple(moved(f, 0.0, shift) for f in turned))
        x, high = x + x1 - x0 + gap, max(high, y1 - y0)
        wide = max(wide, x)
    return out, shapely.box(0.0, 0.0, wide + 8.0, y + high + gap + 8.0)
