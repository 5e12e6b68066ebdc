"""What a gusset's fillets carry: a case's motion in; force and moment along a foot, stress on the throats out.

As at a fold's weld, the forces are those with which the plate's own elements pull at its foot, in balance with the
load.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.mounts.bracket_mesh import BracketMesh
from halfshaft.mounts.elastic import Body
from halfshaft.mounts.gusset_mesh import Foot
from halfshaft.mounts.seam_force import SPREAD, station_lengths, station_shares

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Fillets:
    """The two fillets of a foot, and how nodes of the foot load their stations.

    `middles_mm` (stations, 3) lie midway between the plate's sides; `lengths_mm` (stations,) is what each carries.
    """

    foot: Foot
    throat_mm: float
    middles_mm: Array
    lengths_mm: Array
    nodes: Ints
    shares: Array  # (nodes, stations)
    pulled: Ints  # tetrahedra of the plate that touch the foot

    @property
    def name(self) -> str:
        return f"fillet {self.foot.gusset} on {self.foot.panel}"


def fillets_of(mesh: BracketMesh, body: Body, foot: Foot) -> Fillets:
    """The fillets of a foot; throat of a leg in a square corner, leg / sqrt 2.

    Source: EN 1993-1-8:2005 4.5.2 (1).
    """
    face = np.unique(foot.corners)
    touching = mesh.panels[foot.gusset].tets
    touching = touching[np.isin(mesh.mesh.tets[touching], face).any(axis=1)]
    nodes, shares = station_shares(body, foot.corners)
    return Fillets(
        foot, foot.leg_mm / float(np.sqrt(2.0)), mesh.mesh.corners_mm[foot.corners].mean(axis=1),
        station_lengths(foot.stations_mm), nodes, shares, touching,
    )  # fmt: skip


def foot_forces(body: Body, fillets: Fillets, moved_mm: Array) -> tuple[Array, Array]:
    """Force (stations, 3), N, with which the plate is pulled at each station, and its moment (stations, 3), N mm, about
    the station's middle, in root axes."""
    pull = body.inner_force_n(moved_mm, fillets.pulled)[fillets.nodes]
    arm = body.nodes_mm[fillets.nodes][:, None, :] - fillets.middles_mm[None, :, :]
    moment = np.einsum("ns,nsk->sk", fillets.shares, np.cross(arm, pull[:, None, :]))
    return fillets.shares.T @ pull, moment


def fillet_stresses(body: Body, fillets: Fillets, moved_mm: Array) -> Array:
    """Stress on the throats (2 sides, stations, 3), MPa: square to the throat, across it, along it.

    Each fillet takes half of the line force; a moment about the foot is a pair of forces square to the panel, one at
    the middle of each throat. Evened out over `SPREAD` thicknesses of the plate, as welds that yield do.
    Source: equilibrium; EN 1993-1-8:2005 4.5.3.2, the throat at 45 degrees.
    """
    foot, a = fillets.foot, fillets.throat_mm
    force, moment = foot_forces(body, fillets, moved_mm)
    away = np.abs(foot.stations_mm[:, None] - foot.stations_mm[None, :])
    near = away <= SPREAD * foot.thickness_mm / 2.0 + 1e-9
    length = near @ fillets.lengths_mm
    line, turn = near @ force / length[:, None], near @ moment / length[:, None]
    square, across, along = line @ foot.square, line @ foot.across, line @ foot.into
    # a throat's middle stands half a leg's half past the plate's side
    couple = turn @ np.cross(foot.across, foot.square) / (foot.thickness_mm + foot.leg_mm / 2.0)
    out = []
    for side in (-1.0, 1.0):
        lift, push = square / 2.0 + side * couple, side * across / 2.0
        out.append(np.column_stack([(lift - push) / np.sqrt(2.0), (lift + push) / np.sqrt(2.0), along / 2.0]) / a)
    return np.array(out)
