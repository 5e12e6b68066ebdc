"""A locating template for an opening in a measured face. Opening and measurements in; a flat part and its checks out.

Two feet of the template stand on the anchoring edge and hold its height and its turn; the anchoring hole holds it along
the edge only, through a slot square to the edge. So nothing is held twice, and where the pin sits in the slot tells
whether the hole lies as far from the edge as it was measured.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, box

from halfshaft.build.catalogue import default
from halfshaft.build.fitup import WindowInput
from halfshaft.build.schema import Build, OpeningInput
from halfshaft.build.units import format_length
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.fitup.window import Window
from halfshaft.fold.model import FlatPart, Hole, Mark
from halfshaft.fold.strokes import strokes_of
from halfshaft.fold.twin import mirrored
from halfshaft.geometry import Contour
from halfshaft.geometry.arcs import contours_of
from halfshaft.geometry.contour import arc_of
from halfshaft.measure.model import Measured
from halfshaft.sure import ONE_WAY, TWO_WAYS, worst_spread

Array = NDArray[np.float64]

_FOOT_MM = 20.0
_CLEAR_MM = 3.0  # the plate stands this far off the edge between its feet: a burr or a bead does not lift it
_CORNER_MM = 4.0
_STEP = 1e-4
_SAME_WALL = 0.7  # cosine: walls of one member stand square to each other
_DERIVED = Source(Origin.DERIVED, "docs/cut.md, locating template")


@dataclass(frozen=True, eq=False)
class Template:
    """`parts` is empty where a STOP check says why. Lengths in template axes: x along the edge, y up from it."""

    name: str
    parts: tuple[FlatPart, ...]
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]
    notes: tuple[str, ...] = ()
    centre_mm: Array | None = None  # (2,)
    hole_mm: Array | None = None  # (2,)
    covariance_mm2: Array | None = None  # (3, 3) of centre x, centre y, hole y


@dataclass(frozen=True, slots=True)
class Anchor:
    """What a template for a window holds on to: names of a measured face, a hole in it and two points of an edge."""

    face: str
    hole: str
    hole_mm: float
    edge: tuple[str, str]
    twin: bool = False


def template(build: Build, measured: Measured, name: str) -> Template:
    """The template of opening `name` and its mirrored twin when asked.

    Raises KeyError where the build has no such opening.
    """
    return _made(build, measured, name, build.opening[name], None)


def window_template(build: Build, measured: Measured, name: str, window: Window, anchor: Anchor) -> Template:
    """The template of a window that a placed unit asks for, and its mirrored twin when asked.

    Its opening is the window's own contour, laid in the anchor's measured face. Parts are empty, with a STOP check,
    where the anchor is not measured or its face is not the wall that the window was worked out for.
    """
    about = f"opening {name}"
    lost = _lost(about, measured, (anchor.hole, *anchor.edge, anchor.face))
    if lost is not None:
        return Template(name, (), (lost,), ())
    flat = window.contour.flattened_mm()
    spots = window.wall.pose.apply(np.column_stack([flat, np.zeros(len(flat))]))
    low, high = spots.min(axis=0), spots.max(axis=0)
    told = OpeningInput(
        face=anchor.face, hole=anchor.hole, hole_mm=anchor.hole_mm, edge=anchor.edge, round_mm=window.round_mm,
        twin=anchor.twin, width_mm=1.0, height_mm=1.0, centre=tuple(float(x) for x in (low + high) / 2.0),
    )  # fmt: skip
    mean, _ = measured.joint([anchor.hole, *anchor.edge, anchor.face])
    try:
        foot, along, up = _frame(mean, told)
    except ValueError as why:
        return Template(name, (), (_stop(about, "Edge gives no direction", str(why)),), ())
    axes = window.wall.pose.rotation
    row = default("cut.window_tilt")
    tilt = float(np.degrees(np.arccos(np.clip(np.cross(along, up) @ axes[:, 2], -1.0, 1.0))))
    apart = Check(
        "cut", about, "Measured face against the wall that the window was worked out for", row.source, Severity.STOP,
        f"Anchor to points of the {window.wall.called}, or measure {anchor.face} again.",
        tilt, float(row.value), row.unit, Good.AT_MOST,
    )  # fmt: skip
    if not apart.ok:
        return Template(name, (), (apart,), ())
    turned = float(np.arctan2(up @ axes[:, 0], along @ axes[:, 0]))
    spin = np.array([[np.cos(turned), -np.sin(turned)], [np.sin(turned), np.cos(turned)]])
    start = window.wall.pose.shift_mm - foot
    contour = window.contour.moved(spin, np.array([start @ along, start @ up]))
    ring = contour.flattened_mm()
    low, high = ring.min(axis=0), ring.max(axis=0)
    middle = (low + high) / 2.0
    told = told.model_copy(
        update={
            "width_mm": float(high[0] - low[0]),
            "height_mm": float(high[1] - low[1]),
            "centre": tuple(float(x) for x in foot + middle[0] * along + middle[1] * up),
        }
    )
    made = _made(build, measured, name, told, contour)
    return replace(made, checks=(*made.checks, apart), notes=(*made.notes, *_corner_notes(contour, build.build.units)))


def window_templates(build: Build, measured: Measured, windows: Sequence[Window]) -> Mapping[str, Template]:
    """Templates of windows whose wall has an anchor in [fitup.window], by the anchor's name, numbered where several.

    A window that is refused, one that runs over an edge say, gets none; one without an anchor a template without parts
    and a check that says what to write.
    """
    told = build.fitup.window if build.fitup is not None else {}
    found: dict[str, Template] = {}
    for window in windows:
        about = f"window for {window.piece} in the {window.wall.called}"
        if any(not c.ok and c.severity is Severity.STOP for c in window.checks):
            continue
        anchor = next((n for n, w in told.items() if w.member == window.member and _lies_on(measured, w, window)), None)
        name = anchor or about
        number = 1
        while name in found:
            number += 1
            name = f"{anchor or about}-{number}"
        if anchor is None:
            found[name] = Template(name, (), (_no_anchor(about, window),), ())
            continue
        wish = told[anchor]
        own = Anchor(wish.face, wish.hole, wish.hole_mm, wish.edge, wish.twin)
        found[name] = window_template(build, measured, name, window, own)
    return found


def _lies_on(measured: Measured, anchor: WindowInput, window: Window) -> bool:
    """Whether the anchor's face looks the way of the window's wall: another wall of the member is another anchor's."""
    face = measured.faces.get(anchor.face)
    return face is None or float(face.plane.normal @ window.wall.pose.rotation[:, 2]) > _SAME_WALL


