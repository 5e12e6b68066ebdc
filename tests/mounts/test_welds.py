"""Weld groups and sizes against handbook line sections, numeric integration, worked arithmetic, and equilibrium."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.checks import Severity
from halfshaft.mounts.weld_group import ThroatStress, WeldLine, fillet_normal, numbers_of, throat_stresses
from halfshaft.mounts.weld_size import (
    counted_length_mm,
    counted_line,
    least_throat_mm,
    partial_throat_mm,
    size_checks,
    throat_of_leg_mm,
)
from halfshaft.mounts.welds import (
    long_lap_factor,
    throat_wanted_mm,
    use_directed,
    use_simple,
    weld_checks,
    weld_strength,
)

ORIGIN = (0.0, 0.0, 0.0)
S275 = ("mild steel S275", "mild steel S275")


def flat(points: list[tuple[float, float]], throat: float = 1.0) -> list[WeldLine]:
    return [WeldLine((*a, 0.0), (*b, 0.0), throat) for a, b in pairwise(points)]


# Shigley's Mechanical Engineering Design, table 9-1, unit polar moments of fillet patterns, as used for a x a patterns
# in solution 9-9 (read), which prints J_u over length and leg, 1/12, 1/3, 5/24, 11/36, 1/3: here in units of a^3
A = 40.0
PATTERNS = {
    "one line": (flat([(0, 0), (0, A)]), 1.0 / 12.0),
    "two lines": (flat([(0, 0), (0, A)]) + flat([(A, 0), (A, A)]), 4.0 / 6.0),
    "corner": (flat([(0, A), (0, 0), (A, 0)]), 10.0 / 24.0),
    "three sides": (flat([(A, A), (0, A), (0, 0), (A, 0)]), 11.0 / 12.0),
    "box": (flat([(0, 0), (A, 0), (A, A), (0, A), (0, 0)]), 8.0 / 6.0),
}


@pytest.mark.parametrize("name", PATTERNS)
def test_polar_moments_of_line_patterns_are_those_of_shigley(name: str) -> None:
    lines, unit = PATTERNS[name]
    assert numbers_of(lines).inertia_mm4[2, 2] == pytest.approx(unit * A**3)


def test_a_ring_has_the_polar_moment_of_shigley() -> None:
    # same, solution 9-8 (read): J_u = 2 pi r^3 = 402 cm^3 at r = 4 cm; fillet of 5 mm: J = 142 cm^4;
    # a torque of 200 N m for each kN on two welds: 2.82 MPa
    turn = np.linspace(0.0, 2.0 * math.pi, 721)
    ring = flat([(40.0 * math.cos(t), 40.0 * math.sin(t)) for t in turn], 0.707 * 5.0)
    numbers = numbers_of(ring)
    assert numbers.inertia_mm4[2, 2] / 1e4 == pytest.approx(142.0, rel=0.003)
    stress = throat_stresses(ring, ORIGIN, (0.0, 0.0, 200e3 / 2.0), ORIGIN)
    assert max(s.resultant_mpa for s in stress) == pytest.approx(2.82, rel=0.003)


coordinate = st.floats(-100.0, 100.0)
point3 = st.tuples(coordinate, coordinate, coordinate)
runs = st.lists(
    st.tuples(point3, point3, st.floats(2.0, 10.0)).filter(lambda r: math.dist(r[0], r[1]) > 5.0),
    min_size=2,
    max_size=5,
)


def in_pieces(lines: list[WeldLine], each: int = 400) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Middles, areas and run index of many short pieces."""
    middles, areas, index = [], [], []
    for i, line in enumerate(lines):
        at = (np.arange(each) + 0.5)[:, None] / each
        middles.append(np.array(line.start_mm) + at * (np.array(line.end_mm) - np.array(line.start_mm)))
        areas.append(np.full(each, line.throat_mm * line.length_mm / each))
        index.append(np.full(each, i))
    return np.vstack(middles), np.concatenate(areas), np.concatenate(index)


