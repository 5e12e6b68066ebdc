"""Etched marks of a flat part. Part, panels and folds in; strokes that read beside folds and holes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from halfshaft.build.catalogue import default
from halfshaft.build.units import format_sheet
from halfshaft.checks import Check, Severity
from halfshaft.fold.model import FlatPart, Fold, Hole, Mark, Panel
from halfshaft.fold.slab import figure, hole_figure
from halfshaft.fold.strokes import strokes_of

Array = NDArray[np.float64]

_EDGE_MM = 1.5  # letters keep this far from cut edges
_SHRINK = (1.0, 0.75, 0.55, 0.4)
_LEAST_MM = 2.5
_TICK_MM = 5.0
_ARROW_MM = 18.0
_MOST_STEPS = 200  # a side of the grid of spots that are tried: a large part does not want a finer one


@dataclass(eq=False, slots=True)
class _Plate:
    """What is still free of cuts and letters, and the marks made so far."""

    free: Polygon | MultiPolygon
    marks: list[Mark] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)


def marks_and_checks(
    part: FlatPart,
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    order: Sequence[str] = (),
    height_mm: float | None = None,
    units: str = "metric",
    feet_mm: Mapping[str, Array] | None = None,
) -> tuple[tuple[Mark, ...], tuple[Check, ...]]:
    """Marks, and a NOTE for each that found no room.

    `feet_mm`: edges (2, 2) of a gusset in its own axes, by the panel that each is welded to, whose name stands beside
    it; a plate so marked needs no arrow.

    Beside each fold: its place in the order, the way it goes and how far ('2 UP 47.5°'), and a tick each side of the
    line that meet in the finished fold. Beside each hole its name. On the largest panel the part's name, its thickness
    and an arrow to the front of the car, or up where the panel stands square to it. Nothing lies over a hole, a slit,
    a washer or within 1.5 mm of a cut; letters shrink to 2.5 mm before they are left out.
    """
    height = float(default("fold.mark_height").value) if height_mm is None else height_mm
    figures = {name: _flat(figure(panels[name]), part.placed[name]) for name in part.placed if name in panels}
    plate = _Plate(free_metal(part))
    inner = [fold for fold in folds if fold.a in figures and fold.b in figures]
    places = {name: str(place + 1) for place, name in enumerate(order)}
    for fold in inner:
        _fold_marks(plate, part, fold, figures, places.get(fold.name, ""), height)
    for hole in part.bores:
        _hole_mark(plate, hole, 0.7 * height)
    if figures:
        largest = max(figures, key=lambda name: figures[name].area)
        for name, foot in (feet_mm or {}).items():
            _foot_mark(plate, name, _flat_line(foot, part.placed[largest]), figures[largest], 0.8 * height)
        lines = [line for name, line in part.fold_lines_mm.items()]
        _name_mark(plate, part, figures, largest, lines, height, units)
        names = [] if feet_mm else sorted(figures, key=lambda name: -figures[name].area)
        for name in names:
            if _arrow(plate, panels[name], figures[name], part.placed[name], 0.8 * height, name == names[-1]):
                break
    source = default("fold.mark_height").source
    checks = tuple(
        Check(
            "fold", f"part {part.name}", "A mark finds no room", source, Severity.NOTE,
            f"{what} is not etched, there is no clear spot for letters of {_LEAST_MM:.1f} mm: write it on by hand.",
            failed_outright=True,
        )
        for what in plate.dropped
    )  # fmt: skip
    return tuple(plate.marks), checks


def _flat(shape: Polygon, placed: tuple[Array, Array]) -> Polygon:
    rotation, shift = placed
    return shapely.transform(shape, lambda points: points @ np.asarray(rotation).T + np.asarray(shift))


def free_metal(part: FlatPart) -> Polygon | MultiPolygon:
    """The part's flat metal where letters may lie: off cuts, slits, fold zones and washers; in flat axes."""
    metal = part.outline.polygon(0.05).buffer(-_EDGE_MM)
    cuts = [opening.polygon(0.05).buffer(_EDGE_MM) for opening in part.openings]
    cuts += [
        hole_figure(hole, max(_EDGE_MM, (hole.washer_mm - hole.diameter_mm) / 2.0 if hole.use != "locate" else 0.0))
        for hole in part.bores
    ]
    room = part.slit_width_mm / 2.0 + _EDGE_MM
    cuts += [LineString(slit).buffer(room) for slit in part.slits_mm]
    for line in part.fold_lines_mm.values():
        zone = LineString(line) if len(line) == 2 else shapely.MultiPoint(line).convex_hull
        cuts.append(zone.buffer(room))
    return metal.difference(shapely.union_all(cuts)) if cuts else metal


