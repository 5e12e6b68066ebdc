"""How a stiff part shares a load among its joints: joints and a spot in; a matrix for each joint out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.geometry.pose import skew
from halfshaft.mounts.seat import Seat

Array = NDArray[np.float64]


def shares(seats: Sequence[Seat], centre_mm: ArrayLike) -> Array:
    """Matrices (j, 6, 6): force and moment about `centre_mm` (3,) that each joint carries, by the whole of both.

    The part is stiff. Each bolt holds it as a clamped ring as wide as its washer, which gives alike every way, by the
    bolt's stress area: so neither a lone bolt nor two in a line leave it loose. They sum to one.
    Source: elastic method of bolt groups in space; the rings are common practice, no published source.
    Raises ValueError for no joints.
    """
    if not seats:
        raise ValueError("no joint carries the load")
    centre = np.asarray(centre_mm, dtype=float)
    each = np.zeros((len(seats), 6, 6))
    for at, seat in enumerate(seats):
        area = seat.bolt.thread.stress_area_mm2
        ring = (seat.washer_mm / 2.0) ** 2 / 4.0
        for place in seat.places_mm:
            arm = skew(place - centre)
            move = np.hstack([np.eye(3), -arm])  # of the bolt's spot, by shift and turn about the centre
            stiff = area * move.T @ move
            stiff[3:, 3:] += area * ring * np.eye(3)
            each[at] += stiff
    # turns weigh like shifts once lengths are parts of the joints' reach
    reach = max(float(np.sqrt(np.trace(each.sum(axis=0)[3:, 3:]) / np.trace(each.sum(axis=0)[:3, :3]))), 1e-9)
    scale = np.array([1.0, 1.0, 1.0, 1.0 / reach, 1.0 / reach, 1.0 / reach])
    scaled = each * np.outer(scale, scale)
    return np.asarray((scaled @ np.linalg.inv(scaled.sum(axis=0))) * scale / scale[:, None])