def _no_anchor(about: str, window: Window) -> Check:
    return Check(
        "cut", about, "No template: nothing to hang it on", _DERIVED, Severity.NOTE,
        f'Measure a hole and an edge of the {window.wall.called} and write [fitup.window.NAME] with member = '
        f'"{window.member}", face, hole, hole_diameter and edge.', failed_outright=True,
    )  # fmt: skip


def _made(build: Build, measured: Measured, name: str, told: OpeningInput, contour: Contour | None) -> Template:
    """A template about a rounded rectangle, or about `contour` in template axes where one is given."""
    about = f"opening {name}"
    names = [told.hole, *told.edge, *([told.centre] if isinstance(told.centre, str) else [])]
    lost = _lost(about, measured, (*names, told.face))
    if lost is not None:
        return Template(name, (), (lost,), ())
    kerf = build.shop.kerf_mm
    if min(told.width_mm, told.height_mm) <= kerf:
        words = f"The cut alone is {format_length(kerf, build.build.units)} wide: write a larger width and height."
        return Template(name, (), (_stop(about, "Opening no wider than the cut", words),), ())
    mean, covariance = measured.joint([*names, told.face])
    try:
        spots = _spots(mean, told)
    except ValueError as why:
        return Template(name, (), (_stop(about, "Edge gives no direction", str(why)),), ())
    slope = np.array(
        [(_spots(mean + d, told) - _spots(mean - d, told)) / (2 * _STEP) for d in np.eye(len(mean)) * _STEP]
    ).T
    spread = slope @ covariance @ slope.T
    centre, hole = spots[:2], np.array([0.0, spots[2]])
    radius, assumed = _rounding(told, name)
    faults = _faults(about, told, centre, hole)
    if faults:
        return Template(name, (), tuple(faults), tuple(assumed), (), centre, hole, spread)
    play = float(np.clip(4.0 * np.sqrt(max(spread[2, 2], 0.0)), 2.0, 16.0))
    opening = contour or rounded_opening(centre, told.width_mm, told.height_mm, radius)
    part = _part(name, told, centre, hole, opening, play, _front(measured, told), build.build.units)
    notes = _notes(told, centre, hole, play, build.build.units)
    checks = [_place_check(about, spread), _anchor_check(about, hole, spread)]
    parts: tuple[FlatPart, ...] = (part,)
    if told.twin:
        parts = (part, mirrored(part))
        checks.append(_twin_check(about))
    return Template(name, parts, tuple(checks), tuple(assumed), notes, centre, hole, spread)


