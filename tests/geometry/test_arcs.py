"""True arcs come back out of cut figures: areas and lengths of circles and rounded figures, elementary geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from halfshaft.geometry.arcs import contours_of


@given(st.floats(2, 200), st.floats(-100, 100))
def test_a_round_disc_comes_back_as_one_circle(radius: float, x: float) -> None:
    ((outer, inner),) = contours_of(Point(x, -x).buffer(radius, quad_segs=max(16, int(8 * radius**0.5))))
    assert inner == ()
    assert len(outer.points_mm) == 2
    assert outer.area_mm2 == pytest.approx(np.pi * radius**2, rel=1e-6)


@given(st.floats(3, 20), st.floats(0, 6.28))
def test_a_rounded_box_has_four_arcs_however_it_is_turned(radius: float, angle: float) -> None:
    core = Polygon([(-40, -20), (40, -20), (40, 20), (-40, 20)])
    cosine, sine = np.cos(angle), np.sin(angle)
    turned = Polygon(np.asarray(core.exterior.coords) @ np.array([[cosine, sine], [-sine, cosine]]))
    ((outer, _),) = contours_of(turned.buffer(radius, quad_segs=32))
    assert np.count_nonzero(outer.bulge) == 4
    assert outer.area_mm2 == pytest.approx(80 * 40 + 2 * radius * (80 + 40) + np.pi * radius**2, rel=1e-6)


@given(st.floats(4, 15), st.floats(-0.8, 0.8))
def test_a_round_bite_out_of_an_edge_is_one_arc(radius: float, share: float) -> None:
    plate = box(0, 0, 100, 60)
    bite = Point(50, share * radius).buffer(radius, quad_segs=64)
    ((outer, _),) = contours_of(plate.difference(bite))
    assert np.count_nonzero(outer.bulge) == 1
    assert outer.bulge[np.abs(outer.bulge) > 0][0] < 0
    # area of the part of a circle above a chord: r² arccos(-h / r) + h sqrt(r² - h²)
    h = share * radius
    bitten = radius**2 * np.arccos(-h / radius) + h * np.sqrt(radius**2 - h**2)
    # the end chords are cut short, so the arc's ends lie within one sagitta of the circle
    sagitta = radius * (1 - np.cos(np.pi / 256))
    assert outer.area_mm2 == pytest.approx(6000 - bitten, abs=2 * np.pi * radius * sagitta)


def test_straight_corners_stay_where_they_are() -> None:
    corners = [(0, 0), (30, 0), (40, 8), (42, 20), (10, 31)]
    ((outer, _),) = contours_of(Polygon(corners))
    assert np.all(outer.bulge == 0.0)
    assert {tuple(p) for p in outer.points_mm} == {tuple(map(float, c)) for c in corners}


@given(st.floats(2, 12))
def test_openings_run_clockwise(radius: float) -> None:
    ((_, (opening,)),) = contours_of(box(0, 0, 60, 60).difference(Point(30, 30).buffer(radius, quad_segs=32)))
    assert opening.area_mm2 == pytest.approx(-np.pi * radius**2, rel=1e-6)
