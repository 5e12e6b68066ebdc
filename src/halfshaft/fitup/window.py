"""Windows in members: pieces of the unit, their way and a member in; the openings to cut, judged, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fitup.edges import welds_on
from halfshaft.fitup.layout import keep_off, laid_out
from halfshaft.fitup.model import Member, Piece
from halfshaft.fitup.sections import SectionChange, change_at, change_checks, section_at
from halfshaft.fitup.sweep import need_of
from halfshaft.fitup.walls import Wall, walls_of
from halfshaft.geometry import Contour, Pose
from halfshaft.geometry.mesh import MeshSolid, prism, union, without

Array = NDArray[np.float64]

_DUST_MM2 = 0.01
_PROUD_MM = 1.0  # the cutter's solid stands this far out of the wall
_STATIONS = 9
_DERIVED = Source(Origin.DERIVED, "docs/fitup.md, windows")


@dataclass(frozen=True, eq=False)
class Window:
    """One opening in one wall. `contour` runs clockwise in the wall's x, y; `need` is what lies open at the least.

    `piece` names what passes it, several joined by 'and'; `clearance_mm` is the most that one of them asks for.

    `edges_mm` tells how much metal is left to each edge and end of the wall, below nought where the opening runs over
    it; `weld_mm` that to the nearest weld, endless where none is given. `section` is at the worst station.
    """

    member: str
    piece: str
    wall: Wall
    contour: Contour
    need: Polygon
    clearance_mm: float
    round_mm: float
    removed_mm2: float
    removed_mm3: float
    edges_mm: Mapping[str, float]
    weld_mm: float
    section: SectionChange
    checks: tuple[Check, ...]

    @property
    def cutter(self) -> MeshSolid:
        """What the cut takes out of the member, and air outside of it."""
        return cutter_of(self.contour, self.wall)

    @property
    def corners_mm(self) -> Array:
        """Ends of the contour's runs (n, 3) in root axes."""
        flat = self.contour.points_mm
        return self.wall.pose.apply(np.column_stack([flat, np.zeros(len(flat))]))


def windows(
    member: Member,
    pieces: Sequence[Piece],
    poses: Sequence[Pose],
    clearance_mm: float,
    kerf_mm: float,
    *,
    welds_mm: Sequence[ArrayLike] = (),
    round_mm: float | None = None,
) -> tuple[Window, ...]:
    """The openings that let pieces stand at the first of `poses` (unit to root) and pass along the others.

    Pieces that come through one wall with too narrow a web between them share an opening.
    `clearance_mm` is kept all round, each piece's own sway added. Corners are no sharper than `round_mm` (the
    catalogue's where None) nor than the cut's half width. `welds_mm` are lines (n, 3) in root axes to keep off.
    A need that runs past a wall's edge is still given, with a STOP check that says so.
    Raises ValueError where there is no pose, or the clearance is below 0.
    """
    if not poses:
        raise ValueError(f"member {member.name}: a window wants the pose at its place")
    if clearance_mm < 0.0:
        raise ValueError(f"member {member.name}: write its clearance as 0 or more, not {clearance_mm:g} mm")
    radius = max(kerf_mm / 2.0, float(default("fitup.window_round").value) if round_mm is None else round_mm)
    cuts: list[tuple[Wall, Contour, Polygon, list[Piece]]] = []
    for wall in walls_of(member):
        needs = [need_of(piece.solid, poses, wall, clearance_mm + piece.sway_mm) for piece in pieces]
        lines = welds_on(wall, welds_mm)
        off = keep_off(
            wall.outline, float(default("fitup.window_edge").value), lines, float(default("fitup.window_weld").value)
        )
        for part in _joined(needs, wall):
            through = [p for p, need in zip(pieces, needs, strict=True) if need.intersection(part).area > _DUST_MM2]
            contour = laid_out(part, radius, float(default("fitup.window_slack").value), off)
            cuts.append((wall, contour, part, through))
    if not cuts:
        return ()
    left = without(member.solid, union([cutter_of(contour, wall) for wall, contour, *_ in cuts]))
    out = []
    for wall, contour, need, through in cuts:
        clearance = clearance_mm + max(piece.sway_mm for piece in through)
        welds = welds_on(wall, welds_mm)
        out.append(_judged(member, through, wall, contour, need, clearance, radius, left, welds))
    return tuple(out)


