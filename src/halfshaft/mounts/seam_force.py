"""What a fold's weld carries: a case's motion in; force and bending on each length of throat, and stress there, out.

The forces are those with which the panel's own elements pull at its end face: they are in balance with the load to the
last digits, and know no notch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.mounts.bracket_mesh import BracketMesh, Seam
from halfshaft.mounts.elastic import Body
from halfshaft.mounts.weld_group import ThroatStress

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SPREAD = 2.0  # thicknesses over which the line force is evened out


@dataclass(frozen=True, eq=False)
class Throat:
    """A seam's throat as cut by the bisector of the fold, and how nodes of one end face load it.

    `depth_mm` is its height; `normal`, `up` and `way` are unit vectors (3,): square to it from panel a to b, across it
    toward the outside, along the seam. `middles_mm` (stations, 3) are the middles of the throat, `lengths_mm`
    (stations,) what each carries.
    """

    seam: Seam
    depth_mm: float
    normal: Array
    up: Array
    way: Array
    middles_mm: Array
    lengths_mm: Array
    nodes: Ints
    shares: Array  # (nodes, stations)
    pulled: Ints  # tetrahedra of panel a that touch the face


def throat_of(mesh: BracketMesh, body: Body, seam: Seam) -> Throat:
    """The throat of a seam: for faces `throat` deep, turned to each other by the fold, throat x cos(angle / 2).

    Source: EN 1993-1-8:2005 4.5.2 (1), height of the largest triangle within the fusion faces and the weld's surface.
    """
    corners = mesh.mesh.corners_mm
    out = 0 if seam.outside == "under" else -1
    inn = -1 - out
    outer = (corners[seam.on_a[:, out]] + corners[seam.on_b[:, out]]) / 2.0
    inner = (corners[seam.on_a[:, inn]] + corners[seam.on_b[:, inn]]) / 2.0
    rise = (outer - inner).mean(axis=0)
    way = seam.way / np.linalg.norm(seam.way)
    rise = rise - (rise @ way) * way
    depth = float(np.linalg.norm(rise))
    up = rise / depth
    face = np.unique(seam.on_a)
    touching = mesh.panels[seam.a].tets
    touching = touching[np.isin(mesh.mesh.tets[touching], face).any(axis=1)]
    nodes, shares = station_shares(body, seam.on_a)
    normal = np.cross(way, up)
    if float(normal @ (corners[seam.on_b] - corners[seam.on_a]).mean(axis=(0, 1))) < 0.0:
        normal = -normal
    return Throat(
        seam, depth, normal, up, way, (outer + inner) / 2.0, station_lengths(seam.stations_mm), nodes, shares,
        touching,
    )  # fmt: skip


def station_lengths(stations_mm: Array) -> Array:
    """What each station (n,) along a weld carries of its length."""
    edges = np.diff(stations_mm)
    lengths = np.zeros(len(stations_mm))
    lengths[:-1] += edges / 2.0
    lengths[1:] += edges / 2.0
    return lengths


def station_shares(body: Body, corners: Ints) -> tuple[Ints, Array]:
    """Nodes of a face whose corners (stations, k) are told, and how much of each (nodes, stations) a station takes."""
    face = np.unique(corners)
    station = {int(c): j for j, row in enumerate(corners) for c in row}
    between = np.flatnonzero(np.isin(body.edges, face).all(axis=1))
    nodes = np.concatenate([face, len(body.nodes_mm) - len(body.edges) + between])
    shares = np.zeros((len(nodes), len(corners)))
    for row, corner in enumerate(face):
        shares[row, station[int(corner)]] = 1.0
    for row, edge in enumerate(between):
        for corner in body.edges[edge]:
            shares[len(face) + row, station[int(corner)]] += 0.5
    return nodes, shares


def throat_stresses(body: Body, throat: Throat, moved_mm: Array, thickness_mm: float) -> tuple[Array, Array]:
    """Stress on the throat at its root and at its face, each (stations, 3), MPa: square to it with bending in, across
    it, along it. Evened out over `SPREAD` thicknesses, as welds that yield do.

    Source: equilibrium; N / a +- 6 M / a^2 over the throat.
    """
    pull = body.inner_force_n(moved_mm, throat.pulled)[throat.nodes]
    force = throat.shares.T @ pull
    arm = body.nodes_mm[throat.nodes][:, None, :] - throat.middles_mm[None, :, :]
    moment = np.einsum("ns,nsk->sk", throat.shares, np.cross(arm, pull[:, None, :]))
    stations = throat.seam.stations_mm
    near = np.abs(stations[:, None] - stations[None, :]) <= SPREAD * thickness_mm / 2.0 + 1e-9
    length = near @ throat.lengths_mm
    line, bend = near @ force / length[:, None], near @ moment / length[:, None]
    depth = throat.depth_mm
    square, across, along = line @ throat.normal / depth, line @ throat.up / depth, line @ throat.way / depth
    # a moment about the seam opens one edge of the throat and shuts the other
    bending = 6.0 * (bend @ np.cross(throat.up, throat.normal)) / depth**2
    root = np.column_stack([square - bending, across, along])
    face = np.column_stack([square + bending, across, along])
    return root, face


def as_throat(at: str, stress: Array, line: int = 0) -> ThroatStress:
    """One row of stresses as the directional method takes it."""
    return ThroatStress(line, at, float(stress[0]), float(stress[1]), float(stress[2]))
