"""A bracket and what was measured, in; the rows of its play and how its misfit scatters, cause by cause, out.

Everything is first order about the bracket as drawn: what the small errors of points, faces, cuts and folds do to the
offset at each hole and to the gap under each panel is a linear map, so a cause is a matrix and its misfit's covariance
is that matrix times its own transpose. Turns of a degree over 200 mm leave out about 0.03 mm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPoint

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.fold.model import Bracket, Fold, Hole, Panel
from halfshaft.fold.placement import Play
from halfshaft.measure.model import Hidden, Measured

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

_FELT_MM = 0.02  # of misfit: a hidden slip that moves all of a bracket alike is none to it
_FREE_GAP_MM = 1000.0  # a lip without bolts may stand off as far as it likes


@dataclass(frozen=True, eq=False, slots=True)
class Cause:
    """One source of misfit: `spread` (2 h + g, k) times k independent draws of unit spread.

    Causes with the same `draws` share those draws, since one set of readings makes a body's shape and its place.
    """

    name: str
    kind: str  # 'readings', 'tie', 'cut', 'fold', 'pivot' (no coupon folded), 'bend' (coupon folded, or a brake bend)
    about: str  # the body or the fold
    draws: str
    spread: Array


@dataclass(frozen=True, eq=False, slots=True)
class Rare:
    """What is seldom there but then large: k slips that no other reading shows, and the misfit (k, 2 h + g) of each.

    `mean` is the misfit expected when the slip is there, `way` one spread of it.
    """

    names: tuple[str, ...]
    chance: Array
    mean: Array
    way: Array

    def draw(self, rng: np.random.Generator, samples: int) -> tuple[Ints, Ints, Array]:
        """Which draws it strikes, which slip it is, and what it adds: (j,), (j,), (j, 2 h + g)."""
        counts = rng.binomial(samples, self.chance)
        which = np.repeat(np.arange(len(self.chance)), counts)
        each = [rng.choice(samples, int(n), replace=False, shuffle=False) for n in counts if n]
        struck = np.concatenate([*each, np.zeros(0, dtype=np.intp)]).astype(np.intp)
        added = self.mean[which] + rng.standard_normal((len(which), 1)) * self.way[which]
        return struck, which, added


@dataclass(frozen=True, eq=False, slots=True)
class Misfit:
    """What the simulation draws from: `mean_mm` (2 h + g) and the causes; `holes`, `panels` name the rows.

    `axes` (h, 2, 3): the two directions, in root axes, of each hole's offsets. `gap_panel` (g,): panel of each spot.
    `read`, `read_rows`, `read_covariance`: what was measured, for asking what a further reading would bring.
    """

    play: Play
    mean_mm: Array
    causes: tuple[Cause, ...]
    holes: tuple[Hole, ...]
    hole_panels: tuple[str, ...]
    axes: Array
    gap_panel: tuple[str, ...]
    read: tuple[str, ...]  # points and faces, qualified
    read_rows: Array  # (2 h + g, m): misfit for a small change of the points (3 each) and faces (4 each) read
    read_covariance: Array  # (m, m)
    rare: Rare
    slit_folds: tuple[str, ...] = ()  # folds that still give before they are welded

    def bolted_up(self) -> Misfit:
        """The misfit of a bracket welded in place: angles of slit folds become moves of the part."""
        turns = [c.spread for c in self.causes if c.kind == "fold" and c.about in self.slit_folds and np.any(c.spread)]
        if not turns:
            return self
        columns = np.concatenate([spread / np.max(np.abs(spread)) for spread in turns], axis=1)
        return replace(self, play=replace(self.play, rows=np.hstack([self.play.rows, columns])))

    def covariance(self, without: Sequence[str] = ()) -> Array:
        """Covariance (2 h + g, 2 h + g) of the misfit, without the causes named."""
        total = np.zeros((len(self.mean_mm), len(self.mean_mm)))
        for draws in dict.fromkeys(cause.draws for cause in self.causes):
            joint = self.together(draws, without)
            total += joint @ joint.T
        return total

    def together(self, draws: str, without: Sequence[str] = ()) -> Array:
        """Sum of the spreads of the causes that share the same draws."""
        parts = [np.zeros_like(c.spread) if c.name in without else c.spread for c in self.causes if c.draws == draws]
        return np.asarray(np.sum(parts, axis=0))

    def shares(self, push: Array) -> dict[str, float]:
        """Part of each cause in the scatter of the misfit along a push, mean over the pushes (n, 2 h + g); sum one."""
        found = {
            cause.name: np.sum((push @ cause.spread) * (push @ self.together(cause.draws)), axis=1)
            for cause in self.causes
        }
        total = np.maximum(sum(found.values(), np.zeros(len(push))), 1e-300)
        return {name: float(np.mean(part / total)) for name, part in found.items()}

    def draw(self, rng: np.random.Generator, samples: int, without: Sequence[str] = ()) -> Array:
        """Misfits (samples, 2 h + g), hidden slips among them."""
        return self.draw_told(rng, samples, without)[0]

    def draw_told(
        self, rng: np.random.Generator, samples: int, without: Sequence[str] = ()
    ) -> tuple[Array, Ints, Ints, Array]:
        """Misfits (samples, 2 h + g); which of them (j,) hold which hidden slip (j,), and what it adds (j, 2 h + g)."""
        draws = rng.standard_normal((samples, len(self.mean_mm))) @ root_of(self.covariance(without)).T + self.mean_mm
        struck, which, added = self.rare.draw(rng, samples)
        np.add.at(draws, struck, added)
        return draws, struck, which, added


@dataclass(frozen=True, eq=False, slots=True)
class _Spot:
    """Where an offset or a gap is taken: place, direction (root axes), panel, and the measured thing it is taken to."""

    place_mm: Array
    way: Array
    panel: str
    to: str  # point or face, qualified
    face: bool
    sign: float = 1.0


def misfit_of(build: Build, measured: Measured, bracket: Bracket) -> Misfit:
    """Rows, plays and causes of one bracket, from its panels' bolt holes and contact faces.

    Offsets: bracket hole less real hole, in the panel's plane. Clearance radius: (bracket hole - shank) / 2 + (frame
    hole - shank) / 2. Gaps: from the panel's contact side to the face, at the corners of the rectangle round the
    panel's washers; the metal cannot enter the face and the bolts close what the shop's pull-up allows. A lip without
    bolts must clear the face at its corners, no more.
    Raises ValueError naming holes or faces that are not located, and where the bracket has no hole at a measured point.
    """
    spots, holes, hole_panels, axes = _hole_spots(bracket)
    missing = sorted({spot.to for spot in spots if spot.to not in measured.where})
    if missing:
        raise ValueError(f"bracket {bracket.name}: not located: {', '.join(missing)}")
    if not holes:
        raise ValueError(f"bracket {bracket.name} has no hole at a measured point")
    half_gap: list[float] = []
    gap_mean: list[float] = []
    for panel in bracket.panels.values():
        if panel.contact == "none" or not panel.face:
            continue
        if panel.face not in measured.where:
            raise ValueError(f"bracket {bracket.name}: face {panel.face} is not located")
        found, nominal = _gap_spots(panel, measured)
        bolted = any(hole.point for hole in panel.holes)
        # a lip that is drawn off its edge has that room to spare; a bolted panel has packing there
        intended = _standoff(build, bracket, panel, nominal) if bolted else 0.0
        half = (build.shop.pull_up_mm if bolted else _FREE_GAP_MM) / 2.0
        spots += found
        half_gap += [half] * len(found)
        gap_mean += [float(gap) - intended - half for gap in nominal]
    centre = np.mean([spot.place_mm for spot in spots], axis=0)
    size = max(float(np.sqrt(np.mean([np.sum((s.place_mm - centre) ** 2) for s in spots]))), 1.0)
    play = Play(
        np.array([np.concatenate([s.way, np.cross(s.place_mm - centre, s.way) / size]) for s in spots]),
        np.array([h.room_mm for h in holes]),
        np.array([h.slot_mm / 2.0 for h in holes]),
        np.array(half_gap),
    )
    offset_mean = [float(s.way @ (s.place_mm - measured.points[s.to].xyz_mm)) for s in spots if not s.face]
    read, read_rows, read_covariance, bodies = _reading_rows(measured, spots)
    causes = (
        _reading_causes(read_rows @ root_of(read_covariance), bodies, play)
        + _cut_causes(build, bracket, spots, len(holes))
        + _fold_causes(build, bracket, spots)
    )
    gap_panel = tuple(spot.panel for spot in spots if spot.face)
    mean = np.array(offset_mean + gap_mean)
    misfit = Misfit(
        play,
        mean,
        causes,
        tuple(holes),
        tuple(hole_panels),
        np.array(axes),
        gap_panel,
        read,
        read_rows,
        read_covariance,
        _rare(measured, read, read_rows),
        tuple(fold.name for fold in bracket.folds if fold.kind == "slit"),
    )
    return misfit.bolted_up() if build.shop.weld == "in place" else misfit


def _hole_spots(bracket: Bracket) -> tuple[list[_Spot], list[Hole], list[str], list[Array]]:
    spots, holes, panels, axes = [], [], [], []
    for panel in bracket.panels.values():
        for hole in panel.holes:
            if not hole.point or hole.use == "join":
                continue
            along = np.asarray(hole.slot_way, dtype=float) / np.linalg.norm(hole.slot_way)
            two = [panel.pose.rotation[:, :2] @ along, panel.pose.rotation[:, :2] @ np.array([-along[1], along[0]])]
            place = panel.pose.apply(np.append(hole.centre_mm, _contact_height(panel)))
            spots += [_Spot(place, way, panel.name, hole.point, False) for way in two]
            holes.append(hole)
            panels.append(panel.name)
            axes.append(np.array(two))
    return spots, holes, panels, axes


def _contact_height(panel: Panel) -> float:
    return panel.thickness_mm if panel.contact == "upper" else 0.0


def _gap_spots(panel: Panel, measured: Measured) -> tuple[list[_Spot], Array]:
    plane = measured.faces[panel.face].plane
    into_metal = panel.pose.rotation[:, 2] * (-1.0 if panel.contact == "upper" else 1.0)
    sign = 1.0 if float(into_metal @ plane.normal) >= 0.0 else -1.0
    flat = _seat(panel)
    places = panel.pose.apply(np.column_stack([flat, np.full(len(flat), _contact_height(panel))]))
    spots = [_Spot(place, sign * plane.normal, panel.name, panel.face, True, sign) for place in places]
    return spots, sign * plane.height_mm(places)


def _seat(panel: Panel) -> Array:
    """Corners (n, 2) that bound where the panel is pressed on its face: round the washers, or the whole of a lip."""
    bolted = [hole for hole in panel.holes if hole.point]
    if not bolted:
        hull = MultiPoint(panel.outline.flattened_mm(1.0)).minimum_rotated_rectangle
        return np.asarray(hull.exterior.coords)[:-1] if hull.geom_type == "Polygon" else panel.outline.points_mm
    radii = [max(hole.washer_mm, hole.diameter_mm) / 2.0 for hole in bolted]
    centres = np.array([hole.centre_mm for hole in bolted])
    spread = centres - centres.mean(axis=0)
    turn = np.linalg.svd(spread, full_matrices=True)[2] if len(bolted) > 1 else np.eye(2)
    square = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
    corners = np.concatenate([c + r * square @ turn for c, r in zip(centres, radii, strict=True)])
    return np.asarray(MultiPoint(corners).convex_hull.exterior.coords)[:-1]


def _standoff(build: Build, bracket: Bracket, panel: Panel, nominal: Array) -> float:
    """Stand-off that is meant; what lies between is packing and no gap."""
    drawn = build.bracket.get(bracket.name)
    if drawn is not None and panel.name in drawn.panel:
        return drawn.panel[panel.name].standoff_mm
    return float(np.mean(nominal))


def _reading_rows(measured: Measured, spots: Sequence[_Spot]) -> tuple[tuple[str, ...], Array, Array, list[str]]:
    """Names read, misfit for a change of each, their joint covariance, and the body of each spot."""
    names = tuple(dict.fromkeys(spot.to for spot in spots))
    _, covariance = measured.joint(names)
    start = dict(zip(names, np.cumsum([0] + [4 if n in measured.faces else 3 for n in names])[:-1], strict=True))
    rows = np.zeros((len(spots), len(covariance)))
    bodies = []
    for i, spot in enumerate(spots):
        at = start[spot.to]
        if spot.face:
            rows[i, at : at + 4] = spot.sign * np.append(spot.place_mm, -1.0)
        else:
            rows[i, at : at + 3] = -spot.way
        bodies.append(measured.faces[spot.to].body if spot.face else measured.points[spot.to].body)
    return names, rows, covariance, bodies


def _rare(measured: Measured, read: Sequence[str], rows: Array) -> Rare:
    """Hidden slips that a bracket would notice."""
    hidden = measured.hidden or Hidden.none(len(measured.vector))
    at = np.concatenate([np.arange(measured.where[n].start, measured.where[n].stop) for n in read])
    mean, way = hidden.mean[:, at] @ rows.T, hidden.way[:, at] @ rows.T
    felt = np.max(np.abs(mean) + 3.0 * np.abs(way), axis=1, initial=0.0) > _FELT_MM
    names = tuple(label for label, keep in zip(hidden.labels, felt, strict=True) if keep)
    return Rare(names, hidden.chance[felt], mean[felt], way[felt])


def _reading_causes(half: Array, bodies: Sequence[str], play: Play) -> tuple[Cause, ...]:
    """The scatter that readings make (2 h + g, k), parted into each body's own shape and the tie between bodies.

    A body's rows that a rigid move of that body explains are its place; since the bracket may be placed freely only the
    places relative to each other count: the tie.
    """
    room = np.concatenate([np.repeat(play.clear_mm, 2), np.minimum(play.half_gap_mm, 2.0)])
    weight = 1.0 / np.maximum(room, 1e-3)
    causes, placed = [], np.zeros_like(half)
    for body in dict.fromkeys(bodies):
        own = np.array([b == body for b in bodies])
        moves = play.rows * weight[:, None] * own[:, None]
        left, size, _ = np.linalg.svd(moves, full_matrices=False)
        left = left[:, size > 1e-9 * max(float(size[0]), 1e-12)]
        explained = (left @ (left.T @ (half * weight[:, None]))) / weight[:, None]
        placed += explained
        shape = np.where(own[:, None], half, 0.0) - explained
        causes.append(Cause(f"the readings of the {body}", "readings", body, "readings", shape))
    if len(causes) > 1:
        named = " and the ".join(dict.fromkeys(bodies))
        causes.append(Cause(f"the readings that tie the {named}", "tie", "", "readings", placed))
    return tuple(causes)


def _cut_causes(build: Build, bracket: Bracket, spots: Sequence[_Spot], holes: int) -> tuple[Cause, ...]:
    spread = np.zeros((len(spots), 2 * holes))
    spread[: 2 * holes] = build.shop.cut_spread_mm * np.eye(2 * holes)
    columns = [spread]
    for _, moves in _fold_moves(bracket):
        for shift, turn, about in moves.line:
            columns.append(_carried(spots, moves.carries, shift, turn, about, build.shop.cut_spread_mm)[:, None])
    return (Cause("the cut", "cut", "", "cut", np.concatenate(columns, axis=1)),)


def _fold_causes(build: Build, bracket: Bracket, spots: Sequence[_Spot]) -> tuple[Cause, ...]:
    causes = []
    sheet = build.sheet.get(bracket.sheet)
    known = sheet is not None and sheet.pivot_depth_mm is not None
    for fold, moves in _fold_moves(bracket):
        angle = _carried(spots, moves.carries, None, moves.axis, moves.about, np.radians(build.shop.fold_spread_deg))
        name = f"the angle of fold {fold.name}"
        causes.append(Cause(name, "fold", fold.name, name, angle[:, None]))
        if fold.kind == "slit":
            share = default("fit.pivot_spread_coupon" if known else "fit.pivot_spread").value
            depth = _carried(spots, moves.carries, moves.deeper, None, moves.about, share * bracket.thickness_mm)
        else:
            share = default("fit.k_spread").value
            longer = np.radians(fold.angle_deg) * bracket.thickness_mm * moves.outward_b
            depth = _carried(spots, moves.carries, longer, None, moves.about, share)
        name = f"the depth at which fold {fold.name} turns"
        kind = "pivot" if fold.kind == "slit" and not known else "bend"
        causes.append(Cause(name, kind, fold.name, name, depth[:, None]))
    return tuple(causes)


@dataclass(frozen=True, eq=False, slots=True)
class _FoldMoves:
    """What one fold's errors do to the panels it carries, in root axes."""

    carries: frozenset[str]
    axis: Array  # (3,) unit, along the line
    about: Array  # (3,) middle of the line, at the pivot's depth
    outward_b: Array  # (3,) from the line into panel b
    deeper: Array  # (3,) shift for each mm of pivot depth
    line: tuple[tuple[Array, Array, Array], ...]  # for each end of the line cut 1 mm off: shift, turn, about


