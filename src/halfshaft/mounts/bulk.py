"""Mass, centre and inertia of a unit: as weighed and hung, or its pieces and a mass in; a rigid body out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.build.catalogue import mount_load
from halfshaft.checks import Assumed, Origin, Source
from halfshaft.fitup.model import Piece
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import bulk, union

Array = NDArray[np.float64]
_M3 = 1e-9


@dataclass(frozen=True, eq=False)
class Body:
    """A rigid body at its drawn place, root axes: centre of mass (3,), inertia (3, 3) about it.

    The inertia is the tensor, with the minus sign in its products: `Ixy = -sum m x y`.
    """

    mass_kg: float
    centre_mm: Array
    inertia_kg_mm2: Array
    assumed: tuple[Assumed, ...] = ()


def body(mass_kg: float, centre_mm: ArrayLike, inertia_kg_mm2: ArrayLike) -> Body:
    """A body as told: inertia as three principal values about root axes (3,) or a tensor (3, 3).

    Raises ValueError where it can belong to no body: not symmetric, not positive, one principal value more than the
    other two together.
    """
    centre, told = np.asarray(centre_mm, dtype=float), np.asarray(inertia_kg_mm2, dtype=float)
    tensor = np.diag(told) if told.shape == (3,) else told
    if not (np.isfinite(mass_kg) and mass_kg > 0.0):
        raise ValueError(f"the unit's mass is {mass_kg:g} kg; write what a scale shows")
    if centre.shape != (3,) or not np.all(np.isfinite(centre)):
        raise ValueError(f"the unit's centre of mass wants three numbers, found {centre.tolist()}")
    if tensor.shape != (3, 3) or not np.all(np.isfinite(tensor)):
        raise ValueError("the unit's inertia wants three numbers, or three rows of three")
    if not np.allclose(tensor, tensor.T, rtol=1e-9, atol=1e-9 * float(np.abs(tensor).max())):
        raise ValueError("the unit's inertia is not symmetric: products of inertia stand twice, alike")
    principal = np.linalg.eigvalsh(tensor)
    if principal[0] <= 0.0:
        raise ValueError(f"the unit's least moment of inertia is {principal[0]:g} kg mm2; it is over nought")
    if principal[2] > (principal[0] + principal[1]) * (1.0 + 1e-9):
        raise ValueError(
            f"no body has moments of inertia {principal[0]:.4g}, {principal[1]:.4g} and {principal[2]:.4g} kg mm2: "
            "the largest is at most the other two together; look at the units"
        )
    return Body(float(mass_kg), centre, 0.5 * (tensor + tensor.T))


def body_of_pieces(
    pieces: Sequence[Piece], pose: Pose, mass_kg: float | None = None, centre_mm: ArrayLike | None = None
) -> Body:
    """An estimate from the pieces as drawn, filled evenly: `pose` carries the unit's axes to the root's.

    Without a mass it is the volume times the catalogue's mean density; a centre (3,) in root axes overrules the
    pieces'. All that is estimated is told as assumed. Where pieces overlap, the overlap counts once.

    Raises ValueError where the pieces hold no volume.
    """
    solids = [piece.solid for piece in pieces if not piece.solid.empty]
    if not solids:
        raise ValueError("the unit has no piece with a volume to estimate its inertia from")
    volume, centre, second = bulk(union(solids))
    if not volume > 0.0:
        raise ValueError("the unit's pieces hold no volume to estimate its inertia from")
    assumed: list[Assumed] = []
    if mass_kg is None:
        row = mount_load("unit.mean_density")
        mass = float(row.value) * volume * _M3
        assumed.append(Assumed("mounts.unit.mass", f"{mass:.0f} kg, {float(row.value):g} kg/m3 as drawn", row.source))
    else:
        mass = float(mass_kg)
    evenly = Source(Origin.DERIVED, "the unit's pieces as drawn, filled evenly")
    spread = pose.rotation @ (second * (mass / volume)) @ pose.rotation.T
    at = pose.apply(centre) if centre_mm is None else np.asarray(centre_mm, dtype=float)
    if centre_mm is None:
        words = ", ".join(f"{value:.0f}" for value in at)
        assumed.append(Assumed("mounts.unit.centre", f"{words} mm", evenly))
    words = ", ".join(f"{value * 1e-6:.3g}" for value in np.diag(spread))
    assumed.append(Assumed("mounts.unit.inertia", f"{words} kg m2 about root axes", evenly))
    found = body(mass, at, spread)
    return Body(found.mass_kg, found.centre_mm, found.inertia_kg_mm2, tuple(assumed))
