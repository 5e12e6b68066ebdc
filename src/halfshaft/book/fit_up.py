"""The fit-up drawing: three views of unit, frame and brackets with their main dimensions. A study in, a drawing out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPoint

from halfshaft.book.views import FROM_ABOVE, FROM_FRONT, FROM_LEFT, Look, fewer, seen
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.cut.drawing import CHAIN, GREY, HIDDEN, THIN_MM, Drawing, Label, Mark, Stroke, line, ring
from halfshaft.cut.folded_view import metal
from halfshaft.cut.layers import Disc, Path
from halfshaft.cut.station import is_refused
from halfshaft.fold.model import Panel
from halfshaft.geometry import Pose, mesh
from halfshaft.geometry.mesh import MeshSolid
from halfshaft.study import Study
from halfshaft.tables import Table

Array = NDArray[np.float64]
Things = list[tuple[str, list[MeshSolid]]]

# reductions: ISO 5455 has 2, 5, 10, 20, 50; 15 is kept for frames that 10 is too large for; inch: powers of two and 12
SCALES = {"metric": (1, 2, 5, 10, 15, 20, 25, 50), "inch": (1, 2, 4, 8, 12, 16, 24, 48)}
_FACE_MM = 1.0  # how thick a face is drawn of which nothing but points is known
_AROUND_MM = 50.0  # of the frame, drawn beyond unit and brackets
_GAP_MM, _DIM_MM = 9.0, 6.0  # between a view and its first dimension; from one to the next
_THICK = {"bracket": 0.4, "unit": 0.25, "member": 0.25, "other": THIN_MM}
_LEGEND_MM = 72.0  # symbol, scale and check length, beside each other
_LEAST_DIM_MM = 8.0  # on the paper: what is shorter stands in the table of places
_ALIKE_MM = 6.0  # two dimensions from one line that differ by less are told once


@dataclass(frozen=True, eq=False)
class _Dim:
    """A dimension between two spots of a view, along its `axis` (0 level, 1 upright); the words are its length."""

    axis: int
    a: Array
    b: Array
    length_mm: float


@dataclass(eq=False)
class _View:
    look: Look
    low: Array
    high: Array
    dims: list[_Dim] = field(default_factory=list)

    @property
    def size_mm(self) -> Array:
        return self.high - self.low


@dataclass(frozen=True, eq=False)
class FitUpDrawing:
    """`letters` names each bracket by its letter in the drawing."""

    drawing: Drawing
    scale: int
    letters: dict[str, str]
    note: str


def fit_up_drawing(study: Study, projection: str, room_mm: tuple[float, float]) -> FitUpDrawing | None:
    """The drawing in the largest scale that goes into the room; None where there is nothing to draw."""
    things, kinds, outputs = _things(study)
    about = [solid for name, solids in things if kinds[name] in ("bracket", "unit") for solid in solids]
    if not about:
        return None
    units = study.build.build.units
    bounds = np.array([solid.bounds_mm for solid in about])
    low, high = bounds[:, 0].min(axis=0) - _AROUND_MM, bounds[:, 1].max(axis=0) + _AROUND_MM
    ground = 0.0 if 0.0 < low[2] < 900.0 and not _tilted(study) else None
    if ground is not None:
        low[2] = -20.0
    views = {look.name: _View(look, *_window(look, low, high)) for look in (FROM_LEFT, FROM_ABOVE, FROM_FRONT)}
    unit = np.array([s.bounds_mm for n, group in things if kinds[n] == "unit" for s in group])
    _dimension(views, unit, outputs, ground, study)
    for scale in SCALES[units]:
        placed, size = _laid_out(views, projection, float(scale))
        if size[0] <= room_mm[0] and size[1] <= room_mm[1]:
            break
    else:
        scale = SCALES[units][-1]
        placed, size = _laid_out(views, projection, float(scale))
    letters = {name: chr(65 + at) for at, name in enumerate(n for n, _ in things if kinds[n] == "bracket")}
    marks: list[Mark] = []
    for name, view in views.items():
        marks += _drawn(view, placed[name], float(scale), things, kinds, letters, outputs, ground, units)
    marks += _legend(placed, views, size, float(scale), projection, units)
    note = (
        f"{projection} angle projection, drawn 1 : {scale}. Brackets thick, hidden edges of them dashed; chain lines: "
        "the car's centre line, the axle's station and the half-shafts' line."
    )
    if any(name.startswith("face ") for name, _ in things):
        note += " No member of the frame is told: thin lines go round the points read on each of its faces."
    return FitUpDrawing(Drawing(size, tuple(marks), 1.0 / scale), scale, letters, note[0].upper() + note[1:])


def _tilted(study: Study) -> bool:
    """Whether heights are told from three points of a body rather than from the floor."""
    return not isinstance(study.build.body[study.build.root].datum, str)


def _window(look: Look, low: Array, high: Array) -> tuple[Array, Array]:
    corners = look.flat(np.array([low, high]))
    return corners.min(axis=0), corners.max(axis=0)


def _things(study: Study) -> tuple[Things, dict[str, str], dict[str, Array]]:
    """Solids in root axes by name, what kind each is, and the middles (3,) of the output flanges."""
    things: Things = []
    kinds: dict[str, str] = {}
    outputs: dict[str, Array] = {}
    for bracket in study.brackets.values():
        if is_refused(bracket):
            continue
        solids = [
            mesh.prism(shape, 0.0, panel.thickness_mm, panel.pose)
            for panel in bracket.panels.values()
            if not (shape := metal(panel)).is_empty
        ]
        things.append((bracket.name, solids))
        kinds[bracket.name] = "bracket"
    if study.build.fitup is not None:
        from halfshaft.fitup.scene import scene_of

        scene, _, _ = scene_of(study.build, study.measured, study.folder)
        if scene is not None:
            for name, member in scene.members.items():
                things.append((f"member {name}", [member.solid]))
                kinds[f"member {name}"] = "member"
            for fixed in scene.fixed:
                if fixed.name not in scene.members and not fixed.swept:
                    things.append((f"other {fixed.name}", [fixed.solid]))
                    kinds[f"other {fixed.name}"] = "other"
            pose = study.measured.poses.get(study.build.fitup.unit, Pose.identity()).after(scene.unit.drawing)
            things.append(("unit", [mesh.moved(piece.solid, pose) for piece in scene.unit.pieces]))
            kinds["unit"] = "unit"
            outputs = {str(out.side): pose.apply(out.centre_mm) for out in scene.unit.outputs}
    if "member" not in kinds.values():  # nobody told the frame: what was measured of it stands in its place
        for name, solid in _faces(study).items():
            things.append((f"face {name}", [solid]))
            kinds[f"face {name}"] = "other"
    return things, kinds, outputs


def _faces(study: Study) -> dict[str, MeshSolid]:
    """Each measured face as a thin plate round the points that were read on it."""
    out = {}
    for name, face in study.measured.faces.items():
        spots = [study.measured.points[p].xyz_mm for p in face.points if p in study.measured.points]
        if len(spots) < 3 or not face.tied:
            continue
        normal = face.plane.normal
        across = np.cross(normal, [0.0, 0.0, 1.0] if abs(normal[2]) < 0.9 else [1.0, 0.0, 0.0])
        across /= np.linalg.norm(across)
        pose = Pose(np.column_stack([across, np.cross(normal, across), normal]), face.middle_mm)
        hull = MultiPoint(pose.inverse().apply(np.array(spots))[:, :2]).convex_hull
        if hull.geom_type == "Polygon" and hull.area > 1.0:
            out[name] = mesh.prism(hull, -_FACE_MM, 0.0, pose)
    return out


def _dimension(
    views: dict[str, _View], unit: Array, outputs: dict[str, Array], ground: float | None, study: Study
) -> None:
    """The dimensions of each view: the unit's reach and where its outputs lie from the car's zero."""
    side, plan, front = (views[look.name] for look in (FROM_LEFT, FROM_ABOVE, FROM_FRONT))
    if len(unit):
        low, high = unit[:, 0].min(axis=0), unit[:, 1].max(axis=0)
        _add(plan, 0, low, high, abs(high[0] - low[0]))
        _add(front, 0, low, high, abs(high[1] - low[1]))
        _add(side, 1, low, high, abs(high[2] - low[2]))
        if ground is not None:
            floor = np.array([low[0], low[1], ground])
            _add(side, 1, floor, low, abs(low[2] - ground))
    if ground is not None:
        for at in list(outputs.values())[:1]:
            _add(side, 1, np.array([at[0], at[1], ground]), at, abs(at[2] - ground))
    for at in outputs.values():
        _add(front, 0, np.array([at[0], 0.0, at[2]]), at, abs(float(at[1])))
        if abs(at[0]) > 5.0:
            _add(plan, 0, np.array([0.0, at[1], at[2]]), at, abs(float(at[0])))
    for bracket in study.brackets.values():
        holes = _holes(bracket.panels)
        if not len(holes) or is_refused(bracket):
            continue
        far = holes[np.argmax(np.abs(holes[:, 0]))]
        _add(side, 0, np.array([0.0, far[1], far[2]]), far, abs(float(far[0])))
        wide = holes[np.argmax(np.abs(holes[:, 1]))]
        _add(plan, 1, np.array([wide[0], 0.0, wide[2]]), wide, abs(float(wide[1])))
        tall = holes[np.argmax(holes[:, 2])]
        if ground is not None:
            _add(front, 1, np.array([tall[0], tall[1], ground]), tall, abs(float(tall[2] - ground)))


def _holes(panels: Mapping[str, Panel]) -> Array:
    """Middles (n, 3) of a bracket's bolt holes in root axes."""
    spots = [
        panel.pose.apply(np.array([*hole.centre_mm, 0.0]))
        for panel in panels.values()
        for hole in panel.holes
        if hole.use == "bolt"
    ]
    return np.array(spots).reshape(-1, 3)


