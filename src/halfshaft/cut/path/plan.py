"""The tool path of one sheet. Stock, parts where they lie, and how the table runs in; every cut in its order out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from halfshaft.cut.layers import Disc, Figure, Path
from halfshaft.cut.path.choose import Run, free, in_order
from halfshaft.cut.path.curve import Curve
from halfshaft.cut.path.lead import Start, Surroundings, from_open_end, starts
from halfshaft.cut.path.marking import marks_of
from halfshaft.cut.path.model import Cut, OnSheet, Setup, Stock
from halfshaft.cut.path.offset import offset, width_at
from halfshaft.cut.path.order import close_pierces
from halfshaft.geometry import Contour
from halfshaft.geometry.contour import arc_of

Array = NDArray[np.float64]

_AT_EDGE_MM = 0.05
_FLAT_MM = 0.005
_NOTHING_MM2 = 1e-6


@dataclass(frozen=True, eq=False)
class Planned:
    """Cuts in order; what could not be cut as drawn, and why."""

    cuts: tuple[Cut, ...]
    close_pierces: int
    drill: tuple[tuple[str, tuple[float, float], float], ...]
    narrow: tuple[str, ...]  # parts with an opening that the kerf does not fit into
    no_lead: tuple[str, ...]  # parts with a cut that is pierced on its own edge
    tight: tuple[str, ...]  # parts with a pierce that reaches an edge
    off_sheet: tuple[str, ...]  # parts whose cut leaves the sheet
    few_tabs: tuple[str, ...]
    cuts_into: tuple[str, ...]  # parts whose cut takes metal of a neighbour


def planned(stock: Stock, parts: Sequence[OnSheet], setup: Setup) -> Planned:
    """Raises ValueError where a part has no outline, or one that encloses nothing."""
    runs: list[Run] = []
    metal: list[BaseGeometry] = []
    drill: list[tuple[str, tuple[float, float], float]] = []
    narrow: list[str] = []
    for number, part in enumerate(parts):
        own, shape, too_small, closed = _runs_of(part, number, setup)
        if closed:
            narrow.append(part.name)
        for run in own:
            run.before = {len(runs) + n for n in run.before}
        runs += own
        metal.append(shape)
        drill += [(part.name, spot, wide) for spot, wide in too_small]
    _nested(runs, metal)
    room = stock.outline.buffer(-(setup.edge_clear_mm + setup.kerf_mm / 2.0))
    for keep in stock.no_go:
        room = room.difference(keep.buffer(setup.kerf_mm / 2.0))
    lines = [run.path.line() for run in runs]
    around = Surroundings(room, metal, lines)
    off_sheet = {parts[run.part].name for run, line in zip(runs, lines, strict=True) if not room.covers(line)}
    half = setup.kerf_mm / 2.0
    into = {parts[r.part].name for r, line in zip(runs, lines, strict=True) if around.cuts_into(line, r.part, half)}
    slits = _slit_cuts(runs, parts, setup, around)
    open_leads = [ways[0].lead_in.line() for ways in slits.values() if len(ways) == 1 and ways[0].lead_in is not None]
    _begin(runs, setup, Surroundings(room, metal, [*lines, *open_leads]))
    tabbed, few_tabs = _tabbed(runs, setup)
    torch = in_order(runs, slits, tabbed, setup, _corner(stock), [part.name for part in parts])
    marks = marks_of(parts, [spot for _, spot, _ in drill], setup, _corner(stock)) if setup.marker else ()
    no_lead = {parts[run.part].name for run in runs if run.kind not in ("slit",) and run.chosen is None}
    tight = {parts[run.part].name for run in runs if run.chosen is not None and run.chosen.tight}
    cuts = (*marks, *torch)
    spots = np.array([cut.whole.start_mm for cut in torch]).reshape(-1, 2)
    close = close_pierces(spots, range(len(torch)), setup.heat_gap_mm)
    names = [parts[n].name for n in sorted(few_tabs)]
    return Planned(
        cuts, close, tuple(drill), tuple(narrow), tuple(sorted(no_lead)), tuple(sorted(tight)),
        tuple(sorted(off_sheet)), tuple(names), tuple(sorted(into)),
    )  # fmt: skip


def _corner(stock: Stock) -> Array:
    """The table's zero: lower left corner of the box about the sheet."""
    return np.array(stock.outline.bounds[:2])


