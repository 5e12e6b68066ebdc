"""Structural stress at the toes of fold welds: nodal stress of a bracket's mesh in; stress led up to the toe out.

At a toe the elastic stress has no bound; what cracks a weld is the stress of the plate there without the notch. It is
read at 0.4 and 1.0 thicknesses from the toe and led on to it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from halfshaft.mounts.bracket_mesh import ROWS, BracketMesh, PanelMesh
from halfshaft.mounts.elastic import Body
from halfshaft.mounts.gusset_mesh import Foot

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR, FAR = 1.67, -0.67
RULE = (
    "structural hot-spot stress 1.67 s(0.4 t) - 0.67 s(1.0 t), IIW Recommendations for Fatigue Design of Welded Joints "
    "(A. Hobbacher, IIW-2259-15), type a, fine mesh"
)
_INSIDE = 1e-6


@dataclass(frozen=True, slots=True)
class Toe:
    """One spot of a toe: its fold, the panel and side of the sheet that the stress is read on, how far along."""

    fold: str  # or the gusset, whose foot's 'tip' or 'side' it is at
    panel: str
    side: str  # 'outside' of the fold, where the weld is; 'inside'
    along_mm: float
    spot_mm: tuple[float, float, float]
    across: tuple[float, float, float]  # unit vector in root axes, from the toe into the panel


@dataclass(frozen=True, eq=False)
class Toes:
    """All toes of a mesh and the matrix (toes, nodes) that leads nodal stress up to them."""

    toes: tuple[Toe, ...]
    lead: sparse.csr_matrix

    def stress_mpa(self, nodal_mpa: Array) -> Array:
        """Structural stress (toes, 6) from nodal stress (nodes, 6)."""
        return np.asarray(self.lead @ nodal_mpa)


def toes_of(mesh: BracketMesh, body: Body) -> Toes:
    """Toes at each station of each slit fold, on both panels: outside, and inside too where the weld goes through; and
    on the panel round each foot of a gusset, beside its stations and past its tip. The fillet is not meshed, so there
    the stress is led up to the plate itself, on the safe side.

    Spots whose readings would fall off the metal are left out.
    Source: IIW, see `RULE`.
    """
    toes: list[Toe] = []
    rows: list[tuple[Ints, Array]] = []
    for seam in mesh.seams:
        if seam.kind != "slit":
            continue
        through = seam.throat_mm >= mesh.thickness_mm - 1e-6
        for name, ends, into in ((seam.a, seam.on_a, seam.into_a), (seam.b, seam.on_b, seam.into_b)):
            panel = mesh.panels[name]
            for side in ("outside", "inside") if through else ("outside",):
                layer = 0 if (seam.outside == "under") == (side == "outside") else -1
                corners = ends[:, layer]
                flat = panel.panel.pose.inverse().apply(mesh.mesh.corners_mm[corners])[:, :2]
                inward = (panel.panel.pose.rotation.T @ into)[:2]
                reach = mesh.thickness_mm * np.asarray(ROWS)
                read = [_reader(panel, layer, body, flat + r * inward) for r in reach]
                for place, along in enumerate(seam.stations_mm):
                    near, far = read[0][place], read[1][place]
                    if near is None or far is None:
                        continue
                    nodes = np.concatenate([near[0], far[0]])
                    weights = np.concatenate([NEAR * near[1], FAR * far[1]])
                    x, y, z = (float(v) for v in mesh.mesh.corners_mm[corners[place]])
                    i, j, k = (float(v) for v in into)
                    toes.append(Toe(seam.name, name, side, float(along), (x, y, z), (i, j, k)))
                    rows.append((nodes, weights))
    for foot in mesh.feet:
        for toe, nodes, weights in _foot_toes(mesh, body, foot):
            toes.append(toe)
            rows.append((nodes, weights))
    count = len(body.nodes_mm)
    at = np.concatenate([np.full(len(n), row) for row, (n, _) in enumerate(rows)]) if rows else np.empty(0, dtype=int)
    nodes = np.concatenate([n for n, _ in rows]) if rows else np.empty(0, dtype=int)
    values = np.concatenate([w for _, w in rows]) if rows else np.empty(0)
    return Toes(tuple(toes), sparse.csr_matrix((values, (at, nodes)), shape=(len(rows), count)))


def _foot_toes(mesh: BracketMesh, body: Body, foot: Foot) -> list[tuple[Toe, Ints, Array]]:
    panel = mesh.panels[foot.panel]
    spots, runs = mesh.mesh.corners_mm, foot.stations_mm
    sides = (
        ("side", spots[foot.corners[:, 0]], -foot.across, runs),
        ("side", spots[foot.corners[:, 1]], foot.across, runs),
        (
            "tip",
            np.vstack([spots[foot.corners[-1]], spots[foot.corners[-1]].mean(axis=0)]),
            foot.into,
            np.full(3, runs[-1]),
        ),
    )
    reach = mesh.thickness_mm * np.asarray(ROWS)
    out = []
    for side, starts, way, along in sides:
        flat = panel.panel.pose.inverse().apply(starts)[:, :2]
        read = [_reader(panel, foot.layer, body, flat + r * (panel.panel.pose.rotation.T @ way)[:2]) for r in reach]
        for place, start in enumerate(starts):
            near, far = read[0][place], read[1][place]
            if near is None or far is None:
                continue
            nodes = np.concatenate([near[0], far[0]])
            weights = np.concatenate([NEAR * near[1], FAR * far[1]])
            x, y, z = (float(v) for v in start)
            i, j, k = (float(v) for v in way)
            toe = Toe(foot.gusset, foot.panel, side, float(along[place]), (x, y, z), (i, j, k))
            out.append((toe, nodes, weights))
    return out


def _reader(panel: PanelMesh, layer: int, body: Body, spots: Array) -> list[tuple[Ints, Array] | None]:
    """For each spot (k, 2) on a flat the nodes about it and their weights, by the triangle's second-order functions."""
    at = panel.points_mm[panel.triangles]
    a, b, c = at[:, 0], at[:, 1] - at[:, 0], at[:, 2] - at[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    out: list[tuple[Ints, Array] | None] = []
    for spot in spots:
        way = spot - a
        second = (way[:, 0] * c[:, 1] - way[:, 1] * c[:, 0]) / area
        third = (b[:, 0] * way[:, 1] - b[:, 1] * way[:, 0]) / area
        inside = np.minimum(np.minimum(second, third), 1.0 - second - third)
        best = int(np.argmax(inside))
        if inside[best] < -_INSIDE:
            out.append(None)
            continue
        share = np.array([1.0 - second[best] - third[best], second[best], third[best]])
        corners = panel.at[layer][panel.triangles[best]][None, :]
        middles = body.middles(corners, np.array([[0, 1], [1, 2], [2, 0]]))[0]
        weights = np.concatenate([share * (2.0 * share - 1.0), 4.0 * share * np.roll(share, -1)])
        out.append((np.concatenate([corners[0], middles]), weights))
    return out