def _add(view: _View, axis: int, a: Array, b: Array, length_mm: float) -> None:
    first, last = view.look.flat(np.array([a, b]))
    for other in view.dims:
        ends = (other.a[axis], other.b[axis])
        if other.axis == axis and np.all(np.abs(np.sort(ends) - np.sort((first[axis], last[axis]))) < _ALIKE_MM):
            return
    view.dims.append(_Dim(axis, first, last, length_mm))


def _laid_out(views: dict[str, _View], projection: str, scale: float) -> tuple[dict[str, Array], tuple[float, float]]:
    """Upper left corner of each view on the paper, and the whole size, dimensions with it."""
    side, plan, front = (views[look.name] for look in (FROM_LEFT, FROM_ABOVE, FROM_FRONT))

    def outer(view: _View) -> tuple[float, float]:
        level, upright = (sum(1 for d in _told(view, scale) if d.axis == axis) for axis in (0, 1))
        wide, tall = view.size_mm / scale
        return wide + _room(upright), tall + _room(level)

    sizes = {name: outer(view) for name, view in views.items()}
    side_size, plan_size, front_size = sizes[side.look.name], sizes[plan.look.name], sizes[front.look.name]
    column, beside = max(side_size[0], plan_size[0]), max(front_size[0], _LEGEND_MM)
    if projection == "third":  # from above stands above, from the front beside the front end
        at = {
            plan.look.name: np.array([beside + 6.0, 5.0]),
            side.look.name: np.array([beside + 6.0, plan_size[1] + 9.0]),
            front.look.name: np.array([0.0, plan_size[1] + 9.0]),
        }
    else:  # each view on the far side of the one it was turned from
        at = {
            side.look.name: np.array([0.0, 5.0]),
            plan.look.name: np.array([0.0, side_size[1] + 9.0]),
            front.look.name: np.array([column + 6.0, 5.0]),
        }
    tall = plan_size[1] + max(side_size[1], front_size[1]) + 9.0
    return at, (float(column + beside + 8.0), float(tall))


