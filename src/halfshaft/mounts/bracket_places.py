"""Where on a bracket a stress is: a mesh in; for each node of the skin the place it counts to, by name, out.

Nodes next to a weld's toe, a gusset's foot and at sharp inside corners count to no place: elastic stress has no bound
there, and the toes have their own reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.fold.slab import figure, hole_figure
from halfshaft.mounts.bracket_mesh import BracketMesh, washer_mm
from halfshaft.mounts.elastic import Body

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_TOE = 1.0  # thicknesses about a seam that are left to the toes
_CORNER = 0.5  # thicknesses about a sharp inside corner that are left out
_ROUND_HOLE = 0.5  # thicknesses past the washer that count to the hole
_SHARP_DEG = 215.0


@dataclass(frozen=True, eq=False)
class Places:
    """Names, and for each node (nodes,) the number of its place, -1 where it has none."""

    names: tuple[str, ...]
    of_node: Ints

    def worst(self, values: Array) -> tuple[Array, Ints]:
        """Greatest value (places,) and the node where it is; -inf and -1 for a place without nodes."""
        best = np.full(len(self.names), -np.inf)
        at = np.full(len(self.names), -1)
        used = np.flatnonzero(self.of_node >= 0)
        order = used[np.argsort(values[used], kind="stable")]
        at[self.of_node[order]] = order
        have = at >= 0
        best[have] = values[at[have]]
        return best, at


def places_of(mesh: BracketMesh, body: Body) -> Places:
    """Places 'panel ear', 'hole ear.AL1', 'bend web-ear'."""
    names: list[str] = []
    of_node = np.full(len(body.nodes_mm), -1)
    skin = np.unique(
        np.concatenate([mesh.mesh.skin.ravel(), body.middles(mesh.mesh.skin, _SIDES).ravel()])
    )  # fmt: skip
    on_skin = np.zeros(len(body.nodes_mm), dtype=bool)
    on_skin[skin] = True
    thickness = mesh.thickness_mm
    toes = [shapely.LineString(line) for line in _toe_lines(mesh)]
    for name, panel in mesh.panels.items():
        own = np.unique(mesh.mesh.tets[panel.tets])
        edges = np.flatnonzero(np.isin(body.edges, own).all(axis=1)) + len(mesh.mesh.corners_mm)
        nodes = np.concatenate([own, edges])
        nodes = nodes[on_skin[nodes]]
        flat = panel.panel.pose.inverse().apply(body.nodes_mm[nodes])[:, :2]
        of_node[nodes] = len(names)
        names.append(f"panel {name}")
        for hole in panel.panel.holes:
            reach = washer_mm(hole) / 2.0 - hole.diameter_mm / 2.0 + _ROUND_HOLE * thickness
            near = shapely.contains_xy(hole_figure(hole, reach), flat[:, 0], flat[:, 1])
            of_node[nodes[near]] = len(names)
            names.append(f"hole {hole.name}")
        spots = _sharp(figure(panel.panel))
        for spot in spots:
            of_node[nodes[np.linalg.norm(flat - spot, axis=1) < _CORNER * thickness]] = -1
    for seam in mesh.seams:
        if seam.kind == "slit":
            continue
        own = np.unique(mesh.mesh.tets[seam.welded])
        edges = np.flatnonzero(np.isin(body.edges, own).all(axis=1)) + len(mesh.mesh.corners_mm)
        nodes = np.concatenate([own, edges])
        of_node[nodes[on_skin[nodes]]] = len(names)
        names.append(f"bend {seam.name}")
    spots3 = body.nodes_mm
    for line in toes:
        start, end = np.asarray(line.coords)
        way = end - start
        along = np.clip((spots3 - start) @ way / float(way @ way), 0.0, 1.0)
        away = np.linalg.norm(spots3 - start - along[:, None] * way, axis=1)
        of_node[away < _TOE * thickness] = -1
    for seam in mesh.seams:
        if seam.kind == "slit":
            of_node[np.unique(mesh.mesh.tets[seam.welded])] = -1
    return Places(tuple(names), of_node)


_SIDES = np.array([[0, 1], [1, 2], [2, 0]])


def _toe_lines(mesh: BracketMesh) -> Sequence[Array]:
    corners = mesh.mesh.corners_mm
    feet = [corners[foot.corners[[0, -1], side]] for foot in mesh.feet for side in (0, 1)]
    return feet + [
        corners[ends[[0, -1], layer]]
        for seam in mesh.seams
        if seam.kind == "slit"
        for ends in (seam.on_a, seam.on_b)
        for layer in (0, -1)
    ]


def _sharp(shape: Polygon) -> Array:
    """Inside corners of a figure that have no round."""
    plain = shapely.simplify(shape, 0.05)
    out = []
    for part in shapely.get_parts(plain):
        for number, ring in enumerate((part.exterior, *part.interiors)):
            points = np.asarray(ring.coords)[:-1, :2]
            if (number == 0 and not ring.is_ccw) or (number > 0 and ring.is_ccw):
                points = points[::-1]
            before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
            turn = np.arctan2(
                before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], np.einsum("ij,ij->i", before, after)
            )
            out += list(points[180.0 - np.degrees(turn) > _SHARP_DEG])
    return np.array(out).reshape(-1, 2)
