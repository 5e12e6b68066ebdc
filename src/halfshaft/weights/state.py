"""One state of the car: moments and stance in, centre of gravity, axles, corners and stability with spreads out."""

from __future__ import annotations

import numpy as np

from halfshaft.weights.model import State
from halfshaft.weights.moments import Moments, Stance, axle_rows, centre_mm, corner_rows, loads_kg
from halfshaft.weights.stability import stability_factor, stability_spread


def state_of(name: str, moments: Moments, stance: Stance) -> State:
    """Raises ValueError, in words, where the numbers make no car that stands on both its axles."""
    if not moments.mass_kg > 0.0:
        raise ValueError(f"more comes out than the car weighs: {moments.mass_kg:.0f} kg is left")
    centre, covariance = centre_mm(moments)
    axles, axle_cov = loads_kg(moments, axle_rows(stance))
    for load, end, other in ((axles[0], "front", "rear"), (axles[1], "rear", "front")):
        if not load > 0.0:
            raise ValueError(
                f"the {end} axle is in the air: the centre of gravity lies past the {other} axle; look at the places "
                "of what goes in and at rear_axle"
            )
    height = float(centre[2]) - stance.ground_mm
    if not height > 0.0:
        raise ValueError(
            f"the centre of gravity lies {-height:.0f} mm under the ground: look at the heights of the things and at "
            "ground"
        )
    corners, corner_cov = loads_kg(moments, corner_rows(stance))
    height_spread = float(np.sqrt(max(covariance[2, 2], 0.0)))
    return State(
        name,
        moments,
        stance,
        centre,
        covariance,
        axles,
        np.sqrt(np.maximum(np.diag(axle_cov), 0.0)),
        corners,
        np.sqrt(np.maximum(np.diag(corner_cov), 0.0)),
        float(stability_factor(stance.track_mm, height)),
        stability_spread(stance.track_mm, height, height_spread),
    )