def _told(view: _View, scale: float) -> list[_Dim]:
    """The dimensions that are long enough on the paper, the shortest first."""
    return sorted((d for d in view.dims if d.length_mm / scale >= _LEAST_DIM_MM), key=lambda d: d.length_mm)


def _room(dims: int) -> float:
    return _GAP_MM - 3.0 + _DIM_MM * dims if dims else 3.0


def _drawn(
    view: _View,
    corner: Array,
    scale: float,
    things: Things,
    kinds: dict[str, str],
    letters: dict[str, str],
    outputs: dict[str, Array],
    ground: float | None,
    units: UnitSystem,
) -> list[Mark]:
    matrix = np.diag([1.0 / scale, -1.0 / scale])
    shift = corner + np.array([-view.low[0], view.high[1]]) / scale

    def at(spot: Array) -> Array:
        return np.asarray(spot @ matrix.T + shift)

    marks: list[Mark] = []
    wide, tall = view.size_mm / scale
    marks.append(Label(corner + np.array([wide / 2.0, -2.4]), view.look.name, italic=True, colour=GREY))
    busy: list[Array] = []
    for one in seen(things, view.look, view.low, view.high):
        kind = kinds[one.name]
        shown = fewer(one.seen)
        if kind == "bracket":
            dashed = fewer(one.hidden)
            if dashed:
                marks.append(Stroke(tuple(Path(r) for r in dashed), "#000000", THIN_MM, "", HIDDEN, matrix, shift))
        if shown:
            colour = "#000000" if kind in ("bracket", "unit") else "#4a4a4a"
            marks.append(Stroke(tuple(Path(r) for r in shown), colour, _THICK[kind], "", (), matrix, shift))
            busy += [at(p) for run in shown for p in run]
    marks += _lines(view, outputs, ground, at)
    cloud = np.array(busy).reshape(-1, 2)
    taken: list[Array] = []
    for name, solids in things:
        if name in letters:
            box = np.array([view.look.flat(np.array(s.bounds_mm)).mean(axis=0) for s in solids]).mean(axis=0)
            marks += _balloon(at(box), letters[name], cloud, taken, corner, np.array([wide, tall]))
    rows = {0: 0, 1: 0}
    for dim in _told(view, scale):
        off = _GAP_MM + _DIM_MM * rows[dim.axis]
        rows[dim.axis] += 1
        marks += _dim_marks(at(dim.a), at(dim.b), dim, corner, (wide, tall), off, units)
    return marks


