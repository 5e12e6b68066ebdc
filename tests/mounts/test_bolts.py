"""One bolt against published worked examples and tables."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.build import catalogue
from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Severity
from halfshaft.mounts.bolts import (
    Plate,
    Spots,
    bearing_n,
    bolt_checks,
    bolt_of,
    long_joint_factor,
    punching_n,
    shear_n,
    tension_n,
    together,
)
from halfshaft.mounts.slip import Friction, full_preload_n, slip_check, slip_n
from halfshaft.mounts.thread import Thread, thread_of

# ISO 898-1, table 4, tensile stress areas of coarse threads, mm2 (from memory)
ISO_AREAS = {"M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3, "M14": 115.0, "M16": 157.0, "M20": 245.0, "M24": 353.0}
# ASME B1.1 / SAE J429, tensile stress areas of UNC threads, square inches (from memory)
UNC_AREAS = {"1/4 in": 0.0318, "3/8 in": 0.0775, "1/2 in": 0.1419, "5/8 in": 0.226, "3/4 in": 0.334}


@pytest.mark.parametrize(("name", "area"), ISO_AREAS.items())
def test_stress_areas_are_those_of_the_metric_table(name: str, area: float) -> None:
    assert thread_of(name).stress_area_mm2 == pytest.approx(area, rel=0.004)


@pytest.mark.parametrize(("name", "area"), UNC_AREAS.items())
def test_stress_areas_are_those_of_the_inch_table(name: str, area: float) -> None:
    assert thread_of(name).stress_area_mm2 / 25.4**2 == pytest.approx(area, rel=0.002)


def test_every_bolt_of_the_catalogue_has_a_thread() -> None:
    for name in catalogue.bolts():
        thread = thread_of(name)
        assert 0.6 < thread.stress_area_mm2 / thread.shank_area_mm2 < 0.85, name


# "Design resistance for individual fasteners as per EN 1993-1-8", worked sheet, scribd.com/document/348716350 (read
# there): M20 class 4.6 in a 22 mm hole, 8 mm of S235 (fu 360), As 245, e1 = e2 = 1.2 d0, p1 = 2.2 d0, p2 = 2.4 d0,
# width of the head 30 mm: kN as printed
FOUR_SIX = dataclasses.replace(
    bolt_of("M20", "8.8", 22.0), grade="4.6", yield_mpa=240.0, ultimate_mpa=400.0, bearing_mm=30.0
)
SHEET = Plate(8.0, 235.0, 360.0)


def test_a_worked_sheet_of_single_fasteners_is_met() -> None:
    assert shear_n(FOUR_SIX) / 1e3 == pytest.approx(47.04, rel=0.001)
    assert tension_n(FOUR_SIX) / 1e3 == pytest.approx(70.56, rel=0.001)
    assert punching_n(FOUR_SIX, SHEET) / 1e3 == pytest.approx(130.288, rel=1e-5)


def test_bearing_of_the_end_bolt_is_that_of_the_worked_sheet() -> None:
    # printed with fub = 400 in place of the sheet's fu = 360, so its figure is 400 / 360 of table 3.4's
    found = bearing_n(FOUR_SIX, SHEET, Spots(end_mm=26.4, edge_mm=26.4))
    assert found / 1e3 == pytest.approx(33.997 * 360.0 / 400.0, rel=1e-4)


def test_bearing_of_the_inner_bolt_is_that_of_the_worked_sheet() -> None:
    found = bearing_n(FOUR_SIX, SHEET, Spots(pitch_mm=48.4, gauge_mm=52.8))
    assert found / 1e3 == pytest.approx(41.079 * 360.0 / 400.0, rel=1e-4)


# Resistances of class 8.8 bolts, EN 1993-1-8, gamma 1.25: the handbook values 94.1 (M20, threads in the plane),
# 141 kN in tension; M16 60.3 and 90.4; M12 32.4 and 48.6; as in handbook tables (from memory)
@pytest.mark.parametrize(
    ("name", "shear", "tension"),
    [("M12", 32.4, 48.6), ("M16", 60.3, 90.4), ("M20", 94.1, 141.0), ("M24", 136.0, 203.0)],
)
def test_class_8_8_bolts_have_the_resistances_of_the_handbook(name: str, shear: float, tension: float) -> None:
    bolt = bolt_of(name, "8.8")
    assert shear_n(bolt) / 1e3 == pytest.approx(shear, rel=0.006)
    assert tension_n(bolt) / 1e3 == pytest.approx(tension, rel=0.004)


def test_class_10_9_loses_in_the_thread_what_8_8_keeps() -> None:
    # EN 1993-1-8:2005 table 3.4: alpha v 0.5 for 10.9 and 0.6 for 8.8 through the thread: 500 against 480 MPa;
    # through the shank 0.6 for both
    weak, strong = bolt_of("M12", "8.8"), bolt_of("M12", "10.9")
    assert shear_n(strong) / shear_n(weak) == pytest.approx(500.0 / 480.0)
    assert shear_n(strong, threads_in_plane=False) / shear_n(weak, threads_in_plane=False) == pytest.approx(1.25)


def test_thick_packs_cost_shear_and_thin_ones_do_not() -> None:
    bolt = bolt_of("M12", "8.8")
    assert shear_n(bolt, packing_mm=4.0) == shear_n(bolt)
    # EN 1993-1-8:2005 (3.3): 9 x 12 / (8 x 12 + 3 x 12) = 108 / 132
    assert shear_n(bolt, packing_mm=12.0) == pytest.approx(shear_n(bolt) * 108.0 / 132.0)


def test_long_joints_lose_up_to_a_quarter() -> None:
    bolt = bolt_of("M10", "8.8")
    assert long_joint_factor(bolt, 150.0) == 1.0
    assert long_joint_factor(bolt, 350.0) == pytest.approx(0.9)
    assert long_joint_factor(bolt, 5000.0) == 0.75


def test_shear_and_tension_meet_at_the_corners_of_the_standard() -> None:
    # EN 1993-1-8:2005 table 3.4: full tension leaves 1 - 1 / 1.4 = 2 / 7 of shear
    assert together(2.0 / 7.0, 1.0, 1.0, 1.0) == pytest.approx(1.0)
    assert together(1.0, 1.0, 0.0, 1.0) == 1.0


def test_a_hole_at_the_least_distances_passes_and_a_hair_nearer_fails() -> None:
    # EN 1993-1-8:2005 table 3.3: 1.2 d0 to the edges, 2.2 d0 and 2.4 d0 between holes
    bolt = bolt_of("M12", "8.8")
    near = Spots(end_mm=16.2, edge_mm=16.2, pitch_mm=29.7, gauge_mm=32.4)
    plate = Plate(6.0, 275.0, 410.0)
    assert all(c.ok for c in bolt_checks("hole A", bolt, [(plate, near)], 1000.0, 0.0))
    for field in ("end_mm", "edge_mm", "pitch_mm", "gauge_mm"):
        nearer = dataclasses.replace(near, **{field: getattr(near, field) - 0.1})
        failed = [c for c in bolt_checks("hole A", bolt, [(plate, nearer)], 1000.0, 0.0) if not c.ok]
        assert len(failed) == 1
        assert failed[0].severity is Severity.STOP


def test_a_hole_that_breaks_out_is_refused() -> None:
    checks = bolt_checks("A", bolt_of("M12", "8.8"), [(Plate(6.0, 275.0, 410.0), Spots(edge_mm=6.0))], 10.0, 0.0)
    assert any(c.failed_outright for c in checks)


def test_the_thickness_told_to_hold_just_holds() -> None:
    bolt, spots = bolt_of("M12", "8.8"), Spots(end_mm=20.0, edge_mm=20.0)
    thin = Plate(3.0, 275.0, 410.0)
    load = 25000.0
    bad = next(c for c in bolt_checks("A", bolt, [(thin, spots)], load, 0.0) if c.title == "bearing of the hole")
    assert not bad.ok
    told = float(bad.do.split("make the plate ")[1].split(" mm")[0])
    assert bearing_n(bolt, dataclasses.replace(thin, thickness_mm=told + 0.05), spots) >= load
    assert bearing_n(bolt, dataclasses.replace(thin, thickness_mm=told - 0.1), spots) < load


@pytest.mark.parametrize(("shear", "tension"), [(-1.0, 0.0), (0.0, float("nan")), (float("inf"), 0.0)])
def test_loads_that_cannot_be_are_refused(shear: float, tension: float) -> None:
    with pytest.raises(ValueError, match="hole A"):
        bolt_checks("hole A", bolt_of("M12", "8.8"), [(SHEET, Spots())], shear, tension)


def test_class_12_9_is_warned_of() -> None:
    checks = bolt_checks("A", bolt_of("M12", "12.9"), [(Plate(6.0, 275.0, 410.0), Spots())], 100.0, 0.0)
    assert [c.title for c in checks if not c.ok] == ["class 12.9 used"]


@given(end=st.floats(13.0, 100.0), edge=st.floats(13.0, 100.0), more=st.floats(0.0, 50.0), thick=st.floats(2.0, 20.0))
def test_more_metal_never_bears_less(end: float, edge: float, more: float, thick: float) -> None:
    bolt = bolt_of("M12", "8.8")
    plate, thicker = Plate(thick, 275.0, 410.0), Plate(thick + more / 10.0, 275.0, 410.0)
    base = bearing_n(bolt, plate, Spots(end, edge))
    assert bearing_n(bolt, plate, Spots(end + more, edge)) >= base
    assert bearing_n(bolt, plate, Spots(end, edge + more)) >= base
    assert bearing_n(bolt, thicker, Spots(end, edge)) >= base


# Preloads Fp,C of EN 1090-2, table 19, in whole kN (from memory)
@pytest.mark.parametrize(
    ("name", "grade", "preload"),
    [("M12", "8.8", 47.0), ("M16", "8.8", 88.0), ("M20", "8.8", 137.0), ("M20", "10.9", 172.0), ("M24", "10.9", 247.0)],
)
def test_full_preloads_are_those_of_the_execution_standard(name: str, grade: str, preload: float) -> None:
    assert full_preload_n(bolt_of(name, grade)) / 1e3 == pytest.approx(preload, abs=0.7)


def test_slip_of_two_planes_by_hand() -> None:
    # M20 10.9, class B faces, two planes, gamma 1.25: 1.0 x 2 x 0.4 / 1.25 x 171.5 kN = 109.76 kN (arithmetic)
    assert slip_n(171500.0, Friction("B", planes=2)) / 1e3 == pytest.approx(109.76)
    # 3.9.2: 50 kN of tension takes 40 kN of clamp
    assert slip_n(171500.0, Friction("B", planes=2), 50000.0) / 1e3 == pytest.approx(0.64 * 131.5)
    assert slip_n(171500.0, Friction("B", planes=2, in_service=True)) / slip_n(
        171500.0, Friction("B", planes=2)
    ) == pytest.approx(1.25 / 1.1)


def test_a_joint_without_clamp_slips() -> None:
    assert slip_n(40000.0, Friction("C"), 50000.0) == 0.0
    assert not slip_check("A", 100.0, 40000.0, Friction("C"), 50000.0).ok


def test_soft_bolts_are_not_preloaded_by_the_standard() -> None:
    with pytest.raises(ValueError, match=r"8\.8 and 10\.9"):
        full_preload_n(bolt_of("1/2 in", "grade 5"))


def test_wrong_names_are_told_with_the_nearest() -> None:
    with pytest.raises(KeyError, match=r"10\.9"):
        bolt_of("M12", "10,9")
    with pytest.raises(KeyError, match="short slot along"):
        rows.hole_factor("short slot alng")
    with pytest.raises(ValueError, match="does not take"):
        bolt_of("M12", "8.8", 11.0)
    with pytest.raises(ValueError, match="pitch"):
        Thread(6.0, 4.0)