def _runs_of(
    part: OnSheet, number: int, setup: Setup
) -> tuple[list[Run], BaseGeometry, list[tuple[tuple[float, float], float]], bool]:
    """Cuts of one part, its metal, holes too small to cut (where, how wide), whether an opening is too narrow."""
    edges = [f.shape for f in part.figures if f.layer == "cut" and isinstance(f.shape, Contour)]
    if not edges or max(abs(edge.area_mm2) for edge in edges) < _NOTHING_MM2:
        raise ValueError(f"part '{part.name}' has no outline, or one that encloses nothing")
    outer = max(edges, key=lambda edge: abs(edge.area_mm2))
    outer = outer if outer.area_mm2 > 0 else outer.reversed()
    half = setup.kerf_mm / 2.0
    runs: list[Run] = []
    drill: list[tuple[tuple[float, float], float]] = []
    metal: BaseGeometry = _solid(outer)
    rim = metal.boundary
    closed = False
    for figure in part.figures:
        shape = figure.shape
        if isinstance(shape, Contour) and abs(shape.area_mm2) < _NOTHING_MM2:
            closed |= figure.layer in ("bore", "slit", "cut")
            continue
        if figure.layer == "bore":
            wide = _width(shape)
            if wide < setup.least_hole_mm or wide <= setup.kerf_mm:
                drill += [(spot, wide) for spot in _centres(shape)]
                continue
            slow = wide < setup.slow_under_mm
            feed = setup.feed_mm_min * (setup.slow_share if slow else 1.0)
            ring = _ring(shape)
            runs += [Run("bore", number, path, feed, slow) for path in _sided(offset(ring, half), setup)]
            metal = metal.difference(_solid(ring))
        elif figure.layer == "slit" and isinstance(shape, Path):
            runs.append(Run("slit", number, Curve.of_points(_from_edge(shape.points_mm, rim)), setup.feed_mm_min))
            metal = metal.difference(runs[-1].path.line().buffer(half))
        elif figure.layer in ("slit", "cut") and isinstance(shape, Contour):
            if any(shape is edge for edge in edges) and abs(abs(shape.area_mm2) - outer.area_mm2) < 1e-9:
                continue
            ring = _ring(shape)
            paths = _sided(offset(ring, half), setup)
            closed |= not paths
            area = _solid(ring)
            runs += [Run("opening", number, path, setup.feed_mm_min, area=area) for path in paths]
            metal = metal.difference(area)
    inner = set(range(len(runs)))
    loops = _sided(offset(outer, half), setup)
    loops = sorted(loops, key=lambda loop: abs(loop.area_mm2))
    if not loops:
        raise ValueError(f"part '{part.name}' has an outline that encloses nothing")
    for loop in loops[:-1]:  # behind a mouth that the kerf closes
        inner.add(len(runs))
        runs.append(Run("opening", number, loop, setup.feed_mm_min, area=loop.contour.polygon()))
    runs.append(Run("outline", number, loops[-1], setup.feed_mm_min, area=loops[-1].contour.polygon(), before=inner))
    return runs, metal, drill, closed


def _solid(ring: Contour) -> BaseGeometry:
    return Polygon(ring.flattened_mm(_FLAT_MM)).buffer(0)  # one that crosses itself is made whole


def _ring(shape: Disc | Contour | Path) -> Contour:
    """The opening's edge, clockwise, so that the metal is on its left."""
    ring = Contour.circle(shape.centre_mm, shape.radius_mm) if isinstance(shape, Disc) else shape
    assert isinstance(ring, Contour)
    return ring if ring.area_mm2 < 0 else ring.reversed()


def _sided(paths: Sequence[Curve], setup: Setup) -> list[Curve]:
    """Paths that have the part on their left, run so that it is on the good side."""
    return [path.reversed() if setup.good_side == "right" else path for path in paths]


def _width(shape: object) -> float:
    return 2.0 * shape.radius_mm if isinstance(shape, Disc) else width_at(shape)  # type: ignore[arg-type]


def _centres(shape: object) -> list[tuple[float, float]]:
    """Where to drill: the middle of a hole, both ends of a slot."""
    if isinstance(shape, Disc):
        return [(float(shape.centre_mm[0]), float(shape.centre_mm[1]))]
    assert isinstance(shape, Contour)
    ends = np.roll(shape.points_mm, -1, axis=0)
    found = [
        arc_of(a, b, float(bulge))[0] for a, b, bulge in zip(shape.points_mm, ends, shape.bulge, strict=True) if bulge
    ]
    spots = found or [np.asarray(shape.polygon().centroid.coords[0])]
    return [(float(spot[0]), float(spot[1])) for spot in spots]


def _from_edge(points_mm: Array, rim: BaseGeometry) -> Array:
    """A slit's points from its open end, where one end lies on the part's edge."""
    at_edge = [rim.distance(Point(points_mm[end])) < _AT_EDGE_MM for end in (0, -1)]
    return points_mm[::-1].copy() if at_edge[1] and not at_edge[0] else points_mm


