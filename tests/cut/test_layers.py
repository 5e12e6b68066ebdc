"""What goes on which layer, and where the torch runs in a slit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.cut.layers import LAYERS, Path, bounds_mm, figures_of, slit_shape, slot_contour
from halfshaft.fold.lay import laid, turned
from halfshaft.geometry import Contour
from tests.cut.parts import plate


def test_the_outer_edge_is_cut_last_so_that_the_part_stays_put() -> None:
    # common practice: inside before outside
    order = [figure.layer for figure in figures_of(plate(), kerf_mm=1.5)]
    assert order[-1] == "cut"
    assert max(i for i, layer in enumerate(order) if layer in ("bore", "slit")) < order.index("cut")


def test_marks_and_fold_lines_are_never_on_a_layer_that_cuts() -> None:
    assert {name for name, layer in LAYERS.items() if layer.cut} == {"bore", "slit", "cut"}


def test_a_slit_ends_where_it_should_after_the_kerf_is_taken() -> None:
    part = plate()
    shape = slit_shape(part, np.array([[110.0, 65.0], [110.0, 115.0]]), kerf_mm=1.5)
    assert isinstance(shape, Path)
    assert shape.points_mm == pytest.approx(np.array([[110.0, 65.75], [110.0, 114.25]]))


def test_a_slit_that_runs_out_of_the_part_is_run_to_the_very_edge() -> None:
    shape = slit_shape(plate(), np.array([[110.0, 0.0], [110.0, 50.0]]), kerf_mm=1.5)
    assert isinstance(shape, Path)
    assert shape.points_mm == pytest.approx(np.array([[110.0, 0.0], [110.0, 49.25]]))


def test_a_slit_wider_than_the_kerf_is_cut_round_as_a_slot_of_its_width() -> None:
    part = replace(plate(), slit_width_mm=4.0)
    shape = slit_shape(part, np.array([[110.0, 65.0], [110.0, 115.0]]), kerf_mm=1.5)
    assert isinstance(shape, Contour)
    # a slot: rectangle between the end centres and a full circle
    assert -shape.area_mm2 == pytest.approx((50.0 - 4.0) * 4.0 + np.pi * 4.0)


@given(st.floats(0.1, 200.0), st.floats(1.0, 60.0), st.floats(0.0, 6.28))
def test_a_slot_has_the_area_of_its_rectangle_and_its_two_half_discs(
    between: float, diameter: float, at: float
) -> None:
    slot = slot_contour(np.array([3.0, -8.0]), np.array([np.cos(at), np.sin(at)]), between, diameter)
    assert -slot.area_mm2 == pytest.approx(between * diameter + np.pi * diameter**2 / 4.0, rel=1e-9)


@given(st.floats(0.0, 6.28), st.floats(-900.0, 900.0), st.floats(-900.0, 900.0))
def test_a_part_is_laid_the_same_however_it_came(angle: float, x: float, y: float) -> None:
    c, s = np.cos(angle), np.sin(angle)
    there = laid(turned(plate(), np.array([[c, -s], [s, c]]), np.array([x, y])))
    assert bounds_mm(there)[:2] == pytest.approx((0.0, 0.0), abs=2e-3)
    assert bounds_mm(there)[2] == pytest.approx(300.0, abs=5e-3)
    assert there.outline.area_mm2 == pytest.approx(plate().outline.area_mm2)


def test_a_mirroring_move_is_refused() -> None:
    with pytest.raises(ValueError, match="turning"):
        turned(plate(), np.diag([1.0, -1.0]), np.zeros(2))