def _try(
    plate: _Plate,
    text: str,
    height: float,
    spots: Array,
    angles: Sequence[float],
    deep_mm: Array | None = None,
) -> bool:
    """Put the text centred on the first of `spots` (n, 2) where it is clear, at the first height that finds one.

    `deep_mm` (n,): how far each spot is from what is not free, where that is known; most spots need no other look.
    """
    for shrink in _SHRINK:
        size = height * shrink
        if size < _LEAST_MM:
            break
        strokes, _ = strokes_of(text, size)
        ends = np.vstack(strokes)
        low, high = ends.min(axis=0), ends.max(axis=0)
        margin = np.array([0.15, 0.15]) * size
        half = (high - low) / 2.0 + margin
        among = spots if deep_mm is None else spots[deep_mm >= half.min()]
        for angle in angles:
            turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
            corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half @ turn.T
            boxes = shapely.polygons(among[:, None, :] + corners[None, :, :])
            shapely.prepare(plate.free)
            fitting = np.flatnonzero(shapely.contains(plate.free, boxes))
            if len(fitting):
                at = among[fitting[0]]
                middle = (low + high) / 2.0
                plate.marks.append(Mark(tuple((s - middle) @ turn.T + at for s in strokes), text))
                plate.free = plate.free.difference(boxes[fitting[0]].buffer(0.3 * size))
                return True
    return False


def _upright(angle: float) -> float:
    """The angle turned by half a turn where the letters would stand on their heads."""
    wrapped = (angle + np.pi) % (2.0 * np.pi) - np.pi
    if wrapped > np.pi / 2.0 + 1e-9:
        return float(wrapped - np.pi)
    if wrapped <= -np.pi / 2.0 + 1e-9:
        return float(wrapped + np.pi)
    return float(wrapped)


def _fold_marks(
    plate: _Plate, part: FlatPart, fold: Fold, figures: Mapping[str, Polygon], place: str, height: float
) -> None:
    text = f"{place} {'UP' if fold.up else 'DOWN'} {fold.angle_deg:.1f}°".strip()
    room = part.slit_width_mm / 2.0 + _EDGE_MM
    lines = {
        name: _flat_line(line, part.placed[name]) for name, line in ((fold.a, fold.line_a_mm), (fold.b, fold.line_b_mm))
    }
    way = lines[fold.a][1] - lines[fold.a][0]
    way = way / np.linalg.norm(way)
    left = np.array([-way[1], way[0]])
    ticks = []
    for name, line in lines.items():
        middle = line.mean(axis=0)
        sign = (
            1.0
            if figures[name].distance(Point(middle + 2 * left)) < figures[name].distance(Point(middle - 2 * left))
            or figures[name].contains(Point(middle + room * left))
            else -1.0
        )
        lines[name] = np.vstack([line, left * sign])
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            foot = line[0] + share * (line[1] - line[0]) + left * sign * (room + 0.1)
            tick = np.array([foot, foot + left * sign * _TICK_MM])
            if plate.free.contains(LineString(tick)):
                ticks.append((share, tick))
                break
    if len(ticks) == 2 and ticks[0][0] == ticks[1][0]:
        plate.marks.append(Mark(tuple(tick for _, tick in ticks), ""))
        plate.free = plate.free.difference(shapely.union_all([LineString(t).buffer(1.0) for _, t in ticks]))
    spots = []
    for away in (0.9, 1.4, 2.0, 2.8):
        for name in (fold.a, fold.b):
            start, end, toward = lines[name]
            for share in (0.5, 0.35, 0.65, 0.25, 0.75, 0.15, 0.85):
                spots.append(start + share * (end - start) + toward * (room + away * height))
    if not _try(plate, text, height, np.array(spots), [_upright(float(np.arctan2(way[1], way[0])))]):
        close = np.array([spot + (0.45 - 0.9) * height * lines[fold.a][2] for spot in spots])
        if not _try(plate, text, 0.5 * height, close, [_upright(float(np.arctan2(way[1], way[0])))]):
            plate.dropped.append(f"'{text}' beside fold {fold.name}")


def _foot_mark(plate: _Plate, text: str, foot: Array, shape: Polygon, height: float) -> None:
    """The name of a panel along the edge that is welded to it."""
    way = (foot[1] - foot[0]) / np.linalg.norm(foot[1] - foot[0])
    left = np.array([-way[1], way[0]])
    inward = left if shape.contains(Point(foot.mean(axis=0) + left)) else -left
    spots = [
        foot[0] + share * (foot[1] - foot[0]) + inward * (_EDGE_MM + away * height)
        for away in (0.9, 1.4, 2.0)
        for share in (0.5, 0.4, 0.6, 0.3, 0.7)
    ]
    if not _try(plate, text, height, np.array(spots), [_upright(float(np.arctan2(way[1], way[0])))]):
        plate.dropped.append(f"'{text}' beside its edge")


def _flat_line(line: Array, placed: tuple[Array, Array]) -> Array:
    return np.asarray(np.asarray(line, dtype=float) @ np.asarray(placed[0]).T + np.asarray(placed[1]))


def _hole_mark(plate: _Plate, hole: Hole, height: float) -> None:
    text = hole.name.rsplit(".", 1)[-1]
    reach = max(hole.diameter_mm, hole.washer_mm) / 2.0 + hole.slot_mm / 2.0
    ring = np.radians(np.array([0, 180, 90, 270, 45, 135, 225, 315, 22, 158, 202, 338]))
    ways = np.column_stack([np.cos(ring), np.sin(ring)])
    wide = strokes_of(text, height)[1] / 2.0
    spots = np.vstack(
        [
            hole.centre_mm + ways * (reach + _EDGE_MM + away * np.array([wide, height]) + 0.5)
            for away in (0.6, 0.9, 1.3, 2.0)
        ]
    )
    if not _try(plate, text, height, spots, [0.0, np.pi / 2.0]):
        plate.dropped.append(f"the name of hole {hole.name}")