def _nested(runs: list[Run], metal: Sequence[BaseGeometry]) -> None:
    """A part that lies in another's opening is cut out before the opening is."""
    of_part: dict[int, list[int]] = {}
    for number, run in enumerate(runs):
        of_part.setdefault(run.part, []).append(number)
    spots = [shape.representative_point() for shape in metal]
    tree = shapely.STRtree(spots)
    for run in runs:
        if run.kind == "opening" and run.area is not None:
            for other in tree.query(run.area, predicate="contains"):
                if int(other) != run.part:
                    run.before.update(of_part[int(other)])


def _slit_cuts(
    runs: Sequence[Run], parts: Sequence[OnSheet], setup: Setup, around: Surroundings
) -> dict[int, list[Cut]]:
    """For each slit the ways to cut it: from its open end, else from either end."""
    of_part: dict[int, list[int]] = {}
    for number, run in enumerate(runs):
        of_part.setdefault(run.part, []).append(number)
    out: dict[int, list[Cut]] = {}
    for number, run in enumerate(runs):
        if run.kind != "slit":
            continue
        name, line = parts[run.part].name, run.path.points_mm
        ways = []
        outline = shapely.get_parts(shapely.boundary(around.parts_near(Point(line[0]).buffer(_AT_EDGE_MM))))
        near = min((g.distance(Point(line[0])) for g in outline), default=np.inf)
        if near < setup.kerf_mm and _open_end(line, around, setup):
            lead = from_open_end(line, setup, around, of_part[run.part])
            if lead is not None:
                ways.append(Cut("slit", name, run.path, run.feed_mm_min, lead_in=lead))
        if not ways:
            for path in (run.path, run.path.reversed()):
                ways.append(Cut("slit", name, path, run.feed_mm_min, lead_in=_short_of_end(path, setup)))
        out[number] = ways
    return out


def _open_end(line: Array, around: Surroundings, setup: Setup) -> bool:
    """Whether the metal ends just past the slit's first point."""
    back = (line[0] - line[1]) / np.linalg.norm(line[0] - line[1])
    past = Point(line[0] + back * (setup.kerf_mm / 2.0 + 0.1))
    return not around.parts_near(past).intersects(past)


def _short_of_end(path: Curve, setup: Setup) -> Curve | None:
    """From a pierce within the slit back to its end, so that the wide spot does not eat the bridge."""
    inward = (setup.pierce_width_mm - setup.kerf_mm) / 2.0
    inward = min(inward, path.length_mm / 3.0)
    if inward < 0.05:
        return None
    return Curve.of_points([path.at(inward)[0], path.start_mm])


def _begin(runs: Sequence[Run], setup: Setup, around: Surroundings) -> None:
    """A start for each closed path, those with the fewest to choose from first; no lead crosses another."""
    for number, run in enumerate(runs):
        if run.kind != "slit":
            held = run.kind == "outline" and setup.tabs > 0
            off = run.kind != "bore" and not held
            run.ways = starts(run.path, setup, around, [number], run.kind == "bore", off, held)
    closed = sorted((n for n, run in enumerate(runs) if run.ways), key=lambda n: (len(runs[n].ways), n))
    for number in closed:
        own = runs[number]
        open_ways = [way for way in own.ways if free(way, own, runs, setup)]
        own.chosen = open_ways[0] if open_ways else None


def _tabbed(runs: Sequence[Run], setup: Setup) -> tuple[dict[int, list[Start]], set[int]]:
    """Starts of the pieces of each outline that tabs hold; parts that got fewer tabs than asked for."""
    out: dict[int, list[Start]] = {}
    few: set[int] = set()
    if not setup.tabs:
        return out, few
    for number, run in enumerate(runs):
        if run.kind != "outline" or run.chosen is None:
            continue
        length = run.path.length_mm
        picked = [run.chosen]
        for way in run.ways:
            apart = [abs(way.along_mm - p.along_mm) for p in picked]
            far = min(min(a, length - a) for a in apart)
            enough = max(length / (2.0 * setup.tabs), 4.0 * (setup.tab_width_mm + setup.kerf_mm))
            if len(picked) < setup.tabs and far > enough and free(way, run, runs, setup):
                picked.append(way)
        if len(picked) < setup.tabs:
            few.add(run.part)
        out[number] = sorted(picked, key=lambda start: start.along_mm)
    return out, few


def figures_metal(figures: Sequence[Figure], name: str, setup: Setup) -> BaseGeometry:
    """What is left of a part when all is cut as drawn."""
    return _runs_of(OnSheet(name, tuple(figures)), 0, setup)[1]
