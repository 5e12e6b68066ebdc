"""The invented truth of the demo, a pickup and a unit that never were. Nothing in; points, faces, pose out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry import Plane, Pose
from halfshaft.geometry.pose import turn

Array = NDArray[np.float64]
SEED = 1962
FLATNESS_MM = 0.25  # how far the invented faces stray from flat, one standard deviation


@dataclass(frozen=True, eq=False)
class Truth:
    """Points (3,) and faces in their own body's axes, by qualified name, and the pose of the unit in the car."""

    points_mm: Mapping[str, Array]
    faces: Mapping[str, Plane]
    unit_in_car: Pose

    def in_car(self, name: str) -> Array:
        """A point in the car's axes, mm."""
        at = self.points_mm[name]
        return self.unit_in_car.apply(at) if name.startswith("unit.") else at


# Faces: a spot on it (car axes, mm) and the way it looks (not yet of unit length).
FACES: Mapping[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "car.left_web": ((330.0, 376.0, 580.0), (0.0872, -0.9962, -0.0350)),
    "car.left_flange": ((330.0, 405.0, 522.0), (-0.1736, -0.0260, -0.9848)),
    "car.right_web": ((330.0, -378.0, 579.0), (0.0732, 0.9973, -0.0210)),
    "car.right_flange": ((330.0, -407.0, 520.5), (-0.1805, 0.0150, -0.9836)),
    "car.cross_front": ((-300.0, 0.0, 560.0), (0.9984, 0.0210, 0.0450)),
    "unit.ear_left": ((262.0, 312.0, 600.0), (0.9580, -0.2400, 0.1570)),
    "unit.ear_right": ((268.0, -316.0, 596.0), (0.9800, 0.1400, -0.1050)),
    "unit.foot": ((-235.0, 0.0, 470.0), (-0.0610, 0.0450, -0.9970)),
    "unit.foot_front": ((-188.0, 0.0, 490.0), (0.9890, 0.0300, 0.0800)),
}