def _lines(view: _View, outputs: dict[str, Array], ground: float | None, place: Callable[[Array], Array]) -> list[Mark]:
    """Chain lines of centre line, axle station and half-shafts; the ground."""
    out: list[Mark] = []
    zero = view.look.flat(np.zeros((1, 3)))[0]

    def chain(axis: int, value: float) -> None:
        ends = np.array([view.low, view.high])
        ends[:, axis] = value
        if view.low[axis] <= value <= view.high[axis]:
            out.append(line(place(ends[0]), place(ends[1]), dash_mm=CHAIN))

    if view.look is not FROM_LEFT:
        chain(0 if view.look is FROM_FRONT else 1, zero[0 if view.look is FROM_FRONT else 1])
    if view.look is not FROM_FRONT:
        chain(0, zero[0])
    if len(outputs) == 2 and view.look is not FROM_LEFT:
        ends = view.look.flat(np.array(list(outputs.values())))
        way = ends[1] - ends[0]
        out.append(line(place(ends[0] - 0.12 * way), place(ends[1] + 0.12 * way), dash_mm=CHAIN))
    for spot in outputs.values():
        x, y = place(view.look.flat(spot[None])[0])
        out += [line((x - 2, y), (x + 2, y), thick_mm=0.25), line((x, y - 2), (x, y + 2), thick_mm=0.25)]
    if ground is not None and view.look is not FROM_ABOVE:
        a, b = np.array([view.low[0], ground]), np.array([view.high[0], ground])
        out.append(line(place(a), place(b), thick_mm=0.7))
    return out


