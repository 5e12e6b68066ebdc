"""Where a cut may begin. A closed path and what it must keep clear of in; ways on and off the path out, best first.

A lead lies on the scrap side and touches the path; it keeps half a kerf off every part, a kerf off every other cut,
clear of corners, inside the sheet; the pierced spot, wider than the kerf, keeps off the parts too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from halfshaft.cut.path.curve import STRAIGHT, Curve
from halfshaft.cut.path.model import Setup

Array = NDArray[np.float64]

_SIZES = (1.0, 0.75, 0.5, 0.35, 0.22)
_TOUCH_MM = 0.012  # chords of parts and leads lie so near the true arcs; no more than half of half a kerf
_FEWEST = 6  # places enough to choose among; else shorter leads are looked at too
_MOST = 14
_CORNER_DEG = 8.0
_FLAT_MM = 0.005  # chords of a lead lie so near its arc
_LONG = 2.0  # in a hole whose middle is further than so many lead-ins the torch pierces nearer to the edge


@dataclass(frozen=True, eq=False)
class Start:
    """One way to begin: where on the path, the way on and the way off. `worth` is higher for better ones."""

    along_mm: float
    lead_in: Curve | None
    lead_out: Curve | None
    worth: float
    tight: bool = False  # the pierced spot reaches a part

    @cached_property
    def line(self) -> BaseGeometry | None:
        leads = [lead.line() for lead in (self.lead_in, self.lead_out) if lead is not None]
        return shapely.union_all(leads) if leads else None

    def near(self, other: Start, reach_mm: float) -> bool:
        """Whether any of its leads comes so near to one of the other's."""
        if self.lead_in is None or other.lead_in is None:
            return False
        apart = self.lead_in.end_mm - other.lead_in.end_mm  # long leads apart are no nearer than their ends less both
        if float(np.linalg.norm(apart)) > reach_mm + self._span_mm + other._span_mm:
            return False
        return bool(shapely.distance(self.line, other.line) < reach_mm)

    @cached_property
    def _span_mm(self) -> float:
        return sum(lead.length_mm for lead in (self.lead_in, self.lead_out) if lead is not None)


class Surroundings:
    """All parts and paths of a sheet, asked what lies about a place."""

    def __init__(self, room: Polygon, parts: Sequence[BaseGeometry], paths: Sequence[BaseGeometry]) -> None:
        self.room = room  # where the middle of the torch may be
        shapely.prepare(room)
        self._parts, self._paths = np.array(parts, dtype=object), np.array(paths, dtype=object)
        self._part_tree, self._path_tree = shapely.STRtree(self._parts), shapely.STRtree(self._paths)

    def parts_near(self, about: BaseGeometry) -> BaseGeometry:
        return shapely.union_all(self._parts[self._part_tree.query(about)])

    def cuts_into(self, path: BaseGeometry, own: int, half_kerf_mm: float) -> bool:
        """Whether a path runs nearer than half a kerf to the metal of any part but its own."""
        near = self._part_tree.query(
            path, predicate="dwithin", distance=half_kerf_mm - min(_TOUCH_MM, half_kerf_mm / 2.0)
        )
        return any(int(number) != own for number in near)

    def paths_near(self, about: BaseGeometry, besides: Sequence[int]) -> BaseGeometry:
        found = [int(n) for n in self._path_tree.query(about) if int(n) not in besides]
        return shapely.union_all(self._paths[found])


def starts(
    path: Curve,
    setup: Setup,
    around: Surroundings,
    besides: Sequence[int],
    round_hole: bool = False,
    off: bool = False,
    square: bool = False,
) -> list[Start]:
    """Ways to begin a closed path that runs with the part on the good side, best first; empty where none has room.

    `besides`: numbers of paths that need no clearance, the path's own among them; `off`: with a way off at the end;
    `square`: only straight ones, square to the path, which leave the edge behind the start whole.
    """
    reach = max(setup.lead_in_mm, setup.lead_out_mm) + setup.pierce_width_mm + 2.0 * setup.kerf_mm
    about = shapely.box(*path.line().bounds).buffer(reach)
    parts, paths = around.parts_near(about), around.paths_near(about, besides)
    shapely.prepare(parts)
    shapely.prepare(paths)
    places = _places(path, setup)
    found: list[Start] = []
    for tight in (False, True):
        for share in _SIZES:
            leads = []
            for along, worth in places:
                spot, way = path.at(along)
                ways = (
                    _square_leads(spot, way, share, setup)
                    if square
                    else _leads_in(spot, way, share, path, setup, round_hole)
                )
                leads += [(along, worth, lead) for lead in ways]
            good = _clear([lead for _, _, lead in leads], setup, around.room, parts, paths, tight)
            for (along, worth, lead), fits in zip(leads, good, strict=True):
                if fits:
                    found.append(Start(along, lead, None, worth + share, tight))
            if len(found) >= (_MOST if square else _FEWEST):
                break
        if found:
            break
    found.sort(key=lambda start: (-round(start.worth, 3), start.along_mm))
    found = found if square else found[:_MOST]
    return [_with_way_off(s, path, setup, around.room, parts, paths) for s in found] if off else found


