"""The offset beside an outline: exact distances, arcs kept, and the area that a buffer of many chords gives."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from halfshaft.cut.path.curve import Curve
from halfshaft.cut.path.offset import offset, width_at
from halfshaft.geometry import Contour
from tests.cut.parts import rounded
from tests.cut.path.random_parts import outline


def filled(curves: tuple[Curve, ...], outer: bool) -> shapely.Geometry:
    """What the curves enclose together, loops that run the other way taken out."""
    rings = [(Polygon(c.flattened_mm(1e-3)), (c.area_mm2 > 0) == outer) for c in curves]
    solid = shapely.union_all([ring for ring, same in rings if same])
    return solid.difference(shapely.union_all([ring for ring, same in rings if not same]))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), distance=st.floats(0.1, 9.0), outer=st.booleans())
def test_offset_of_any_outline_is_the_buffer_of_its_chords_with_true_distances(seed, distance, outer) -> None:
    own = outline(np.random.default_rng(seed))
    curves = offset(own if outer else own.reversed(), distance)
    flat = Polygon(own.flattened_mm(1e-3))
    wide = flat.buffer(distance if outer else -distance, quad_segs=90)
    found = filled(curves, outer)
    # a buffer of another kind: GEOS, by chords; it simplifies its input by up to a hundredth of the distance
    assert found.area == pytest.approx(wide.area, abs=0.002 * own.length_mm + 0.01)
    rim = Polygon(own.flattened_mm(1e-4)).exterior
    for curve in curves:
        spots = shapely.points(curve.flattened_mm(1e-3))
        # chords of very flat arcs are up to 2 um off them
        assert np.abs(shapely.distance(spots, rim) - distance).max() < 3e-3
        assert flat.contains(spots).any() != outer
        runs_like_outline = sum(c.area_mm2 for c in curves) > 0
        assert runs_like_outline == outer


def test_arcs_stay_arcs_and_corners_get_arcs_of_the_distance() -> None:
    (around,) = offset(rounded(100.0, 60.0, 10.0), 0.75)
    sweep = 4.0 * np.arctan(around.bulge)
    radius = around.lengths_mm[np.abs(sweep) > 0] / np.abs(sweep[np.abs(sweep) > 0])
    assert len(radius) == 4
    assert np.allclose(radius, 10.75)
    (square,) = offset(Contour.of_points([[0, 0], [50, 0], [50, 30], [0, 30]]), 0.75)
    # by hand: four runs, four quarter turns
    assert square.length_mm == pytest.approx(2 * 50 + 2 * 30 + 2 * np.pi * 0.75)
    assert square.area_mm2 == pytest.approx(50 * 30 + 160 * 0.75 + np.pi * 0.75**2)


def test_concave_corner_is_trimmed_and_a_hollow_smaller_than_the_kerf_vanishes() -> None:
    notched = Contour.of_points([[0, 0], [60, 0], [60, 40], [35, 40], [35, 20], [25, 20], [25, 40], [0, 40]])
    (around,) = offset(notched, 1.0)
    # the notch, 10 wide and 20 deep, gets 8 wide walls with sharp inner corners in the path
    assert around.area_mm2 == pytest.approx((62 * 42 - (4 - np.pi)) - 8 * 20 - 2 * (1 - np.pi / 4), abs=1e-6)
    tight = float(np.tan(np.pi / 4))  # half a turn about (30, 40), 0.8 in radius
    hollow = Contour(np.array([[0, 0], [60, 0], [60, 40], [30.8, 40], [29.2, 40], [0, 40]], float),
                     np.array([0, 0, 0, -tight, 0, 0]))  # fmt: skip
    (past,) = offset(hollow, 1.0)
    # two arcs about the hollow's rims, 1 in radius, meet over its middle
    assert past.points_mm[:, 1].max() == pytest.approx(41.0)
    assert min(np.linalg.norm(past.points_mm - [30.0, 40.0 + np.sqrt(1 - 0.8**2)], axis=1)) < 1e-6


def test_mouth_narrower_than_the_kerf_leaves_a_room_of_its_own() -> None:
    jar = Contour.of_points([[0, 0], [40, 0], [40, 40], [21, 40], [21, 35], [30, 35], [30, 10], [10, 10], [10, 35],
                             [19, 35], [19, 40], [0, 40]])  # fmt: skip
    loops = sorted(offset(jar, 1.5), key=lambda c: c.area_mm2)
    assert len(loops) == 2
    assert loops[0].area_mm2 < 0 < loops[1].area_mm2  # the room within is run the other way


def test_an_opening_too_narrow_gives_nothing_and_its_width_is_told() -> None:
    opening = Contour.of_points([[0, 0], [0, 1.2], [30, 1.2], [30, 0]])
    assert offset(opening, 0.75) == ()
    assert width_at(opening) == pytest.approx(1.2, abs=0.02)


def test_a_circle_comes_out_as_a_circle() -> None:
    (inner,) = offset(Contour.circle([3.0, 4.0], 10.0).reversed(), 0.75)
    assert inner.length_mm == pytest.approx(2 * np.pi * 9.25)
    assert inner.area_mm2 == pytest.approx(-np.pi * 9.25**2)
    assert np.allclose(np.linalg.norm(inner.flattened_mm(0.01) - [3.0, 4.0], axis=1), 9.25)