def templates(build: Build, measured: Measured) -> Mapping[str, Template]:
    return {name: template(build, measured, name) for name in build.opening}


def rounded_opening(centre_mm: Array, width_mm: float, height_mm: float, radius_mm: float) -> Contour:
    """A rectangle with true arcs at its corners, clockwise as openings go. A radius of half a side makes a slot."""
    r = min(radius_mm, width_mm / 2.0, height_mm / 2.0)
    w, h = width_mm / 2.0, height_mm / 2.0
    corners = [(-w, -h + r), (-w, h - r), (-w + r, h), (w - r, h), (w, h - r), (w, -h + r), (w - r, -h), (-w + r, -h)]
    points = np.array(corners) + np.asarray(centre_mm, dtype=float)
    turn = -float(np.tan(np.pi / 8.0)) if r > 0.0 else 0.0
    keep = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1) > 1e-9
    bulge = np.array([0.0, turn] * 4)
    return Contour(points[keep], bulge[keep])


def _lost(about: str, measured: Measured, names: tuple[str, ...]) -> Check | None:
    lost = [n for n in names if n not in measured.where]
    if not lost:
        return None
    words = f"Measure {', '.join(lost)} first: the readings do not hold {'it' if len(lost) == 1 else 'them'}."
    return _stop(about, "Anchor is not located", words)


def _corner_notes(contour: Contour, units: str) -> tuple[str, ...]:
    """Where the contour's lines and arcs begin and end, to lay it out by hand or to check the template."""
    count, out = len(contour.points_mm), []
    for at, (here, bulge) in enumerate(zip(contour.points_mm, contour.bulge, strict=True)):
        there = contour.points_mm[(at + 1) % count]
        ends = " to ".join(
            f"({format_length(float(x), units)}, {format_length(float(y), units)})" for x, y in (here, there)
        )
        if abs(bulge) < 1e-9:
            out.append(f"line {ends}")
        else:
            out.append(f"arc of radius {format_length(arc_of(here, there, float(bulge))[1], units)} {ends}")
    return (f"The window from zero, along the edge and up from it: {'; '.join(out)}.",)


def _frame(vector: Array, told: OpeningInput) -> tuple[Array, Array, Array]:
    """Foot of the hole on the edge, unit direction along the edge, and up from it toward the opening."""
    normal = vector[-4:-1] / np.linalg.norm(vector[-4:-1])
    distance = vector[-1] / np.linalg.norm(vector[-4:-1])
    hole, first, second = (p - (p @ normal - distance) * normal for p in vector[:9].reshape(3, 3))
    centre = vector[9:12] if isinstance(told.centre, str) else np.array(told.centre)
    run = second - first
    if np.linalg.norm(run) < 5.0:
        raise ValueError(
            f"{told.edge[0]} and {told.edge[1]} lie less than 5 mm apart: take two points far along the edge"
        )
    along = run / np.linalg.norm(run)
    up = np.cross(normal, along)
    if (centre - first) @ up < 0.0:
        along, up = -along, -up
    return first + ((hole - first) @ along) * along, along, up