def _fold_moves(bracket: Bracket) -> list[tuple[Fold, _FoldMoves]]:
    """In the order of the folds; a fold carries panel b and all that hangs on it.

    Up means that b turns toward the upper side. With n the upper normals and e the directions in the panels, square to
    the line, out of a and into b: n_b = n_a cos - up e_a sin and e_b = e_a cos + up n_a sin. A line cut off by c makes
    panel a longer and b shorter: b shifts by c (e_a - e_b), and when the line is askew b turns with it. A pivot deeper
    by c, the cut being the same, shifts b by -up c (n_a - n_b): (I - R) times the pivot's shift.
    """
    below: dict[str, list[str]] = {}
    for fold in bracket.folds:
        below.setdefault(fold.a, []).append(fold.b)
    out = []
    for fold in bracket.folds:
        a, b = bracket.panels[fold.a], bracket.panels[fold.b]
        up = 1.0 if fold.up else -1.0
        height = (b.thickness_mm - fold.pivot_depth_mm) if fold.up else fold.pivot_depth_mm
        ends = b.pose.apply(np.column_stack([fold.line_b_mm, [height, height]]))
        length = float(np.linalg.norm(ends[1] - ends[0]))
        axis = (ends[1] - ends[0]) / length
        n_a, n_b = a.pose.rotation[:, 2], b.pose.rotation[:, 2]
        e_a = np.cross(axis, n_a)
        e_a = e_a if up * float(e_a @ n_b) <= 0.0 else -e_a
        theta = np.radians(fold.angle_deg)
        e_b = e_a * np.cos(theta) + up * n_a * np.sin(theta)
        shift = (e_a - e_b) / 2.0
        # an end moved by +1 along e_a (a's side) turns the line about n_a; on b the same askew line turns it back
        skew = float(np.cross(axis, e_a) @ n_a) * (n_a - n_b) / length
        middle = ends.mean(axis=0)
        line = ((shift, -skew, middle), (shift, skew, middle))
        out.append((fold, _FoldMoves(_hanging(fold.b, below), axis, middle, e_b, -up * (n_a - n_b), line)))
    return out


def _hanging(panel: str, below: Mapping[str, Sequence[str]]) -> frozenset[str]:
    found, queue = set(), [panel]
    while queue:
        name = queue.pop()
        if name not in found:
            found.add(name)
            queue.extend(below.get(name, ()))
    return frozenset(found)


def _carried(
    spots: Sequence[_Spot],
    carries: frozenset[str],
    shift: Array | None,
    turn: Array | None,
    about: Array,
    spread: float,
) -> Array:
    """Change (rows,) of each offset and gap when the carried panels shift and turn, times a spread."""
    out = np.zeros(len(spots))
    for i, spot in enumerate(spots):
        if spot.panel in carries:
            move = np.zeros(3) if shift is None else shift
            if turn is not None:
                move = move + np.cross(turn, spot.place_mm - about)
            out[i] = spread * float(spot.way @ move)
    return out


def root_of(covariance: Array) -> Array:
    """A matrix whose product with its transpose is the covariance, which may be singular."""
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2.0)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
