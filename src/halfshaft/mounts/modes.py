"""The six rigid modes of a unit on its mounts: settled state, body and rubber in; frequencies, shapes, energies out.

Small motion about the settled state, coordinates at the centre of mass along and about root axes. The frame is taken
as standing still; spinning rotors are taken as not turning the modes about.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import eigh

from halfshaft.mounts.bulk import Body
from halfshaft.mounts.bushings import Rubber
from halfshaft.mounts.equilibrium import arms_mm, skews, travel
from halfshaft.mounts.held import NotHeld
from halfshaft.mounts.statics import Settled
from halfshaft.sums import one_thread

Array = NDArray[np.float64]

MOTIONS = ("fore-aft", "sideways", "bounce", "roll", "pitch", "yaw")
_MM = 1000.0  # N is kg mm/s2 over 1000
_PART = 0.2  # a second motion with this share is named too


@dataclass(frozen=True, eq=False)
class Modes:
    """Six modes, the slowest first.

    `shapes` (6, 6): column i is mode i, mm and radians, of modal mass one kg. `energy` (6, 6): row i is the share of
    mode i's kinetic energy in each of `MOTIONS`; a row sums to one, and products of inertia can make a share negative.
    `loss` (6,): loss factor of each mode, twice its damping ratio.
    """

    frequency_hz: Array
    shapes: Array
    energy: Array
    loss: Array
    mass: Array  # (6, 6) kg, kg mm, kg mm2
    centre_mm: Array  # where the unit's centre of mass rests

    @property
    def names(self) -> tuple[str, ...]:
        """Each mode by its main motion, with the second where that has a good share: 'pitch', 'roll with sideways'."""
        return tuple(_named(row) for row in self.energy)

    @property
    def decoupled(self) -> Array:
        """Share (6,) of each mode's kinetic energy in its main motion: one where it moves in that alone."""
        return np.asarray(self.energy.max(axis=1))

    @property
    def damping_ratio(self) -> Array:
        return self.loss / 2.0

    def motion_mm(self, mode: int, points_mm: ArrayLike) -> Array:
        """How points (n, 3) move in a mode, the farthest of them by one mm: (n, 3), for a picture."""
        points = np.asarray(points_mm, dtype=float)
        shape = self.shapes[:, mode]
        moved = shape[:3] + np.cross(shape[3:], points - self.centre_mm)
        return np.asarray(moved / max(float(np.linalg.norm(moved, axis=1).max(initial=0.0)), 1e-300))


def _named(energy: Array) -> str:
    order = np.argsort(-energy, kind="stable")
    first, second = int(order[0]), int(order[1])
    return MOTIONS[first] if energy[second] < _PART else f"{MOTIONS[first]} with {MOTIONS[second]}"


def mass_matrix(body: Body, rotation: Array) -> Array:
    """Mass (6, 6) about the centre of mass in root axes, the body turned by `rotation` (3, 3)."""
    out = np.zeros((6, 6))
    out[:3, :3] = body.mass_kg * np.eye(3)
    out[3:, 3:] = rotation @ body.inertia_kg_mm2 @ rotation.T
    return out


@one_thread()
def modes(rubber: Rubber, body: Body, settled: Settled, dynamic_ratio: float = 1.0) -> Modes:
    """Modes about a settled state: `K v = w^2 M v` with the tangent of all mounts there.

    `dynamic_ratio` times the rubber's slow stiffness is its stiffness in small quick motion; what the weight and
    preload themselves resist by the unit's turning is not rubber and stays as it is. Of the tangent the symmetric part
    is taken: under a torque whose line stays, the other part is half that torque.
    A mode's loss is the mounts' loss factors weighed by the energy in each (modal strain energy method, from memory:
    C. D. Johnson and D. A. Kienholz, AIAA Journal 20 (1982), p. 1284).

    Raises ValueError for a ratio not over nought, NotHeld for a state that is not stable.
    """
    if not (np.isfinite(dynamic_ratio) and dynamic_ratio > 0.0):
        raise ValueError(f"the dynamic ratio is {dynamic_ratio:g}; it is over nought")
    mass = mass_matrix(body, settled.moved.rotation)
    each = _stiffness_of_each(rubber, body.centre_mm, settled)
    rubber_only = each.sum(axis=0)
    turning = 0.5 * (settled.tangent + settled.tangent.T) - rubber_only
    stiffness = dynamic_ratio * rubber_only + turning
    length = float(np.sqrt(np.trace(body.inertia_kg_mm2) / (3.0 * body.mass_kg)))
    scale = np.array([1.0, 1.0, 1.0, 1.0 / length, 1.0 / length, 1.0 / length])
    values, vectors = eigh(stiffness * np.outer(scale, scale), mass * np.outer(scale, scale))
    if values[0] <= 0.0:
        raise NotHeld(f"the unit does not stand still under '{settled.name}': it tips out of that state")
    shapes = vectors * scale[:, None]
    energy = (shapes * (mass @ shapes)).T
    strain = dynamic_ratio * np.einsum("ai,mab,bi->im", shapes, each, shapes)
    loss = (strain @ rubber.loss_factor) / values
    return Modes(
        np.sqrt(values * _MM) / (2.0 * np.pi),
        shapes,
        energy,
        loss,
        mass,
        body.centre_mm + settled.moved.shift_mm,
    )


def _stiffness_of_each(rubber: Rubber, centre: Array, settled: Settled) -> Array:
    """Stiffness (m, 6, 6) of each mount's rubber at the settled state, without the turning of its force."""
    stiff = rubber.tangent(travel(rubber, centre, settled.moved))
    along = np.einsum("mij,mj,mkj->mik", rubber.own, stiff[:, :3], rubber.own)
    about = np.einsum("mij,mj,mkj->mik", rubber.own, stiff[:, 3:], rubber.own)
    arm = arms_mm(rubber, centre, settled.moved)
    moves = np.concatenate([np.tile(np.eye(3), (len(arm), 1, 1)), -skews(arm)], axis=2)
    out = np.einsum("mia,mij,mjb->mab", moves, along, moves)
    out[:, 3:, 3:] += about
    return np.asarray(out)
