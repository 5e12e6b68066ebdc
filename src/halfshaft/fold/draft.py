"""From slabs to panels and folds: each panel gets its axes, holes, fold lines and outline."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.build.catalogue import default
from halfshaft.build.schema import BracketInput, FoldInput, Sheet, Shop
from halfshaft.fold import outline, pivot
from halfshaft.fold.lines import Meet
from halfshaft.fold.lip import lip_outline
from halfshaft.fold.model import Fold, Panel
from halfshaft.fold.outline import Edge
from halfshaft.fold.panels import Slab, hole_of
from halfshaft.geometry import Contour, Plane, Pose
from halfshaft.geometry.arcs import contours_of
from halfshaft.measure.model import Measured

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Turning:
    """How the folds of a sheet turn: what the pivot, setback and allowance are worked from."""

    thickness_mm: float
    slit_width_mm: float
    pivot_mm: float | None  # the shop's own, from a coupon
    radius_mm: float
    k_factor: float

    @staticmethod
    def of(sheet: Sheet, shop: Shop) -> Turning:
        t = sheet.thickness_mm
        radius = sheet.brake_radius_mm or float(default("fold.brake_radius").value) * t
        k = sheet.k_factor if sheet.k_factor is not None else pivot.k_factor(radius, t)
        return Turning(t, shop.slit_width_mm or shop.kerf_mm, sheet.pivot_depth_mm, radius, k)

    def depth_mm(self, kind: str, angle_deg: float) -> float:
        """Depth of the pivot, or of the neutral layer, under the inside face."""
        if kind == "brake":
            return self.k_factor * self.thickness_mm
        if self.pivot_mm is not None:
            return min(self.pivot_mm, self.thickness_mm)
        return pivot.pivot_depth_mm(self.thickness_mm, self.slit_width_mm, angle_deg)

    def setback_mm(self, kind: str, angle_deg: float) -> float:
        if kind == "brake":
            return pivot.brake_setback_mm(self.radius_mm, angle_deg)
        return pivot.slit_setback_mm(self.depth_mm(kind, angle_deg), angle_deg)


def pose_of(slab: Slab, up: int, way: Array | None) -> Pose:
    """Axes of a panel: z out of the sheet's upper side, x along its first fold or level, z = 0 the underside.

    The origin is the underside's foot of the middle of what pulls at the panel.
    """
    z = slab.normal * up
    level = np.cross([0.0, 0.0, 1.0], z)
    if way is not None:
        x = way - z * float(way @ z)
    elif float(np.linalg.norm(level)) > 0.1:
        x = level
    else:
        x = np.array([1.0, 0.0, 0.0]) - z * z[0]
    x = x / np.linalg.norm(x)
    under = Plane(slab.normal, slab.low_mm if up > 0 else slab.high_mm)
    origin = under.foot_mm(slab.pulls_mm.mean(axis=0))
    return Pose(np.column_stack([x, np.cross(z, x), z]), origin)


def edge_of(meet: Meet, slab: Slab, pose: Pose, setback_mm: float) -> Edge:
    """A fold line in a panel's axes: the apex line moved by the setback into the metal."""
    into = meet.into_a if slab.name == meet.a else meet.into_b
    start = pose.inverse().apply(meet.apex_mm + into * setback_mm)
    turn = pose.rotation.T
    return Edge(start[:2], (turn @ meet.way)[:2], (turn @ into)[:2])


@dataclass(frozen=True, eq=False)
class Drafted:
    """Panels with outlines and folds without bridges; `faults` say in words what could not be drawn."""

    panels: dict[str, Panel]
    folds: tuple[Fold, ...]
    faults: tuple[tuple[str, str], ...]  # about, words


