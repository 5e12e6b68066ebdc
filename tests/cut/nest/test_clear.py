"""The exact check of a sheet, and what is left of it: against sums done by hand and by other means."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from halfshaft.cut.nest.clear import clashes, lies, nearest, sheet_checks
from halfshaft.cut.nest.leftover import leftovers
from halfshaft.cut.part import Laid, SheetKey, sheet_part
from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour
from tests.cut.nest.cases import blank, box, rectangle


def at(part, x: float, y: float, turn: float = 0.0) -> Laid:
    return Laid(part, 0, turn, (x, y))


def disc(name: str, radius: float):
    flat = FlatPart(name, "plate", 5.0, Contour.circle((0.0, 0.0), radius), (), (), (), 0.0, {}, (), {})
    return sheet_part(flat, "bracket", "", SheetKey("mild steel S275", 5.0), 1.5)


SHEET = blank(box(400, 300))


def test_a_gap_held_to_the_hair_passes_and_a_hair_less_fails() -> None:
    a, b = rectangle("a", 100, 60), rectangle("b", 100, 60)
    assert clashes(SHEET, (at(a, 20, 20), at(b, 126.01, 20))) == []
    near = clashes(SHEET, (at(a, 20, 20), at(b, 125.99, 20)))
    assert [(c.name, c.other) for c in near] == [("a", "b")]


def test_discs_are_judged_by_their_arcs() -> None:
    # centres 60 apart, radii 25 and 30: 5 mm between the arcs
    near = nearest(SHEET, (at(disc("a", 25.0), 60, 60), at(disc("b", 30.0), 96.0, 108.0)))
    pair = next(c for c in near if c.other == "b")
    assert pair.apart_mm == pytest.approx(5.0, abs=0.005)
    assert pair.apart_mm <= 5.0


def test_overlap_edge_and_clamp_are_told_apart() -> None:
    sheet = blank(box(400, 300), clamps=[[(0, 100), (50, 100), (50, 200), (0, 200)]])
    a = rectangle("a", 100, 60)
    over = {c.other: c for c in clashes(sheet, (at(a, 350, 20),))}
    assert over["edge"].apart_mm == pytest.approx(-50.0)
    clamp = {c.other: c for c in clashes(sheet, (at(a, 40, 120),))}
    assert clamp["clamp"].apart_mm < 0.0
    edge = {c.other: c for c in clashes(sheet, (at(a, 200, 4),))}
    assert edge["edge"].apart_mm == pytest.approx(4.0, abs=0.01)


def test_checks_of_a_bad_sheet_stop_it() -> None:
    a, b = rectangle("a", 100, 60), rectangle("b", 100, 60)
    bad = [c for c in sheet_checks(SHEET, (at(a, 20, 20), at(b, 60, 50))) if not c.ok]
    assert all(c.severity.value == "stop" for c in bad)
    overlap = next(c for c in bad if c.unit == "mm²")
    assert overlap.found == pytest.approx(60.0 * 30.0)


def test_a_part_in_the_opening_of_another_is_no_clash_until_it_touches() -> None:
    hole = Contour.of_points([(30, 30), (30, 170), (170, 170), (170, 30)])
    ring = rectangle("ring", 200, 200)
    ring = sheet_part(
        FlatPart("ring", "plate", 5.0, ring.outline, (hole,), (), (), 0.0, {}, (), {}), "bracket", "", ring.key, 1.5
    )
    small = rectangle("small", 60, 60)
    assert clashes(SHEET, (at(ring, 20, 20), at(small, 90, 90))) == []
    assert clashes(SHEET, (at(ring, 20, 20), at(small, 52, 90)))


spots = st.tuples(st.floats(-30.0, 380.0), st.floats(-30.0, 280.0), st.floats(0.0, 360.0))


@settings(max_examples=25, deadline=None)
@given(spots, spots)
def test_the_check_agrees_with_points_sampled_in_the_parts(one, two) -> None:
    # independent of the distance of polygons: a dense grid of points in both parts
    a, b = at(rectangle("a", 100, 60), *one), at(rectangle("b", 70, 70), *two)
    found = {(c.name, c.other): c.apart_mm for c in nearest(SHEET, (a, b))}
    grid = np.stack(np.meshgrid(np.linspace(0, 1, 41), np.linspace(0, 1, 41)), axis=-1).reshape(-1, 2)
    in_a = grid * [100, 60] @ a.matrix.T + a.shift_mm
    in_b = grid * [70, 70] @ b.matrix.T + b.shift_mm
    outside = (in_a < 0).any(axis=1) | (in_a > [400, 300]).any(axis=1)
    assert (found["a", "edge"] < 1e-6) >= outside.any()
    least = float(cKDTree(in_a).query(in_b)[0].min())
    pair = found.get(("a", "b"))
    if pair is None:
        assert least > 3.0 * SHEET.gap_mm
    else:
        assert pair <= least + 1e-9
        assert least <= max(pair, 0.0) + 2.0  # the grid is at most so coarse


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(spots, st.floats(20.0, 120.0), st.floats(20.0, 120.0)), min_size=1, max_size=5))
def test_areas_add_up_whatever_lies_where(drawn) -> None:
    laid = tuple(at(rectangle(f"p{i}", w, h), *spot) for i, (spot, w, h) in enumerate(drawn))
    kept = leftovers(SHEET, laid, 1.5)
    parts = shapely.union_all([lies(one) for one in laid]).intersection(SHEET.metal)
    pieces = [left.metal for left in kept]
    whole = shapely.union_all([parts, *pieces])
    assert whole.area == pytest.approx(parts.area + sum(p.area for p in pieces), abs=1e-3)
    assert whole.area <= SHEET.metal.area + 1e-6
    for piece in pieces:
        assert piece.is_valid
        assert SHEET.metal.buffer(1e-6).covers(piece)
        assert piece.area >= 1e4
        # the cut itself takes a kerf round each part
        assert all(piece.distance(lies(one)) >= 1.4 for one in laid)


def test_the_rest_of_a_half_used_sheet_is_kept_whole_and_strips_are_not() -> None:
    kept = leftovers(SHEET, (at(rectangle("a", 180, 280), 10, 10),), 1.5)
    # beside it 400 - 192 stays; the strips of 8 mm above and below do not
    assert len(kept) == 1
    assert kept[0].metal.area == pytest.approx(208.0 * 300.0, rel=0.01)
    assert leftovers(SHEET, (at(rectangle("a", 380, 280), 10, 10),), 1.5) == ()


def test_a_sheet_untouched_leaves_nothing_new() -> None:
    assert leftovers(SHEET, (), 1.5) == ()


def test_the_hole_that_a_part_leaves_is_in_the_leftover() -> None:
    kept = leftovers(blank(box(600, 600)), (at(rectangle("a", 80, 80), 260, 260),), 1.5)
    assert len(kept) == 1
    assert len(kept[0].openings_mm) == 1
    hole = Polygon(kept[0].openings_mm[0])
    assert 84.0**2 * 0.98 < hole.area < 86.0**2
