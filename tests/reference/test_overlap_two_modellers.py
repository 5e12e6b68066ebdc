"""Volumes in common and gaps of turned plates: the mesh kernel against an exact boundary modeller (netgen.occ)."""

from __future__ import annotations

import numpy as np
import pytest
from netgen import occ
from shapely.geometry import Polygon

from halfshaft.geometry import Contour, Pose, mesh, solids
from halfshaft.geometry.pose import turn


@pytest.mark.parametrize("seed", range(8))
def test_both_modellers_find_the_same_volume_in_common(seed: int) -> None:
    draw = np.random.default_rng(seed)
    shapes = []
    for _ in range(2):
        angle = np.sort(draw.uniform(0, 2 * np.pi, 9))
        corners = np.column_stack([np.cos(angle), np.sin(angle)]) * draw.uniform(40, 90, (9, 1))
        shapes.append((corners, Pose(turn(draw.normal(size=3)), draw.uniform(-20, 20, 3))))
    exact = [solids.plate(Contour.of_points(c), (), pose, 0.0, 5.0) for c, pose in shapes]
    flat = [mesh.prism(Polygon(c), 0.0, 5.0, pose) for c, pose in shapes]
    for one, other in zip(flat, exact, strict=True):
        assert one.volume_mm3 == pytest.approx(abs(other.mass), rel=1e-9)
    common = abs((exact[0] * exact[1]).mass)
    assert mesh.overlap(*flat).volume_mm3 == pytest.approx(common, rel=1e-6, abs=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_both_modellers_find_the_same_gap(seed: int) -> None:
    draw = np.random.default_rng(100 + seed)
    pose = Pose(turn(draw.normal(size=3)), np.array([0.0, 0.0, 80.0]) + draw.uniform(-20, 20, 3))
    square = [[-30, -20], [30, -20], [30, 20], [-30, 20]]
    flat = mesh.prism(Polygon(square), 0.0, 5.0), mesh.prism(Polygon(square), 0.0, 5.0, pose)
    exact = (
        solids.plate(Contour.of_points(square), (), Pose.identity(), 0.0, 5.0),
        solids.plate(Contour.of_points(square), (), pose, 0.0, 5.0),
    )
    assert mesh.gap_mm(*flat, 200.0) == pytest.approx(exact[0].Distance(exact[1]), rel=1e-9)
    one, other = mesh.nearest_spot(*flat)
    assert np.linalg.norm(one - other) == pytest.approx(exact[0].Distance(exact[1]), abs=1.0)


def test_the_exact_modeller_is_another_code() -> None:
    assert occ.Box(occ.Pnt(0, 0, 0), occ.Pnt(1, 2, 3)).mass == pytest.approx(6.0)
