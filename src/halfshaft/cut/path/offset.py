"""Where the middle of the cut runs beside a drawn edge. Outline and distance in, closed curves out, arcs kept as arcs.

Every point that lies at the distance from the outline, on its right, and no nearer to any of it, is on one of few
curves: the runs shifted sideways, and arcs about the corners. They are split wherever two meet; the pieces that come
nearer to the outline than the distance are dropped; what stays closes up. See docs/tool_path.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, hypot, pi, sqrt, tan

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from halfshaft.cut.path.curve import STRAIGHT, Curve
from halfshaft.geometry import Contour
from halfshaft.geometry.arcs import arced
from halfshaft.geometry.contour import arc_of

Array = NDArray[np.float64]

_NEAR_MM = 2e-6  # so much nearer than the distance still counts as at it
_MEET_MM = 2e-5  # ends so near are one
_CORNER_RAD = 1e-7
_LEAST_MM2 = 1e-4
_SAME_AREA_MM = 2e-3  # times the length round: more apart than this from the plain way is a fault


@dataclass(frozen=True, slots=True)
class _Run:
    """A straight run, or an arc where `radius` is above nought."""

    start: complex
    end: complex
    centre: complex = 0j
    radius: float = 0.0
    first: float = 0.0  # angle of the start
    sweep: float = 0.0

    def at(self, share: float) -> complex:
        if self.radius == 0.0:
            return self.start + (self.end - self.start) * share
        angle = self.first + self.sweep * share
        return self.centre + self.radius * complex(np.cos(angle), np.sin(angle))

    @property
    def length(self) -> float:
        return abs(self.sweep) * self.radius if self.radius else abs(self.end - self.start)

    def shares(self, spot: complex) -> list[float]:
        """Where along it the spot, known to lie on its line or circle, is; empty when beyond its ends."""
        slack = _MEET_MM / max(self.length, _MEET_MM)
        if self.radius == 0.0:
            way = self.end - self.start
            share = ((spot - self.start).conjugate() * way).real / abs(way) ** 2
        else:
            out = spot - self.centre
            turned = (atan2(out.imag, out.real) - self.first) * (1.0 if self.sweep > 0 else -1.0) % (2.0 * pi)
            if turned > 2.0 * pi - slack * abs(self.sweep):
                turned = 0.0
            share = turned / abs(self.sweep)
        return [min(max(share, 0.0), 1.0)] if -slack <= share <= 1.0 + slack else []


def offset(contour: Contour, distance_mm: float) -> tuple[Curve, ...]:
    """Closed curves at `distance_mm` to the right of the outline: around an outer edge, within an opening.

    They run the way the outline does. None where an opening is too narrow. A mouth narrower than twice the distance
    closes, and what lies behind it is a curve of its own.
    """
    outline = _cleaned(contour)
    flat = Polygon(outline.flattened_mm(1e-3))
    for nudge in (0.0, 1e-7, -1e-7, 1e-6):  # three curves through one point are parted by a hair
        found = _tried(outline, distance_mm + nudge)
        if found is not None and _agrees(found, outline, flat, distance_mm):
            return found
    return _plain(outline, distance_mm)


def _cleaned(contour: Contour) -> Contour:
    """Without runs of no length."""
    chord = np.linalg.norm(np.roll(contour.points_mm, -1, axis=0) - contour.points_mm, axis=1)
    keep = chord > 1e-7
    return Contour(contour.points_mm[keep], contour.bulge[keep])


def _agrees(found: tuple[Curve, ...], outline: Contour, flat: Polygon, distance_mm: float) -> bool:
    """Whether the area is what a buffer of many short chords gives."""
    outer = outline.area_mm2 > 0
    wide = flat.buffer(distance_mm if outer else -distance_mm, quad_segs=64)
    own = sum(curve.area_mm2 for curve in found)
    return bool(abs(abs(own) - wide.area) <= _SAME_AREA_MM * outline.length_mm + 0.01)


def _plain(outline: Contour, distance_mm: float) -> tuple[Curve, ...]:
    """The offset of chords with its arcs made again, for an outline that defeats the exact way."""
    outer = outline.area_mm2 > 0
    wide = Polygon(outline.flattened_mm(1e-3)).buffer(0).buffer(distance_mm if outer else -distance_mm, quad_segs=64)
    rings = []
    for piece in shapely.get_parts(wide):
        turned = orient(piece, 1.0 if outer else -1.0)
        rings += [turned.exterior, *turned.interiors]
    return tuple(Curve.of_contour(arced(np.asarray(ring.coords)[:-1])) for ring in rings if len(ring.coords) > 3)


def _tried(outline: Contour, distance_mm: float) -> tuple[Curve, ...] | None:
    runs = _candidates(outline, distance_mm)
    if not runs:
        return ()
    pieces = _split(runs)
    middles = np.array([[m.real, m.imag] for m in (runs[i].at((a + b) / 2.0) for i, a, b in pieces)])
    far = _distance(middles, outline) >= distance_mm - _NEAR_MM
    kept = [piece for piece, good in zip(pieces, far, strict=True) if good]
    loops = _stitched(runs, kept)
    if loops is None:
        return None
    curves = tuple(_curve(runs, loop) for loop in loops)
    return tuple(curve for curve in curves if abs(curve.area_mm2) > _LEAST_MM2)


def _candidates(outline: Contour, distance: float) -> list[_Run]:
    starts = outline.points_mm
    ends = np.roll(starts, -1, axis=0)
    runs: list[_Run] = []
    ways: list[tuple[complex, complex]] = []  # direction at start and end of each run
    for start, end, bulge in zip(starts, ends, outline.bulge, strict=True):
        a, b = complex(*start), complex(*end)
        if abs(bulge) < STRAIGHT:
            way = (b - a) / abs(b - a)
            ways.append((way, way))
            runs.append(_Run(a - 1j * way * distance, b - 1j * way * distance))
            continue
        middle, radius, first, sweep = arc_of(start, end, float(bulge))
        centre, turn = complex(*middle), 1.0 if sweep > 0 else -1.0
        ways.append((1j * turn * (a - centre) / radius, 1j * turn * (b - centre) / radius))
        wide = radius + turn * distance
        if wide > 1e-9:
            grown = wide / radius
            ends_of = (centre + (a - centre) * grown, centre + (b - centre) * grown)
            runs.append(_Run(*ends_of, centre, wide, first, sweep))
    for number, spot in enumerate(starts):
        before, after = ways[number - 1][1], ways[number][0]
        bend = before.conjugate() * after
        angle = atan2(bend.imag, bend.real)
        if angle > _CORNER_RAD:
            corner, out = complex(*spot), -1j * before
            first = atan2(out.imag, out.real)
            ends_of = (corner + out * distance, corner - 1j * after * distance)
            runs.append(_Run(*ends_of, corner, distance, first, angle))
    return runs


def _split(runs: list[_Run]) -> list[tuple[int, float, float]]:
    """Pieces between meetings: number of the run, share of its length where the piece begins and ends."""
    cuts: list[list[float]] = [[0.0, 1.0] for _ in runs]
    boxes = np.array([_box(run) for run in runs])
    low, high = boxes[:, :2] - _MEET_MM, boxes[:, 2:] + _MEET_MM
    near = np.all(low[:, None] <= high[None], axis=2) & np.all(low[None] <= high[:, None], axis=2)
    for i, j in np.argwhere(np.triu(near, 1)):
        for spot in _meetings(runs[i], runs[j]):
            on_i, on_j = runs[i].shares(spot), runs[j].shares(spot)
            if on_i and on_j:
                cuts[i] += on_i
                cuts[j] += on_j
    out = []
    for number, run in enumerate(runs):
        least = 1e-7 / max(run.length, 1e-7)
        at = sorted(cuts[number])
        shares = [0.0]
        for share in at:
            if share - shares[-1] > least:
                shares.append(share)
        shares[-1] = 1.0 if 1.0 - shares[-1] <= least or len(shares) == 1 else shares[-1]
        out += [(number, a, b) for a, b in pairwise(shares)]
    return out


def _box(run: _Run) -> tuple[float, float, float, float]:
    spots = [run.start, run.end]
    if run.radius:
        for quarter in range(4):
            angle = quarter * pi / 2.0
            turned = (angle - run.first) * (1.0 if run.sweep > 0 else -1.0) % (2.0 * pi)
            if turned < abs(run.sweep):
                spots.append(run.centre + run.radius * 1j**quarter)
    x, y = [s.real for s in spots], [s.imag for s in spots]
    return min(x), min(y), max(x), max(y)


def _meetings(a: _Run, b: _Run) -> list[complex]:
    if a.radius == 0.0 and b.radius == 0.0:
        u, v = a.end - a.start, b.end - b.start
        cross = (u.conjugate() * v).imag
        if abs(cross) < 1e-12 * abs(u) * abs(v):
            return [a.start, a.end, b.start, b.end] if _on_line(a, b) else []
        share = ((b.start - a.start).conjugate() * v).imag / cross
        return [a.start + u * share]
    if a.radius == 0.0:
        return _line_circle(a, b)
    if b.radius == 0.0:
        return _line_circle(b, a)
    apart = b.centre - a.centre
    gap = abs(apart)
    if gap < 1e-7:
        return [a.start, a.end, b.start, b.end] if abs(a.radius - b.radius) < _MEET_MM else []
    along = (gap**2 + a.radius**2 - b.radius**2) / (2.0 * gap)
    square = a.radius**2 - along**2
    return _either(a.centre + apart / gap * along, 1j * apart / gap, square, a.radius)


def _line_circle(line: _Run, arc: _Run) -> list[complex]:
    way = (line.end - line.start) / abs(line.end - line.start)
    foot = line.start + way * ((arc.centre - line.start).conjugate() * way).real
    return _either(foot, way, arc.radius**2 - abs(foot - arc.centre) ** 2, arc.radius)


def _either(foot: complex, way: complex, square: float, radius: float) -> list[complex]:
    if square < -2.0 * radius * _NEAR_MM:
        return []
    reach = sqrt(max(square, 0.0))
    return [foot] if reach < 1e-9 else [foot + way * reach, foot - way * reach]


def _on_line(a: _Run, b: _Run) -> bool:
    way = (a.end - a.start) / abs(a.end - a.start)
    return abs(((b.start - a.start).conjugate() * way).imag) < _MEET_MM


def _distance(points: Array, outline: Contour) -> Array:
    """Distance (n,) of points (n, 2) from the outline, arcs exact."""
    best = np.full(len(points), np.inf)
    ends = np.roll(outline.points_mm, -1, axis=0)
    for start, end, bulge in zip(outline.points_mm, ends, outline.bulge, strict=True):
        away = points - start
        if abs(bulge) < STRAIGHT:
            way = end - start
            share = np.clip(away @ way / float(way @ way), 0.0, 1.0)
            best = np.minimum(best, np.linalg.norm(away - share[:, None] * way, axis=1))
            continue
        centre, radius, first, sweep = arc_of(start, end, float(bulge))
        out = points - centre
        turned = (np.arctan2(out[:, 1], out[:, 0]) - first) * np.sign(sweep) % (2.0 * np.pi)
        rim = np.abs(np.linalg.norm(out, axis=1) - radius)
        tip = np.minimum(np.linalg.norm(away, axis=1), np.linalg.norm(points - end, axis=1))
        best = np.minimum(best, np.where(turned <= abs(sweep), rim, tip))
    return best


def _stitched(runs: list[_Run], pieces: list[tuple[int, float, float]]) -> list[list[tuple[int, float, float]]] | None:
    """Pieces in loops, each end on the next start; None where some stay open. Loose ends are dropped first."""
    left = list(pieces)
    while left:
        starts = np.array([runs[i].at(a) for i, a, _ in left])
        ends = np.array([runs[i].at(b) for i, _, b in left])
        joins = np.abs(ends[:, None] - starts[None]) < _MEET_MM
        good = joins.any(axis=1) & joins.any(axis=0)
        if good.all():
            break
        left = [piece for piece, keep in zip(left, good, strict=True) if keep]
    if not left:
        return []
    loops = []
    free = set(range(len(left)))
    while free:
        first = min(free)
        loop, at = [first], first
        free.discard(first)
        while True:
            onward = np.flatnonzero(joins[at])
            if (first in onward and len(loop) > 1) or (first in onward and at == first):
                break
            open_now = [int(n) for n in onward if n in free]
            if not open_now:
                return None
            at = min(open_now, key=lambda n: _bend(runs, left[at], left[n]))  # keeps to the right where ways part
            loop.append(at)
            free.discard(at)
        loops.append([left[n] for n in loop])
    return loops


def _bend(runs: list[_Run], before: tuple[int, float, float], after: tuple[int, float, float]) -> float:
    """Turn to the left from one piece into the next."""

    def way(run: _Run, share: float) -> complex:
        if run.radius == 0.0:
            return run.end - run.start
        return 1j * (run.at(share) - run.centre) * (1.0 if run.sweep > 0 else -1.0)

    turn = way(runs[before[0]], before[2]).conjugate() * way(runs[after[0]], after[1])
    return atan2(turn.imag, turn.real)


def _curve(runs: list[_Run], loop: list[tuple[int, float, float]]) -> Curve:
    """The loop's pieces as one closed curve; pieces of one run that follow each other are one again."""
    merged: list[tuple[int, float, float]] = []
    for number, a, b in loop:
        if merged and merged[-1][0] == number and abs(merged[-1][2] - a) < 1e-12:
            merged[-1] = (number, merged[-1][1], b)
        else:
            merged.append((number, a, b))
    if len(merged) > 1 and merged[0][0] == merged[-1][0] and abs(merged[-1][2] - merged[0][1]) < 1e-12:
        merged[0] = (merged[0][0], merged[-1][1], merged[0][2])
        merged.pop()
    merged = [m for m in merged if runs[m[0]].length * (m[2] - m[1]) > _MEET_MM] or merged
    spots = [runs[i].at(a) for i, a, _ in merged]
    points, bulges = [], []
    for (number, a, b), spot in zip(merged, spots, strict=True):
        sweep = runs[number].sweep * (b - a)
        halves = 2 if abs(sweep) > pi else 1  # a bulge grows without bound toward a whole turn
        for half in range(halves):
            points.append(spot if half == 0 else runs[number].at((a + b) / 2.0))
            bulges.append(tan(sweep / halves / 4.0))
    points.append(points[0])
    return Curve(np.array([[p.real, p.imag] for p in points]), np.array(bulges))


def width_at(contour: Contour) -> float:
    """Twice the radius of the largest disc that fits within, to 0.01 mm."""
    figure = contour.polygon(0.005).buffer(0)
    if figure.is_empty:
        return 0.0
    circle = shapely.maximum_inscribed_circle(figure, tolerance=0.005)
    return 2.0 * hypot(*(np.diff(np.asarray(circle.coords), axis=0)[0]))
