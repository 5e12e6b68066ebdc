"""Weld metal against areas by hand: a triangle between two end faces, as long as the seam."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.fold.model import Bracket
from halfshaft.fold.solid import bracket_solid
from halfshaft.fold.welded import welded_solid
from halfshaft.geometry import solids
from tests.fold.test_fit import angle_bracket


def volume_mm3(bracket: Bracket, throat_mm: float | None) -> float:
    return solids.volume_mm3(welded_solid(bracket, throat_mm))


def panels_mm3(bracket: Bracket) -> float:
    """The solid less its bridges, each the whole triangle wide."""
    (fold,) = bracket.folds
    bridges = sum(bridge.end_mm - bridge.start_mm for bridge in fold.bridges)
    return solids.volume_mm3(bracket_solid(bracket)) - bridges * triangle_mm2(bracket)


def triangle_mm2(bracket: Bracket) -> float:
    """Two end faces of the sheet's thickness that meet on the inside and open by the fold's angle on the outside."""
    (fold,) = bracket.folds
    return float(0.5 * bracket.thickness_mm**2 * np.sin(np.radians(fold.angle_deg)))


def test_a_full_seam_is_the_triangle_between_the_end_faces() -> None:
    bracket = angle_bracket(90.0, 5.0)
    (fold,) = bracket.folds
    filled = volume_mm3(bracket, None) - panels_mm3(bracket)
    # the slit closes to within a tenth of a millimetre on the inside
    assert filled == pytest.approx(triangle_mm2(bracket) * fold.length_mm, rel=0.06)
    assert solids.pieces(welded_solid(bracket)) == 1


def test_a_thinner_throat_takes_less_metal_and_still_joins() -> None:
    bracket = angle_bracket(90.0, 5.0)
    volumes = [volume_mm3(bracket, throat) for throat in (1.5, 3.0, 4.5)]
    assert volumes == sorted(volumes)
    assert volumes[-1] < volume_mm3(bracket, None)
    assert solids.pieces(welded_solid(bracket, 1.5)) == 1


def test_a_throat_of_the_sheet_fills_the_seam() -> None:
    bracket = angle_bracket(75.0, 4.0)
    assert volume_mm3(bracket, 4.0) == pytest.approx(volume_mm3(bracket, None), rel=1e-9)


@pytest.mark.parametrize("throat", [0.0, -1.0])
def test_no_throat_is_refused(throat: float) -> None:
    with pytest.raises(ValueError, match="write a throat above 0"):
        welded_solid(angle_bracket(), throat)