def cutter_of(contour: Contour, wall: Wall) -> MeshSolid:
    """The prism through the wall that a contour in it cuts out, standing a little out of the metal outside."""
    return prism(contour.polygon(1e-3), -wall.thickness_mm - 1e-3, _PROUD_MM, wall.pose)


def _joined(needs: Sequence[Polygon | MultiPolygon], wall: Wall) -> list[Polygon]:
    """The parts of needs that meet the wall, those with too narrow a web between them as one."""
    web = float(default("fitup.window_web").value)
    parts = [p for p in shapely.get_parts(shapely.union_all(needs)) if p.intersection(wall.outline).area > _DUST_MM2]
    at = 0
    while at < len(parts):
        near = [p for p in parts[at + 1 :] if p.distance(parts[at]) < web]
        if near:
            rest = [p for i, p in enumerate(parts) if i != at and not any(p is n for n in near)]
            parts = [*rest, shapely.union_all([parts[at], *near]).convex_hull]
            at = 0
        else:
            at += 1
    return parts


def _judged(
    member: Member,
    through: Sequence[Piece],
    wall: Wall,
    contour: Contour,
    need: Polygon,
    clearance_mm: float,
    round_mm: float,
    left: MeshSolid,
    welds: list[LineString],
) -> Window:
    figure = contour.polygon(1e-3)
    spots = np.asarray(figure.exterior.coords)
    edges = {name: float(limit - (sign * spots[:, axis]).max()) for name, axis, sign, limit in wall.edges}
    weld = min((float(line.distance(figure)) for line in welds), default=np.inf)
    section = _worst(member, wall, figure, left)
    area = float(figure.intersection(wall.outline).area)
    volume = member.solid.volume_mm3 - without(member.solid, cutter_of(contour, wall)).volume_mm3
    names = " and ".join(piece.name for piece in through)
    about = f"window for {names} in the {wall.called}"
    checks = (*_edge_checks(about, wall, edges, weld, bool(welds)), *change_checks(about, section))
    return Window(
        member.name, names, wall, contour, need, clearance_mm, round_mm, area, volume, edges, weld, section, checks
    )


def _worst(member: Member, wall: Wall, figure: Polygon, left: MeshSolid) -> SectionChange:
    """The section where least metal is left along the opening."""
    x0, _, x1, _ = figure.intersection(wall.outline).bounds
    inset = min(0.5, (x1 - x0) / 10.0)
    # square cuts of a slab differ where its outline turns, there and between
    turns = [float(x) for x, _ in figure.exterior.coords if x0 + inset < x < x1 - inset]
    among = [*np.linspace(x0 + inset, x1 - inset, _STATIONS), *turns[:: max(1, len(turns) // _STATIONS)]]
    stations = [wall.along_mm(float(x)) for x in among]
    areas = [float(section_at(member, s, left).area) for s in stations]
    at = stations[int(np.argmin(areas))]
    return change_at(member, at, left)


def _edge_checks(about: str, wall: Wall, edges: Mapping[str, float], weld: float, welded: bool) -> tuple[Check, ...]:
    row, near = default("fitup.window_edge"), default("fitup.window_weld")
    out: list[Check] = []
    nearest = min(edges, key=lambda name: edges[name])
    if edges[nearest] < 0.0:
        out.append(
            Check(
                "fitup", about, f"Window runs over the {nearest} of the wall", _DERIVED, Severity.STOP,
                "Move the unit, or take the piece off for the way in; a notch through a corner wants a member built "
                "round it.", edges[nearest], 0.0, "mm", Good.AT_LEAST,
            )
        )  # fmt: skip
    out.append(
        Check(
            "fitup", about, f"Metal between window and the {nearest}", row.source, Severity.CAUTION,
            "Move the unit or narrow the piece; where it must stay, plate the wall out past the window.",
            edges[nearest], float(row.value), "mm", Good.AT_LEAST,
        )
    )  # fmt: skip
    if welded:
        out.append(
            Check(
                "fitup", about, "Distance of the window from the nearest weld", near.source, Severity.CAUTION,
                "Move the unit or narrow the piece; do not cut through a weld without a welder's word.",
                weld, float(near.value), "mm", Good.AT_LEAST,
            )
        )  # fmt: skip
    return tuple(out)
