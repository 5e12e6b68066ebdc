"""Gussets stand square between two panels: elementary geometry on corners of known planes."""

from __future__ import annotations

from math import cos, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.checks import Severity
from halfshaft.fold.gusset_plan import outline_of
from halfshaft.fold.model import Bracket, Panel
from halfshaft.fold.slab import figure, slab
from halfshaft.fold.solid import bracket_solid
from halfshaft.fold.station import shaped
from halfshaft.fold.way import way_of
from halfshaft.geometry import mesh
from tests.fold.frames import bolts, build_of, measured_of

FLOOR = ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
WALL = ((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0))  # metal on the side of -x
POINTS = {"car.A": (-90, -60, 0), "car.B": (-90, 60, 0), "car.C": (0, -60, 100), "car.D": (0, 60, 100)}
PANELS = {
    "foot": {"face": "car.floor", "holes": bolts("car.A", "car.B")},
    "back": {"face": "car.wall", "holes": bolts("car.C", "car.D")},
}
FOLDS = [{"between": ["foot", "back"]}]
GUSSET = {"between": ["foot", "back"], "reach": 60}


def corner(*gussets: dict[str, object], wall: tuple[float, float, float] = (-1.0, 0.0, 0.0), **more: object) -> Bracket:
    build = build_of(
        {"panel": PANELS, "folds": FOLDS, "gusset": [GUSSET | one for one in gussets]} | more, {"thickness": 4.0}
    )
    # the wall leans about the y axis: its holes lie on it
    up = np.cross(wall, (0.0, 1.0, 0.0))
    up = up / np.linalg.norm(up) * np.sign(up[2])
    points = POINTS | {"car.C": 100.0 * up + (0, -60, 0), "car.D": 100.0 * up + (0, 60, 0)}
    return shaped(build, measured_of(points, {"car.floor": FLOOR, "car.wall": ((0, 0, 0), wall)}), "piece")


def stops(bracket: Bracket) -> list[str]:
    return [check.title for check in bracket.checks if not check.ok and check.severity is Severity.STOP]


def test_a_plate_in_a_square_corner_has_the_size_worked_by_hand() -> None:
    # sheet 4 mm: corner of the inside faces at x = -4, z = 4. Reaches 60, nip 10 (the least), blunt tips 4 mm.
    bracket = corner({})
    assert stops(bracket) == []
    plate = bracket.panels["gusset1"]
    # polygon (0,0) (60,0) (60,4) (4,60) (0,60): square less nothing, by the shoelace: (60*4 + 60*60 - 4*4 + 4*60) / 2
    area = (60 * 4 + (60 * 60 - 4 * 4) + 4 * 60) / 2.0
    assert plate.outline.area_mm2 == pytest.approx(area - pi * 10.0**2 / 4.0, rel=1e-9)
    low, high = slab(plate).bounds_mm
    assert low == pytest.approx([-64.0, -2.0, 4.0], abs=1e-6)
    assert high == pytest.approx([-4.0, 2.0, 64.0], abs=1e-6)
    (gusset,) = bracket.gussets
    assert (gusset.foot_length_mm("foot"), gusset.foot_length_mm("back")) == pytest.approx((50.0, 50.0))
    # 4.3 mm, but no more than the plate is thick
    assert gusset.leg_mm == pytest.approx(4.0)
    assert gusset.throat_mm == pytest.approx(4.0 / sqrt(2.0))


def test_it_is_cut_as_a_part_of_its_own_and_weighs_with_the_bracket() -> None:
    bare, bracket = corner(), corner({"ends": True})
    assert [part.name for part in bracket.parts] == ["piece", "piece.gusset1", "piece.gusset2"]
    plate = bracket.parts[1]
    assert plate.outline.area_mm2 == pytest.approx(bracket.panels["gusset1"].outline.area_mm2, rel=1e-9)
    assert bracket.mass_kg - bare.mass_kg == pytest.approx(2.0 * plate.outline.area_mm2 * 4.0 * 7.85e-6, rel=1e-3)
    # the folded part is told with its plates, fused to both panels; a plate's own file holds the plate
    whole, own = bracket_solid(bracket, "piece"), bracket_solid(bracket, "piece.gusset1")
    assert own.mass == pytest.approx(plate.outline.area_mm2 * 4.0, rel=1e-6)
    assert whole.mass - bracket_solid(bare, "piece").mass == pytest.approx(2.0 * own.mass, rel=1e-4)