def _balloon(spot: Array, letter: str, cloud: Array, taken: list[Array], corner: Array, size: Array) -> list[Mark]:
    """A letter in a ring beside a bracket, where least is drawn, with a line to it."""
    best, score = spot, -1.0
    for reach in (9.0, 13.0, 17.0, 22.0):
        for angle in np.radians(np.arange(0, 360, 15)):
            tried = spot + reach * np.array([np.cos(angle), np.sin(angle)])
            if np.any(tried < corner + 3.5) or np.any(tried > corner + size - 3.5):
                continue
            room = float(np.min(np.linalg.norm(cloud - tried, axis=1), initial=12.0))
            room = min([room, *(float(np.linalg.norm(other - tried)) - 4.0 for other in taken)])
            if min(room, 6.0) - 0.05 * reach > score:
                best, score = tried, min(room, 6.0) - 0.05 * reach
    taken.append(best)
    way = (spot - best) / max(float(np.linalg.norm(spot - best)), 1e-9)
    return [
        line(best + way * 2.6, spot, thick_mm=THIN_MM),
        Stroke((Disc(spot, 0.5),), fill="#000000"),
        Stroke((Disc(best, 2.6),), "#000000", 0.3, "#ffffff"),
        Label(best, letter, size_pt=9.0, bold=True),
    ]


def _dim_marks(
    a: Array, b: Array, dim: _Dim, corner: Array, size: tuple[float, float], off: float, units: UnitSystem
) -> list[Mark]:
    """Thin lines out of the view, and the dimension with slashes; beyond the view's right or lower edge."""
    axis = dim.axis
    edge = corner[1] + size[1] if axis == 0 else corner[0] + size[0]
    there = edge + off - 3.0

    def spot(along: float, across: float) -> Array:
        return np.array([along, across] if axis == 0 else [across, along])

    ends = [float(p[axis]) for p in (a, b)]
    feet = [float(p[1 - axis]) for p in (a, b)]
    out: list[Mark] = [
        line(spot(end, foot + 1.0), spot(end, there + 1.5), colour=GREY) for end, foot in zip(ends, feet, strict=True)
    ]
    out.append(line(spot(ends[0], there), spot(ends[1], there)))
    slash = np.array([1.1, -1.1])
    out += [line(spot(end, there) - slash, spot(end, there) + slash, thick_mm=0.3) for end in ends]
    words = format_length(dim.length_mm, units).removesuffix(" mm").removesuffix(" in")
    out.append(Label(spot(sum(ends) / 2.0, there), words, patch=True, turn_deg=0.0 if axis == 0 else -90.0))
    return out


def _legend(
    placed: dict[str, Array],
    views: dict[str, _View],
    size: tuple[float, float],
    scale: float,
    projection: str,
    units: UnitSystem,
) -> list[Mark]:
    """Symbol of projection, scale and a check length, in the corner that no view takes."""
    front, plan = placed[FROM_FRONT.name], placed[FROM_ABOVE.name]
    left = 0.0 if projection == "third" else front[0]
    top = 6.0 if projection == "third" else plan[1] + 2.0
    del views, size
    out: list[Mark] = list(projection_symbol(np.array([left + 2.0, top]), projection))
    out.append(Label(np.array([left + 54.0, top + 5.0]), f"scale 1 : {scale:g}", size_pt=10.0, bold=True))
    out += check_line(np.array([left + 2.0, top + 20.0]), 50.0, upright=False, words=_check_words(50.0, scale, units))
    return out


