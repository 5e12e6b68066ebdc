"""A welded bracket as a mesh that follows the plate: panels in layers, seams between them; tetrahedra out.

Each panel is meshed flat and stacked; at a fold both panels carry corners at the same stations, and the weld (or the
bend) fills what is between. So there are no slivers where slits end, and stress is read at set distances from a seam.
Where the weld is less deep than the sheet, the end faces are as high as the weld, and the corner of the sheet behind
it, which carries nothing, slopes away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

from halfshaft.fold.model import Bracket, Fold, Hole, Panel
from halfshaft.fold.slab import figure, hole_figure, into_metal, line_of, parts_of, trimmed
from halfshaft.geometry.triangles import triangulated
from halfshaft.mounts.gusset_mesh import (
    Foot,
    Strip,
    corners_at,
    cut_out,
    filled_in,
    foot_of,
    plate_mesh,
    rows_beside,
    strips_of,
)
from halfshaft.mounts.tet_mesh import TetMesh, prisms_to_tets, righted, skin_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

ROWS = (0.4, 1.0)  # of the thickness: where the structural stress at a weld is read
_ROUGH_MM = 0.08  # outlines are followed as near as this
_ON_LINE_MM = 0.02
_ON_FACE_MM = 1e-3
_SNAP = 0.15  # of the thickness: ends of the two panels at a fold are brought together
_CLOSED = 0.04  # of the thickness: a slit closed so far is shut
_CLEAR = 0.3  # of the thickness: rows keep so far from other edges
_LEAST_SEAM_MM = 2.0


@dataclass(frozen=True, slots=True)
class Fineness:
    """How fine a mesh is: edges in the open, along seams (of the thickness), corners round a hole."""

    size_mm: float
    seam: float
    round: int
    more_rows: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Seam:
    """A fold as meshed: `stations_mm` along it, and on each panel the corners (stations, layers) of its end face.

    `into` are unit vectors (3,) in root axes from the seam into each panel's metal, `way` along it; `throat_mm` is the
    depth joined, `outside` which side of the sheet it is joined from ('under', 'upper').
    """

    name: str
    a: str
    b: str
    kind: str
    stations_mm: Array
    on_a: Ints
    on_b: Ints
    into_a: Array
    into_b: Array
    way: Array
    throat_mm: float
    outside: str
    welded: Ints  # its own tetrahedra


@dataclass(frozen=True, eq=False)
class PanelMesh:
    """A panel's flat mesh: its corners (n, 2) in panel axes, triangles (t, 3); its corner i of layer k is the mesh's
    `first` + k n + i, unless a seam took it over."""

    panel: Panel
    points_mm: Array
    triangles: Ints
    at: Ints  # (layers, n) corners of the whole mesh
    tets: Ints  # its own tetrahedra


@dataclass(frozen=True, eq=False)
class BracketMesh:
    """The mesh with what its parts are: groups 'ring <hole>', 'seat <panel>', 'free'."""

    mesh: TetMesh
    panels: Mapping[str, PanelMesh]
    seams: tuple[Seam, ...]
    heights_mm: Array
    thickness_mm: float
    feet: tuple[Foot, ...] = ()


def usual(thickness_mm: float, finer: bool = False) -> Fineness:
    """Fineness of the two meshes that are compared."""
    if finer:
        return Fineness(max(7.0, 1.6 * thickness_mm), 0.95, 16, (0.1, 0.22, 0.7))
    return Fineness(max(10.0, 2.4 * thickness_mm), 1.4, 12, (0.2,))


def bracket_mesh(
    bracket: Bracket, throat_mm: float | None, fineness: Fineness, holes: Sequence[str] = (), first: str = ""
) -> BracketMesh:
    """The part that holds panel `first`, or the first of `holes`, meshed; its slits welded as deep as `throat_mm`.

    None, or the sheet's thickness and more, fills the seams. `holes` are the names that get a ring. Raises ValueError
    for a throat not above 0, a hole that the part lacks, or a fold whose panels do not meet.
    """
    if throat_mm is not None and throat_mm <= 0.0:
        raise ValueError(f"a weld of {throat_mm:g} mm joins nothing: write a throat above 0")
    names = _part(bracket, holes, first)
    thickness = bracket.panels[names[0]].thickness_mm
    folds = [f for f in bracket.folds if f.a in names and f.b in names]
    deep = thickness if throat_mm is None else min(throat_mm, thickness)
    heights = np.array([0.0, thickness])
    shapes = {name: _figure(bracket.panels[name], folds) for name in names}
    stations = {f.name: _meeting(f, bracket.panels, shapes, fineness) for f in folds}
    for fold in folds:
        for name in (fold.a, fold.b):
            shapes[name] = _stationed(shapes[name], _spots(fold, name, bracket.panels[name], stations[fold.name]))
    plates = [g for g in bracket.gussets if g.a in names and g.b in names]
    step = fineness.seam * thickness
    strips = [strip for g in plates for strip in strips_of(g, bracket.panels, step)]
    corners: list[Array] = []
    tets: list[Ints] = []
    panels: dict[str, PanelMesh] = {}
    for name in names:
        panel = bracket.panels[name]
        rows = [
            (_spots(f, name, panel, stations[f.name]), _inward(f, name, panel)) for f in folds if name in (f.a, f.b)
        ]
        own_strips = [strip for strip in strips if strip.panel == name]
        flat, triangles = _meshed(panel, shapes[name], rows, fineness, own_strips)
        begin = sum(len(c) for c in corners)
        at = begin + np.arange(len(heights) * len(flat)).reshape(len(heights), len(flat))
        corners.append(panel.pose.apply(np.vstack([np.column_stack([flat, np.full(len(flat), z)]) for z in heights])))
        for low, high in pairwise(at):
            tets.append(prisms_to_tets(np.hstack([low[triangles], high[triangles]])))
        panels[name] = PanelMesh(panel, flat, triangles, at, np.empty(0, dtype=np.int64))
    feet: list[Foot] = []
    for gusset in plates:
        panel, own_strips = bracket.panels[gusset.panel], [s for s in strips if s.gusset == gusset.panel]
        flat, triangles = plate_mesh(panel, own_strips, fineness.size_mm)
        begin = sum(len(c) for c in corners)
        at = begin + np.arange(2 * len(flat)).reshape(2, len(flat))
        corners += [panel.pose.apply(np.column_stack([flat, np.full(len(flat), z)])) for z in (0.0, panel.thickness_mm)]
        for strip in own_strips:
            stands = panels[strip.panel]
            shared = stands.at[strip.layer][corners_at(stands.points_mm, strip.spots_mm)]
            at[:, corners_at(flat, strip.plate_mm)] = shared.T
            feet.append(foot_of(strip, gusset, bracket.panels, shared))
        tets.append(prisms_to_tets(np.hstack([at[0][triangles], at[1][triangles]])))
        panels[gusset.panel] = PanelMesh(panel, flat, triangles, at, np.empty(0, dtype=np.int64))
    points = np.vstack(corners)
    _cut_back(folds, panels, stations, deep, points)
    seams, more, added, same = _seams(folds, panels, stations, heights, deep, points)
    points = np.vstack([points, *added]) if added else points
    whole = np.vstack([*tets, *more])
    own = np.concatenate([np.full(len(block), number) for number, block in enumerate([*tets, *more])])
    for kept, gone in same:
        points[kept] = (points[kept] + points[gone]) / 2.0
    keep = np.arange(len(points))
    for kept, gone in same:
        keep[gone] = kept
    whole = righted(points, keep[whole])
    used, back = np.unique(whole, return_inverse=True)
    renumber = np.full(len(points), -1)
    renumber[used] = np.arange(len(used))
    number = renumber[keep]
    whole = back.reshape(-1, 4)
    panels = {
        n: PanelMesh(p.panel, p.points_mm, p.triangles, number[p.at], np.flatnonzero(own == place))
        for place, (n, p) in enumerate(panels.items())
    }
    first_seam = len(tets)
    seams = [
        Seam(
            s.name, s.a, s.b, s.kind, s.stations_mm, number[s.on_a], number[s.on_b], s.into_a, s.into_b, s.way,
            s.throat_mm, s.outside, np.flatnonzero(own == first_seam + place),
        )
        for place, s in enumerate(seams)
    ]  # fmt: skip
    skin = skin_of(whole)
    groups = _groups(skin, panels, bracket, holes)
    mesh = TetMesh(points[used], np.asarray(whole, dtype=np.int64), skin, groups)
    stand = tuple(replace(foot, corners=number[foot.corners]) for foot in feet)
    return BracketMesh(mesh, panels, tuple(seams), heights, thickness, stand)


def _part(bracket: Bracket, holes: Sequence[str], first: str) -> list[str]:
    where = {hole.name: panel.name for panel in bracket.panels.values() for hole in panel.holes}
    missing = [name for name in holes if name not in where]
    if missing:
        known = ", ".join(sorted(where)) or "none"
        raise ValueError(f"bracket '{bracket.name}' has no hole {', '.join(missing)}; there are: {known}")
    seek = first or (where[holes[0]] if holes else next(iter(bracket.panels), ""))
    group = next((names for names in parts_of(tuple(bracket.panels), bracket.folds) if seek in names), None)
    if group is None:
        raise ValueError(f"bracket '{bracket.name}' has no panel '{seek}'")
    apart = [name for name in holes if where[name] not in group]
    if apart:
        raise ValueError(f"bracket '{bracket.name}': {', '.join(apart)} is in another part than panel '{seek}'")
    return group


def _figure(panel: Panel, folds: Sequence[Fold]) -> Polygon:
    """The panel's metal cut back at its slits, with holes as rings of few corners, edges not too fine."""
    slit = [f for f in folds if f.kind == "slit" and panel.name in (f.a, f.b)]
    shape = trimmed(panel, slit) if slit else figure(panel)
    pieces = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    if not pieces:
        raise ValueError(f"panel '{panel.name}' has no metal")
    whole: Polygon = max(pieces, key=lambda p: float(p.area))
    ends = [_ends(f, panel.name, panel) for f in folds if panel.name in (f.a, f.b)]
    return _plain(whole, ends)


