"""Cut members against sectionproperties, Bredt's formula and hand sums, and plates that bring back what was lost."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from sectionproperties.analysis import Section as Analysis
from sectionproperties.pre import Geometry
from shapely.geometry import Polygon

from halfshaft.fitup.member import member_of
from halfshaft.fitup.model import Member, Piece, Section
from halfshaft.fitup.sections import Gap, opened
from halfshaft.fitup.window import Window, windows
from halfshaft.fold.flat import flat_part
from halfshaft.fold.model import Bracket
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, union, without
from halfshaft.mounts.frame_bearing import Opening, Web, bearing_kept, patch_load_n
from halfshaft.mounts.frame_change import frame_change
from halfshaft.mounts.frame_plate import plate_rect, restored
from halfshaft.mounts.frame_strength import bredt_j_mm4, kept_of, moments_of, strength_of
from tests.fold.builders import plate

UP = np.array([0.0, 0.0, 1.0])
LINE = [[-600.0, 400.0, 300.0], [600.0, 400.0, 300.0]]
BOX = Section("box", 60.0, 120.0, 3.0)
RAIL = Section("channel", 60.0, 120.0, 3.0, "left")


def analysed(figure: Polygon, twist: bool = False) -> Analysis:
    geometry = Geometry(figure)
    geometry.create_mesh(mesh_sizes=[2.0 if twist else 50.0])
    analysis = Analysis(geometry)
    analysis.calculate_geometric_properties()
    if twist:
        analysis.calculate_warping_properties()
    return analysis


def cut_member(
    section: Section, half_long: float = 60.0, half_high: float = 30.0
) -> tuple[Member, tuple[Window, ...], MeshSolid]:
    """A member with a window in its right wall, by a box that sits in it."""
    member = member_of("rail", section, LINE, UP)
    # the line runs forward: left is +y, the right wall looks at -y
    face = -section.width_mm / 2.0
    solid = box(
        [-half_long, 400.0 + face - 20.0, 300.0 - half_high], [half_long, 400.0 + face + 20.0, 300.0 + half_high]
    )
    made = windows(member, [Piece("ear", solid)], [Pose.identity()], 0.0, 1.5)
    return member, made, without(member.solid, union([w.cutter for w in made]))


@given(st.floats(40.0, 90.0), st.floats(60.0, 160.0), st.floats(2.0, 6.0), st.floats(0.1, 0.6))
@settings(max_examples=8)
def test_moments_are_those_of_the_section_library(wide: float, high: float, wall: float, gap: float) -> None:
    section = Section("channel", wide, high, wall, "left")
    figure = opened(section, [Gap("right", 0.0, gap * high / 2.0)])
    for piece in shapely.get_parts(figure):
        analysis = analysed(piece)
        area, (cu, cv), iu, iv, iuv = moments_of(piece)
        assert area == pytest.approx(analysis.get_area(), rel=1e-6)
        assert (cu, cv) == pytest.approx(analysis.get_c(), abs=1e-6)
        assert (iu, iv, iuv) == pytest.approx(analysis.get_ic(), rel=1e-6, abs=1e-3)


def test_a_box_bears_what_the_library_says_in_bending_shear_and_twist() -> None:
    figure = opened(BOX, [])
    made, analysis = strength_of(figure), analysed(figure, twist=True)
    zxx, _, zyy, _ = analysis.get_z()
    assert (made.wu_mm3, made.wv_mm3) == pytest.approx((zxx, zyy), rel=1e-6)
    # stress under a load of 1 MN and 1 kN m at mid height of the webs: the library's own finite elements
    nodes = np.asarray(analysis.mesh["vertices"])
    webs = np.abs(nodes[:, 1]) < 2.0
    sheared = analysis.calculate_stress(vy=1.0e6).get_stress()[0]["sig_zxy"]
    assert 1.0e6 / made.shear_v_mm2 == pytest.approx(sheared[webs].mean(), rel=0.02)
    twisted = analysis.calculate_stress(mzz=1.0e6).get_stress()[0]["sig_zxy"]
    # Bredt is even through the wall, the library's linear across it with the same mean
    assert 1.0e6 / made.wt_mm3 == pytest.approx(twisted[webs].mean(), rel=0.02)
    assert made.closed


def test_a_closed_box_twists_by_bredt() -> None:
    # Bredt, thin walls: 4 A^2 t / s on the middle line
    w, h, t = 57.0, 117.0, 3.0
    bredt = 4.0 * (w * h) ** 2 * t / (2.0 * (w + h))
    made = strength_of(opened(BOX, []))
    assert made.j_mm4 == pytest.approx(bredt, rel=0.02)
    assert bredt_j_mm4(opened(BOX, [])) == pytest.approx(bredt, rel=0.005)
    assert made.wt_mm3 == pytest.approx(2.0 * w * h * t, rel=0.005)


def test_an_opened_box_twists_as_a_strip() -> None:
    # l t^3 / 3 and l t^2 / 3: Young & Budynas, table 10.7 (from memory)
    made = strength_of(opened(BOX, [Gap("right", -30.0, 30.0)]))
    long = 2.0 * (57.0 + 117.0) - 60.0
    assert not made.closed
    assert made.j_mm4 == pytest.approx(long * 27.0 / 3.0, rel=0.03)
    assert made.wt_mm3 == pytest.approx(long * 9.0 / 3.0, rel=0.25)
    kept = kept_of(made, strength_of(opened(BOX, [])))
    assert kept.twist < 0.03


def test_shear_areas_by_hand() -> None:
    # rectangle: greatest shear is 3/2 of the mean (Gere, from memory)
    bar = strength_of(shapely.box(-5.0, -30.0, 5.0, 30.0))
    assert bar.shear_v_mm2 == pytest.approx(2.0 / 3.0 * 600.0, rel=1e-3)
    # V Q / (I b) at mid height of a hollow rectangle
    b, h, t = 60.0, 120.0, 3.0
    made = strength_of(opened(BOX, []))
    second = (b * h**3 - (b - 2 * t) * (h - 2 * t) ** 3) / 12.0
    first = b * t * (h - t) / 2.0 + 2.0 * t * (h / 2.0 - t) ** 2 / 2.0
    assert made.shear_v_mm2 == pytest.approx(second * 2.0 * t / first, rel=2e-3)


def test_a_window_in_one_web_of_two_halves_the_shear() -> None:
    before, after = strength_of(opened(BOX, [])), strength_of(opened(BOX, [Gap("right", -30.0, 30.0)]))
    kept = kept_of(after, before)
    assert kept.shear_up == pytest.approx(0.5, abs=0.05)
    assert kept.bending_sideways < kept.bending_up < 1.0


def test_a_web_cut_through_leaves_the_shear_of_what_stays() -> None:
    """A channel's one web opened: top and bottom bear shear each by itself, an angle each; far less than the web."""
    before, after = strength_of(opened(RAIL, [])), strength_of(opened(RAIL, [Gap("right", -30.0, 30.0)]))
    kept = kept_of(after, before)
    # two legs of 30 mm stand where the web was 120 high; the least I b / Q of an angle's leg is under 2 / 3 of it
    assert 0.15 < kept.shear_up < 60.0 / 120.0
    assert kept.bending_up > 0.8