def _check_words(length_mm: float, scale: float, units: UnitSystem) -> str:
    return f"{length_mm:g} mm on paper, {format_length(length_mm * scale, units)} of car"


def projection_symbol(corner: Array, projection: str) -> list[Mark]:
    """The cut cone and its end view, as ISO 5456-2 draws them: 12 mm high, 34 mm wide."""

    def cone(x: float) -> list[Mark]:
        shape = [(x, 3.0), (x + 14.0, 0.0), (x + 14.0, 12.0), (x, 9.0)]
        return [
            ring(np.array(shape) + corner, thick_mm=0.35),
            line(corner + np.array([x - 2.0, 6.0]), corner + np.array([x + 16.0, 6.0]), dash_mm=CHAIN),
        ]

    def end(x: float) -> list[Mark]:
        middle, across = corner + np.array([x + 6.0, 6.0]), np.array([8.0, 0.0])
        return [
            Stroke((Disc(middle, 3.0),), thick_mm=0.35),
            Stroke((Disc(middle, 6.0),), thick_mm=0.35),
            line(middle - across, middle + across, dash_mm=CHAIN),
            line(middle - across[::-1], middle + across[::-1], dash_mm=CHAIN),
        ]

    # the end view shows the narrow end, which lies to the left: third angle puts it there
    return [*end(2.0), *cone(20.0)] if projection == "third" else [*cone(2.0), *end(22.0)]


def check_line(corner: Sequence[float] | Array, length_mm: float, upright: bool, words: str) -> list[Mark]:
    """A line of a true length on the paper, its ends crossed by strokes whose middles are so far apart."""

    def at(along: float, off: float) -> Array:
        return np.asarray(np.asarray(corner, dtype=float) + np.array([off, -along] if upright else [along, off]))

    out: list[Mark] = [line(at(0.0, 0.0), at(length_mm, 0.0), thick_mm=0.2)]
    out += [line(at(end, -3.0), at(end, 3.0), thick_mm=0.2) for end in (0.0, length_mm)]
    middle = at(length_mm / 2.0, 4.0)
    out.append(Label(middle, words, turn_deg=-90.0 if upright else 0.0))
    return out


def places_table(study: Study, letters: dict[str, str]) -> Table:
    """Where each bracket's bolts and the unit's outputs lie in the car, with how well it is known."""
    units = study.build.build.units
    rows: list[tuple[str, ...]] = []

    def row(what: str, name: str, bolt: str) -> None:
        point = study.measured.points.get(name)
        if point is None:
            return
        cells = [
            f"{format_length(float(v), units)} ± {s:.1f}"
            for v, s in zip(point.xyz_mm, point.give_or_take_mm, strict=True)
        ]
        rows.append((what, name.rpartition(".")[2], bolt, *cells))

    for name, bracket in study.brackets.items():
        if name in letters:
            for panel in bracket.panels.values():
                for hole in panel.holes:
                    if hole.use == "bolt" and hole.point:
                        row(f"{letters[name]}  {name}, {panel.name}", hole.point, hole.bolt)
    fitup = study.build.fitup
    for side, output in (fitup.output if fitup is not None else {}).items():
        row(f"{side} output", output.at, "")
    columns = ("bracket, panel", "point", "bolt", "forward", "left", "up")
    return Table(
        "Places in the car, ± mm for 95 in 100", columns, tuple(rows), (3, 4, 5), empty="no bracket has a bolt"
    )


def letters_words(letters: dict[str, str], study: Study) -> Sequence[str]:
    """What each letter of the drawing is."""
    whats = {name: told.what for name, told in study.build.bracket.items()}
    return [f"{letter}: {name}" + (f", {whats[name]}" if whats.get(name) else "") for name, letter in letters.items()]