def _plain(shape: Polygon, ends: Sequence[tuple[Array, Array, Array]]) -> Polygon:
    """The figure with fewer corners; those on an end face stay, or the face would be tilted off its fold."""
    clean = shapely.remove_repeated_points(shape, 1e-4)
    rings = [_thinned(np.asarray(ring.coords)[:-1, :2], ends) for ring in (clean.exterior, *clean.interiors)]
    out = Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 2])
    if out.is_valid:
        return out
    return max(shapely.get_parts(shapely.make_valid(out)), key=lambda piece: float(piece.area))


def _thinned(ring: Array, ends: Sequence[tuple[Array, Array, Array]]) -> Array:
    """A ring (n, 2), not closed, simplified between the corners that are kept."""
    kept = np.arange(len(ring)) == 0
    for start, _, inward in ends:
        on = np.abs((ring - start) @ inward) < _ON_FACE_MM
        kept |= on & ~(np.roll(on, 1) & np.roll(on, -1))  # the ends of what lies on the face
    at = np.flatnonzero(kept)
    if len(at) < 2:
        return np.asarray(shapely.simplify(Polygon(ring), _ROUGH_MM).exterior.coords)[:-1, :2]
    closed, stops = np.vstack([ring, ring[:1]]), [*at, len(ring)]
    runs = [shapely.simplify(LineString(closed[low : high + 1]), _ROUGH_MM) for low, high in pairwise(stops)]
    return np.vstack([np.asarray(run.coords)[:-1, :2] for run in runs])


