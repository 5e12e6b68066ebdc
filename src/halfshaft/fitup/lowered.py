"""The way in seen in the shop: steps of the unit against the car in; unit on its jack and car on its lift out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.fitup.model import Array, Step, WayIn
from halfshaft.fitup.moves import leg
from halfshaft.fitup.way_words import lift_words, plain
from halfshaft.geometry import Pose


@dataclass(frozen=True, eq=False)
class Lowered:
    """One step in the shop: the unit's poses over the floor, and how high the car then hangs over its end, mm (k,)."""

    step: Step
    car_up_mm: Array


def lowered(way: WayIn, middle_mm: ArrayLike, units: UnitSystem = "metric") -> tuple[Lowered, ...]:
    """The same motion with all rise and fall given to the car: the unit's middle stays at one height.

    `middle_mm` (3,) in the unit's axes is the spot the steps turn about. Root axes, level at the car's final height.
    """
    middle = np.asarray(middle_mm, dtype=float)
    if not way.found:
        return ()
    end = float(way.steps[-1].poses[-1].apply(middle)[2])
    out: list[Lowered] = []
    for step in way.steps:
        up = np.array([end - float(pose.apply(middle)[2]) for pose in step.poses])
        poses = tuple(
            Pose(pose.rotation, pose.shift_mm + np.array([0.0, 0.0, h])) for pose, h in zip(step.poses, up, strict=True)
        )
        words = step.words
        if not out and up[0] > 0.0:
            words += f", the car {plain(format_length(float(up[0]), units))} over where it will stand"
        if len(step.poses) > 1:
            first, last = (Pose(p.rotation, p.apply(middle)) for p in (step.poses[0], step.poses[-1]))
            move = leg(first, last)
            words = lift_words(move.shift_mm, np.degrees(move.turn_rad), units)
        out.append(Lowered(replace(step, poses=poses, words=words), up))
    return tuple(out)