# Points on a face: the named axis is worked out from the face, so the written number there is only a start.
# Points in car axes, mm; the last entry names the face and the axis (x 0, y 1, z 2), or is empty.
_SPOTS: Mapping[str, tuple[float, float, float, str, int]] = {
    "car.WL1": (334.0, 376.0, 588.0, "car.left_web", 1),
    "car.WL2": (408.0, 382.0, 569.0, "car.left_web", 1),
    "car.WL3": (520.0, 390.0, 556.0, "car.left_web", 1),
    "car.EL1": (330.0, 376.0, 524.0, "car.left_web", 1),
    "car.EL2": (560.0, 396.0, 482.5, "car.left_web", 1),
    "car.TL1": (345.0, 377.0, 634.0, "car.left_web", 1),
    "car.FL1": (338.0, 414.0, 520.0, "car.left_flange", 2),
    "car.FL2": (404.0, 419.0, 508.0, "car.left_flange", 2),
    "car.FL3": (500.0, 425.0, 491.0, "car.left_flange", 2),
    "car.FL4": (470.0, 452.0, 497.0, "car.left_flange", 2),
    "car.HL1": (880.0, 431.0, 452.0, "", 0),
    "car.HL2": (1240.0, 432.0, 449.0, "", 0),
    "car.RL1": (-60.0, 351.0, 668.0, "", 0),
    "car.RL2": (-520.0, 349.0, 655.0, "", 0),
    "car.WR1": (331.0, -378.0, 586.0, "car.right_web", 1),
    "car.WR2": (407.0, -383.0, 570.5, "car.right_web", 1),
    "car.WR3": (522.0, -392.0, 554.0, "car.right_web", 1),
    "car.ER1": (332.0, -378.0, 523.0, "car.right_web", 1),
    "car.ER2": (561.0, -394.0, 481.0, "car.right_web", 1),
    "car.TR1": (347.0, -379.0, 633.0, "car.right_web", 1),
    "car.FR1": (336.0, -416.0, 520.0, "car.right_flange", 2),
    "car.FR2": (403.0, -420.0, 508.0, "car.right_flange", 2),
    "car.FR3": (502.0, -427.0, 490.0, "car.right_flange", 2),
    "car.FR4": (468.0, -455.0, 496.0, "car.right_flange", 2),
    "car.HR1": (881.0, -433.0, 450.5, "", 0),
    "car.HR2": (1241.0, -430.5, 448.0, "", 0),
    "car.RR1": (-59.0, -353.0, 667.0, "", 0),
    "car.RR2": (-522.0, -350.0, 653.5, "", 0),
    "car.CM1": (-300.0, 72.0, 538.0, "car.cross_front", 0),
    "car.CM2": (-300.0, -66.0, 536.5, "car.cross_front", 0),
    "car.CM3": (-300.0, 34.0, 592.0, "car.cross_front", 0),
    "car.CM4": (-300.0, -31.0, 591.0, "car.cross_front", 0),
    "car.CM5": (-300.0, 190.0, 560.0, "car.cross_front", 0),
    "car.CM6": (-300.0, -188.0, 605.0, "car.cross_front", 0),
    "car.HP1": (238.0, 338.0, 552.0, "", 0),
    "car.HP2": (302.0, 339.0, 551.0, "", 0),
    "car.HP3": (302.5, 361.0, 549.0, "", 0),
    "car.HP4": (238.5, 360.0, 550.0, "", 0),
    "car.SM1": (180.0, -330.0, 690.0, "", 0),
    "car.SM2": (240.0, -331.0, 691.0, "", 0),
    "car.SM3": (210.0, -290.0, 688.0, "", 0),
    "unit.AL1": (262.0, 312.0, 604.0, "unit.ear_left", 0),
    "unit.AL2": (262.0, 301.0, 541.0, "unit.ear_left", 0),
    "unit.AL3": (262.0, 262.0, 578.0, "unit.ear_left", 0),
    "unit.AR1": (268.0, -314.0, 600.0, "unit.ear_right", 0),
    "unit.AR2": (268.0, -305.0, 539.0, "unit.ear_right", 0),
    "unit.AR3": (268.0, -266.0, 574.0, "unit.ear_right", 0),
    "unit.FT1": (-236.0, 47.0, 470.0, "unit.foot", 2),
    "unit.FT2": (-234.0, -52.0, 470.0, "unit.foot", 2),
    "unit.FT3": (-196.0, 4.0, 470.0, "unit.foot", 2),
    "unit.LP1": (-188.0, 38.0, 482.0, "unit.foot_front", 0),
    "unit.LP2": (-188.0, -41.0, 481.0, "unit.foot_front", 0),
    "unit.LP3": (-188.0, 2.0, 500.0, "unit.foot_front", 0),
    "unit.OL": (0.0, 201.0, 365.0, "", 0),
    "unit.OR": (4.0, -198.0, 361.0, "", 0),
    "unit.UT": (30.0, 12.0, 700.0, "", 0),
}

_TURN_DEG = (1.2, -3.5, 0.8)  # the unit sits rolled, nose up and a little skew
OUTPUT_LEFT_MM = (0.0, 200.0, 210.0)  # in the unit's axes: z from the bench


def truth() -> Truth:
    """Everything as it 'is', always the same."""
    rotation = np.asarray(turn(np.radians(_TURN_DEG)))
    # the unit's own axes are laid so that its left output flange is where the invented drawing has it
    unit = Pose(rotation, np.array(_SPOTS["unit.OL"][:3]) - rotation @ np.array(OUTPUT_LEFT_MM))
    back = unit.inverse()
    stray = np.random.default_rng(SEED)
    planes: dict[str, Plane] = {}
    faces: dict[str, Plane] = {}
    for name, (spot, way) in FACES.items():
        normal = np.array(way) / np.linalg.norm(way)
        planes[name] = Plane(normal, float(normal @ np.array(spot)))
        own = back if name.startswith("unit.") else Pose.identity()
        turned = own.rotation @ normal
        faces[name] = Plane(turned, float(turned @ own.apply(np.array(spot))))
    points: dict[str, Array] = {}
    for name, (x, y, z, face, axis) in _SPOTS.items():
        at = np.array([x, y, z])
        if face:
            plane = planes[face]
            at[axis] -= float(plane.height_mm(at)) / plane.normal[axis]
            at = at + stray.normal(0.0, FLATNESS_MM) * plane.normal
        points[name] = back.apply(at) if name.startswith("unit.") else at
    return Truth(points, faces, unit)