def _spots(vector: Array, told: OpeningInput) -> Array:
    """Centre x, centre y and hole y in template axes, as a function of everything measured."""
    foot, along, up = _frame(vector, told)
    centre = vector[9:12] if isinstance(told.centre, str) else np.array(told.centre)
    return np.array([(centre - foot) @ along, (centre - foot) @ up, (vector[:3] - foot) @ up])


def _front(measured: Measured, told: OpeningInput) -> tuple[str, Array]:
    """Word and direction in template axes of the car's front, or up where the face looks along the car."""
    names = [told.hole, *told.edge, *([told.centre] if isinstance(told.centre, str) else [])]
    vector, _ = measured.joint([*names, told.face])
    _, along, up = _frame(vector, told)
    for word, axis in (("FRONT", np.array([1.0, 0.0, 0.0])), ("UP", np.array([0.0, 0.0, 1.0]))):
        way = np.array([axis @ along, axis @ up])
        if np.linalg.norm(way) > 0.7:
            return word, way / np.linalg.norm(way)
    return "LEFT", np.array([along[1], up[1]]) / np.hypot(along[1], up[1])


def _part(
    name: str,
    told: OpeningInput,
    centre: Array,
    hole: Array,
    opening: Contour,
    play: float,
    front: tuple[str, Array],
    units: str,
) -> FlatPart:
    border, thickness = float(default("cut.template_border").value), float(default("cut.template_thickness").value)
    boss = Point(hole).buffer(told.hole_mm / 2.0 + play / 2.0 + border, quad_segs=64)
    body = shapely.union(box(*opening.polygon(0.005).bounds).buffer(border, quad_segs=64), boss)
    x0, _, x1, _ = body.bounds
    left, right = min(x0, -_FOOT_MM), max(x1, _FOOT_MM)
    over = box(left, 0.0, right, 1e6)
    whole = shapely.union(body.intersection(over), box(left, 0.0, right, _CLEAR_MM + 12.0)).convex_hull
    whole = whole.difference(box(left + _FOOT_MM, -1.0, right - _FOOT_MM, _CLEAR_MM))
    whole = (
        whole.buffer(_CORNER_MM, quad_segs=64).buffer(-2 * _CORNER_MM, quad_segs=64).buffer(_CORNER_MM, quad_segs=64)
    )
    whole = shapely.Polygon(whole.exterior)
    outline = contours_of(whole)[0][0]
    anchor = Hole(
        name=told.hole, point=told.hole, centre_mm=hole, diameter_mm=told.hole_mm, bolt="", bolt_mm=told.hole_mm,
        frame_hole_mm=told.hole_mm, slot_mm=play, slot_way=np.array([0.0, 1.0]), use="locate",
    )  # fmt: skip
    free = whole.difference(opening.polygon(0.01).buffer(1.0)).difference(
        Point(hole).buffer(told.hole_mm / 2.0 + play / 2.0 + 1.0)
    )
    return FlatPart(
        f"opening.{name}", "template sheet", thickness, outline, (opening,), (anchor,), (), 0.0, {},
        _marks(name, told, centre, hole, free, front, (left, right), units), {},
    )  # fmt: skip