@given(runs=runs)
def test_numbers_of_a_group_are_those_of_its_pieces(runs: list) -> None:
    lines = [WeldLine(*run) for run in runs]
    middles, areas, _ = in_pieces(lines)
    numbers = numbers_of(lines)
    centre = areas @ middles / areas.sum()
    arms = middles - centre
    inertia = (areas * (arms**2).sum(axis=1)).sum() * np.eye(3) - (areas * arms.T) @ arms
    assert numbers.area_mm2 == pytest.approx(areas.sum())
    assert numbers.centroid_mm == pytest.approx(centre, abs=1e-6)
    assert numbers.inertia_mm4 == pytest.approx(inertia, abs=1e-4 * np.trace(inertia))


def vector(stress: ThroatStress, line: WeldLine) -> np.ndarray:
    assert line.normal is not None
    run = (np.array(line.end_mm) - np.array(line.start_mm)) / line.length_mm
    normal = np.array(line.normal) / np.linalg.norm(line.normal)
    across = np.cross(normal, run)
    return stress.sigma_perp_mpa * normal + stress.tau_perp_mpa * across + stress.tau_par_mpa * run


@given(runs=runs, force=point3, moment=point3, at=point3)
def test_stresses_on_the_throats_balance_any_load(runs: list, force: tuple, moment: tuple, at: tuple) -> None:
    lines = []
    for start, end, throat in runs:
        run = (np.array(end) - np.array(start)) / math.dist(start, end)
        normal = np.cross(run, [1.0, 0.0, 0.0] if abs(run[0]) < 0.7 else [0.0, 1.0, 0.0])
        lines.append(WeldLine(start, end, throat, tuple(normal / np.linalg.norm(normal))))
    inertia = np.linalg.eigvalsh(numbers_of(lines).inertia_mm4)
    if inertia[0] < 1e-3 * inertia[2]:
        return
    moment = tuple(100.0 * m for m in moment)
    stresses = throat_stresses(lines, force, moment, at)
    total, turn = np.zeros(3), np.zeros(3)
    for i, line in enumerate(lines):
        a, b = vector(stresses[2 * i], line), vector(stresses[2 * i + 1], line)
        for share, weight in ((0.0, 1.0 / 6.0), (0.5, 4.0 / 6.0), (1.0, 1.0 / 6.0)):  # Simpson, exact to cubic
            place = np.array(line.start_mm) * (1.0 - share) + np.array(line.end_mm) * share
            pull = (a * (1.0 - share) + b * share) * weight * line.throat_mm * line.length_mm
            total += pull
            turn += np.cross(place, pull)
    size = 1.0 + np.abs(force).max() + np.abs(moment).max() / 100.0
    assert total == pytest.approx(np.array(force), abs=1e-7 * size)
    assert turn == pytest.approx(np.array(moment) + np.cross(at, force), abs=1e-5 * size * 100.0)


