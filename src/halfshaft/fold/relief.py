"""Reliefs. Panels and folds in; panels cut back at corners, where panels meet and where a socket must pass, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Severity, Source
from halfshaft.fold.interfere import tool_solids
from halfshaft.fold.model import Fold, Hole, Panel
from halfshaft.fold.slab import figure, flat_move, fold_zone, hole_figure, into_metal, line_of
from halfshaft.geometry import mesh
from halfshaft.geometry.arcs import contours_of

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput, Shop

Array = NDArray[np.float64]

_HALF_ROUND = 0.56  # metal round a fold's end beyond this share of a circle means that the fold ends inside the sheet
_TOUCH_MM = 0.1
_LEAST_FOLD = 0.5  # share of a fold's length that reliefs may leave before it is told


@dataclass(eq=False, slots=True)
class _Work:
    """Figures while they are cut; `lost` are the names of panels that changed."""

    panels: Mapping[str, Panel]
    folds: tuple[Fold, ...]
    name: str
    thickness_mm: float
    kerf_mm: float
    figures: dict[str, Polygon]
    changed: set[str] = field(default_factory=set)
    checks: list[Check] = field(default_factory=list)

    def about(self, what: str) -> str:
        return f"bracket {self.name}, {what}" if self.name else what


def relieve(
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    bracket: BracketInput | None = None,
    shop: Shop | None = None,
    name: str = "",
) -> tuple[dict[str, Panel], tuple[Check, ...]]:
    """Panels with all reliefs cut, and checks that tell each cut, what could not be cut and washers that do not sit.

    In order: round reliefs at ends of folds inside the sheet; panels that meet when folded are cut back, the one that
    loses less; neighbours are cut for sockets where the hole's `relief` says so, else the room missing is told. No cut
    goes nearer a hole than its washer or 1.2 diameters, nor takes a panel in two: that is a STOP with the reason.
    Fold lines are left as they were: see `shortened`.
    """
    if not panels:
        return {}, ()
    thickness = next(iter(panels.values())).thickness_mm
    kerf = shop.kerf_mm if shop is not None else float(default("shop.kerf").value)
    work = _Work(panels, tuple(folds), name, thickness, kerf, {key: figure(panel) for key, panel in panels.items()})
    _corners(work)
    _meeting(work)
    _sockets(work, _wishes(panels, bracket))
    _washers(work)
    _told_folds(work)
    out = dict(panels)
    for key in work.changed:
        outline, openings = contours_of(work.figures[key])[0]
        out[key] = replace(panels[key], outline=outline, openings=openings)
    return out, tuple(work.checks)


def shortened(panels: Mapping[str, Panel], folds: Sequence[Fold]) -> tuple[Fold, ...]:
    """Folds with their lines drawn in to where both panels have metal along them.

    Raises ValueError naming the fold of which nothing is left.
    """
    figures = {name: figure(panel) for name, panel in panels.items()}
    out = []
    for fold in folds:
        left = _common_stretches(figures, fold)
        if not left:
            raise ValueError(f"nothing is left of fold '{fold.name}' between panels '{fold.a}' and '{fold.b}'")
        start, end = left[0][0], left[-1][1]
        if start > 1e-6 or end < fold.length_mm - 1e-6:
            shares = np.array([start, end]) / fold.length_mm
            lines = [line[0] + shares[:, None] * (line[1] - line[0]) for line in (fold.line_a_mm, fold.line_b_mm)]
            fold = replace(fold, line_a_mm=lines[0], line_b_mm=lines[1])
        out.append(fold)
    return tuple(out)


def corner_radius_mm(thickness_mm: float, kerf_mm: float) -> float:
    """Radius of a round relief: a share of the thickness, never less than the kerf."""
    return max(kerf_mm, float(default("fold.corner_relief").value) * thickness_mm)


def keep_mm(hole: Hole) -> float:
    """Radius about a hole's centre (and its slot) that no relief may touch: its washer, or the least edge distance."""
    return max(hole.washer_mm / 2.0, float(default("fold.edge_least").value) * hole.diameter_mm)


