"""Straight moves of a body about its middle: two poses in; what lies between, and how far any spot travels, out.

A pose here carries the body with its middle at the origin, so that its shift is where the middle is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Leg:
    """From `start` the middle shifts straight by `shift_mm` (3,) while the body turns by the rotation vector
    `turn_rad` (3,) about the root axes, both at an even pace."""

    start: Pose
    shift_mm: Array
    turn_rad: Array

    def at(self, share: float) -> Pose:
        return Pose(turn(share * self.turn_rad) @ self.start.rotation, self.start.shift_mm + share * self.shift_mm)

    @property
    def end(self) -> Pose:
        return self.at(1.0)

    def part(self, first: float, last: float) -> Leg:
        """The stretch between two shares of it."""
        return Leg(self.at(first), (last - first) * self.shift_mm, (last - first) * self.turn_rad)

    def travel_mm(self, radius_mm: float) -> float:
        """No spot within `radius_mm` of the middle travels farther than this."""
        return float(np.linalg.norm(self.shift_mm) + radius_mm * np.linalg.norm(self.turn_rad))


def leg(start: Pose, end: Pose) -> Leg:
    """The straight move between two poses, by the shorter turn."""
    return Leg(start, end.shift_mm - start.shift_mm, rotation_vector(end.rotation @ start.rotation.T))


def rotation_vector(rotation: Array) -> Array:
    """Rotation vector (3,) in radians, no longer than pi, of a rotation matrix (3, 3)."""
    return np.asarray(Rotation.from_matrix(rotation).as_rotvec(), dtype=float)


def apart(middles: Array, rotations: Array, pose: Pose, lever_mm: float) -> Array:
    """Distances (n,) in mm of poses, middles (n, 3) and rotations (n, 3, 3), from one; turns weigh by `lever_mm`."""
    cosines = np.clip((np.einsum("nij,ij->n", rotations, pose.rotation) - 1.0) / 2.0, -1.0, 1.0)
    away = np.sum((middles - pose.shift_mm) ** 2, axis=1)
    return np.asarray(np.sqrt(away + (lever_mm * np.arccos(cosines)) ** 2))