def test_bearing_spreads_and_is_lost_over_a_window() -> None:
    web = (Web(114.0, 3.0),)
    assert bearing_kept(web, (None,), 60.0) == 1.0
    # 30 mm below the flange the load is 60 + 2 x 30 long; a window of 40 takes a third of it
    assert bearing_kept(web, (Opening(-20.0, 20.0, 30.0),), 60.0) == pytest.approx(2.0 / 3.0)
    assert bearing_kept((*web, *web), (Opening(-200.0, 200.0, 30.0), None), 60.0) == pytest.approx(0.5)
    assert bearing_kept(web, (Opening(100.0, 200.0, 30.0),), 60.0) == 1.0


def test_patch_load_of_a_stout_web_is_its_yield() -> None:
    # EN 1993-1-5:2006 (6.10): l_y = s_s + 2 t_f (1 + sqrt(m1)); not slender, so chi = 1
    stout = patch_load_n((Web(60.0, 10.0),), 100.0, 100.0, 10.0, 275.0)
    assert stout == pytest.approx(275.0 * 10.0 * (100.0 + 20.0 * (1.0 + np.sqrt(10.0))), rel=1e-9)
    # slender: 0.5 / lambda, so it goes with the root of F_cr
    thin = patch_load_n((Web(400.0, 3.0),), 100.0, 60.0, 3.0, 275.0)
    spread = 100.0 + 6.0 * (1.0 + np.sqrt(20.0))
    critical = 0.9 * 6.0 * 210_000.0 * 27.0 / 400.0
    assert thin == pytest.approx(0.5 * np.sqrt(critical * 275.0 * spread * 3.0), rel=1e-9)


