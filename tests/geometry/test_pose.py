"""The angle of a turn, against scipy's rotations."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from halfshaft.geometry import Pose


@given(st.lists(st.floats(-1.8, 1.8), min_size=3, max_size=3))
def test_a_turn_is_as_large_as_its_rotation_vector(vector: list[float]) -> None:
    turned = Rotation.from_rotvec(vector)
    pose = Pose(np.asarray(turned.as_matrix()), np.ones(3))
    assert pose.turned_deg == pytest.approx(np.degrees(turned.magnitude()), abs=1e-6)


def test_a_turn_of_a_millionth_of_a_degree_is_not_lost() -> None:
    small = Rotation.from_rotvec([0.0, 0.0, 1e-6], degrees=True)
    assert Pose(np.asarray(small.as_matrix()), np.zeros(3)).turned_deg == pytest.approx(1e-6, rel=1e-6)