def corners_mm(path: Curve, kerf_mm: float) -> Array:
    """Lengths along the path where the drawn edge has a corner: the path turns there, or rounds it at half a kerf."""
    ends = np.cumsum(path.lengths_mm)
    sweep = np.abs(4.0 * np.arctan(path.bulge))
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where(sweep > STRAIGHT, path.lengths_mm / sweep, np.inf)
    rounds = (np.abs(radius - kerf_mm / 2.0) < 1e-3) & (np.degrees(sweep) > _CORNER_DEG) & (np.degrees(sweep) < 359.0)
    middles = ends[rounds] - path.lengths_mm[rounds] / 2.0
    return np.concatenate([path.corners_mm(_CORNER_DEG), middles])


def _places(path: Curve, setup: Setup) -> list[tuple[float, float]]:
    """Lengths along at which to try, and what each is worth: far from corners, on a straight run."""
    length = path.length_mm
    count = int(np.clip(length / 8.0, 8, 40))
    spread = (np.arange(count) + 0.5) * length / count
    ends = np.cumsum(path.lengths_mm)
    middles = ends - path.lengths_mm / 2.0
    straight = np.abs(path.bulge) < STRAIGHT
    at = np.unique(np.round(np.concatenate([spread, middles[straight & (path.lengths_mm > 2.0)]]), 6))
    corners = corners_mm(path, setup.kerf_mm)
    if len(corners):
        apart = np.abs(at[:, None] - corners[None])
        from_corner = np.minimum(apart, length - apart).min(axis=1)
    else:
        from_corner = np.full(len(at), np.inf)
    clear = from_corner >= setup.corner_clear_mm
    if not clear.any():
        clear = from_corner >= from_corner.max() - 1e-6
    flat = straight[np.minimum(np.searchsorted(ends, at), len(ends) - 1)]
    worth = np.minimum(from_corner, 25.0) / 25.0 + 0.5 * flat
    return [(float(a), float(w)) for a, w, good in zip(at, worth, clear, strict=True) if good]


def _scrap(way: Array, setup: Setup) -> tuple[Array, float]:
    """Direction to the scrap, and which way a lead turns: 1 for counter-clockwise."""
    left = np.array([-way[1], way[0]])
    return (left, 1.0) if setup.good_side == "right" else (-left, -1.0)


def _square_leads(spot: Array, way: Array, share: float, setup: Setup) -> list[Curve]:
    return [Curve.of_points([spot + _scrap(way, setup)[0] * setup.lead_in_mm * share, spot])]


def _leads_in(spot: Array, way: Array, share: float, path: Curve, setup: Setup, round_hole: bool) -> list[Curve]:
    side, turn = _scrap(way, setup)
    length = setup.lead_in_mm * share
    if setup.lead == "line":
        slanted = (side - way) / np.sqrt(2.0)
        runs = [spot + slanted * length, spot + side * length]
        middle = path.length_mm / (2.0 * np.pi)
        if round_hole and middle <= _LONG * setup.lead_in_mm:
            runs.append(spot + side * middle)
        return [Curve.of_points([run, spot]) for run in runs]
    quarter = length / (np.pi / 2.0)
    half = [length / np.pi]
    middle = path.length_mm / (2.0 * np.pi) / 2.0
    if round_hole and middle * np.pi <= _LONG * setup.lead_in_mm:
        half.append(middle * min(1.0, share * 1.5))
    arcs = (
        []
        if round_hole
        else [Curve(np.array([spot + (side - way) * quarter, spot]), np.array([turn * np.tan(np.pi / 8)]))]
    )
    return arcs + [Curve(np.array([spot + 2.0 * side * r, spot]), np.array([turn])) for r in half]


