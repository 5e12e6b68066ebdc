"""Where a fold carries the next panel: against the setbacks of the sheet-metal trade and elementary trigonometry."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.fold.slab import figure, fold_pose, into_metal, trimmed
from halfshaft.geometry import mesh
from tests.fold.builders import brake, hung, plate, slit

BASE = plate("base", [(0, 0), (100, 0), (100, 60), (0, 60)])


def flange(fold_height: float = 40.0):
    return plate("flange", [(0, 0), (100, 0), (100, fold_height), (0, fold_height)])


def test_the_metal_lies_on_the_side_it_is_drawn() -> None:
    assert into_metal(figure(BASE), [[0, 60], [100, 60]]) == pytest.approx([0, -1])
    assert into_metal(figure(BASE), [[100, 0], [0, 0]]) == pytest.approx([0, 1])


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("angle", [30.0, 90.0, 120.0])
def test_the_inside_faces_of_a_slit_fold_meet_the_setback_short_of_the_line(angle: float, up: bool) -> None:
    fold = slit("base", "flange", [(0, 60), (100, 60)], [(0, 0), (100, 0)], angle, up)
    pose = fold_pose(fold, 5.0, figure(BASE))
    theta, toward = np.radians(angle), 1.0 if up else -1.0
    tip = pose.rotation @ np.array([0.0, 1.0, 0.0])
    assert tip == pytest.approx([0, np.cos(theta), toward * np.sin(theta)], abs=1e-12)
    apex = np.array([50.0, 60.0 + fold.setback_mm, 5.0 if up else 0.0])
    in_flange = pose.inverse().apply(apex)
    assert in_flange[2] == pytest.approx(5.0 if up else 0.0, abs=1e-9)
    assert in_flange[1] == pytest.approx(-fold.setback_mm, abs=1e-9)


def test_a_brake_bend_at_its_full_angle_has_its_inside_radius() -> None:
    fold = brake("base", "flange", [(0, 60), (100, 60)], [(0, 0), (100, 0)], 90.0)
    pose = fold_pose(fold, 5.0, figure(BASE))
    # Elementary geometry: at 90° the inside face of the flange stands one inside radius past the tangent line.
    foot = pose.apply([0.0, 0.0, 5.0])
    assert foot == pytest.approx([0.0, 66.0, 11.0], abs=1e-9)


def test_a_brake_bend_not_yet_turned_is_the_flat() -> None:
    fold = brake("base", "flange", [(0, 60), (100, 60)], [(0, 0), (100, 0)], 90.0)
    flat = fold_pose(fold, 5.0, figure(BASE), 0.0)
    assert flat.apply([0, 0, 0]) == pytest.approx([0, 60 + np.pi / 2 * (6 + 0.4 * 5), 0])
    nearly = fold_pose(fold, 5.0, figure(BASE), 1e-4)
    assert nearly.apply([0, 0, 0]) == pytest.approx(flat.apply([0, 0, 0]), abs=1e-3)


@pytest.mark.parametrize("angle", [20.0, 60.0, 90.0, 135.0])
def test_slabs_trimmed_at_the_slit_do_not_overlap_in_the_fold(angle: float) -> None:
    fold = slit("base", "flange", [(0, 60), (100, 60)], [(0, 0), (100, 0)], angle)
    part = hung(flange(), fold, BASE)
    one = mesh.prism(trimmed(BASE, [fold]), 0.0, 5.0, BASE.pose)
    other = mesh.prism(trimmed(part, [fold]), 0.0, 5.0, part.pose)
    assert mesh.overlap(one, other).volume_mm3 < 1e-3