def _marks(
    name: str,
    told: OpeningInput,
    centre: Array,
    hole: Array,
    free: shapely.Polygon,
    front: tuple[str, Array],
    feet: tuple[float, float],
    units: str,
) -> tuple[Mark, ...]:
    """Which side faces you, where zero is, the opening's middle lines, the front, and what the template is."""
    height = float(default("cut.template_text").value)
    marks = [Mark((np.array([[0.0, _CLEAR_MM + 1.0], [0.0, _CLEAR_MM + 9.0]]),))]
    reach = np.array([told.width_mm, told.height_mm]) / 2.0
    for way in (np.array([1.0, 0.0]), np.array([-1.0, 0.0]), np.array([0.0, 1.0]), np.array([0.0, -1.0])):
        start = centre + way * (reach + 2.0)
        marks.append(Mark((np.array([start, start + way * 8.0]),)))
    marks += [Mark((np.array([[hole[0] + s * 12.0, hole[1]], [hole[0] + s * 18.0, hole[1]]]),)) for s in (-1, 1)]
    marks = [mark for mark in marks if free.covers(LineString(mark.strokes_mm[0]))]
    taken = shapely.union_all([LineString(s).buffer(1.5) for mark in marks for s in mark.strokes_mm])
    word, way = front
    size = f"{told.width_mm:g} x {told.height_mm:g} mm"
    if units == "inch":
        size = f"{format_length(told.width_mm, units)} x {format_length(told.height_mm, units)}"
    texts = [
        ("THIS SIDE TO YOU", height),
        (f"opening.{name}", height),
        (size.upper(), 0.75 * height),
        ("FEET ON EDGE", 0.75 * height),
        ("0", 0.75 * height),
    ]
    wanted = {"0": np.array([3.0, _CLEAR_MM + 3.0]), "FEET ON EDGE": np.array([feet[0] + 3.0, _CLEAR_MM + 3.0])}
    room = free.buffer(-1.5)
    for words, tall in texts:
        placed = _placed(words, tall, room.difference(taken), wanted.get(words))
        if placed is not None:
            marks.append(placed)
            taken = taken.union(shapely.union_all([LineString(s).buffer(2.0) for s in placed.strokes_mm]))
    return (*marks, *_arrow(word, way, height, room.difference(taken)))


def _placed(words: str, tall: float, room: shapely.Polygon, wanted: Array | None) -> Mark | None:
    """The words where they have room, nearest to where they are wanted, else as far from every edge as may be."""
    for size in (tall, 0.75 * tall, 0.55 * tall):
        strokes, wide = strokes_of(words, size)
        spot = _room_for(room, wide, size, wanted)
        if spot is not None:
            return Mark(tuple(stroke + spot for stroke in strokes), words)
    return None


def _room_for(room: shapely.Polygon, wide: float, tall: float, wanted: Array | None) -> Array | None:
    x0, y0, x1, y1 = room.bounds
    xs, ys = np.arange(x0, x1 - wide, 3.0), np.arange(y0, y1 - tall, 3.0)
    if len(xs) == 0 or len(ys) == 0:
        return None
    grid = np.array([(x, y) for y in ys[::-1] for x in xs])
    boxes = shapely.box(grid[:, 0], grid[:, 1], grid[:, 0] + wide, grid[:, 1] + tall)
    shapely.prepare(room)
    fits = shapely.covers(room, boxes)
    if not fits.any():
        return None
    grid = grid[fits]
    if wanted is None:
        wanted = np.array([(x0 + x1 - wide) / 2.0, y1])
    return np.asarray(grid[int(np.argmin(np.linalg.norm(grid - wanted, axis=1)))])


def _arrow(word: str, way: Array, tall: float, room: shapely.Polygon) -> tuple[Mark, ...]:
    """An arrow and its word behind it, apart so that a twin's word stays readable."""
    strokes, wide = strokes_of(word, 0.75 * tall)
    side = np.array([-way[1], way[0]])
    tip, back = way * 12.0, -way * 12.0
    head = [np.array([tip + (-way + s * side * 0.5) * 4.0, tip]) for s in (1, -1)]
    figure = [np.array([back, tip]), *head]
    low = np.vstack(figure).min(axis=0)
    figure = [stroke - low for stroke in figure]
    tall_arrow, wide_arrow = np.vstack(figure).max(axis=0)[1], np.vstack(figure).max(axis=0)[0]
    words = [stroke + np.array([wide_arrow + 2.0, 0.0]) for stroke in strokes]
    spot = _room_for(room, wide_arrow + 2.0 + wide, max(tall_arrow, tall), None)
    if spot is None:
        return ()
    return Mark(tuple(stroke + spot for stroke in figure)), Mark(tuple(stroke + spot for stroke in words), word)


def _rounding(told: OpeningInput, name: str) -> tuple[float, list[Assumed]]:
    rows = [default("cut.template_thickness"), default("cut.template_border")]
    assumed = [Assumed(row.key, f"{row.value:g} {row.unit}", row.source) for row in rows]
    if told.round_mm is not None:
        return told.round_mm, assumed
    row = default("cut.opening_round")
    return float(row.value), [Assumed(f"opening.{name}.round", f"{row.value:g} {row.unit}", row.source), *assumed]


