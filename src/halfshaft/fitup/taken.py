"""Places told by hand: a scene and the builder's six numbers in, a pose out; and a pose as the six numbers to write."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial.transform import Rotation

from halfshaft.build.fitup import PlaceInput, TrialInput
from halfshaft.fitup.model import Array, Scene, middle_of
from halfshaft.fitup.scene import moved_about
from halfshaft.geometry import Pose


def place_at(scene: Scene, shift_mm: ArrayLike, turn_deg: ArrayLike) -> Pose:
    """The begin pose turned by a rotation vector (3,) about the unit's middle, root axes, then shifted (3,)."""
    return moved_about(scene.bounds.begin, middle_of(scene.unit.pieces), shift_mm, turn_deg)


def six_of(scene: Scene, pose: Pose) -> tuple[Array, Array]:
    """Shift (3,) in mm and turn (3,) in degrees from where the search begins: what [fitup.place] is told by."""
    begin, middle = scene.bounds.begin, middle_of(scene.unit.pieces)
    turned = Rotation.from_matrix(pose.rotation @ begin.rotation.T).as_rotvec()
    return pose.apply(middle) - begin.apply(middle), np.degrees(turned)


def taken_pose(scene: Scene, told: PlaceInput) -> Pose:
    return place_at(scene, told.shift_mm, told.turn_deg)


def trial_pose(scene: Scene, told: TrialInput) -> Pose:
    """Where a trial stands; a square one first level and straight, midway between its outputs on the centre line."""
    unit, begin = scene.unit, scene.bounds.begin
    if told.square:
        ends = [output.centre_mm for output in unit.outputs]
        spot = np.mean(ends, axis=0) if len(ends) == 2 else middle_of(unit.pieces)
        at = begin.apply(spot) * [1.0, 0.0, 1.0]
        begin = Pose(np.eye(3), at - spot)
    return moved_about(begin, middle_of(unit.pieces), told.shift_mm, told.turn_deg)