def test_a_channel_with_a_window_is_boxed_in() -> None:
    member, made, cut = cut_member(RAIL)
    change = frame_change(member, cut, made)
    assert change.kept.bending < 0.95
    assert change.plated is not None
    assert change.plated.restores
    assert change.plated.kept.bending >= 0.995
    assert change.plated.kept.twist >= 1.0
    assert "brings back" in change.plated.words


def test_a_plate_is_a_flat_bracket_on_the_member_that_runs_past_the_window() -> None:
    member, made, cut = cut_member(RAIL)
    plated = frame_change(member, cut, made).plated
    assert plated is not None
    for bracket in plated.brackets:
        (panel,) = bracket.panels.values()
        assert panel.thickness_mm == plated.thickness_mm
        assert not bracket.folds
        (part,) = bracket.parts
        again = flat_part("x", "plate", ["plate"], bracket.panels, ())
        assert part.outline.area_mm2 == pytest.approx(again.outline.area_mm2)
        assert part.outline.area_mm2 == pytest.approx(panel.outline.area_mm2, rel=1e-9)
        corners = panel.pose.apply(np.column_stack([panel.outline.points_mm, np.zeros(len(panel.outline.points_mm))]))
        # past the window of 120 mm by the depth of the rail at each end
        assert np.ptp(corners[:, 0]) == pytest.approx(120.0 + 2.0 * 120.0, abs=15.0)
        # its underside lies on the member's outside
        low, high = member.hull.bounds_mm
        assert corners[:, 1].max() <= high[1] + 1e-6
        assert corners[:, 1].min() >= low[1] - 1e-6
        assert bracket.mass_kg == pytest.approx(part.outline.area_mm2 * part.thickness_mm * 7.85e-6)


def test_a_plate_on_the_section_is_where_the_bracket_lies() -> None:
    """The figure that was worked and the bracket that is cut are one: the bracket sliced at the window."""
    from halfshaft.fitup.member import frame_at
    from halfshaft.fold.slab import slab
    from halfshaft.geometry.mesh import slice_of

    member, made, cut = cut_member(RAIL)
    plated = frame_change(member, cut, made).plated
    assert plated is not None
    for wall, bracket in zip(plated.walls, plated.brackets, strict=True):
        (panel,) = bracket.panels.values()
        figure = slice_of(slab(panel), frame_at(member, 600.0))
        assert figure.symmetric_difference(plate_rect(member, wall, plated.thickness_mm)).area < 0.01


def test_a_box_that_is_opened_gets_bending_back_and_says_that_twist_is_lost() -> None:
    member, made, cut = cut_member(BOX)
    plated = frame_change(member, cut, made).plated
    assert plated is not None
    assert not plated.restores
    assert "right" not in plated.walls
    assert plated.kept.twist < 0.5
    assert "trough" in plated.words


def test_a_bracket_on_the_cut_wall_helps_to_bend_and_not_to_twist() -> None:
    member, made, cut = cut_member(BOX)
    # a plate 6 mm thick upright on the wall's outside, above the window
    pose = Pose(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]), np.array([0.0, 370.0, 345.0]))
    panel = plate("web", [(-100, -12), (100, -12), (100, 12), (-100, 12)], 6.0, pose)
    bracket = Bracket("front", "plate", 6.0, {"web": panel}, (), (), 0.0)
    bare, helped = frame_change(member, cut, made), frame_change(member, cut, made, [bracket])
    assert bare.with_bracket is None
    assert helped.bracket == "front"
    assert helped.with_bracket is not None
    assert helped.with_bracket.bending_up > bare.kept.bending_up
    assert helped.with_bracket.twist_stiffness < 0.05


def test_what_is_lost_is_told_with_what_to_do() -> None:
    member, made, cut = cut_member(BOX)
    checks = frame_change(member, cut, made).checks
    assert [c.ok for c in checks if "twist" in c.title] == [False]
    assert all("licensed engineer" in c.do for c in checks)
    assert any("Weld" in c.do for c in checks)


def test_no_window_and_no_stock_are_refused() -> None:
    member, made, cut = cut_member(RAIL)
    with pytest.raises(ValueError, match="member rail has no window"):
        frame_change(member, cut, [])
    with pytest.raises(ValueError, match="thicknesses to choose from"):
        restored(member, opened(RAIL, []), opened(RAIL, []), made, [])