def _ends(fold: Fold, name: str, panel: Panel) -> tuple[Array, Array, Array]:
    """Start (2,), direction (2,) and inward normal (2,) of a panel's end face at a fold."""
    line = line_of(fold, name)
    way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    inward = into_metal(figure(panel), line)
    half = fold.slit_width_mm / 2.0 if fold.kind == "slit" else 0.0
    return line[0] + inward * half, way, inward


def _inward(fold: Fold, name: str, panel: Panel) -> Array:
    return _ends(fold, name, panel)[2]


def _runs(fold: Fold, name: str, panel: Panel, shape: Polygon) -> list[tuple[float, float]]:
    """Stretches of the fold along which the panel's edge is its end face."""
    start, way, inward = _ends(fold, name, panel)
    out = []
    for ring in (shape.exterior, *shape.interiors):
        away = np.asarray(ring.coords)[:, :2] - start
        off, along = away @ inward, away @ way
        for i in range(len(away) - 1):
            if max(abs(off[i]), abs(off[i + 1])) < _ON_LINE_MM + 0.2 * _ROUGH_MM:
                low, high = sorted((along[i], along[i + 1]))
                low, high = max(low, 0.0), min(high, fold.length_mm)
                if high - low > 1e-6:
                    out.append((float(low), float(high)))
    return sorted(out)