def _common_stretches(figures: Mapping[str, Polygon], fold: Fold) -> list[tuple[float, float]]:
    """Stretches (start, end) along the fold's line where both panels have metal just beside it, in order."""
    spans = []
    for name in (fold.a, fold.b):
        line = line_of(fold, name)
        inside = into_metal(figures[name], line) * 0.05
        beside = LineString(line + inside).intersection(figures[name])
        pieces = [p for p in shapely.get_parts(beside) if p.geom_type == "LineString" and not p.is_empty]
        way = (line[1] - line[0]) / fold.length_mm
        found = sorted(
            tuple(sorted(float((np.asarray(spot) - line[0] - inside) @ way) for spot in (p.coords[0], p.coords[-1])))
            for p in pieces
        )
        spans.append(found)
    out = []
    for one in spans[0]:
        for other in spans[1]:
            start, end = max(one[0], other[0]), min(one[1], other[1])
            if end - start > 0.5:
                out.append((max(start, 0.0), min(end, fold.length_mm)))
    return sorted(out)


def _corners(work: _Work) -> None:
    radius = corner_radius_mm(work.thickness_mm, work.kerf_mm)
    source = default("fold.corner_relief").source
    count = 0
    for name in work.panels:
        touching = [fold for fold in work.folds if fold.a == name]
        if not touching:
            continue
        moves = {fold.name: flat_move(fold, work.figures[name]) for fold in touching}
        pieces = [work.figures[name]]
        pieces += [_carried(work.figures[fold.b], *moves[fold.name]) for fold in touching]
        pieces += [_bend_strip(fold, work.figures[name]) for fold in touching if fold.kind == "brake"]
        others = [fold for fold in work.folds if fold.b == name]
        for fold in others:  # the fold toward the first panel counts as metal too
            rotation, shift = flat_move(fold, work.figures[fold.a])
            back = rotation.T, -rotation.T @ shift
            pieces.append(_carried(work.figures[fold.a], *back))
        sheet = shapely.union_all([piece.buffer(1e-3) for piece in pieces])
        ends: list[tuple[Fold, Polygon, Array]] = []
        for fold in touching:
            for at in (0, 1):
                spot = fold.line_a_mm[at]
                ring = Point(spot).buffer(radius, quad_segs=32).exterior
                if ring.intersection(sheet).length / ring.length > _HALF_ROUND:
                    far = moves[fold.name][0] @ fold.line_b_mm[at] + moves[fold.name][1]
                    ends.append((fold, _round_between(spot, far, radius), np.asarray(spot, dtype=float)))
        for group in _clusters(ends, 2.0 * radius + work.thickness_mm):
            region = shapely.convex_hull(shapely.union_all([shape for _, shape, _ in group]))
            cuts = {name: region}
            for fold in touching:
                rotation, shift = moves[fold.name]
                cuts[fold.b] = _carried(region, rotation.T, -rotation.T @ shift)
            cuts = {key: shape for key, shape in cuts.items() if work.figures[key].intersection(shape).area > 1e-6}
            if _try_cut(work, cuts, f"corner relief at fold {group[0][0].name}"):
                count += 1
    if count:
        work.checks.append(
            Check(
                "fold", work.about("corners"), "Round reliefs cut", source, Severity.NOTE,
                f"A round relief of radius {radius:.1f} mm is cut at {count} {'end' if count == 1 else 'ends'} of "
                "folds inside the sheet.",
                found=radius, unit="mm", good=Good.TOLD,
            )
        )  # fmt: skip


def _bend_strip(fold: Fold, shape_a: Polygon) -> Polygon:
    outward = -into_metal(shape_a, fold.line_a_mm) * fold.allowance_mm
    line = np.asarray(fold.line_a_mm, dtype=float)
    return Polygon([line[0], line[1], line[1] + outward, line[0] + outward])


def _round_between(one: Array, other: Array, radius_mm: float) -> Polygon:
    path = LineString([one, other]) if np.linalg.norm(np.asarray(one) - other) > 1e-6 else Point(one)
    return path.buffer(radius_mm, quad_segs=32)


def _clusters(ends: list[tuple[Fold, Polygon, Array]], within_mm: float) -> list[list[tuple[Fold, Polygon, Array]]]:
    groups: list[list[tuple[Fold, Polygon, Array]]] = []
    for end in ends:
        near = [g for g in groups if any(np.linalg.norm(end[2] - other[2]) < within_mm for other in g)]
        merged = [end] + [member for group in near for member in group]
        groups = [g for g in groups if all(g is not n for n in near)] + [merged]
    return groups


def _carried(shape: Polygon, rotation: Array, shift: Array) -> Polygon:
    return shapely.transform(shape, lambda points: points @ rotation.T + shift)


