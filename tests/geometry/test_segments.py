"""How near two straight pieces come, against capsules of an outside library and cases by hand."""

from __future__ import annotations

import fcl
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from halfshaft.geometry.segments import apart_mm


def by_library(one: np.ndarray, other: np.ndarray) -> float:
    """Capsules of radius 1 about both, from the library of exact queries."""

    def capsule(ends: np.ndarray) -> fcl.CollisionObject:
        way = ends[1] - ends[0]
        length = float(np.linalg.norm(way))
        turned, _ = Rotation.align_vectors([way / length], [[0.0, 0.0, 1.0]])
        return fcl.CollisionObject(fcl.Capsule(1.0, length), fcl.Transform(turned.as_matrix(), ends.mean(axis=0)))

    return float(fcl.distance(capsule(one), capsule(other), fcl.DistanceRequest(), fcl.DistanceResult())) + 2.0


def test_pieces_at_random_stand_as_far_apart_as_the_library_says() -> None:
    rng = np.random.default_rng(4)
    pairs = rng.uniform(-100.0, 100.0, (300, 2, 2, 3))
    found = apart_mm(pairs[:, 0], pairs[:, 1])
    for own, (one, other) in zip(found, pairs, strict=True):
        if own > 3.0:  # nearer by the capsules touch
            assert own == pytest.approx(by_library(one, other), abs=1e-3)


def test_parallel_crossing_and_vanishing_pieces() -> None:
    x = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0]])
    assert apart_mm(x, x + np.array([0.0, 3.0, 4.0])) == pytest.approx(5.0)
    assert apart_mm(x, x + np.array([15.0, 0.0, 12.0])) == pytest.approx(13.0)
    assert apart_mm(x, [[5.0, -1.0, 2.0], [5.0, 1.0, 2.0]]) == pytest.approx(2.0)
    assert apart_mm(x, [[4.0, 3.0, 4.0], [4.0, 3.0, 4.0]]) == pytest.approx(5.0)
    assert apart_mm(x[None, :], np.stack([x, x + np.array([0.0, 1.0, 0.0])])) == pytest.approx([0.0, 1.0])
