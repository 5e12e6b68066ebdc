"""The way from flat to folded. A bracket in; its rigid pieces as meshes, and where each stands at any share, out.

A share of 0 is flat, 1 is folded; every fold has then turned by that share of its angle. The panel with the most bolts
stays where it is; a cover rides on the panel it is bolted to, a gusset on the first it is welded to. A brake bend is
drawn as narrow strips that keep the length of its neutral layer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon

from halfshaft.fold.flat import slits_of
from halfshaft.fold.model import Bracket, Fold, Panel
from halfshaft.fold.slab import figure, flat_move, fold_pose, into_metal, line_of, parts_of, tree
from halfshaft.geometry import Pose, mesh

Array = NDArray[np.float64]

STRIPS = 10  # a brake bend is drawn as this many
_SAME_MM = 0.5  # joining holes whose axes pass this near each other are one bolt's


@dataclass(frozen=True, eq=False)
class Piece:
    """One rigid piece: vertices (v, 3) and triangles (t, 3) in the piece's own axes, outward by the right-hand rule."""

    name: str  # the panel, or 'fold:3' for a strip of a brake bend
    panel: str  # the panel that it is, or hangs on
    vertices_mm: Array
    triangles: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class _Step:
    """Across one fold, from the panel that is placed already to the next."""

    fold: Fold
    near: str
    far: str
    shape_a: Polygon
    inward: Array  # (2,) side of the line on which the fold's panel a lies

    def pose(self, share: float, thickness_mm: float) -> Pose:
        over = fold_pose(self.fold, thickness_mm, self.shape_a, share * self.fold.angle_deg, self.inward)
        return over if self.near == self.fold.a else over.inverse()


@dataclass(frozen=True, eq=False)
class Way:
    """A bracket ready to be turned: ask `poses` for any share."""

    anchors: tuple[str, ...]  # the panel of each part that stays put, or rides
    pieces: tuple[Piece, ...]
    panels: Mapping[str, Panel]
    steps: tuple[_Step, ...]
    rides: Mapping[str, str]  # a cover's panel -> the panel of another part that carries it
    folds: tuple[Fold, ...]

    def panel_poses(self, share: float) -> dict[str, Pose]:
        """Root-axes pose of each panel. Raises ValueError where the share is not from 0 to 1."""
        if not 0.0 <= share <= 1.0:
            raise ValueError(f"a share from 0, flat, to 1, folded, is wanted, not {share}")
        out: dict[str, Pose] = {}
        for anchor in self.anchors:
            own, carrier = self.panels[anchor].pose, self.rides.get(anchor, "")
            out[anchor] = own
            if carrier:
                out[anchor] = out[carrier].after(self.panels[carrier].pose.inverse()).after(own)
            for step in self.steps:
                if step.near in out and step.far not in out:
                    out[step.far] = out[step.near].after(step.pose(share, self.panels[step.near].thickness_mm))
        return out

    def poses(self, share: float) -> dict[str, Pose]:
        """Root-axes pose of each piece, by its name."""
        out = self.panel_poses(share)
        for step in self.steps:
            if step.fold.kind == "brake":
                panel = self.panels[step.fold.a]
                for number in range(STRIPS):
                    over = _strip_pose(step, share, (number + 0.5) / STRIPS, panel.thickness_mm)
                    out[f"{step.fold.name}:{number}"] = out[step.fold.a].after(over)
        return out


def way_of(bracket: Bracket) -> Way:
    """The bracket made ready: its pieces and the steps from panel to panel. A bracket without panels gives none."""
    panels, folds = bracket.panels, bracket.folds
    groups = sorted(parts_of(tuple(panels), folds), key=lambda group: -_bolts(group, panels))
    shapes = {name: figure(panel) for name, panel in panels.items()}
    anchors: list[str] = []
    steps: list[_Step] = []
    rides: dict[str, str] = {}
    placed: list[str] = []
    for group in groups:
        anchor = max(group, key=lambda name: _bolts([name], panels))
        carrier = next(((g.panel, g.a) for g in bracket.gussets if group == [g.panel]), _carrier(group, placed, panels))
        if carrier:
            anchor, rides[carrier[0]] = carrier[0], carrier[1]
        anchors.append(anchor)
        steps += _steps(anchor, group, folds, shapes)
        placed += group
    pieces = [_panel_piece(panel, folds) for panel in panels.values()]
    for step in steps:
        if step.fold.kind == "brake":
            pieces += _strips(step, panels[step.fold.a].thickness_mm)
    return Way(tuple(anchors), tuple(pieces), panels, tuple(steps), rides, folds)