def _meeting(fold: Fold, panels: Mapping[str, Panel], shapes: Mapping[str, Polygon], fineness: Fineness) -> list[Array]:
    """Stations along a fold for each stretch that both panels reach. Raises ValueError where there is none."""
    both = []
    for low, high in _runs(fold, fold.a, panels[fold.a], shapes[fold.a]):
        for other_low, other_high in _runs(fold, fold.b, panels[fold.b], shapes[fold.b]):
            start, end = max(low, other_low), min(high, other_high)
            if end - start > _LEAST_SEAM_MM:
                both.append((start, end))
    if not both:
        raise ValueError(f"fold '{fold.name}': panels '{fold.a}' and '{fold.b}' do not meet along it")
    step = fineness.seam * panels[fold.a].thickness_mm
    return [np.linspace(s, e, max(3, int(np.ceil((e - s) / step)) + 1)) for s, e in both]


def _spots(fold: Fold, name: str, panel: Panel, stretches: Sequence[Array]) -> list[Array]:
    """Corners (k, 2) of the stations on a panel's end face, stretch by stretch."""
    start, way, _ = _ends(fold, name, panel)
    return [start + s[:, None] * way for s in stretches]


def _stationed(shape: Polygon, stretches: Sequence[Array]) -> Polygon:
    """The figure with the stations as corners of its edge; corners of its own that are all but there are moved."""
    rings = []
    for ring in (shape.exterior, *shape.interiors):
        points = np.asarray(ring.coords)[:-1, :2]
        for spots in stretches:
            points = _ring_stationed(points, spots)
        rings.append(points)
    return Polygon(rings[0], [r for r in rings[1:] if len(r) > 2])


def _ring_stationed(points: Array, spots: Array) -> Array:
    way = (spots[-1] - spots[0]) / np.linalg.norm(spots[-1] - spots[0])
    length = float(np.linalg.norm(spots[-1] - spots[0]))
    side = np.array([-way[1], way[0]])
    along, off = (points - spots[0]) @ way, (points - spots[0]) @ side
    near = np.abs(off) < _ON_LINE_MM + 0.2 * _ROUGH_MM
    out: list[Array] = []
    for i in range(len(points)):
        j = (i + 1) % len(points)
        out.append(points[i])
        if not (near[i] and near[j]):
            continue
        low, high = sorted((along[i], along[j]))
        if low > 1e-3 + 0.6 or high < length - 1e-3 - 0.6 or high - low < 0.5 * length:
            continue
        inner = spots if along[j] > along[i] else spots[::-1]
        # an end of the edge that all but is the first or last station is that station
        if np.linalg.norm(points[i] - inner[0]) < 0.6:
            out.pop()
        out += list(inner)
        if np.linalg.norm(points[j] - inner[-1]) < 0.6:
            out[-1] = inner[-1]
            points = points.copy()
            points[j] = inner[-1]
    ring = np.array(out)
    gap = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1)
    return np.asarray(ring[gap > 1e-6])


