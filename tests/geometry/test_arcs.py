"""True arcs come back out of cut figures: areas and lengths of circles and rounded figures, elementary geometry."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from halfshaft.geometry.arcs import contours_of
from halfshaft.geometry.contour import Contour


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


def _off_mm(outline: Contour, ring: np.ndarray) -> float:
    """How far the outline's arcs and lines run from the ring of points that they stand for, at most."""
    return float(shapely.hausdorff_distance(outline.polygon(0.001).exterior, shapely.LinearRing(ring), densify=0.001))


@given(
    st.floats(20, 400),
    st.integers(3, 40),
    st.floats(0.1, 1.5),
    st.floats(2, 12),
    st.floats(0.0, 6.28),
    st.floats(0.01, 1),
)
def test_a_straight_edge_before_a_coarse_rounding_stays_straight(
    length: float, chords: int, sweep: float, radius: float, way: float, share: float
) -> None:
    # an edge, a rounding of a few chords of which the last is cut short, an edge
    angles = np.linspace(0.0, sweep, chords + 1)
    bend = np.column_stack([length + radius * np.sin(angles), radius - radius * np.cos(angles)])
    bend[-1] = bend[-2] + share * (bend[-1] - bend[-2])
    out = bend[-1] + 0.6 * length * np.array([np.cos(sweep), np.sin(sweep)])
    ring = np.vstack([[(0.0, 0.0)], bend, [out], [(0.0, out[1] + 10.0)]])
    cosine, sine = np.cos(way), np.sin(way)
    ring = ring @ np.array([[cosine, sine], [-sine, cosine]])
    ((outline, _),) = contours_of(Polygon(ring))
    sagitta = radius * (1.0 - np.cos(sweep / chords / 2.0))
    assert _off_mm(outline, ring) < sagitta + 0.021


def test_an_arc_drawn_by_buffers_of_buffers_is_few_arcs() -> None:
    plate = (
        box(0, 0, 120, 80)
        .buffer(40, quad_segs=64)
        .buffer(4, quad_segs=64)
        .buffer(-8, quad_segs=64)
        .buffer(4, quad_segs=64)
    )
    ((outline, _),) = contours_of(plate)
    assert 4 <= np.count_nonzero(outline.bulge) <= 8
    assert _off_mm(outline, np.asarray(plate.exterior.coords)) < 0.021