def _harm(work: _Work, name: str, region: Polygon) -> str:
    """Why a cut cannot be made, in words; empty when it can."""
    for hole in work.panels[name].holes:
        keep = hole_figure(hole, max(keep_mm(hole) - hole.diameter_mm / 2.0, 0.0))
        if keep.intersection(region).area > 0.05:
            missing = max(keep_mm(hole) - hole_figure(hole).centroid.distance(region), 0.0)
            return f"it would come {missing:.1f} mm into the metal that hole {hole.name} needs"
    before, after = work.figures[name], _without_slivers(work, work.figures[name], region, name)
    pieces = sorted(shapely.get_parts(after), key=lambda piece: -piece.area)
    if not pieces or pieces[0].is_empty:
        return f"nothing would be left of panel {name}"
    lines = [LineString(line_of(f, name)).buffer(1e-2) for f in work.folds if name in (f.a, f.b)]
    for offcut in pieces[1:]:
        held = any(offcut.covers(Point(hole.centre_mm)) for hole in work.panels[name].holes)
        folded = any(offcut.intersection(line).area > 0.02 * work.thickness_mm for line in lines)
        if held or folded or offcut.area > 0.2 * before.area:
            return f"it would cut panel {name} in two"
    if pieces[0].area < 0.25 * before.area:
        return f"less than a quarter of panel {name} would be left"
    for fold in work.folds:
        if name in (fold.a, fold.b) and not _common_stretches({**work.figures, name: pieces[0]}, fold):
            return f"nothing would be left of fold {fold.name}"
    return ""


def _without_slivers(work: _Work, shape: Polygon, region: Polygon, name: str) -> Polygon | MultiPolygon:
    """The figure less the region, and less webs beside it too thin to cut or hold: under two thicknesses wide."""
    rest = shape.difference(region)
    web = 2.0 * work.thickness_mm
    thin = rest.difference(rest.buffer(-web / 2.0).buffer(web / 2.0 + 1e-3))
    lines = [LineString(line_of(f, name)).buffer(1e-2) for f in work.folds if name in (f.a, f.b)]
    drop = [
        p
        for p in shapely.get_parts(thin)
        if p.area > 0.15 * web**2 and p.distance(region) < 0.05 and not any(p.intersects(line) for line in lines)
    ]
    return rest.difference(shapely.union_all(drop).buffer(1e-3)) if drop else rest


def _try_cut(work: _Work, cuts: Mapping[str, Polygon], what: str) -> bool:
    """Cut all regions or none; a STOP check tells why not."""
    for name, region in cuts.items():
        why = _harm(work, name, region)
        if why:
            work.checks.append(_stop(work, name, what, why))
            return False
    _cut(work, cuts)
    return True


def _cut(work: _Work, cuts: Mapping[str, Polygon]) -> None:
    for name, region in cuts.items():
        rest = _without_slivers(work, work.figures[name], region, name)
        work.figures[name] = max(shapely.get_parts(rest), key=lambda piece: piece.area)
        work.changed.add(name)


def _stop(work: _Work, name: str, what: str, why: str) -> Check:
    return Check(
        "fold", work.about(f"panel {name}"), "A relief cannot be cut", default("fold.edge_least").source, Severity.STOP,
        f"The {what} is wanted in panel {name}, but {why}: move the hole or fold apart, give a smaller boss or washer, "
        "or bolt this panel on as a plate of its own.",
        failed_outright=True,
    )  # fmt: skip


def _slab_of(work: _Work, name: str, grow_mm: float = 0.0) -> mesh.MeshSolid:
    panel = work.panels[name]
    shape = work.figures[name]
    zones = [fold_zone(fold, name) for fold in work.folds if name in (fold.a, fold.b)]
    shape = shape.difference(shapely.union_all(zones)) if zones else shape
    if grow_mm > 0.0:
        shape = shape.buffer(grow_mm, join_style="mitre")
    return mesh.prism(shape.simplify(0.02), -grow_mm, panel.thickness_mm + grow_mm, panel.pose)


