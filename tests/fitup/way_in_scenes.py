"""Scenes for the way in whose answer is known by elementary geometry, all invented."""

from __future__ import annotations

import numpy as np

from halfshaft.fitup.model import Bounds, Fixed, Joints, Piece, Scene, Unit
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, union, without


def scene(fixed: dict[str, MeshSolid], pieces: list[Piece]) -> Scene:
    still = tuple(Fixed(name, "keep", solid, 3.0) for name, solid in fixed.items())
    bounds = Bounds(Pose.identity(), np.zeros(3), np.zeros(3))
    return Scene(still, {}, Unit(tuple(pieces), (), ()), (), Joints(8.0, 20.0, 40.0), bounds, 100.0)


def shell(half_mm: float, low_mm: float, high_mm: float) -> MeshSolid:
    """Four walls and a roof, 10 mm thick, open below."""
    outer = box([-half_mm - 10, -half_mm - 10, low_mm], [half_mm + 10, half_mm + 10, high_mm + 10])
    return without(outer, box([-half_mm, -half_mm, low_mm - 1], [half_mm, half_mm, high_mm]))


def plate(half_mm: float, low_mm: float, high_mm: float, hole_x_mm: float = 0.0, hole_y_mm: float = 0.0) -> MeshSolid:
    """A square plate with a hole of x by y in its middle."""
    whole = box([-half_mm, -half_mm, low_mm], [half_mm, half_mm, high_mm])
    if not hole_x_mm:
        return whole
    x, y = hole_x_mm / 2.0, hole_y_mm / 2.0
    return without(whole, box([-x, -y, low_mm - 1], [x, y, high_mm + 1]))


# an L of 40 mm thick legs, 160 mm long, 80 mm wide
ELL = union([box([0, -40, 0], [40, 40, 160]), box([0, -40, 0], [160, 40, 40])])
SLOT_MM = (76.0, 130.0)


def slot_scene() -> tuple[Scene, Pose]:
    """The L in a closed chamber over a plate with a slot of 76 x 130 mm."""
    fixed = {"chamber": shell(260.0, 0.0, 340.0), "slotted_plate": plate(270.0, -10.0, 0.0, *SLOT_MM)}
    return scene(fixed, [Piece("ell", ELL)]), Pose(np.eye(3), np.array([-80.0, 0.0, 60.0]))


def ear_scene(comes_off: bool = True) -> tuple[Scene, Pose]:
    """A 100 mm cube with an ear of 60 mm, in a chamber 120 mm high over a well of 112 x 112 mm, 120 mm deep."""
    fixed = {"chamber": shell(200.0, 0.0, 120.0), "well": plate(210.0, -120.0, 0.0, 112.0, 112.0)}
    case = Piece("case", box([-50, -50, -50], [50, 50, 50]))
    ear = Piece("left_ear", box([-20, 50, -10], [20, 110, 10]), comes_off=comes_off)
    return scene(fixed, [case, ear]), Pose(np.eye(3), np.array([30.0, -20.0, 60.0]))


def closed_scene() -> tuple[Scene, Pose]:
    """The cube in a chamber that a cover closes; a pipe runs by outside."""
    fixed = {
        "chamber": shell(150.0, 0.0, 260.0),
        "cover": plate(160.0, -8.0, 0.0),
        "pipe": box([-300, 200, 40], [300, 220, 60]),
    }
    return scene(fixed, [Piece("case", box([-50, -50, -50], [50, 50, 50]))]), Pose(np.eye(3), np.array([0.0, 0, 120]))
