"""Figures cut with flattened arcs in; outlines with true arcs out."""

from __future__ import annotations

from cmath import phase
from math import pi, tan

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from halfshaft.geometry.contour import Contour

Array = NDArray[np.float64]

_ON_CIRCLE_MM = 1e-4  # inner corners of a flattened arc lie this close to its circle
_SAGITTA_MM = 0.03  # a run flatter than this against its circle counts as a flattened arc
_TURN_MOST_RAD = 0.7
_TURN_LEAST_RAD = 1e-3
_SHORT_MM = 1e-6


def contours_of(figure: Polygon | MultiPolygon) -> list[tuple[Contour, tuple[Contour, ...]]]:
    """Outer outline and openings of each piece of a figure, the largest piece first, arcs made true again."""
    pieces = [p for p in shapely.get_parts(figure) if p.geom_type == "Polygon" and not p.is_empty]
    pieces.sort(key=lambda piece: -piece.area)
    out = []
    for piece in pieces:
        turned = orient(piece)
        openings = tuple(arced(np.asarray(ring.coords)[:-1]) for ring in turned.interiors)
        out.append((arced(np.asarray(turned.exterior.coords)[:-1]), openings))
    return out


def arced(ring_mm: Array, deviation_mm: float = 0.02) -> Contour:
    """A closed ring of points (n, 2) as a contour in which runs of short chords on one circle are arcs.

    The ends of an arc keep their places; the end chords may be cut short, as a cut across a flattened arc leaves them.
    Points that stay are exact; arcs deviate from the circle by at most `deviation_mm`.
    """
    points = _cleaned(np.asarray(ring_mm, dtype=float))
    count = len(points)
    if count < 5:
        return Contour.of_points(points)
    seeds = _seeds(points)
    if np.all(seeds):
        ring = [complex(x, y) for x, y in points]
        centre, radius = _circle(ring[0], ring[count // 3], ring[2 * count // 3])
        if all(abs(abs(spot - centre) - radius) < _ON_CIRCLE_MM for spot in ring):
            half, left = count // 2, _area(points) > 0
            both = [_bulge(ring[0], ring[half], centre, left), _bulge(ring[half], ring[0], centre, left)]
            return Contour(points[[0, half]], np.array(both))
    first = int(np.argmin(seeds))  # starts where no arc is under way
    points, gentle = np.roll(points, -first, axis=0), np.roll(seeds, -first).tolist()
    closed = [complex(x, y) for x, y in (*points, points[0])]
    kept: list[int] = []
    bulges: list[float] = []
    at = 0
    while at < count:
        end, bulge = _run(closed, gentle, at, deviation_mm)
        kept.append(at)
        bulges.append(bulge)
        at = end
    return Contour(*_merged(closed, kept, bulges, deviation_mm))


def _merged(closed: list[complex], kept: list[int], bulges: list[float], deviation_mm: float) -> tuple[Array, Array]:
    """Arcs that follow each other on one circle as one, up to half a turn; points (k, 2) and bulges (k,)."""
    ends = [*kept[1:], len(closed) - 1]
    starts, out = [kept[0]], [bulges[0]]
    for at, end, bulge in zip(kept[1:], ends[1:], bulges[1:], strict=True):
        both = _one_arc(closed, starts[-1], end, deviation_mm / 2.0) if bulge * out[-1] > 0.0 else 0.0
        if both * bulge > 0.0 and abs(both) < 1.0:
            out[-1] = both
        else:
            starts.append(at)
            out.append(bulge)
    return np.array([(closed[at].real, closed[at].imag) for at in starts]), np.array(out)


def _one_arc(closed: list[complex], at: int, end: int, deviation_mm: float) -> float:
    """Bulge of the arc from corner `at` to `end`; 0 where a corner between leaves it or a chord is none of it."""
    centre, radius = _circle(closed[at], closed[(at + end) // 2], closed[end])
    for here in range(at, end):
        far = abs(abs(closed[here] - centre) - radius) > deviation_mm
        if far or abs(closed[here + 1] - closed[here]) ** 2 > 16.0 * radius * _SAGITTA_MM:
            return 0.0
    return _bulge(closed[at], closed[end], centre, _turn(closed[at], closed[at + 1], closed[at + 2]) > 0.0)


def _cleaned(points: Array) -> Array:
    """Without doubled points and without points in the middle of a straight run."""
    points = points[np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > _SHORT_MM]
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    dot = np.sum(before * after, axis=1)
    height = np.abs(cross) / np.maximum(np.linalg.norm(before + after, axis=1), 1e-12)
    return np.asarray(points[(height > 1e-7) | (dot < 0.0)])


def _seeds(points: Array) -> NDArray[np.bool_]:
    """Whether each corner is one of a flattened arc: gentle turn, little sagitta, and a neighbour on its circle."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turned = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], np.sum(before * after, axis=1))
    chord = np.minimum(np.linalg.norm(before, axis=1), np.linalg.norm(after, axis=1))
    sagitta = chord * np.abs(turned) / 8.0
    return np.asarray((np.abs(turned) < _TURN_MOST_RAD) & (np.abs(turned) > _TURN_LEAST_RAD) & (sagitta < _SAGITTA_MM))


def _run(closed: list[complex], seeds: list[bool], at: int, deviation_mm: float) -> tuple[int, float]:
    """Where the run that starts at `at` ends, and its bulge; a straight run ends at the next point."""
    count = len(closed) - 1
    if at + 4 > count or not (seeds[at + 1] and seeds[min(at + 2, count - 1)]):
        return at + 1, 0.0
    first = at + 1 if at + 3 <= count and seeds[(at + 3) % count] else at
    centre, radius = _circle(closed[first], closed[first + 1], closed[first + 2])
    if not radius <= 1e5 or abs(abs(closed[at] - centre) - radius) > deviation_mm:
        return at + 1, 0.0
    left = _turn(closed[at], closed[at + 1], closed[at + 2]) > 0.0
    end = at + 2
    while end < count and seeds[end]:
        off = abs(abs(closed[end + 1] - centre) - radius)
        same = (_turn(closed[end - 1], closed[end], closed[end + 1]) > 0.0) == left
        sagitta = abs(closed[end + 1] - closed[end]) ** 2 / (8.0 * radius)
        if not same or sagitta > 2 * _SAGITTA_MM or off > deviation_mm:
            break
        end += 1
        if off > _ON_CIRCLE_MM:
            break  # a chord cut short ends the arc
    bulge = _one_arc(closed, at, end, deviation_mm) if end - at >= 3 else 0.0
    return (end, bulge) if bulge else (at + 1, 0.0)


def _turn(a: complex, b: complex, c: complex) -> float:
    return ((b - a).conjugate() * (c - b)).imag


def _area(points: Array) -> float:
    after = np.roll(points, -1, axis=0)
    return float(np.sum(points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1])) / 2.0


def _circle(a: complex, b: complex, c: complex) -> tuple[complex, float]:
    """Centre and radius of the circle through three points; an endless radius where they lie on one line."""
    u, v = b - a, c - a
    cross = 2.0 * (u.conjugate() * v).imag
    if abs(cross) < 1e-14:
        return a, float("inf")
    uu, vv = abs(u) ** 2, abs(v) ** 2
    away = complex(v.imag * uu - u.imag * vv, u.real * vv - v.real * uu) / cross
    return a + away, abs(away)


def _bulge(start: complex, end: complex, centre: complex, left: bool) -> float:
    """Bulge of the arc from start to end about a centre, turning counter-clockwise when `left`."""
    sweep = phase((start - centre).conjugate() * (end - centre))
    if left and sweep <= 0.0:
        sweep += 2.0 * pi
    if not left and sweep >= 0.0:
        sweep -= 2.0 * pi
    return tan(sweep / 4.0)