def _faults(about: str, told: OpeningInput, centre: Array, hole: Array) -> list[Check]:
    out = []
    low = float(centre[1] - told.height_mm / 2.0)
    least = _CLEAR_MM + 4.0
    if low < least:
        out.append(
            replace(
                _stop(
                    about,
                    "Opening comes too near the anchoring edge",
                    "Move the opening away from the edge, make it lower, or anchor to another edge.",
                ),
                found=low, limit=least, unit="mm", failed_outright=False,
            )
        )  # fmt: skip
    row = default("cut.template_largest")
    corners = np.abs(centre) + np.array([told.width_mm, told.height_mm]) / 2.0
    longest = float(max(*corners, abs(hole[1]), told.hole_mm))
    if not longest <= float(row.value):
        words = "Take an anchoring hole and edge nearer to the opening, or look for a slip in its size, centre or hole."
        out.append(
            replace(
                _stop(about, "Template larger than any sheet", words),
                source=row.source, found=longest, limit=float(row.value), unit="mm", good=Good.AT_MOST,
                failed_outright=False,
            )
        )  # fmt: skip
    reach = np.abs(hole - centre) - np.array([told.width_mm, told.height_mm]) / 2.0
    apart = float(np.max(reach)) - told.hole_mm / 2.0
    if apart < 5.0:
        out.append(
            replace(
                _stop(
                    about, "Anchoring hole lies in the opening or at its rim",
                    f"Anchor to a hole that stays: {told.hole} would be cut away.",
                ),
                found=apart, limit=5.0, unit="mm", failed_outright=False,
            )
        )  # fmt: skip
    return out


def _place_check(about: str, spread: Array) -> Check:
    worst = TWO_WAYS * float(worst_spread(spread[:2, :2]))
    row = default("cut.opening_place")
    return Check(
        "cut", about, "Place of the opening against its anchors", row.source, Severity.CAUTION,
        "Measure the anchoring hole, the edge and the centre again by caliper or more often, or leave stock to dress.",
        worst, float(row.value), row.unit, Good.AT_MOST,
    )  # fmt: skip


def _anchor_check(about: str, hole: Array, spread: Array) -> Check:
    sigma = float(np.sqrt(max(spread[2, 2], 0.0)))
    return Check(
        "cut", about, "Distance of the anchoring hole from the edge", _DERIVED, Severity.NOTE,
        f"With both feet on the edge the pin sits in the middle of its slot, within {ONE_WAY * sigma:.1f} mm. "
        "If it does not reach, do not cut: measure again.", float(hole[1]), None, "mm", Good.TOLD,
    )  # fmt: skip


def _twin_check(about: str) -> Check:
    return Check(
        "cut", f"{about}, twin", "Twin is mirrored, not measured",
        Source(Origin.COMMON_PRACTICE, "frames are not true"), Severity.CAUTION,
        "Hold the twin to the other side first: feet on the edge, pin in its slot, nothing behind the face. "
        "Where the pin does not reach, measure that side.", failed_outright=True,
    )  # fmt: skip


def _notes(told: OpeningInput, centre: Array, hole: Array, play: float, units: str) -> tuple[str, ...]:
    def length(value: float) -> str:
        return format_length(float(value), units)

    return (
        f"Hold the bare side to the metal: letters toward you, both feet on the edge {told.edge[0]} to {told.edge[1]}, "
        f"a pin of {length(told.hole_mm)} through the slot into {told.hole}.",
        f"The pin should sit in the middle of the slot ({length(play)} long between its ends): the hole was found "
        f"{length(hole[1])} from the edge. If the pin does not go in, do not cut: measure again.",
        f"Zero is the foot of the hole on the edge. The opening's middle lies {length(centre[0])} along the edge and "
        f"{length(centre[1])} up; it is {length(told.width_mm)} by {length(told.height_mm)}.",
        "Drill or hole-saw the corners first and cut from corner to corner: no cut may run past a corner.",
    )


def _stop(about: str, title: str, do: str) -> Check:
    return Check("cut", about, title, _DERIVED, Severity.STOP, do, failed_outright=True)
