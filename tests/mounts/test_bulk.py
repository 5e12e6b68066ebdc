"""Mass, centre and inertia of pieces against the formulas of a box, a cylinder and the parallel-axis theorem."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from halfshaft.fitup.model import Piece
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box, cylinder
from halfshaft.mounts.bulk import body, body_of_pieces

TURN = Rotation.from_rotvec([0.3, -0.7, 0.4]).as_matrix()


def test_a_box_has_the_inertia_of_the_handbook_wherever_and_however_it_stands() -> None:
    # any handbook: m/12 (b2 + c2) about the axis along a
    piece = Piece("box", box((1000.0, 0.0, 0.0), (1300.0, 200.0, 100.0)))
    found = body_of_pieces([piece], Pose(TURN, np.array([5.0, 6.0, 7.0])), mass_kg=60.0)
    a, b, c = 300.0, 200.0, 100.0
    own = 60.0 / 12.0 * np.diag([b * b + c * c, a * a + c * c, a * a + b * b])
    np.testing.assert_allclose(found.inertia_kg_mm2, TURN @ own @ TURN.T, rtol=1e-9)
    np.testing.assert_allclose(found.centre_mm, TURN @ [1150.0, 100.0, 50.0] + [5.0, 6.0, 7.0], rtol=1e-12)


def test_a_cylinder_has_the_inertia_of_the_handbook() -> None:
    # any handbook: m r2 / 2 about its axis, m (3 r2 + h2) / 12 across; many sides, circumscribed
    piece = Piece("motor", cylinder((0.0, -150.0, 0.0), (0.0, 1.0, 0.0), 120.0, 300.0, sides=720))
    found = body_of_pieces([piece], Pose.identity(), mass_kg=80.0)
    across = 80.0 * (3.0 * 120.0**2 + 300.0**2) / 12.0
    np.testing.assert_allclose(np.diag(found.inertia_kg_mm2), [across, 80.0 * 120.0**2 / 2.0, across], rtol=1e-4)
    np.testing.assert_allclose(found.centre_mm, 0.0, atol=1e-6)


def test_two_boxes_follow_the_parallel_axis_theorem_with_the_minus_sign_in_the_products() -> None:
    pieces = [Piece("one", box((0, 0, 0), (100, 100, 100))), Piece("two", box((300, 200, 0), (400, 300, 100)))]
    found = body_of_pieces(pieces, Pose.identity(), mass_kg=20.0)
    # cubes of 10 kg, centres 150 and 100 mm each way from the middle: own m a2 / 6 and 2 m d2 on top
    own = 2 * 10.0 * 100.0**2 / 6.0
    assert found.inertia_kg_mm2[0, 0] == pytest.approx(own + 20.0 * 100.0**2)
    assert found.inertia_kg_mm2[1, 1] == pytest.approx(own + 20.0 * 150.0**2)
    assert found.inertia_kg_mm2[0, 1] == pytest.approx(-20.0 * 150.0 * 100.0)


def test_what_overlaps_counts_once() -> None:
    whole = body_of_pieces([Piece("a", box((0, 0, 0), (300, 100, 100)))], Pose.identity(), mass_kg=10.0)
    parts = [Piece("a", box((0, 0, 0), (200, 100, 100))), Piece("b", box((100, 0, 0), (300, 100, 100)))]
    np.testing.assert_allclose(
        body_of_pieces(parts, Pose.identity(), mass_kg=10.0).inertia_kg_mm2, whole.inertia_kg_mm2, rtol=1e-9, atol=1e-3
    )


def test_what_was_not_weighed_is_told_as_assumed() -> None:
    piece = Piece("box", box((0, 0, 0), (300, 300, 300)))
    guessed = body_of_pieces([piece], Pose.identity())
    assert {a.where for a in guessed.assumed} == {"mounts.unit.mass", "mounts.unit.centre", "mounts.unit.inertia"}
    # the catalogue's mean density over the volume: 27 litres
    assert 50.0 < guessed.mass_kg < 120.0
    told = body_of_pieces([piece], Pose.identity(), mass_kg=70.0, centre_mm=(140.0, 150.0, 160.0))
    assert {a.where for a in told.assumed} == {"mounts.unit.inertia"}
    np.testing.assert_allclose(told.centre_mm, [140.0, 150.0, 160.0])


def test_an_inertia_that_no_body_has_is_refused() -> None:
    with pytest.raises(ValueError, match="no body"):
        body(50.0, (0, 0, 0), (1e6, 1e6, 3e6))
    with pytest.raises(ValueError, match="symmetric"):
        body(50.0, (0, 0, 0), [[2e6, 1e5, 0], [0, 2e6, 0], [0, 0, 2e6]])
    with pytest.raises(ValueError, match="over nought"):
        body(50.0, (0, 0, 0), (1e6, -1e6, 1e6))
    with pytest.raises(ValueError, match="scale"):
        body(0.0, (0, 0, 0), (1e6, 1e6, 1e6))
    with pytest.raises(ValueError, match="no piece"):
        body_of_pieces([], Pose.identity(), mass_kg=10.0)