def test_plates_at_the_ends_stand_as_near_as_metal_and_bolts_let_them() -> None:
    bracket = corner({"ends": True})
    assert stops(bracket) == []
    spots = [slab(bracket.panels[g]).bounds_mm for g in ("gusset1", "gusset2")]
    left = {float(np.sign(low[1] + high[1])) for low, high in spots}
    assert left == {-1.0, 1.0}
    # fillets of 4 mm and a rim of 1 mm beside a plate 4 mm thick: 7 mm from the end of the fold to its middle
    half = bracket.folds[0].length_mm / 2.0
    assert sorted(abs(low[1] + high[1]) / 2.0 for low, high in spots) == pytest.approx([half - 7.0] * 2)
    # reaching past the holes 60 mm out, they stand beside the washers: 10 + 2 + 4 mm
    bracket = corner({"ends": True, "reach": [90, 60]})
    assert stops(bracket) == []
    for gusset in ("gusset1", "gusset2"):
        low, high = slab(bracket.panels[gusset]).bounds_mm
        assert abs(low[1] + high[1]) / 2.0 <= 60.0 - 16.0 + 1e-6
    at_left = corner({"at": "left", "distance": 40})
    assert (at_left.gussets[0].end, at_left.gussets[0].from_end_mm) == ("left", pytest.approx(40.0))
    low, high = slab(at_left.panels["gusset1"]).bounds_mm
    assert (low[1] + high[1]) / 2.0 == pytest.approx(half - 40.0, abs=1e-6)


@pytest.mark.parametrize(
    ("told", "title"),
    [
        ({"at": "left", "distance": 3}, "Gusset off the panel"),
        ({"at": "left", "distance": 17, "reach": [86, 40]}, "Gusset runs into a washer"),
    ],
)
def test_what_is_in_the_way_of_it_is_told(told: dict[str, object], title: str) -> None:
    bracket = corner(told)
    assert title in stops(bracket)
    check = next(c for c in bracket.checks if c.title == title)
    assert "gusset1" in check.about
    assert check.found is not None
    assert check.found < 0.0


@pytest.mark.parametrize(("relief", "severity"), [(True, Severity.STOP), (False, Severity.CAUTION)])
def test_a_plate_in_the_room_of_a_socket_stops_unless_a_spanner_turns_the_bolt(relief: bool, severity: str) -> None:
    # socket of 40 mm with 2 mm room reaches to 22 mm from the hole, 86 - 22 = 64 mm from the corner; washer to 76 mm
    foot = {"face": "car.floor", "holes": bolts("car.A", "car.B", socket=40, relief=relief)}
    for reach, found in ((63, False), (65, True)):
        bracket = corner({"at": "left", "distance": 17, "reach": reach}, panel=PANELS | {"foot": foot})
        checks = [check for check in bracket.checks if check.title == "Gusset in a socket's room"]
        assert [check.severity for check in checks] == ([severity] if found else [])


def test_two_plates_in_one_place_run_into_each_other() -> None:
    assert "Gusset runs into a panel" in stops(corner({}, {"reach": 50}))


def test_what_cannot_be_drawn_says_why() -> None:
    for told, words in (
        ({"at": "up"}, 'no end of it lies that way: write at = "left" or "right"'),
        ({"reach": [12, 60]}, "leaves no foot to weld"),
        ({"between": ["back", "back2"]}, "no panel 'back2'"),
    ):
        bracket = corner(told)
        assert not bracket.parts
        assert any(words in check.do for check in bracket.checks), words


def test_a_plate_across_parts_that_come_off_is_refused() -> None:
    more = {"join": [{"on": "foot", "cover": "lid", "bolts": bolts("car.A", "car.B")}]}
    bracket = corner({"between": ["lid", "back"]}, **more)
    assert any("would weld them for good" in check.do for check in bracket.checks)