def _bolts(names: Sequence[str], panels: Mapping[str, Panel]) -> int:
    return sum(hole.use != "join" for name in names for hole in panels[name].holes)


def _carrier(group: Sequence[str], placed: Sequence[str], panels: Mapping[str, Panel]) -> tuple[str, str] | None:
    """The panel of this part, and the one of a part placed before, that share a joining bolt."""
    for name in group:
        for hole in panels[name].holes:
            if hole.use != "join":
                continue
            spot = panels[name].pose.apply(np.append(hole.centre_mm, 0.0))
            for other in placed:
                at = panels[other].pose.inverse().apply(spot)[:2]
                if any(h.use == "join" and np.linalg.norm(h.centre_mm - at) < _SAME_MM for h in panels[other].holes):
                    return name, other
    return None


def _steps(anchor: str, group: Sequence[str], folds: Sequence[Fold], shapes: Mapping[str, Polygon]) -> list[_Step]:
    beside, seen, queue, out = tree(group, folds), {anchor}, [anchor], []
    while queue:
        name = queue.pop(0)
        for fold, other in beside[name]:
            if other not in seen:
                shape = shapes[fold.a]
                out.append(_Step(fold, name, other, shape, into_metal(shape, fold.line_a_mm)))
                seen.add(other)
                queue.append(other)
    return out


def _panel_piece(panel: Panel, folds: Sequence[Fold]) -> Piece:
    """The slab with its holes, less the half of each slit that is its own."""
    shape = figure(panel, holes=True)
    cuts = [
        LineString(line).buffer(fold.slit_width_mm / 2.0, cap_style="flat")
        for fold in folds
        if panel.name in (fold.a, fold.b) and fold.kind == "slit" and fold.slit_width_mm > 0.0
        for line in slits_of(fold, line_of(fold, panel.name))
    ]
    if cuts:
        shape = shape.difference(shapely.union_all(cuts))
    return _piece(panel.name, panel.name, shape, panel.thickness_mm)


def _piece(name: str, panel: str, shape: Polygon | MultiPolygon, thickness_mm: float) -> Piece:
    vertices, triangles = mesh.prism(shape, 0.0, thickness_mm).triangles
    return Piece(name, panel, vertices, triangles)


def _strips(step: _Step, thickness_mm: float) -> list[Piece]:
    """The bend's flat metal cut along its length, each strip about the middle of its own width at y = 0."""
    wide, long = step.fold.allowance_mm / STRIPS, step.fold.length_mm
    shape = Polygon([(0.0, -wide / 2.0), (long, -wide / 2.0), (long, wide / 2.0), (0.0, wide / 2.0)])
    return [_piece(f"{step.fold.name}:{n}", step.fold.a, shape, thickness_mm) for n in range(STRIPS)]


def _strip_pose(step: _Step, share: float, along: float, thickness_mm: float) -> Pose:
    """A strip in panel a's axes: as the far panel of a bend that has only come `along` (0 to 1) the allowance.

    Its own axes: x along the fold from its start, y across, middle of the strip at y = 0.
    """
    fold = step.fold
    line = np.asarray(fold.line_a_mm, dtype=float)
    way = (line[1] - line[0]) / fold.length_mm
    left = np.array([-way[1], way[0]])
    inward = left if float(left @ step.inward) > 0.0 else -left
    # the part bend's far line, in axes where it lies along x: the far panel stands on the side away from a
    part = replace(
        fold,
        line_b_mm=np.array([[0.0, 0.0], [fold.length_mm, 0.0]]),
        allowance_mm=fold.allowance_mm * along,
    )
    angle = share * along * fold.angle_deg
    if angle < 1e-9:
        rotation, shift = flat_move(part, step.shape_a, inward=inward)
        lifted = np.eye(3)
        lifted[:2, :2] = rotation
        return Pose(lifted, np.append(shift, 0.0))
    return fold_pose(part, thickness_mm, step.shape_a, angle, inward)