def draft(
    bracket: BracketInput,
    slabs: Mapping[str, Slab],
    meets: Sequence[Meet],
    upper: Mapping[str, int],
    turning: Turning,
    measured: Measured,
) -> Drafted:
    """Panels and folds of a bracket from its slabs and where they meet.

    What cannot be drawn is told in `faults`, all at once; the panels it touches are then left out.
    """
    faults: list[tuple[str, str]] = []
    by_pair = {frozenset(f.between): f for f in bracket.folds}
    kinds = {id(m): by_pair[frozenset((m.a, m.b))].kind or bracket.fold for m in meets}
    poses = {}
    for name, slab in slabs.items():
        own = [m for m in meets if name in (m.a, m.b)]
        poses[name] = pose_of(slab, upper[name], own[0].way if own else None)
    edges = {
        (id(m), name): edge_of(m, slabs[name], poses[name], turning.setback_mm(kinds[id(m)], m.angle_deg))
        for m in meets
        for name in (m.a, m.b)
    }
    bosses = {name: _bosses(slab, poses[name]) for name, slab in slabs.items()}

    stretches: dict[int, tuple[float, float]] = {}
    for meet in meets:
        told = by_pair[frozenset((meet.a, meet.b))]
        try:
            stretches[id(meet)] = _stretch(meet, told, bracket, slabs, poses, edges, bosses, meets, measured)
        except ValueError as why:
            faults.append((f"fold {meet.a}-{meet.b}", str(why)))

    panels: dict[str, Panel] = {}
    for name, slab in slabs.items():
        own = [m for m in meets if name in (m.a, m.b) and id(m) in stretches]
        placed = [(edges[id(m), name], *stretches[id(m)]) for m in own]
        try:
            shape = _outline(slab, bracket, poses[name], bosses[name], placed)
        except ValueError as why:
            faults.append((f"panel {name}", str(why)))
            continue
        holes = [hole_of(name, w, c) for w, c in zip(slab.wishes, bosses[name][0], strict=True)]
        contact = {0: "none", upper[name]: "upper", -upper[name]: "under"}[slab.touches]
        panels[name] = Panel(name, poses[name], turning.thickness_mm, shape, (), tuple(holes), contact, slab.face)

    folds = []
    for meet in meets:
        if id(meet) in stretches and meet.a in panels and meet.b in panels:
            kind = kinds[id(meet)]
            up = meet.inside_a == upper[meet.a]
            folds.append(_fold(meet, kind, up, turning, stretches, edges))
    return Drafted(panels, tuple(folds), tuple(faults))


def _bosses(slab: Slab, pose: Pose) -> tuple[Array, Array]:
    """Centres (n, 2) and radii (n,) of the metal about the bolts, slots included."""
    centres = pose.inverse().apply(slab.bosses_mm)[:, :2] if len(slab.bosses_mm) else np.zeros((0, 2))
    holes = [hole_of(slab.name, w, c) for w, c in zip(slab.wishes, centres, strict=True)]
    return centres, np.array([h.boss_mm + h.slot_mm / 2.0 for h in holes])


def _stretch(
    meet: Meet,
    told: FoldInput,
    bracket: BracketInput,
    slabs: Mapping[str, Slab],
    poses: Mapping[str, Pose],
    edges: Mapping[tuple[int, str], Edge],
    bosses: Mapping[str, tuple[Array, Array]],
    meets: Sequence[Meet],
    measured: Measured,
) -> tuple[float, float]:
    """Stretch of a fold along its line, told from the apex spot, from which the edges of both panels run."""
    covered: list[tuple[float, float] | None] = []
    drawn: list[bool] = []
    for name in (meet.a, meet.b):
        slab, edge = slabs[name], edges[id(meet), name]
        if slab.drawn_mm is not None:
            figure = Polygon(poses[name].inverse().apply(slab.drawn_mm)[:, :2])
            if not figure.is_valid:
                raise ValueError(
                    f"the drawn outline of panel {name} crosses itself: write its corners in order round it"
                )
            span: tuple[float, float] | None = outline.reach_of_drawn(edge, figure)
        else:
            span = outline.reach_of_bosses(edge, *bosses[name])
        covered.append(span)
        drawn.append(slab.drawn_mm is not None)
        _near_enough(name, edge, bosses[name][0] if slab.drawn_mm is None else np.array(figure.exterior.coords))
    low, high = outline.shared_stretch(covered[0], covered[1], (drawn[0], drawn[1]), default("fold.least_length").value)
    for name in (meet.a, meet.b):
        if slabs[name].lip:
            spots = poses[name].inverse().apply(_spots_on(slabs[name], measured))[:, :2]
            low, high = _over_edge(edges[id(meet), name], spots, low, high, _lip_depth_mm(bracket, name))
    first = edges[id(meet), meet.a]
    ends = []
    for end in (told.start, told.end):
        if end is not None:
            spot = measured.points[end].xyz_mm if isinstance(end, str) else np.asarray(end, dtype=float)
            ends.append(float(first.along_mm(poses[meet.a].inverse().apply(spot)[:2])))
    if len(ends) == 2:
        low, high = min(ends), max(ends)
    elif ends and told.start is not None:
        low, high = (ends[0], high) if abs(ends[0] - low) <= abs(ends[0] - high) else (low, ends[0])
    elif ends:
        low, high = (low, ends[0]) if abs(ends[0] - high) <= abs(ends[0] - low) else (ends[0], high)
    for name in (meet.a, meet.b):
        others = [edges[id(m), name] for m in meets if m is not meet and name in (m.a, m.b)]
        low, high = outline.clipped(edges[id(meet), name], low, high, others)
    return low, high


