"""Brackets drawn anew in another sheet, and judged there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfshaft.fold.model import Bracket
from halfshaft.mounts.bracket_checks import stock_thicknesses_mm
from halfshaft.mounts.bracket_stress import BracketStress, bracket_stress, hole_spot
from halfshaft.mounts.held_part import Case, Push
from halfshaft.mounts.resize import least_thickness, remade
from tests.fold.frames import build_of, measured_of
from tests.fold.test_panels import FLOOR, FOLDS, PANELS, POINTS, WALL, corner

HELD, LOADED = ("foot.A", "foot.B"), ("back.C", "back.D")


def anew(thickness_mm: float) -> Bracket:
    build = build_of({"panel": PANELS, "folds": FOLDS}, {"thickness": 4.0})
    return remade(build, measured_of(POINTS, {"car.floor": FLOOR, "car.wall": WALL}), "piece", thickness_mm)


def judged(bracket: Bracket, newtons: float = 2500.0, material: str = "mild steel S275") -> BracketStress:
    middle = np.mean([hole_spot(bracket, name)[2] for name in LOADED], axis=0)
    case = Case("pull", (Push(LOADED, np.array([newtons, 0.0, 0.0]), np.zeros(3), middle),))
    return bracket_stress(bracket, HELD, [case], material=material, compare=False, fields=False)


def test_a_bracket_in_another_sheet_keeps_its_holes_where_they_were_measured() -> None:
    for thickness in (3.0, 8.0):
        made = anew(thickness)
        assert {p.thickness_mm for p in made.panels.values()} == {thickness}
        for panel in made.panels.values():
            face = thickness if panel.contact == "upper" else 0.0
            for hole in panel.holes:
                np.testing.assert_allclose(panel.pose.apply([*hole.centre_mm, face]), POINTS[hole.point], atol=1e-6)


def test_the_thinnest_sheet_that_holds_is_drawn_and_named() -> None:
    found = least_thickness(corner(4.0), anew, judged, (3.0, 4.0, 6.0, 8.0, 10.0))
    assert found.least_mm in (6.0, 8.0, 10.0)
    assert found.words == f"Thickness {found.least_mm:g} instead of 4 mm holds."
    assert found.check.found == found.least_mm
    masses = [trial.mass_kg for trial in found.trials]
    assert masses == sorted(masses)


def test_a_sheet_that_cannot_be_drawn_is_told() -> None:
    def none(thickness_mm: float) -> Bracket:
        return Bracket("piece", "plate", thickness_mm, {}, (), (), 0.0)

    found = least_thickness(corner(4.0), none, judged, (6.0,))
    assert found.least_mm is None
    assert "cannot be made" in found.words


def test_a_thickness_that_cannot_be_made_is_passed_over() -> None:
    stock = (4.0, 6.0, 8.0, 10.0, 12.0)
    whole = least_thickness(corner(4.0), anew, judged, stock)
    assert whole.least_mm in stock[:-1]

    def gappy(thickness_mm: float) -> Bracket:
        made = anew(thickness_mm)
        return replace(made, panels={}) if thickness_mm == whole.least_mm else made

    found = least_thickness(corner(4.0), gappy, judged, stock)
    assert found.least_mm == stock[stock.index(whole.least_mm) + 1]
    assert {trial.thickness_mm for trial in found.trials if trial.refused} == {whole.least_mm}


def test_stock_runs_from_sheet_to_plate() -> None:
    stock = stock_thicknesses_mm()
    assert stock[0] >= 1.5
    assert {6.0, 8.0} <= set(stock)


def test_a_sheet_without_a_rule_for_welds_is_bent_and_not_welded() -> None:
    bent = corner(4.0, fold="brake")
    assert any(place.kind == "bend" for place in judged(bent, 200.0, "aluminium 5052-H32").cases[0].places)
    with pytest.raises(KeyError, match="aluminium 5052-H32"):
        judged(corner(4.0), 200.0, "aluminium 5052-H32")
