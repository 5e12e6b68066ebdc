"""Parts to cut from sheet: which they are, from which sheet, and how a fold may lie to the rolling direction."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.cut.grain import across_deg, allowed_turns, fold_directions_deg
from halfshaft.cut.layers import Disc
from halfshaft.cut.part import Laid, SheetKey, refused, sheet_part
from halfshaft.geometry import Contour
from tests.cut.parts import plate

KEY = SheetKey("mild steel S275", 5.0)


def folded(*directions_deg: float):
    lines = {
        f"f{i}": np.array([[0.0, 0.0], [np.cos(np.radians(d)), np.sin(np.radians(d))]])
        for i, d in enumerate(directions_deg)
    }
    return replace(plate(), fold_lines_mm=lines)


def test_one_fold_may_be_turned_across_the_rolling_direction_and_up_to_45_degrees_off() -> None:
    # common practice: across the rolling direction, 45 degrees at the least
    turns = allowed_turns(folded(0.0))
    assert turns is not None
    assert 90.0 in turns
    assert 270.0 in turns
    assert min(turns) == 45.0
    assert 0.0 not in turns


def test_folds_square_to_each_other_lie_at_45_degrees() -> None:
    assert allowed_turns(folded(0.0, 90.0)) == (45.0, 135.0, 225.0, 315.0)


def test_folds_in_three_ways_lie_as_far_off_as_they_can() -> None:
    turns = allowed_turns(folded(0.0, 60.0, 120.0))
    assert turns is not None
    assert all(across_deg((0.0, 60.0, 120.0), t) == pytest.approx(30.0) for t in turns)


@given(st.lists(st.floats(0.0, 359.0), min_size=1, max_size=4), st.floats(0.0, 360.0))
def test_no_turn_beats_the_allowed_ones_where_45_degrees_cannot_be_had(ways: list[float], other: float) -> None:
    part = folded(*ways)
    turns, directions = allowed_turns(part), fold_directions_deg(part)
    assert turns
    worst = min(across_deg(directions, t) for t in turns)
    assert worst >= min(45.0, across_deg(directions, other)) - 0.26


def test_a_part_without_folds_may_lie_any_way() -> None:
    assert allowed_turns(replace(plate(), fold_lines_mm={})) is None


@given(st.floats(0.0, 360.0), st.floats(-500.0, 500.0))
def test_a_laid_part_keeps_its_metal_and_its_holes(turn: float, x: float) -> None:
    part = sheet_part(plate(), "bracket", "bracket", KEY, 1.5)
    there = Laid(part, 0, turn, (x, -x))
    assert there.flat.outline.area_mm2 == pytest.approx(part.outline.area_mm2)
    discs = [f.shape for f in there.figures if isinstance(f.shape, Disc)]
    round_bores = [h for h in there.flat.bores if h.slot_mm == 0.0]
    assert len(discs) == len(round_bores)
    for disc, hole in zip(discs, round_bores, strict=True):
        assert disc.centre_mm == pytest.approx(hole.centre_mm)


def test_area_is_outline_less_windows_and_holes() -> None:
    square = replace(
        plate(),
        outline=Contour.of_points([(0, 0), (100, 0), (100, 100), (0, 100)]),
        openings=(Contour.of_points([(40, 40), (40, 60), (60, 60), (60, 40)]),),
        bores=(),
    )
    assert sheet_part(square, "bracket", "", KEY, 1.5).area_mm2 == pytest.approx(10000.0 - 400.0)


def test_sheets_of_other_steel_or_thickness_are_other_sheets() -> None:
    assert KEY.fits(SheetKey("mild steel S275", 5.004))
    assert not KEY.fits(SheetKey("mild steel S275", 4.9))
    assert not KEY.fits(SheetKey("mild steel S235", 5.0))


def test_nothing_is_cut_of_a_bracket_without_parts() -> None:
    from halfshaft.fold.model import Bracket

    assert refused(Bracket("b", "plate", 5.0, {}, (), (), 0.0))