def _spots_on(slab: Slab, measured: Measured) -> Array:
    face = measured.faces.get(slab.face)
    spots = [measured.points[n].xyz_mm for n in face.points if n in measured.points] if face else []
    return np.array(spots).reshape(-1, 3)


def _lip_depth_mm(bracket: BracketInput, name: str) -> float:
    depth = bracket.panel[name].lip_depth_mm
    return float(default("fold.lip_depth").value) if depth is None else depth


def _over_edge(edge: Edge, spots_mm: Array, low: float, high: float, depth_mm: float) -> tuple[float, float]:
    """A lip's stretch run out over measured spots of its face that lie just past its ends, by its own depth at most."""
    deep = edge.depth_mm(spots_mm)
    along = edge.along_mm(spots_mm[(deep >= 0.0) & (deep <= depth_mm)])
    near = along[(along >= low - depth_mm) & (along <= high + depth_mm)]
    return min([low, *near]), max([high, *near])


def _near_enough(name: str, edge: Edge, metal_mm: Array) -> None:
    """Whether a fold line is within reach of what a panel has: bolts, or corners drawn by the builder."""
    if not len(metal_mm):
        return
    row = default("fold.reach")
    nearest = float(edge.depth_mm(metal_mm).min())
    if nearest > float(row.value):
        raise ValueError(
            f"the fold line lies {nearest:.0f} mm from the nearest hole or corner of panel {name}, more than "
            f"{row.value:.0f} mm: the panels never meet within reach; put a third panel between them"
        )


def _outline(
    slab: Slab,
    bracket: BracketInput,
    pose: Pose,
    bosses: tuple[Array, Array],
    placed: Sequence[tuple[Edge, float, float]],
) -> Contour:
    told = bracket.panel[slab.name]
    round_mm = float(default("fold.corner_round").value) if told.round_mm is None else told.round_mm
    if slab.lip and slab.drawn_mm is None:
        if not placed:
            raise ValueError("a lip hangs on a fold: name it in 'folds'")
        edge, low, high = placed[0]
        return lip_outline([edge.at_mm(low), edge.at_mm(high)], edge.into, told.lip_depth_mm, told.round_mm)
    if slab.drawn_mm is not None:
        figure = outline.drawn_figure(pose.inverse().apply(slab.drawn_mm)[:, :2], placed, round_mm)
    else:
        if not len(bosses[0]) and len(placed) < 2:
            raise ValueError("it has no hole and no outline: give it one, or a second fold")
        figure = outline.hull_figure(*bosses, placed, 0.0)
    return contours_of(figure)[0][0]


def _fold(
    meet: Meet,
    kind: str,
    up: bool,
    turning: Turning,
    stretches: Mapping[int, tuple[float, float]],
    edges: Mapping[tuple[int, str], Edge],
) -> Fold:
    lines = []
    for name in (meet.a, meet.b):
        edge = edges[id(meet), name]
        low, high = stretches[id(meet)]
        lines.append(np.vstack([edge.at_mm(low), edge.at_mm(high)]))
    brake = kind == "brake"
    t, angle = turning.thickness_mm, meet.angle_deg
    return Fold(
        name=f"{meet.a}-{meet.b}",
        a=meet.a,
        b=meet.b,
        kind=kind,
        angle_deg=angle,
        up=up,
        line_a_mm=lines[0],
        line_b_mm=lines[1],
        allowance_mm=pivot.bend_allowance_mm(turning.radius_mm, turning.k_factor, t, angle) if brake else 0.0,
        setback_mm=turning.setback_mm(kind, angle),
        pivot_depth_mm=turning.depth_mm(kind, angle),
        radius_mm=turning.radius_mm if brake else 0.0,
        slit_width_mm=0.0 if brake else turning.slit_width_mm,
    )
