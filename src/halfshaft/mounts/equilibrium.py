"""Forces of all mounts on a unit moved far: mounts and a pose in; energy, resisting force and moment, tangent out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry.pose import turn
from halfshaft.mounts.bushings import Rubber
from halfshaft.mounts.turning import moment_and_rate, rotation_vector, vector_rate

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Moved:
    """A unit moved from its drawn place: shift (3,) of its centre of mass and turn (3, 3), root axes."""

    shift_mm: Array
    rotation: Array


def still() -> Moved:
    return Moved(np.zeros(3), np.eye(3))


def skews(vectors: Array) -> Array:
    """`skew` of many (m, 3) at once: (m, 3, 3)."""
    x, y, z = vectors.T
    o = np.zeros_like(x)
    return np.array([[o, -z, y], [z, o, -x], [-y, x, o]]).transpose(2, 0, 1)


def arms_mm(rubber: Rubber, centre_mm: Array, moved: Moved) -> Array:
    """From the centre of mass to the mounts' unit side, as turned (m, 3)."""
    return np.asarray((rubber.centre_mm - centre_mm) @ moved.rotation.T)


def travel(rubber: Rubber, centre_mm: Array, moved: Moved) -> Array:
    """Travel of each mount in its own axes (m, 6): mm and radians."""
    shift = centre_mm + moved.shift_mm + arms_mm(rubber, centre_mm, moved) - rubber.centre_mm
    vector = rotation_vector(moved.rotation)
    return np.hstack([np.einsum("mji,mj->mi", rubber.own, shift), np.einsum("mji,j->mi", rubber.own, vector)])


def energy_nmm(rubber: Rubber, centre_mm: Array, moved: Moved) -> float:
    """Energy in the rubber, nought at the drawn place."""
    return float(rubber.energy(travel(rubber, centre_mm, moved)).sum())


@dataclass(frozen=True, eq=False)
class Resistance:
    """What the unit must be loaded with to stay so: at its centre of mass, root axes.

    `wrench` (6,): force in N, moment in N mm. `tangent` (6, 6): its change by a further shift in mm and a further turn
    in radians about root axes. `force_n` (m, 3) and `couple_nmm` (m, 3): what the unit puts on each mount.
    """

    wrench: Array
    tangent: Array
    force_n: Array
    couple_nmm: Array


def resistance(rubber: Rubber, centre_mm: Array, moved: Moved) -> Resistance:
    """Force, moment and tangent of all mounts, exact for any turn under a half turn.

    With `a` the turned arm, `g` the force on a mount and `K` its stiffness in root axes, a small shift `d` and turn `r`
    change `g` by `K (d + r x a)` and the moment `a x g` by `(r x a) x g + a x dg`; a mount's own turning adds the
    moment of its potential of the rotation vector.
    """
    x = travel(rubber, centre_mm, moved)
    gradient, stiff = rubber.gradient(x), rubber.tangent(x)
    arm = arms_mm(rubber, centre_mm, moved)
    force = np.einsum("mij,mj->mi", rubber.own, gradient[:, :3])
    by_vector = np.einsum("mij,mj->mi", rubber.own, gradient[:, 3:])
    along = np.einsum("mij,mj,mkj->mik", rubber.own, stiff[:, :3], rubber.own)
    about = np.einsum("mij,mj,mkj->ik", rubber.own, stiff[:, 3:], rubber.own)
    vector = rotation_vector(moved.rotation)
    rate = vector_rate(vector)
    couple = by_vector @ rate  # the transpose of the rate times each gradient
    own_moment, by_turn = moment_and_rate(vector, by_vector.sum(axis=0))
    arm_x = skews(arm)
    along_arm = along @ arm_x
    tangent = np.zeros((6, 6))
    tangent[:3, :3] = along.sum(axis=0)
    tangent[:3, 3:] = -along_arm.sum(axis=0)
    tangent[3:, :3] = (arm_x @ along).sum(axis=0)
    tangent[3:, 3:] = (
        (skews(force) @ arm_x).sum(axis=0) - (arm_x @ along_arm).sum(axis=0) + (by_turn + rate.T @ about) @ rate
    )
    wrench = np.concatenate([force.sum(axis=0), np.cross(arm, force).sum(axis=0) + own_moment])
    return Resistance(wrench, tangent, force, couple)


def moved_on(moved: Moved, step: Array) -> Moved:
    """A further shift in mm and turn in radians about root axes (6,)."""
    turned = turn(step[3:]) @ moved.rotation
    # rounding must not make the rotation drift over many steps
    u, _, vt = np.linalg.svd(turned)
    return Moved(moved.shift_mm + step[:3], u @ vt)


def reach_mm(rubber: Rubber, centre_mm: Array) -> float:
    """A length that makes turns comparable to shifts: the mounts' root mean square distance from the centre of mass."""
    spread = float(np.sqrt(np.mean(np.sum((rubber.centre_mm - centre_mm) ** 2, axis=1))))
    return max(spread, 1.0)