def _meshed(
    panel: Panel,
    shape: Polygon,
    rows: Sequence[tuple[list[Array], Array]],
    fineness: Fineness,
    strips: Sequence[Strip] = (),
) -> tuple[Array, Ints]:
    """Flat mesh of one panel with corners in rows beside its seams and edges round its washers."""
    kept = {tuple(np.round(p, 9)) for spots, _ in rows for stretch in spots for p in stretch}
    whole = _subdivided(shape, fineness.size_mm, kept)
    lines = []
    taken = [whole.exterior]
    for hole in panel.holes:
        if hole.slot_mm > 0.0:
            cut = _slot(hole, fineness.round)
        else:
            cut = _circle(hole, hole.diameter_mm / 2.0, fineness.round)
        whole = whole.difference(cut)
        if isinstance(whole, Polygon):
            taken.append(cut.exterior)
    if not isinstance(whole, Polygon):
        whole = max(shapely.get_parts(whole), key=lambda p: float(p.area))
    whole = cut_out(whole, strips)
    for number, hole in enumerate(panel.holes):
        washer = _circle(hole, washer_mm(hole) / 2.0, fineness.round)
        others = [h for k, h in enumerate(panel.holes) if k != number]
        clear = shape.buffer(-0.5).contains(washer) and washer.contains(hole_figure(hole).buffer(0.4))
        clear = clear and all(washer.distance(strip.figure) > 0.3 for strip in strips)
        if clear and all(Point(o.centre_mm).distance(washer) > washer_mm(o) / 2.0 + 0.5 for o in others):
            lines.append(np.asarray(washer.exterior.coords)[:, :2])
    spots = _rows(panel, whole, rows, lines, fineness, strips)
    return filled_in(*triangulated(whole, 0.45 * fineness.size_mm**2, lines, spots), strips)


def washer_mm(hole: Hole) -> float:
    """Outer diameter that presses: the washer's, or about a hexagon's where none is told (common practice)."""
    return hole.washer_mm if hole.washer_mm > hole.diameter_mm else 1.9 * hole.bolt_mm


def _circle(hole: Hole, radius: float, sides: int) -> Polygon:
    """A circle by a polygon of the same area."""
    angle = 2.0 * np.pi * np.arange(sides) / sides
    out = radius * np.sqrt(2.0 * np.pi / (sides * np.sin(2.0 * np.pi / sides)))
    return Polygon(np.asarray(hole.centre_mm) + out * np.column_stack([np.cos(angle), np.sin(angle)]))