def _with_way_off(
    start: Start, path: Curve, setup: Setup, room: Polygon, parts: BaseGeometry, paths: BaseGeometry
) -> Start:
    spot, way = path.at(start.along_mm)
    side, turn = _scrap(way, setup)
    for share in (1.0, 0.6):
        length = setup.lead_out_mm * share
        if length < 1e-3:
            break
        if setup.lead == "line":
            off = Curve.of_points([spot, spot + (side + way) / np.sqrt(2.0) * length])
        else:
            r = length / (np.pi / 2.0)
            off = Curve(np.array([spot, spot + (side + way) * r]), np.array([turn * np.tan(np.pi / 8)]))
        line = off.line()
        clear = parts.is_empty or shapely.distance(line, parts) >= _least_mm(setup.kerf_mm / 2.0)
        if clear and (paths.is_empty or shapely.distance(line, paths) >= setup.kerf_mm) and room.covers(line):
            return Start(start.along_mm, start.lead_in, off, start.worth, start.tight)
    return start


def _lines(leads: Sequence[Curve]) -> NDArray[np.object_]:
    """Leads of one run each as chords, all at once."""
    start, end = (np.array([lead.points_mm[place] for lead in leads]) for place in (0, -1))
    bulge = np.array([lead.bulge[0] for lead in leads])[:, None]
    curved = np.abs(bulge) > STRAIGHT
    bent = np.where(curved, bulge, 1.0)
    way = end - start
    left = np.column_stack([-way[:, 1], way[:, 0]])
    centre = (start + end) / 2.0 + left * (1.0 - bent**2) / (4.0 * bent)
    away = start - centre
    radius = float(np.hypot(away[:, 0], away[:, 1])[curved[:, 0]].max(initial=_FLAT_MM))
    count = int(np.clip(np.pi / (2.0 * np.arccos(1.0 - min(_FLAT_MM / radius, 1.0))), 4, 200)) + 1
    share = np.linspace(0.0, 1.0, count + 1)
    angle = np.arctan2(away[:, 1], away[:, 0])[:, None] + 4.0 * np.arctan(bent) * share
    rim = np.hypot(away[:, 0], away[:, 1])[:, None, None] * np.stack([np.cos(angle), np.sin(angle)], axis=2)
    straight = start[:, None] + way[:, None] * share[:, None]
    return np.asarray(shapely.linestrings(np.where(curved[:, :, None], centre[:, None] + rim, straight)))


def _least_mm(wanted_mm: float) -> float:
    """What a clearance measures between chords where it is kept between true arcs."""
    return wanted_mm - min(_TOUCH_MM, wanted_mm / 2.0)


def _clear(
    leads: Sequence[Curve], setup: Setup, room: Polygon, parts: BaseGeometry, paths: BaseGeometry, tight: bool
) -> NDArray[np.bool_]:
    lines = _lines(leads)
    spots = shapely.points(np.array([lead.start_mm for lead in leads]))
    half, spot = setup.kerf_mm / 2.0, setup.pierce_width_mm / 2.0
    good = np.asarray(shapely.covers(room, lines))
    if not parts.is_empty:
        good &= shapely.distance(lines, parts) >= _least_mm(half)
        good &= shapely.distance(spots, parts) >= _least_mm(half if tight else spot)
    if not paths.is_empty:
        good &= shapely.distance(lines, paths) >= setup.kerf_mm
        good &= shapely.distance(spots, paths) >= half + spot
    return np.asarray(good, dtype=bool)


def from_open_end(line_mm: Array, setup: Setup, around: Surroundings, besides: Sequence[int]) -> Curve | None:
    """A straight way on to a slit whose first point lies on the part's edge, from outside; None without room."""
    back = (line_mm[0] - line_mm[1]) / np.linalg.norm(line_mm[0] - line_mm[1])
    reach = setup.lead_in_mm + 2.0 * (setup.pierce_width_mm + setup.kerf_mm)
    about = Point(line_mm[0]).buffer(reach)
    parts, paths = around.parts_near(about), around.paths_near(about, besides)
    for share in _SIZES:
        length = max(setup.lead_in_mm * share, setup.pierce_width_mm / 2.0 + setup.kerf_mm)
        lead = Curve.of_points([line_mm[0] + back * length, line_mm[0]])
        # the lead ends on the part's edge: only what lies outside of it must keep clear
        outside = Curve.of_points([lead.start_mm, line_mm[0] + back * (setup.kerf_mm / 2.0 + 0.02)])
        if _clear([outside], setup, around.room, parts, paths, tight=False)[0]:
            return lead
    return None