def _grid(shape: Polygon | MultiPolygon, step: float) -> tuple[Array, Array]:
    """Spots (n, 2) over a figure, those deepest in it first, and how deep each lies, mm."""
    shape = shapely.union_all([piece for piece in shapely.get_parts(shape) if piece.geom_type == "Polygon"])
    if shape.is_empty:
        return np.zeros((0, 2)), np.zeros(0)
    x0, y0, x1, y1 = shape.bounds
    step = max(step, (x1 - x0 + y1 - y0) / 2.0 / _MOST_STEPS)
    xs, ys = np.meshgrid(np.arange(x0, x1 + step, step), np.arange(y0, y1 + step, step))
    spots = np.column_stack([xs.ravel(), ys.ravel()])
    edge = shape.boundary
    shapely.prepare((shape, edge))
    spots = spots[shapely.contains_xy(shape, spots[:, 0], spots[:, 1])]
    deep = shapely.distance(edge, shapely.points(spots))
    order = np.argsort(-deep, kind="stable")
    return np.asarray(spots[order]), np.asarray(deep[order])


def _name_mark(
    plate: _Plate,
    part: FlatPart,
    figures: Mapping[str, Polygon],
    largest: str,
    lines: Sequence[Array],
    height: float,
    units: str,
) -> None:
    angles = [0.0, np.pi / 2.0]
    for line in lines:
        angles.append(_upright(float(np.arctan2(*(line[1] - line[0])[::-1]))))
    names = sorted(figures, key=lambda name: (name != largest, -figures[name].area))
    thick = f"{round(part.thickness_mm, 2):g}" if units == "metric" else format_sheet(part.thickness_mm, units)
    for text in (part.name, f"{part.sheet} {thick}"):
        if not _try_panels(plate, text, [figures[name] for name in names], height, angles):
            plate.dropped.append(f"'{text}'")


def _try_panels(plate: _Plate, text: str, shapes: Sequence[Polygon], height: float, angles: Sequence[float]) -> bool:
    """Put the text on the first of the panels that has room for it, on any of them before it is made smaller."""
    grids: dict[int, tuple[Array, Array]] = {}
    for size in (height, 0.6 * height):
        for number, shape in enumerate(shapes):
            if number not in grids:
                grids[number] = _grid(shape.intersection(plate.free), 0.6 * height)
            spots, deep_mm = grids[number]
            if len(spots) and _try(plate, text, size, spots, angles, deep_mm):
                return True
    return False


def _arrow(plate: _Plate, panel: Panel, shape: Polygon, placed: tuple[Array, Array], height: float, last: bool) -> bool:
    """An arrow to the front, or up, whichever lies more nearly in the panel, with its word beside it."""
    best = ("", np.zeros(2))
    for word, axis in (("FRONT", [1.0, 0.0, 0.0]), ("UP", [0.0, 0.0, 1.0])):
        seen = (panel.pose.rotation.T @ np.array(axis))[:2]
        if np.linalg.norm(seen) > np.linalg.norm(best[1]) + 0.05:
            best = (word, seen)
    word, seen = best
    way = np.asarray(placed[0]) @ seen
    way = way / np.linalg.norm(way)
    side = np.array([-way[1], way[0]])
    along = [_upright(float(np.arctan2(way[1], way[0])))]
    for scale in (1.0, 0.7, 0.5):
        size, half = max(scale * height, _LEAST_MM / _SHRINK[0]), way * scale * _ARROW_MM / 2.0
        offsets = (
            np.array([half, -half]),
            np.array([half - scale * (4.0 * way + sign * 2.5 * side) for sign in (1, -1)]),
        )
        corners = np.vstack([offsets[0][0] + way, offsets[1][0] + side, offsets[0][1] - way, offsets[1][1] - side])
        spots, _ = _grid(shape.intersection(plate.free), size)
        rooms = shapely.polygons(spots[:, None, :] + corners[None, :, :]) if len(spots) else np.array([])
        shapely.prepare(plate.free)
        fitting = np.flatnonzero(shapely.contains(plate.free, rooms)) if len(spots) else np.arange(0)
        for place in fitting[:12]:
            spot, room = spots[place], rooms[place]
            tip, tail, barbs = spot + half, spot - half, spot + offsets[1]
            before = plate.free
            plate.free = plate.free.difference(room)
            beside = np.array([spot + sign * side * (2.5 * scale + 0.9 * size + 1.5) for sign in (1, -1)])
            if _try(plate, word, size, beside, along):
                plate.marks.append(Mark((np.array([tail, tip]), np.array([barbs[0], tip, barbs[1]])), ""))
                return True
            plate.free = before
    if last:
        plate.dropped.append(f"the arrow '{word}'")
    return False