def test_a_fillet_pulled_square_splits_evenly_on_its_throat() -> None:
    # one plate standing on another, pulled off: sigma = tau = F / (sqrt 2 a l) on each of two fillets (any handbook,
    # for EN 1993-1-8 4.5.3.2), so the compared stress is sqrt 2 F / (2 a l)
    up, left, right = (0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
    lines = [
        WeldLine((0.0, 5.0, 0.0), (100.0, 5.0, 0.0), 4.0, fillet_normal(up, left)),
        WeldLine((0.0, -5.0, 0.0), (100.0, -5.0, 0.0), 4.0, fillet_normal(up, right)),
    ]
    force = 100e3
    for stress in throat_stresses(lines, (0.0, 0.0, force), ORIGIN, (50.0, 0.0, 0.0)):
        assert abs(stress.sigma_perp_mpa) == pytest.approx(force / (math.sqrt(2.0) * 800.0))
        assert abs(stress.tau_perp_mpa) == pytest.approx(force / (math.sqrt(2.0) * 800.0))
        assert stress.tau_par_mpa == pytest.approx(0.0, abs=1e-9)
        assert stress.compared_mpa == pytest.approx(math.sqrt(2.0) * force / 800.0)


# Design shear strength of fillets fvw,d, EN 1993-1-8 (4.4): S235 360 / (sqrt 3 x 0.8 x 1.25) = 207.8, S275 with fu 410
# 222.8, S355 with fu 470 241.2 MPa, as in handbook tables (from memory)
@pytest.mark.parametrize(
    ("sheet", "shear"), [("mild steel S235", 207.8), ("mild steel S275", 222.8), ("structural steel S355", 241.2)]
)
def test_shear_strength_of_fillets_is_that_of_the_handbook(sheet: str, shear: float) -> None:
    assert weld_strength(sheet).shear_mpa == pytest.approx(shear, abs=0.1)


def test_the_weaker_sheet_rules() -> None:
    mixed = weld_strength("mild steel S235", "structural steel S355")
    assert mixed.shear_mpa == pytest.approx(207.8, abs=0.1)


def test_aluminium_is_not_welded_by_these_rules() -> None:
    with pytest.raises(KeyError, match="5052"):
        weld_strength("aluminium 5052-H32")


@given(sigma=st.floats(-300, 300), across=st.floats(-300, 300), along=st.floats(-300, 300))
def test_the_simple_method_is_never_the_kinder(sigma: float, across: float, along: float) -> None:
    strength = weld_strength(*S275)
    stress = ThroatStress(0, "start", sigma, across, along)
    assert use_simple(stress, strength) >= stress.compared_mpa / strength.compared_mpa - 1e-12
    if sigma == 0.0:
        assert use_simple(stress, strength) == pytest.approx(use_directed(stress, strength))


def test_end_welds_bear_more_than_side_welds() -> None:
    # ratio of transverse to side fillets by the directional method: sqrt(3 / 2) = 1.22 (any handbook, EN 1993-1-8)
    strength = weld_strength(*S275)
    end = ThroatStress(0, "start", 100.0 / math.sqrt(2.0), 100.0 / math.sqrt(2.0), 0.0)
    side = ThroatStress(0, "start", 0.0, 0.0, 100.0)
    assert use_directed(side, strength) / use_directed(end, strength) == pytest.approx(math.sqrt(1.5))


def test_a_weld_without_its_plane_told_is_worked_as_the_simple_method() -> None:
    lines = flat([(0.0, 0.0), (80.0, 0.0), (80.0, 50.0)], 4.0)
    strength = weld_strength(*S275)
    for stress in throat_stresses(lines, (3e3, -4e3, 9e3), (1e5, 2e5, -1e5), (40.0, 100.0, 20.0)):
        assert use_directed(stress, strength) == pytest.approx(use_simple(stress, strength))


def test_the_throat_wanted_just_holds() -> None:
    lines = flat([(0.0, 0.0), (80.0, 0.0), (80.0, 50.0)], 3.0)
    load = ((3e3, -40e3, 9e3), (1e5, 2e5, -1e5), (40.0, 100.0, 20.0))
    wanted = throat_wanted_mm(lines, S275, [load])
    again = flat([(0.0, 0.0), (80.0, 0.0), (80.0, 50.0)], wanted)
    strength = weld_strength(*S275)
    assert max(use_directed(s, strength) for s in throat_stresses(again, *load)) == pytest.approx(1.0)
    checks = weld_checks("bracket", lines, S275, throat_stresses(lines, *load))
    assert not all(c.ok for c in checks)


def test_a_lone_run_cannot_hold_a_twist_about_itself() -> None:
    run = [WeldLine(ORIGIN, (100.0, 0.0, 0.0), 4.0, name="slit fold 1")]
    with pytest.raises(ValueError, match="slit fold 1"):
        throat_stresses(run, ORIGIN, (1e4, 0.0, 0.0), ORIGIN)
    assert len(throat_stresses(run, (1e3, 0.0, 0.0), (0.0, 1e4, 0.0), (50.0, 0.0, 0.0))) == 2


def test_welds_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="no weld"):
        numbers_of([])
    with pytest.raises(ValueError, match="no length"):
        numbers_of([WeldLine(ORIGIN, ORIGIN, 4.0)])
    with pytest.raises(ValueError, match="throat of 0"):
        numbers_of([WeldLine(ORIGIN, (10.0, 0.0, 0.0), 0.0)])
    with pytest.raises(ValueError, match="not square"):
        numbers_of([WeldLine(ORIGIN, (10.0, 0.0, 0.0), 4.0, (1.0, 0.0, 0.0))])
    with pytest.raises(ValueError, match="corner"):
        fillet_normal((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))


