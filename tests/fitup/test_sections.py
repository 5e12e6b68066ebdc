"""Section numbers against the closed forms of the handbooks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Point

from halfshaft.checks import Origin, Severity
from halfshaft.fitup.member import frame_at, member_of
from halfshaft.fitup.model import Section
from halfshaft.fitup.sections import Gap, SectionChange, change_at, change_checks, numbers_of, opened, section_at
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box, moved, without

B, H, T = 60.0, 100.0, 2.0
BOX = Section("box", B, H, T)
UP = np.array([0.0, 0.0, 1.0])


def hollow(b: float, h: float, t: float) -> float:
    # second moment of a hollow rectangle, (b h^3 - b1 h1^3) / 12. From memory: Young & Budynas, Roark's Formulas for
    # Stress and Strain, 7th ed. (2002), table A.1, no. 4
    return (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12.0


def bredt(b: float, h: float, t: float) -> float:
    # thin closed section: J = 4 A^2 t / length of the middle line. From memory: R. Bredt, VDI-Zeitschrift 40 (1896);
    # Young & Budynas, table 10.1 (thin tube of any shape)
    middle, round_ = (b - t) * (h - t), 2.0 * ((b - t) + (h - t))
    return 4.0 * middle**2 * t / round_


def strip(length: float, t: float) -> float:
    # long rectangle: J = b t^3 (1/3 - 0.21 t/b (1 - t^4 / 12 b^4)).
    # Source: Young & Budynas, table 10.1, rectangular section
    return length * t**3 * (1.0 / 3.0 - 0.21 * t / length * (1.0 - t**4 / (12.0 * length**4)))


def test_a_box_has_the_handbooks_area_and_bending() -> None:
    made = numbers_of(opened(BOX, []))
    assert made.area_mm2 == pytest.approx(B * H - (B - 2 * T) * (H - 2 * T))
    assert made.iu_mm4 == pytest.approx(hollow(B, H, T), rel=1e-9)
    assert made.iv_mm4 == pytest.approx(hollow(H, B, T), rel=1e-9)
    assert made.shear_centre_mm == pytest.approx((0.0, 0.0), abs=0.05)


@pytest.mark.parametrize(("t", "within"), [(1.0, 0.01), (2.0, 0.02), (3.0, 0.03)])
def test_a_closed_box_twists_as_bredt_says_and_nearer_the_thinner_it_is(t: float, within: float) -> None:
    made = numbers_of(opened(Section("box", B, H, t), []))
    assert made.j_mm4 == pytest.approx(bredt(B, H, t), rel=within)


def test_a_slit_box_twists_as_the_sum_of_its_strips() -> None:
    made = numbers_of(opened(BOX, [Gap("left", -1.0, 1.0)]))
    # open thin section: J = sum of b t^3 / 3 along the middle line. Source: Young & Budynas, table 10.1
    middle = 2.0 * ((B - T) + (H - T)) - 2.0
    assert made.j_mm4 == pytest.approx(middle * T**3 / 3.0, rel=0.02)
    # a closed box stands some hundred times stiffer in twist
    assert made.j_mm4 < 0.01 * bredt(B, H, T)


def test_a_round_tube_has_the_handbooks_numbers() -> None:
    made = numbers_of(opened(Section("tube", 50.0, 50.0, 3.0), []))
    # pi (R^4 - r^4) / 4 and twice that. Source: Young & Budynas, tables A.1 and 10.1
    bent = np.pi * (25.0**4 - 22.0**4) / 4.0
    assert made.iu_mm4 == pytest.approx(bent, rel=2e-3)
    assert made.j_mm4 == pytest.approx(2.0 * bent, rel=2e-3)


def test_a_channels_shear_centre_lies_behind_its_web() -> None:
    b, h, t = 50.0, 100.0, 2.0
    made = numbers_of(opened(Section("channel", b, h, t, "right"), []))
    # e = 3 b^2 / (h + 6 b) from the web's middle line, b and h along middle lines.
    # From memory: Timoshenko & Gere, Mechanics of Materials, 2nd ed. (1984), shear centres of thin-walled open sections
    bm, hm = b - t / 2.0, h - t
    web = b / 2.0 - t / 2.0
    assert made.shear_centre_mm[0] == pytest.approx(web + 3.0 * bm**2 / (hm + 6.0 * bm), rel=0.01)
    assert made.shear_centre_mm[1] == pytest.approx(0.0, abs=0.1)
    assert made.j_mm4 == pytest.approx((2 * bm + hm) * t**3 / 3.0, rel=0.02)


def test_a_flat_is_the_handbooks_rectangle() -> None:
    made = numbers_of(opened(Section("flat", 80.0, 6.0, 6.0), []))
    assert made.iu_mm4 == pytest.approx(80.0 * 6.0**3 / 12.0)
    assert made.iv_mm4 == pytest.approx(6.0 * 80.0**3 / 12.0)
    assert made.j_mm4 == pytest.approx(strip(80.0, 6.0), rel=5e-3)


def test_opened_right_through_a_box_leaves_two_channels() -> None:
    made = numbers_of(opened(BOX, [Gap("left", -20.0, 20.0), Gap("right", -20.0, 20.0)]))
    assert made.pieces == 2
    # steiner by hand: the whole box less two plates 2 x 40 about the middle
    assert made.area_mm2 == pytest.approx(B * H - (B - 2 * T) * (H - 2 * T) - 2 * 40.0 * T)
    assert made.iu_mm4 == pytest.approx(hollow(B, H, T) - 2.0 * T * 40.0**3 / 12.0, rel=1e-9)
    arm = (B - T) / 2.0
    assert made.iv_mm4 == pytest.approx(hollow(H, B, T) - 2.0 * (40.0 * T**3 / 12.0 + 40.0 * T * arm**2), rel=1e-9)
    middle = 2.0 * ((B - T) + (H - T)) - 80.0
    assert made.j_mm4 == pytest.approx(middle * T**3 / 3.0, rel=0.03)
    assert made.shear_centre_mm == pytest.approx((0.0, 0.0), abs=0.1)


def test_a_figure_of_any_shape_may_be_asked() -> None:
    # a ring drilled out of a disc: I = pi (R^4 - r^4) / 4
    made = numbers_of(Point(3.0, 4.0).buffer(30.0, quad_segs=64).difference(Point(3.0, 4.0).buffer(20.0, quad_segs=64)))
    assert made.centroid_mm == pytest.approx((3.0, 4.0), abs=1e-6)
    assert made.iu_mm4 == pytest.approx(np.pi * (30.0**4 - 20.0**4) / 4.0, rel=2e-3)


def test_the_mesh_cut_square_across_is_the_section() -> None:
    made = member_of("rail", BOX, [[0, 300, 400], [600, 300, 400], [1400, 300, 520]], UP)
    for along in (50.0, 300.0, 900.0):
        assert section_at(made, along).symmetric_difference(opened(BOX, [])).area < 1e-3
    cut = without(made.solid, moved(box([-30, 25, -20], [30, 35, 20]), frame_at(made, 300.0)))
    # box's left wall: u from 28 to 30
    window = moved(box([25, -20, -30], [35, 20, 30]), frame_at(made, 300.0))
    change = change_at(made, 300.0, without(made.solid, window))
    assert change.after.area_mm2 == pytest.approx(change.before.area_mm2 - 40.0 * T, abs=1e-3)
    assert change.after.iu_mm4 == pytest.approx(hollow(B, H, T) - T * 40.0**3 / 12.0, rel=1e-6)
    assert change_at(made, 500.0, cut).torsion_kept == pytest.approx(1.0)


def test_a_window_in_a_box_calls_for_reinforcement_and_a_small_hole_in_a_channels_web_does_not() -> None:
    before = numbers_of(opened(BOX, []))
    wide = SectionChange(0.0, before, numbers_of(opened(BOX, [Gap("left", -40.0, 40.0)])))
    bending, torsion = change_checks("rail", wide)
    # sideways bending: the plate 2 x 80 with its Steiner share gone, the middle moved; by hand
    a0, a1 = before.area_mm2, 80.0 * T
    arm = (B - T) / 2.0
    moved_to = -a1 * arm / (a0 - a1)
    left = hollow(H, B, T) - (80.0 * T**3 / 12.0 + a1 * arm**2) - (a0 - a1) * moved_to**2
    assert bending.found == pytest.approx(100.0 * left / hollow(H, B, T), rel=1e-6)
    assert not bending.ok
    assert not torsion.ok
    assert torsion.source.origin is Origin.COMMON_PRACTICE
    channel = Section("channel", 50.0, 120.0, 4.0, "right")
    hole = SectionChange(0.0, numbers_of(opened(channel, [])), numbers_of(opened(channel, [Gap("left", -6.0, 6.0)])))
    assert [check.ok for check in change_checks("rail", hole)] == [True, True]


def test_a_member_cut_through_is_stopped() -> None:
    made = member_of("rail", BOX, [[0, 300, 400], [600, 300, 400]], UP)
    cut = without(made.solid, box([290, 200, 300], [310, 400, 500]))
    change = change_at(made, 300.0, cut)
    assert change.area_kept == 0.0
    stop = change_checks("rail", change)[0]
    assert stop.severity is Severity.STOP
    assert not stop.ok


@pytest.mark.parametrize(
    ("section", "gap", "words"),
    [
        (Section("channel", 50.0, 120.0, 4.0, "right"), Gap("right", -6.0, 6.0), "no wall to cut"),
        (BOX, Gap("left", 6.0, 6.0), "runs from 6 to 6"),
        (Section("flat", 80.0, 6.0, 6.0), Gap("up", -50.0, 50.0), "leave no metal"),
    ],
)
def test_openings_that_are_none_are_told(section: Section, gap: Gap, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        opened(section, [gap])


def test_a_station_off_the_member_is_told_with_its_name() -> None:
    made = member_of("rail", BOX, [[0, 0, 0], [600, 0, 0]], UP)
    with pytest.raises(ValueError, match="member rail has no metal 900 mm along it"):
        change_at(made, 900.0, made.solid)
    assert shapely.is_empty(section_at(made, 900.0))
    assert isinstance(frame_at(made, 900.0), Pose)
