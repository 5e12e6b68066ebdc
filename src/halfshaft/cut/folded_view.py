"""A picture of the folded bracket. Panels in space in; flat shapes to paint, the farthest first, out.

Slabs are put in order by a tree of their middle planes (Fuchs, Kedem, Naylor 1980: a slab that another's plane passes
through is split there), so that nothing hidden is drawn over what hides it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

from halfshaft.fold.model import Fold, Panel

Array = NDArray[np.float64]

_DEVIATION_MM = 0.15
_EPS_MM = 0.3
_LIGHT = np.array([0.35, 0.45, 0.82])
_BARE, _LYING = np.array([232, 234, 233]), np.array([240, 222, 186])  # the side that lies on a face is sand-coloured


@dataclass(frozen=True, eq=False)
class Paint:
    """One shape on the picture: rings (n, 2) filled with a colour, or an open line when `fill` is empty."""

    rings_mm: tuple[Array, ...]
    fill: str
    thick_mm: float = 0.0
    panel: str = ""
    lies: bool = False  # on the car or the unit


@dataclass(frozen=True, eq=False)
class FoldedView:
    """`panels` and `folds` tell where labels go; `axes` the way of front, left and up on the picture."""

    seen_from: str
    paints: tuple[Paint, ...]
    panels: Mapping[str, Array]
    folds: Mapping[str, Array]
    axes: tuple[Array, Array, Array]
    toward: Array  # (3,) unit vector from the bracket to the eye


@dataclass(frozen=True, eq=False)
class _Piece:
    panel: Panel
    shape: Polygon


def folded_view(panels: Mapping[str, Panel], folds: Sequence[Fold]) -> FoldedView:
    """The bracket from the corner that shows its panels best, in mm on the picture, y up.

    Raises ValueError where no panel has metal.
    """
    metals = {name: shape for name, panel in panels.items() if not (shape := metal(panel)).is_empty}
    panels = {name: panels[name] for name in metals}
    if not panels:
        raise ValueError("a bracket without metal has no picture")
    words, toward = _best_view(panels, metals)
    across = np.cross([0.0, 0.0, 1.0], toward)
    across /= np.linalg.norm(across)
    screen = np.vstack([across, np.cross(toward, across)])
    order = _back_to_front([_Piece(panels[name], shape) for name, shape in metals.items()], toward)
    paints = [paint for piece in order for paint in _slab_paints(piece, metals[piece.panel.name], toward, screen)]
    label = {}
    for name, panel in panels.items():
        for spot in _label_spots(metals[name]):
            place = panel.pose.apply([spot.x, spot.y, _shown_side(panel, toward)])
            if not any(_hides(panels[other], metals[other], place, toward) for other in panels if other != name):
                label[name] = screen @ place
                break
    middles = {}
    for fold in folds:
        if fold.a in panels:
            x, y = np.asarray(fold.line_a_mm, dtype=float).mean(axis=0)
            panel = panels[fold.a]
            middles[fold.name] = screen @ panel.pose.apply([x, y, _shown_side(panel, toward)])
    axes = (screen[:, 0], screen[:, 1], screen[:, 2])
    return FoldedView(words, tuple(paints), label, middles, axes, toward)


def _label_spots(shape: Polygon) -> list[Point]:
    """Spots in the metal for a name, the middle first; a panel that is hidden at all of them gets none."""
    low_x, low_y, high_x, high_y = shape.bounds
    middle = shape.representative_point()
    grid = [
        Point(x, y)
        for x in np.linspace(low_x, high_x, 9)[1:-1]
        for y in np.linspace(low_y, high_y, 9)[1:-1]
        if shape.contains(Point(x, y))
    ]
    return [middle, *sorted(grid, key=middle.distance)]


def _hides(panel: Panel, shape: Polygon, place: Array, toward: Array) -> bool:
    """Whether a panel, holes taken as filled, stands between a place and the eye."""
    at, way = panel.pose.inverse().apply(place), panel.pose.rotation.T @ toward
    if abs(way[2]) < 1e-9:
        return False
    run = (panel.thickness_mm / 2.0 - at[2]) / way[2]
    foot = at + run * way
    return bool(run > panel.thickness_mm and Polygon(shape.exterior).contains(Point(foot[0], foot[1])))


def metal(panel: Panel) -> Polygon:
    """Outline less openings and holes, flattened for a picture; empty where the holes leave nothing."""
    cuts = [opening.polygon(_DEVIATION_MM) for opening in panel.openings]
    for hole in panel.holes:
        reach = np.asarray(hole.slot_way, dtype=float) * hole.slot_mm / 2.0
        centre = np.asarray(hole.centre_mm, dtype=float)
        core = LineString([centre - reach, centre + reach]) if hole.slot_mm > 0.0 else Point(centre)
        cuts.append(core.buffer(hole.diameter_mm / 2.0, quad_segs=6))
    shape = shapely.make_valid(panel.outline.polygon(_DEVIATION_MM)).difference(shapely.union_all(cuts))
    pieces = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]
    if not pieces:
        return Polygon()
    return max(pieces, key=lambda piece: piece.area)


def _best_view(panels: Mapping[str, Panel], metals: Mapping[str, Polygon]) -> tuple[str, Array]:
    """Words and unit vector toward the eye: of eight corners the one that shows the worst-shown panel best."""
    normals = np.array([panel.pose.rotation[:, 2] for panel in panels.values()])
    areas = np.array([metals[name].area for name in panels])
    best: tuple[float, str, Array] | None = None
    for height, tilt in (("above", 32.0), ("below", -32.0)):
        for words, azimuth in (
            ("front left", 40.0),
            ("front right", -40.0),
            ("rear left", 140.0),
            ("rear right", -140.0),
        ):
            a, b = np.radians(azimuth), np.radians(tilt)
            toward = np.array([np.cos(a) * np.cos(b), np.sin(a) * np.cos(b), np.sin(b)])
            shown = np.abs(normals @ toward)
            score = float(shown.min() + shown @ areas / areas.sum()) + (0.15 if tilt > 0 else 0.0)
            if best is None or score > best[0] + 1e-9:
                best = (score, f"seen from the {words}, from {height}", toward)
    assert best is not None
    return best[1], best[2]


def _shown_side(panel: Panel, toward: Array) -> float:
    return panel.thickness_mm if panel.pose.rotation[:, 2] @ toward > 0.0 else 0.0


def _back_to_front(pieces: list[_Piece], toward: Array) -> list[_Piece]:
    if len(pieces) <= 1:
        return pieces
    own = pieces[0].panel
    normal = own.pose.rotation[:, 2]
    at = float(normal @ own.pose.apply([0.0, 0.0, own.thickness_mm / 2.0]))
    before: list[_Piece] = []
    same: list[_Piece] = []
    behind: list[_Piece] = []
    for piece in pieces:
        if piece.panel is own:
            same.append(piece)
            continue
        for side, shape in _split(piece, normal, at):
            (before if side > 0 else behind if side < 0 else same).append(_Piece(piece.panel, shape))
    first, last = (behind, before) if normal @ toward > 0.0 else (before, behind)
    return [*_back_to_front(first, toward), *same, *_back_to_front(last, toward)]


def _split(piece: _Piece, normal: Array, at_mm: float) -> list[tuple[int, Polygon]]:
    """The piece's parts before (1) and behind (-1) the plane normal . x = at."""
    pose, half = piece.panel.pose, piece.panel.thickness_mm / 2.0
    slope = pose.rotation[:, :2].T @ normal
    base = float(normal @ pose.apply([0.0, 0.0, half])) - at_mm
    heights = base + np.asarray(piece.shape.exterior.coords) @ slope
    if heights.min() >= -_EPS_MM - half or heights.max() <= _EPS_MM + half:
        return [(1 if heights.mean() >= 0.0 else -1, piece.shape)]
    steep = float(np.linalg.norm(slope))
    way, reach = slope / steep, 2.0 * float(np.abs(np.asarray(piece.shape.exterior.coords)).max()) + 10.0
    foot, along = -way * base / steep, np.array([-way[1], way[0]])
    out = []
    for side in (1, -1):
        corners = [foot - along * reach, foot + along * reach]
        half_plane = Polygon([*corners, corners[1] + side * way * reach * 2, corners[0] + side * way * reach * 2])
        cut = piece.shape.intersection(half_plane)
        out += [(side, part) for part in shapely.get_parts(cut) if part.geom_type == "Polygon" and part.area > 1e-3]
    return out