def _slot(hole: Hole, sides: int) -> Polygon:
    reach = np.asarray(hole.slot_way, dtype=float) * hole.slot_mm / 2.0
    middle = np.asarray(hole.centre_mm, dtype=float)
    path = shapely.LineString([middle - reach, middle + reach])
    out: Polygon = path.buffer(hole.diameter_mm / 2.0, quad_segs=max(3, sides // 4))
    return out


def _subdivided(shape: Polygon, size: float, kept: set[tuple[float, ...]]) -> Polygon:
    """Edges no longer than `size`; those of a seam stay as they are."""

    def divided(points: Array) -> Array:
        out: list[Array] = []
        for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
            out.append(a)
            if tuple(np.round(a, 9)) in kept and tuple(np.round(b, 9)) in kept:
                continue
            count = int(np.ceil(np.linalg.norm(b - a) / size))
            out += [a + (b - a) * k / count for k in range(1, count)]
        return np.array(out)

    rings = [divided(np.asarray(r.coords)[:-1, :2]) for r in (shape.exterior, *shape.interiors)]
    return Polygon(rings[0], rings[1:])


def _rows(
    panel: Panel,
    whole: Polygon,
    rows: Sequence[tuple[list[Array], Array]],
    lines: Sequence[Array],
    fineness: Fineness,
    strips: Sequence[Strip] = (),
) -> Array:
    edges = shapely.union_all([whole.boundary, *(shapely.LineString(line) for line in lines)])
    shapely.prepare(whole)
    found = np.empty((0, 2))
    clear, least = _CLEAR * panel.thickness_mm, 0.15 * panel.thickness_mm
    beside = [
        (np.vstack(stretches) + share * panel.thickness_mm * inward, share * panel.thickness_mm)
        for stretches, inward in rows
        for share in sorted((*ROWS, *fineness.more_rows))
    ]
    beside += [
        (rows_beside(strip, [share * panel.thickness_mm]), share * panel.thickness_mm)
        for strip in strips
        for share in ROWS
    ]
    for spots, reach in beside:
        here = shapely.points(spots)
        good = shapely.contains(whole, here) & (shapely.distance(here, edges) > min(clear, 0.95 * reach))
        if len(found):
            good &= np.linalg.norm(spots[:, None] - found[None, :], axis=2).min(axis=1) > least
        found = np.vstack([found, spots[good]])
    return found


def _seams(
    folds: Sequence[Fold],
    panels: Mapping[str, PanelMesh],
    stations: Mapping[str, list[Array]],
    heights: Array,
    deep: float,
    points: Array,
) -> tuple[list[Seam], list[Ints], list[Array], list[tuple[int, int]]]:
    """Seams with their prisms as tetrahedra, corners that they add, and pairs of corners that are one."""
    seams: list[Seam] = []
    more: list[Ints] = []
    added: list[Array] = []
    same: list[tuple[int, int]] = []
    count = len(points)
    for fold in folds:
        pa, pb = panels[fold.a], panels[fold.b]
        outside = "under" if fold.up else "upper"
        joined = np.arange(len(heights))
        inside = joined[-1] if fold.up else joined[0]
        full = deep >= pa.panel.thickness_mm - 1e-6
        spots = zip(
            stations[fold.name],
            _spots(fold, fold.a, pa.panel, stations[fold.name]),
            _spots(fold, fold.b, pb.panel, stations[fold.name]),
            strict=True,
        )
        for along, on_a, on_b in spots:
            a, b = (_found(p, s, fold.name) for p, s in ((pa, on_a), (pb, on_b)))
            ends_a, ends_b = pa.at[np.ix_(joined, a)], pb.at[np.ix_(joined, b)]  # (layers, stations)
            strips, new = _strips(fold, pa.panel, points, ends_a, ends_b, count)
            added += [new] if len(new) else []
            count += len(new)
            if fold.kind == "slit":
                shut = _CLOSED * pa.panel.thickness_mm
                k = int(np.flatnonzero(joined == inside)[0])
                gap = points[ends_b[k]] - points[ends_a[k]]
                across = points[ends_b].mean(axis=(0, 1)) - points[ends_a].mean(axis=(0, 1))
                if full and np.all((np.linalg.norm(gap, axis=1) < shut) | (gap @ across < 0.0)):
                    same += list(zip(ends_a[k].tolist(), ends_b[k].tolist(), strict=True))
                    strips[-1][k] = strips[0][k]
            more.append(_filled(strips))
            ra, rb = pa.panel.pose.rotation, pb.panel.pose.rotation
            way = ra @ np.append(_ends(fold, fold.a, pa.panel)[1], 0.0)
            throat = min(deep, pa.panel.thickness_mm) if fold.kind == "slit" else pa.panel.thickness_mm
            seams.append(
                Seam(
                    fold.name, fold.a, fold.b, fold.kind, along, pa.at[:, a].T, pb.at[:, b].T,
                    ra @ np.append(_inward(fold, fold.a, pa.panel), 0.0),
                    rb @ np.append(_inward(fold, fold.b, pb.panel), 0.0), way, throat, outside,
                    np.empty(0, dtype=np.int64),
                )
            )  # fmt: skip
    return seams, more, added, same


def _cut_back(
    folds: Sequence[Fold],
    panels: Mapping[str, PanelMesh],
    stations: Mapping[str, list[Array]],
    deep: float,
    points: Array,
) -> None:
    """Bring the inside edge of the end faces down to the depth of the weld."""
    moved: set[int] = set()
    for fold in folds:
        if fold.kind != "slit" or deep >= panels[fold.a].panel.thickness_mm - 1e-6:
            continue
        for name in (fold.a, fold.b):
            mesh = panels[name]
            layer, height = (-1, deep) if fold.up else (0, mesh.panel.thickness_mm - deep)
            for spots in _spots(fold, name, mesh.panel, stations[fold.name]):
                for corner, spot in zip(_found(mesh, spots, fold.name), spots, strict=True):
                    if not moved & {int(c) for c in mesh.at[:, corner]}:
                        points[mesh.at[layer, corner]] = mesh.panel.pose.apply([*spot, height])
                        moved.add(int(mesh.at[layer, corner]))


def _found(mesh: PanelMesh, spots: Array, fold: str) -> Ints:
    away = np.linalg.norm(mesh.points_mm[None, :, :] - spots[:, None, :], axis=2)
    at = np.argmin(away, axis=1)
    if float(away[np.arange(len(spots)), at].max()) > 1e-5:
        raise ValueError(f"fold '{fold}': panel '{mesh.panel.name}' is not whole along it")
    return np.asarray(at, dtype=np.int64)


def _strips(
    fold: Fold, panel: Panel, points: Array, ends_a: Ints, ends_b: Ints, count: int
) -> tuple[list[Ints], Array]:
    """Corner numbers (layers, stations) from one end face to the other, and corners that they add (k, 3)."""
    if fold.kind == "slit":
        return [ends_a.copy(), ends_b.copy()], np.empty((0, 3))
    steps = max(2, int(np.ceil(fold.angle_deg / 20.0)))
    line = line_of(fold, fold.a)
    z = panel.thickness_mm + fold.radius_mm if fold.up else -fold.radius_mm
    centre = panel.pose.apply([*line[0], z])
    axis = points[ends_a[0, -1]] - points[ends_a[0, 0]]
    axis = axis / np.linalg.norm(axis)
    strips, new = [ends_a.copy()], []
    arm = points[ends_a] - centre
    flat = arm - (arm @ axis)[..., None] * axis
    goal = points[ends_b] - centre
    goal = goal - (goal @ axis)[..., None] * axis
    sense = np.sign(float(np.cross(flat[0, 0], goal[0, 0]) @ axis)) or 1.0
    for step in range(1, steps):
        angle = sense * np.radians(fold.angle_deg) * step / steps
        turned = flat * np.cos(angle) + np.cross(axis, flat) * np.sin(angle)
        new.append((centre + turned + (arm @ axis)[..., None] * axis).reshape(-1, 3))
        strips.append(count + (step - 1) * ends_a.size + np.arange(ends_a.size).reshape(ends_a.shape))
    return [*strips, ends_b.copy()], np.vstack(new)


def _filled(strips: Sequence[Ints]) -> Ints:
    """Tetrahedra between strips (layers, stations) of corners; a layer whose corners are one narrows to an edge."""
    prisms = []
    for one, other in pairwise(strips):
        for k in range(len(one) - 1):
            for j in range(one.shape[1] - 1):
                ring = list(dict.fromkeys((one[k, j], one[k + 1, j], other[k + 1, j], other[k, j])))
                last = list(dict.fromkeys((one[k, j + 1], one[k + 1, j + 1], other[k + 1, j + 1], other[k, j + 1])))
                if len(ring) != len(last):
                    raise ValueError("a seam opens along its length")
                for m in range(1, len(ring) - 1):
                    prisms.append([ring[0], ring[m], ring[m + 1], last[0], last[m], last[m + 1]])
    return prisms_to_tets(np.array(prisms, dtype=np.int64))


def _groups(skin: Ints, panels: Mapping[str, PanelMesh], bracket: Bracket, holes: Sequence[str]) -> dict[str, Ints]:
    """Rows of the skin by name: under a washer, on a panel's contact side, free."""
    index = {tuple(row): number for number, row in enumerate(np.sort(skin, axis=1).tolist())}
    groups: dict[str, list[int]] = {}
    taken: set[int] = set()
    for name, mesh in panels.items():
        centres = mesh.points_mm[mesh.triangles].mean(axis=1)
        sides = {"under": mesh.at[0], "upper": mesh.at[-1]}
        rows = {
            side: np.array([index.get(tuple(t), -1) for t in np.sort(at[mesh.triangles], axis=1).tolist()])
            for side, at in sides.items()
        }
        for hole in mesh.panel.holes:
            if hole.name not in holes:
                continue
            away = centres - np.asarray(hole.centre_mm)
            along = np.clip(away @ np.asarray(hole.slot_way), -hole.slot_mm / 2.0, hole.slot_mm / 2.0)
            near = np.linalg.norm(away - along[:, None] * np.asarray(hole.slot_way), axis=1) < washer_mm(hole) / 2.0
            found = [int(r) for side in rows.values() for r in side[near] if r >= 0 and r not in taken]
            if not found:
                raise ValueError(f"the washer of {hole.name} does not lie on the part")
            groups[f"ring {hole.name}"] = found
            taken.update(found)
        if mesh.panel.contact in sides:
            groups[f"seat {name}"] = [int(r) for r in rows[mesh.panel.contact] if r >= 0]
    out = {}
    for name, found in groups.items():
        out[name] = np.array([r for r in found if name.startswith("ring ") or r not in taken], dtype=np.int64)
        taken.update(found)
    out["free"] = np.array(sorted(set(range(len(skin))) - taken), dtype=np.int64)
    return {name: rows for name, rows in out.items() if len(rows)}
