"""What stands round a bracket: hits fill the room both take, and near points are told with their height."""

from __future__ import annotations

import pytest

from halfshaft.fold.model import Bracket
from halfshaft.fold.scenery import face_surface, hits, near_face
from halfshaft.geometry import mesh
from halfshaft.measure.obstacles import Obstacle
from tests.fold.builders import plate
from tests.fold.frames import measured_of


def bracket() -> Bracket:
    web = plate("web", [(0, 0), (100, 0), (100, 60), (0, 60)])
    return Bracket("piece", "plate", 5.0, {"web": web}, (), (), 0.0)


def test_a_bar_through_a_plate_hits_it_in_the_room_both_take() -> None:
    bar = Obstacle("bar", mesh.box([20, 10, -50], [30, 18, 50]), 3.0)
    far = Obstacle("far", mesh.box([200, 0, 0], [210, 10, 10]), 3.0)
    (hit,) = hits(bracket(), [bar, far])
    assert (hit.panel, hit.obstacle, hit.sure) == ("web", "bar", True)
    # 10 by 8 through 5 mm of plate
    solid = mesh.solid_of(hit.surface.vertices_mm, hit.surface.triangles)
    assert solid.volume_mm3 == pytest.approx(10.0 * 8.0 * 5.0)
    assert hit.middle_mm == pytest.approx([25.0, 14.0, 2.5])


def test_a_bar_that_only_touches_does_not_hit() -> None:
    assert hits(bracket(), [Obstacle("bar", mesh.box([20, 10, 5], [30, 18, 50]), 3.0)]) == ()


def test_near_points_are_told_with_their_height_and_far_ones_are_not() -> None:
    spots = {"car.A": [0, 0, 12], "car.B": [10, 5, -3], "car.C": [10, 5, 300], "car.D": [900, 0, 0]}
    measured = measured_of(spots, {"car.web": ([0, 0, 0], [0, 0, 2])})
    assert near_face(measured, "car.web") == (("car.B", pytest.approx(-3.0)), ("car.A", pytest.approx(12.0)))
    vertices = face_surface(measured, measured.faces["car.web"]).vertices_mm
    assert vertices[:, 2].max() == pytest.approx(0.0, abs=1e-9)