def _slab_paints(piece: _Piece, whole: Polygon, toward: Array, screen: Array) -> Iterable[Paint]:
    panel = piece.panel
    rotation = panel.pose.rotation
    top = _shown_side(panel, toward)
    far = panel.thickness_mm - top

    def flat(ring: Array, z: float) -> Array:
        points = np.column_stack([ring, np.full(len(ring), z)])
        return np.asarray(panel.pose.apply(points) @ screen.T)

    rim = whole.boundary.buffer(1e-3)
    walls: list[tuple[float, Array, Array, str]] = []
    shape = shapely.geometry.polygon.orient(piece.shape)
    for ring_line in (shape.exterior, *shape.interiors):
        ring = np.asarray(ring_line.coords)
        runs = np.diff(ring, axis=0)
        outward = np.column_stack([runs[:, 1], -runs[:, 0]]) @ rotation[:, :2].T
        facing = outward @ toward
        for i in np.flatnonzero(facing > 1e-9):
            ends = ring[i : i + 2]
            if not rim.covers(Point(ends.mean(axis=0))):
                continue
            normal = outward[i] / np.linalg.norm(outward[i])
            near, deep = flat(ends, top), flat(ends, far)
            depth = float((panel.pose.apply([*ends.mean(axis=0), panel.thickness_mm / 2.0])) @ toward)
            walls.append((depth, np.vstack([near, deep[::-1]]), deep, _shade(normal, _BARE * 0.82)))
    for _, quad, deep, colour in sorted(walls, key=lambda wall: wall[0]):
        yield Paint((quad,), colour, panel=panel.name)
        yield Paint((deep,), "", 0.18)
    shown = "upper" if top > 0.0 else "under"
    base = _LYING if panel.contact == shown else _BARE
    normal = rotation[:, 2] * (1.0 if top > 0.0 else -1.0)
    rings = tuple(flat(np.asarray(ring.coords)[:-1], top) for ring in (shape.exterior, *shape.interiors))
    yield Paint(rings, _shade(normal, base), panel=panel.name, lies=panel.contact == shown)
    edge = shape.boundary.intersection(rim)
    for line in shapely.get_parts(shapely.line_merge(edge) if edge.geom_type == "MultiLineString" else edge):
        if line.geom_type == "LineString" and line.length > 1e-3:
            yield Paint((flat(np.asarray(line.coords), top),), "", 0.28)


def _shade(normal: Array, base: Array) -> str:
    light = 0.66 + 0.34 * abs(float(normal @ _LIGHT))
    return "#" + "".join(f"{round(min(255.0, float(value) * light)):02x}" for value in base)