def _meeting(work: _Work) -> None:
    gap = float(default("fold.panel_gap").value)
    names = list(work.panels)
    made = {name: _slab_of(work, name) for name in names}
    for place, one in enumerate(names):
        for other in names[place + 1 :]:
            slabs = made[one], made[other]
            if not mesh.boxes_meet(*slabs):
                continue
            both = mesh.overlap(*slabs)
            if both.empty or _least_span(both) <= _TOUCH_MM:
                continue
            volume = both.volume_mm3
            options = []
            for keep, cut in ((one, other), (other, one)):
                reach = mesh.overlap(_slab_of(work, keep, gap), _slab_of(work, cut))
                region = _rounded(mesh.shadow(reach, work.panels[cut].pose), max(work.kerf_mm, gap))
                why = _harm(work, cut, region)
                options.append((bool(why), work.figures[cut].intersection(region).area, cut, keep, region, why))
            options.sort(key=lambda option: option[:2])
            refused, area, cut, keep, region, why = options[0]
            if refused:
                both_why = "; and ".join(f"in {option[2]}, {option[5]}" for option in options)
                work.checks.append(
                    Check(
                        "fold", work.about(f"panels {one} and {other}"), "Panels fill the same space",
                        default("fold.panel_gap").source, Severity.STOP,
                        f"Folded, panels {one} and {other} have {volume / 1000.0:.2f} cm³ in common and neither can be "
                        f"cut back: {both_why}. Move a hole or draw the outline of one of them.",
                        found=volume, limit=0.0, unit="mm³", good=Good.AT_MOST,
                    )
                )  # fmt: skip
                continue
            _cut(work, {cut: region})
            made[cut] = _slab_of(work, cut)
            work.checks.append(
                Check(
                    "fold", work.about(f"panels {one} and {other}"), "Panel cut back", default("fold.panel_gap").source,
                    Severity.NOTE,
                    f"Panel {cut} is cut back by {area:.0f} mm² so that it passes panel {keep} with {gap:.1f} mm.",
                    found=gap, unit="mm", good=Good.TOLD,
                )
            )  # fmt: skip


def _least_span(both: mesh.MeshSolid) -> float:
    low, high = both.bounds_mm
    return min(float(np.min(high - low)), mesh.mean_width_mm(both))


def _rounded(region: Polygon | MultiPolygon, radius_mm: float) -> Polygon:
    """Hull of a region, grown so that its corners are round."""
    return shapely.convex_hull(region).buffer(radius_mm, quad_segs=32)


@dataclass(frozen=True, slots=True)
class _Wish:
    relief: bool
    socket_mm: float


def _wishes(panels: Mapping[str, Panel], bracket: BracketInput | None) -> dict[tuple[str, str], _Wish]:
    """Per panel and hole: whether neighbours may be cut, and the socket's outside diameter."""
    out = {}
    for name, panel in panels.items():
        for hole in panel.holes:
            relief = True
            if bracket is not None:
                lists = [bracket.panel[name].holes] if name in bracket.panel else []
                lists += [join.bolts for join in bracket.join if name in (join.on, join.cover)]
                for given in (g for holes in lists for g in holes):
                    if hole.point == given.at or hole.point.endswith(f".{given.at}") or hole.name.endswith(given.at):
                        relief = given.relief
            socket = hole.socket_mm
            if socket <= 0.0 and hole.bolt:
                try:
                    socket = float(bolt_row(hole.bolt).socket_mm)
                except KeyError:
                    socket = 0.0
            out[name, hole.name] = _Wish(relief, socket)
    return out


def _sockets(work: _Work, wishes: Mapping[tuple[str, str], _Wish]) -> None:
    reach = float(default("fold.socket_reach").value)
    room = float(default("fold.socket_room").value)
    slabs = {name: _slab_of(work, name) for name in work.panels}
    for name, panel in work.panels.items():
        for hole in panel.holes:
            wish = wishes[name, hole.name]
            if hole.use == "locate" or wish.socket_mm <= 0.0:
                continue
            tools = tool_solids(panel, hole, wish.socket_mm + 2.0 * room, reach)
            for other in work.panels:
                if other == name or _bolted_through(panel, hole, work.panels[other]):
                    continue
                for tool in tools:
                    if mesh.boxes_meet(tool, slabs[other]):
                        both = mesh.overlap(tool, slabs[other])
                        if not both.empty and _least_span(both) > 0.02:
                            _make_room(work, name, hole, wish, other, both, default("fold.socket_room").source)
                            slabs[other] = _slab_of(work, other)


def _bolted_through(panel: Panel, hole: Hole, other: Panel) -> bool:
    """Whether the hole's bolt also passes a hole of another panel: that panel's own socket is judged instead."""
    foot, way = panel.pose.apply([*hole.centre_mm, 0.0]), panel.pose.rotation[:, 2]
    back = other.pose.inverse()
    start, along = back.apply(foot), back.rotation @ way
    if abs(along[2]) < 0.9:
        return False
    meets = start - along * (start[2] - other.thickness_mm / 2.0) / along[2]
    return any(float(np.linalg.norm(meets[:2] - h.centre_mm)) < h.diameter_mm / 2.0 for h in other.holes)