# AWS D1.1, minimum fillet sizes (2025 edition, table 7.7, as read at two pages on it): up to 6 mm 3, to 12 mm 5,
# to 20 mm 6, over 8 mm of leg; 5 mm under cyclic load; never over the thinner part
def test_least_throats_are_those_of_the_welding_code() -> None:
    for thick, leg in ((6.0, 3.0), (10.0, 5.0), (16.0, 6.0), (25.0, 8.0)):
        asked = least_throat_mm([thick, thick], cyclic=False)
        assert asked == pytest.approx(max(3.0, leg / math.sqrt(2.0)))
    assert least_throat_mm([5.0, 6.0]) == pytest.approx(5.0 / math.sqrt(2.0))
    # without low hydrogen the thicker part counts
    assert least_throat_mm([8.0, 25.0], low_hydrogen=False) == pytest.approx(8.0 / math.sqrt(2.0))
    assert least_throat_mm([8.0, 25.0]) == pytest.approx(5.0 / math.sqrt(2.0))
    # thin sheet asks no more than itself
    assert least_throat_mm([2.0, 2.0]) == 2.0


def test_lengths_lose_their_ends() -> None:
    # EN 1993-1-8:2005 4.5.1: l - 2 a; at least 30 mm and 6 a
    assert counted_length_mm(100.0, 4.0) == 92.0
    assert counted_length_mm(100.0, 4.0, full_ends=True) == 100.0
    assert counted_length_mm(37.0, 4.0) == 0.0
    assert counted_length_mm(55.0, 8.0) == 0.0
    line = counted_line(WeldLine(ORIGIN, (0.0, 100.0, 0.0), 4.0))
    assert line is not None
    assert (line.start_mm, line.end_mm) == ((0.0, 4.0, 0.0), (0.0, 96.0, 0.0))
    assert counted_line(WeldLine(ORIGIN, (0.0, 20.0, 0.0), 4.0)) is None


def test_long_laps_lose_past_150_throats() -> None:
    assert long_lap_factor(600.0, 4.0) == 1.0
    assert long_lap_factor(1200.0, 4.0) == pytest.approx(0.8)


def test_a_partial_weld_loses_two_millimetres_unless_proven() -> None:
    assert partial_throat_mm(5.0) == 3.0
    assert partial_throat_mm(5.0, proven=True) == 5.0
    assert partial_throat_mm(1.0) == 0.0


def test_a_fillet_between_slanted_faces() -> None:
    assert throat_of_leg_mm(10.0) == pytest.approx(7.071, abs=0.001)
    assert throat_of_leg_mm(10.0, 60.0) == pytest.approx(8.660, abs=0.001)
    with pytest.raises(ValueError, match="partial penetration"):
        throat_of_leg_mm(10.0, 45.0)


def test_a_bead_too_small_too_short_and_on_thin_sheet_is_caught() -> None:
    small = WeldLine(ORIGIN, (35.0, 0.0, 0.0), 2.5, name="gusset")
    failed = {c.title: c.severity for c in size_checks("bracket", small, [4.0, 10.0], low_hydrogen=False) if not c.ok}
    assert failed == {"throat against its least": Severity.STOP}
    thin = {c.title: c.severity for c in size_checks("bracket", small, [3.0, 10.0]) if not c.ok}
    assert thin["thinner sheet"] is Severity.CAUTION
    short = WeldLine(ORIGIN, (30.0, 0.0, 0.0), 4.0)
    assert "length that counts" in {c.title for c in size_checks("bracket", short, [6.0, 6.0]) if not c.ok}
    assert all(c.ok for c in size_checks("bracket", WeldLine(ORIGIN, (80.0, 0.0, 0.0), 4.0), [6.0, 6.0]))
    thick = WeldLine(ORIGIN, (80.0, 0.0, 0.0), 6.5)
    assert [c.title for c in size_checks("b", thick, [5.0, 6.0]) if not c.ok] == ["throat against its largest"]
    assert any(c.failed_outright for c in size_checks("b", thick, [5.0, 6.0], fillet=False))