def test_a_gusset_rides_with_its_panel_while_the_part_is_unfolded() -> None:
    bracket = corner({})
    flat = way_of(bracket).panel_poses(0.0)
    over = flat["foot"].inverse().after(flat["gusset1"])
    folded = bracket.panels["foot"].pose.inverse().after(bracket.panels["gusset1"].pose)
    assert over.shift_mm == pytest.approx(folded.shift_mm)


@settings(max_examples=30)
@given(
    lean=st.floats(-35.0, 35.0),
    reach_a=st.floats(45.0, 66.0),
    reach_b=st.floats(45.0, 66.0),
    edge=st.sampled_from(["straight", "hollow"]),
)
def test_both_feet_lie_on_the_metal_of_any_corner(lean: float, reach_a: float, reach_b: float, edge: str) -> None:
    way = (-cos(radians(lean)), 0.0, sin(radians(lean)))
    bracket = corner({"reach": [reach_a, reach_b], "edge": edge}, wall=way)
    (gusset,) = bracket.gussets
    plate = bracket.panels["gusset1"]
    for name, foot, side in ((gusset.a, gusset.foot_a_mm, gusset.side_a), (gusset.b, gusset.foot_b_mm, gusset.side_b)):
        panel: Panel = bracket.panels[name]
        for z in (0.0, plate.thickness_mm):
            spots = panel.pose.inverse().apply(plate.pose.apply(np.column_stack([foot, [z, z]])))
            assert spots[:, 2] == pytest.approx(panel.thickness_mm if side == "upper" else 0.0, abs=1e-6)
        # the plate stands square on the panel and touches it, no more
        assert abs(float(plate.pose.rotation[:, 2] @ panel.pose.rotation[:, 2])) < 1e-9
        both = mesh.overlap(slab(plate), slab(panel, figure(panel)))
        assert both.empty or mesh.mean_width_mm(both) < 1e-3


@given(
    reach_a=st.floats(30.0, 90.0), reach_b=st.floats(30.0, 90.0), opened=st.floats(60.0, 150.0), nip=st.floats(5, 15)
)
def test_area_of_an_outline_is_that_of_its_triangles(reach_a: float, reach_b: float, opened: float, nip: float) -> None:
    turn, tip = radians(opened), 4.0
    contour = outline_of((reach_a, reach_b), opened, nip, tip, False)
    end_a = np.array([reach_a, tip])
    end_b = reach_b * np.array([cos(turn), sin(turn)]) + tip * np.array([sin(turn), -cos(turn)])
    triangles = (reach_a * tip + (end_a[0] * end_b[1] - end_a[1] * end_b[0]) + reach_b * tip) / 2.0
    assert contour.area_mm2 == pytest.approx(triangles - nip**2 * turn / 2.0, rel=1e-9)


def test_a_twin_has_its_plates_too() -> None:
    names = [part.name for part in corner({}, twin=True).parts]
    assert names == ["piece", "piece.twin", "piece.gusset1", "piece.gusset1.twin"]


def test_a_thinner_sheet_makes_a_thinner_plate() -> None:
    build = build_of({"panel": PANELS, "folds": FOLDS, "gusset": [GUSSET | {"sheet": "thin"}]}, {"thickness": 4.0})
    sheets = build.sheet | {"thin": replace_thickness(build.sheet["plate"], 3.0)}
    bracket = shaped(
        build.model_copy(update={"sheet": sheets}),
        measured_of(POINTS, {"car.floor": FLOOR, "car.wall": WALL}),
        "piece",
    )
    part = bracket.parts[1]
    assert (part.sheet, part.thickness_mm) == ("thin", 3.0)


def replace_thickness(sheet, thickness_mm: float):
    return sheet.model_copy(update={"thickness_mm": thickness_mm})


def test_each_edge_of_a_plate_is_etched_with_the_panel_it_goes_on() -> None:
    part = corner({}).parts[1]
    assert {"foot", "back", "piece.gusset1"} <= {mark.text for mark in part.marks}
    foot = next(mark for mark in part.marks if mark.text == "foot")
    rotation, shift = part.placed["gusset1"]
    spots = (np.vstack(foot.strokes_mm) - shift) @ rotation
    # along the first edge, the plate's own x axis
    assert spots[:, 1].min() > 0.0
    assert spots[:, 1].max() < 12.0