def _make_room(
    work: _Work, name: str, hole: Hole, wish: _Wish, other: str, both: mesh.MeshSolid, source: Source
) -> None:
    panel = work.panels[name]
    seen = mesh.shadow(both, panel.pose)
    room = float(default("fold.socket_room").value)
    least = wish.socket_mm / 2.0 + room
    free = seen.distance(Point(hole.centre_mm))
    about = work.about(f"hole {hole.name}")
    if not wish.relief:
        work.checks.append(
            Check(
                "fold", about, "No room for the socket", source, Severity.CAUTION,
                f"Panel {other} leaves the socket on hole {hole.name} {free:.1f} mm from the bolt's middle, "
                f"{least - free:.1f} mm too little: let the relief be cut, or use a ring spanner there.",
                found=free, limit=least, unit="mm",
            )
        )  # fmt: skip
        return
    region = _rounded(mesh.shadow(both, work.panels[other].pose), max(work.kerf_mm, work.thickness_mm / 2.0))
    why = _harm(work, other, region)
    if why:
        work.checks.append(_stop(work, other, f"notch for the socket of hole {hole.name}", why))
        return
    area = work.figures[other].intersection(region).area
    _cut(work, {other: region})
    work.checks.append(
        Check(
            "fold", about, "Notch cut for the socket", source, Severity.NOTE,
            f"Panel {other} gets a notch of {area:.0f} mm² so that a socket of {wish.socket_mm:.0f} mm reaches hole "
            f"{hole.name}; without it {least - free:.1f} mm are missing.",
            found=area, unit="mm²", good=Good.TOLD,
        )
    )  # fmt: skip


def _washers(work: _Work) -> None:
    leg = float(default("fold.weld_leg").value) * work.thickness_mm
    for name, panel in work.panels.items():
        shape = work.figures[name]
        boundary = shape.boundary
        for hole in panel.holes:
            if hole.use == "locate" or hole.washer_mm <= 0.0:
                continue
            path = _path(hole)
            radius = hole.washer_mm / 2.0
            about = work.about(f"hole {hole.name}")
            for fold in (f for f in work.folds if name in (f.a, f.b)):
                zone = leg if fold.kind == "slit" else 0.0
                away = path.distance(LineString(line_of(fold, name)))
                if away < radius + zone:
                    work.checks.append(
                        Check(
                            "fold", about, "Washer sits on the fold", default("fold.weld_leg").source, Severity.STOP,
                            f"The washer of hole {hole.name} ({hole.washer_mm:.0f} mm) reaches fold {fold.name}: move "
                            f"the fold or the hole {radius + zone - away:.1f} mm apart, or take a smaller washer.",
                            found=away, limit=radius + zone, unit="mm",
                        )
                    )  # fmt: skip
            inside = path.distance(boundary) if shape.covers(path) else -path.distance(shape)
            if inside < radius - 1e-6:
                work.checks.append(
                    Check(
                        "fold", about, "Washer hangs over the edge", default("fold.edge_least").source,
                        Severity.CAUTION,
                        f"The washer of hole {hole.name} ({hole.washer_mm:.0f} mm) wants {radius - inside:.1f} mm more "
                        f"metal round it on panel {name}: give the hole a larger boss or draw the outline wider.",
                        found=inside, limit=radius, unit="mm",
                    )
                )  # fmt: skip


def _path(hole: Hole) -> LineString | Point:
    half = np.asarray(hole.slot_way, dtype=float) * hole.slot_mm / 2.0
    centre = np.asarray(hole.centre_mm, dtype=float)
    return LineString([centre - half, centre + half]) if hole.slot_mm > 0.0 else Point(centre)


def _told_folds(work: _Work) -> None:
    for fold in work.folds:
        if not {fold.a, fold.b} & work.changed:
            continue
        left = sum(end - start for start, end in _common_stretches(work.figures, fold))
        if left < _LEAST_FOLD * fold.length_mm:
            work.checks.append(
                Check(
                    "fold", work.about(f"fold {fold.name}"), "Reliefs leave little of a fold",
                    default("fold.corner_relief").source, Severity.CAUTION,
                    f"Reliefs leave {left:.0f} mm of {fold.length_mm:.0f} mm of fold {fold.name}: widen panels "
                    f"{fold.a} and {fold.b} along it, or move the hole whose socket needs the room.",
                    found=left, limit=_LEAST_FOLD * fold.length_mm, unit="mm",
                )
            )  # fmt: skip
