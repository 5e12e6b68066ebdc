"""Views of solids: what hides what, which way is which, where each projection puts a view."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.book.fit_up import _laid_out, _View, projection_symbol
from halfshaft.book.views import FROM_ABOVE, FROM_FRONT, FROM_LEFT, fewer, seen
from halfshaft.cut.drawing import Stroke
from halfshaft.cut.layers import Disc
from halfshaft.geometry import mesh


def length(runs: object) -> float:
    return float(sum(np.linalg.norm(run[1] - run[0]) for run in runs))  # type: ignore[attr-defined]


def test_each_view_looks_the_way_its_name_says() -> None:
    np.testing.assert_allclose(FROM_LEFT.toward, [0, 1, 0])
    np.testing.assert_allclose(FROM_ABOVE.toward, [0, 0, 1])
    np.testing.assert_allclose(FROM_FRONT.toward, [1, 0, 0])
    front = np.array([[1000.0, 0.0, 0.0]])
    assert FROM_LEFT.flat(front)[0, 0] < 0  # front lies to the left, as in the view from above it
    assert FROM_ABOVE.flat(front)[0, 0] == FROM_LEFT.flat(front)[0, 0]


def test_a_box_behind_a_larger_plate_is_wholly_hidden_and_one_before_it_wholly_seen() -> None:
    plate = mesh.box((0, 0, 0), (200, 5, 200))
    behind, before = mesh.box((50, -80, 50), (120, -20, 110)), mesh.box((50, 20, 50), (120, 80, 110))
    low, high = np.array([-210.0, -10.0]), np.array([10.0, 210.0])
    found = {
        one.name: one
        for one in seen([("plate", [plate]), ("behind", [behind]), ("before", [before])], FROM_LEFT, low, high)
    }
    # of a box seen square on, the edges that are drawn lie on its rectangle
    assert length(fewer(found["behind"].hidden)) == pytest.approx(2 * (70 + 60), abs=1.0)
    assert length(fewer(found["behind"].seen)) == pytest.approx(0.0, abs=1.0)
    assert length(fewer(found["before"].seen)) == pytest.approx(2 * (70 + 60), abs=1.0)
    assert length(fewer(found["plate"].seen)) == pytest.approx(4 * 200, abs=1.0)


def test_half_a_bar_is_hidden_where_half_of_it_runs_behind() -> None:
    plate = mesh.box((0, 0, 0), (100, 5, 100))
    bar = mesh.box((50, -40, 40), (150, -20, 60))
    low, high = np.array([-160.0, -10.0]), np.array([10.0, 110.0])
    one = seen([("plate", [plate]), ("bar", [bar])], FROM_LEFT, low, high)[1]
    # two long edges, half of each behind the plate, and its end at x = 50
    assert length(fewer(one.hidden)) == pytest.approx(50 + 50 + 20, abs=1.5)
    assert length(fewer(one.seen)) == pytest.approx(50 + 50 + 20, abs=1.5)


def test_a_tube_shows_its_two_sides_though_no_edge_of_it_is_sharp() -> None:
    tube = mesh.cylinder((0, 0, 0), (0, 0, 1), 25.0, 80.0)
    low, high = np.array([-40.0, -10.0]), np.array([40.0, 90.0])
    runs = fewer(seen([("tube", [tube])], FROM_LEFT, low, high)[0].seen)
    upright = [run for run in runs if abs(run[0][0] - run[1][0]) < 0.1]
    assert length(upright) == pytest.approx(160.0, abs=1.0)
    assert {round(abs(float(run[0][0]))) for run in upright} == {25}


@pytest.mark.parametrize("projection", ["first", "third"])
def test_views_stand_where_the_projection_puts_them(projection: str) -> None:
    # ISO 5456-2: third angle shows a view beside the side it is of, first angle on the far side
    low, high = np.array([-100.0, 0.0]), np.array([100.0, 80.0])
    views = {look.name: _View(look, low, high) for look in (FROM_LEFT, FROM_ABOVE, FROM_FRONT)}
    at, size = _laid_out(views, projection, 1.0)
    above, side, front = (at[look.name] for look in (FROM_ABOVE, FROM_LEFT, FROM_FRONT))
    assert above[0] == side[0]  # one above the other
    assert front[1] == side[1]  # side by side
    assert (above[1] < side[1]) == (projection == "third")
    assert (front[0] < side[0]) == (projection == "third")  # the car's front lies to the left
    assert min(*above, *side, *front) >= 0.0
    assert size[0] >= 400.0


@pytest.mark.parametrize("projection", ["first", "third"])
def test_the_symbol_shows_the_cut_cone_from_its_narrow_end(projection: str) -> None:
    # ISO 5456-2, figures: narrow end to the left in both; the circles left of it in third angle, right in first
    marks = projection_symbol(np.zeros(2), projection)
    rings = [m.shapes[0] for m in marks if isinstance(m, Stroke) and isinstance(m.shapes[0], Disc)]
    assert sorted(ring.radius_mm for ring in rings) == [3.0, 6.0]
    cone = next(
        m.shapes[0].points_mm
        for m in marks
        if isinstance(m, Stroke) and len(getattr(m.shapes[0], "points_mm", ())) == 4
    )
    narrow = cone[np.isclose(cone[:, 0], cone[:, 0].min())]
    assert np.ptp(narrow[:, 1]) == 6.0
    assert (rings[0].centre_mm[0] < cone[:, 0].min()) == (projection == "third")
