"""Plain brackets for tests: panels and folds drawn from corners, lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from halfshaft.fold.model import Fold, Hole, Panel
from halfshaft.fold.slab import figure, fold_pose, trimmed
from halfshaft.geometry import Contour, Pose, mesh


def hole(name: str, x: float, y: float, diameter: float = 13.5, **more: object) -> Hole:
    values: dict[str, object] = {
        "point": f"car.{name}",
        "bolt": "M12",
        "bolt_mm": 12.0,
        "frame_hole_mm": 12.0,
        "washer_mm": 24.0,
        "boss_mm": 20.0,
    }
    values.update(more)
    return Hole(name=name, centre_mm=np.array([x, y]), diameter_mm=diameter, **values)  # type: ignore[arg-type]


def plate(
    name: str,
    corners: Sequence[Sequence[float]],
    thickness: float = 5.0,
    pose: Pose | None = None,
    holes: Sequence[Hole] = (),
    contact: str = "under",
) -> Panel:
    return Panel(
        name, pose or Pose.identity(), thickness, Contour.of_points(corners), (), tuple(holes), contact, "car.face"
    )


def slit(
    a: str,
    b: str,
    line_a: Sequence[Sequence[float]],
    line_b: Sequence[Sequence[float]],
    angle: float,
    up: bool = True,
    thickness: float = 5.0,
    slit_width: float = 2.0,
) -> Fold:
    pivot = min(thickness / 2.0, slit_width / (2.0 * np.tan(np.radians(angle) / 2.0)))
    return Fold(
        f"{a}-{b}",
        a,
        b,
        "slit",
        angle,
        up,
        np.array(line_a, float),
        np.array(line_b, float),
        0.0,
        -pivot * float(np.tan(np.radians(angle) / 2.0)),
        pivot,
        0.0,
        slit_width,
    )


def brake(
    a: str,
    b: str,
    line_a: Sequence[Sequence[float]],
    line_b: Sequence[Sequence[float]],
    angle: float,
    up: bool = True,
    thickness: float = 5.0,
    radius: float = 6.0,
    k: float = 0.4,
) -> Fold:
    theta = float(np.radians(angle))
    return Fold(
        f"{a}-{b}",
        a,
        b,
        "brake",
        angle,
        up,
        np.array(line_a, float),
        np.array(line_b, float),
        theta * (radius + k * thickness),
        radius * float(np.tan(theta / 2.0)),
        k * thickness,
        radius,
    )


def hung(panel: Panel, fold: Fold, on: Panel) -> Panel:
    """The panel with the pose that its fold gives it."""
    pose = on.pose.after(fold_pose(fold, on.thickness_mm, figure(on)))
    return Panel(
        panel.name, pose, panel.thickness_mm, panel.outline, panel.openings, panel.holes, panel.contact, panel.face
    )


def meeting_volume_mm3(panels: Mapping[str, Panel], folds: Iterable[Fold]) -> dict[tuple[str, str], float]:
    """Volume that pairs of panels have in common when folded, fold zones left out; only pairs that have any."""
    listed = tuple(folds)
    solids = {
        name: mesh.prism(trimmed(panel, listed), 0.0, panel.thickness_mm, panel.pose) for name, panel in panels.items()
    }
    names = list(panels)
    out = {}
    for place, one in enumerate(names):
        for other in names[place + 1 :]:
            both = mesh.overlap(solids[one], solids[other])
            if not both.empty and both.volume_mm3 > 1e-6:
                out[one, other] = both.volume_mm3
    return out
