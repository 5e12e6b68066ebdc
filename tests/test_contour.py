"""Outlines with true arcs against circle formulas; planes against points laid on them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.geometry import Contour, Plane


@given(st.floats(0.5, 500.0), st.floats(-100, 100))
def test_a_circle_has_the_area_and_length_of_euclid(radius: float, x: float) -> None:
    circle = Contour.circle([x, 2.0], radius)
    assert circle.area_mm2 == pytest.approx(np.pi * radius**2, rel=1e-12)
    assert circle.length_mm == pytest.approx(2 * np.pi * radius, rel=1e-12)


def test_a_mirrored_contour_keeps_its_sense_and_area() -> None:
    shape = Contour(np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [0.0, 20.0]]), np.array([0.0, 0.4, 0.0, 0.0]))
    assert shape.moved(np.diag([-1.0, 1.0]), [0, 0]).area_mm2 == pytest.approx(shape.area_mm2, rel=1e-12)


def test_points_in_one_line_make_no_plane() -> None:
    with pytest.raises(ValueError, match="one line"):
        Plane.through([[0, 0, 0], [1, 1, 1], [2, 2, 2]])
