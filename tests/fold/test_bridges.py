"""Bridges of slit folds: bent by hand, strong enough to hold, clear of holes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.build.catalogue import material
from halfshaft.build.schema import Sheet, Shop
from halfshaft.fold.bridges import bridge_checks, plastic_moment_nmm, weld_runs, with_bridges
from halfshaft.fold.model import Fold, Panel
from tests.fold.builders import brake, hole, hung, plate, slit

STEEL = material("mild steel S275")
SHEET = Sheet.model_validate({"thickness": "5 mm"})
SHOP = Shop.model_validate({"lever": "600 mm", "hand_force": "250 N"})


def pair(length: float = 120.0, deep: float = 80.0, holes: tuple = ()) -> tuple[dict[str, Panel], Fold]:  # type: ignore[type-arg]
    web = plate("web", [(-60, 0), (0, 0), (0, length), (-60, length)], holes=holes)
    fold = slit("web", "ear", [(0, 0), (0, length)], [(0, 0), (0, length)], 90.0)
    ear = hung(plate("ear", [(0, 0), (deep, 0), (deep, length), (0, length)]), fold, web)
    return {"web": web, "ear": ear}, fold


def test_plastic_moment_of_a_rectangle() -> None:
    # EN 1993-1-1:2005, 6.2.5 (2): Mc = W_pl f_y, with W_pl = b h^2 / 4 = 40 x 10^2 / 4 = 1000 mm3; 235 MPa: 0.235 kNm
    assert plastic_moment_nmm(40.0, 10.0, 235.0) == pytest.approx(0.235e6)


def test_hand_force_is_the_bridges_plastic_moment_over_the_lever() -> None:
    panels, fold = pair()
    made = with_bridges(fold, SHEET, STEEL, SHOP, panels, (fold,))
    total = sum(b.end_mm - b.start_mm for b in made.bridges)
    # by hand: S275 275 / 410 MPa gives 342.5 MPa; two bridges of 7.5 mm: 342.5 x 15 x 25 / 4 = 32 109 N mm; / 600 mm
    assert total == pytest.approx(15.0)
    assert made.hand_force_n == pytest.approx(53.5, abs=0.1)
    assert made.weld_length_mm == pytest.approx(105.0)


def test_a_panel_deeper_than_the_lever_is_its_own_lever() -> None:
    panels, fold = pair(deep=900.0)
    near, far = (with_bridges(fold, SHEET, STEEL, SHOP, p, (fold,)) for p in (None, panels))
    widths = [sum(b.end_mm - b.start_mm for b in f.bridges) for f in (near, far)]
    assert far.hand_force_n / widths[1] == pytest.approx(near.hand_force_n / widths[0] * 600.0 / 900.0)


def test_thick_plate_gets_fewer_and_narrower_bridges_until_it_folds_by_hand() -> None:
    thick = Sheet.model_validate({"thickness": "10 mm"})
    fold = slit("web", "ear", [(0, 0), (0, 400)], [(0, 0), (0, 400)], 60.0, thickness=10.0)
    made = with_bridges(fold, thick, STEEL, SHOP)
    assert made.hand_force_n > SHOP.hand_force_n  # two bridges of one thickness: 342.5 x 20 x 100 / 4 / 600 = 285 N
    assert made.hand_force_n == pytest.approx(285.4, abs=0.1)
    panels, _ = pair()
    check = bridge_checks("front", (made,), panels, thick, STEEL, SHOP)[0]
    assert not check.ok
    assert "lever of 690 mm" in check.do  # 171 250 N mm / 250 N = 685 mm
    longer = Shop.model_validate({"lever": "690 mm", "hand_force": "250 N"})
    assert with_bridges(fold, thick, STEEL, longer).hand_force_n <= 250.0


def test_a_heavy_panel_gets_wider_bridges_and_holds_its_weight() -> None:
    panels, fold = pair(length=600.0, deep=1800.0)
    made = with_bridges(fold, SHEET, STEEL, SHOP, panels, (fold,))
    width = sum(b.end_mm - b.start_mm for b in made.bridges)
    # by hand: 0.6 x 1.8 x 0.005 m3 x 7850 = 42.4 kg at 0.9 m: 374 N m; five times 1871 N m over 275 x 25 / 6 N mm / mm
    needed = 5.0 * 0.6 * 1.8 * 0.005 * 7850 * 9.80665 * 900.0 / (275.0 * 25.0 / 6.0)
    assert needed > 600.0  # more than the whole line
    checks = bridge_checks("front", (made,), panels, SHEET, STEEL, SHOP)
    holds = next(c for c in checks if "hanging weight" in c.title)
    assert not holds.ok
    assert holds.found == pytest.approx(5.0 * width / needed, rel=0.01)


def test_a_light_panel_holds_itself() -> None:
    panels, fold = pair()
    made = with_bridges(fold, SHEET, STEEL, SHOP, panels, (fold,))
    assert all(c.ok for c in bridge_checks("front", (made,), panels, SHEET, STEEL, SHOP))


def test_bridges_keep_clear_of_a_hole_by_the_fold() -> None:
    panels, fold = pair(holes=(hole("A", -8.0, 30.0),))  # where the first of two bridges would stand
    made = with_bridges(fold, SHEET, STEEL, SHOP, panels, (fold,))
    assert len(made.bridges) == 2
    for bridge in made.bridges:
        near = max(bridge.start_mm - 30.0, 30.0 - bridge.end_mm, 0.0)
        assert near >= 13.5 / 2.0 + 5.0 - 1e-9


def test_no_room_for_a_bridge_stops_the_work() -> None:
    panels, fold = pair(length=40.0, holes=(hole("A", -8.0, 20.0, 30.0),))
    made = with_bridges(fold, SHEET, STEEL, SHOP, panels, (fold,))
    assert made.bridges == ()
    (check,) = bridge_checks("front", (made,), panels, SHEET, STEEL, SHOP)
    assert not check.ok
    assert check.severity == "stop"


def test_a_brake_bend_is_left_alone_and_said_to_want_a_press_brake() -> None:
    panels, _ = pair()
    bend = brake("web", "ear", [(0, 0), (0, 120)], [(0, 0), (0, 120)], 90.0)
    assert with_bridges(bend, SHEET, STEEL, SHOP, panels, (bend,)) is bend
    (check,) = bridge_checks("front", (bend,), panels, SHEET, STEEL, SHOP)
    assert "press brake" in check.do
    assert check.severity == "caution"


@given(
    length=st.floats(30.0, 900.0),
    thickness=st.floats(2.0, 12.0),
    lever=st.floats(200.0, 1500.0),
    spot=st.floats(0.0, 1.0),
    big=st.floats(6.0, 30.0),
)
def test_bridges_and_weld_runs_make_up_the_line_without_overlap(
    length: float, thickness: float, lever: float, spot: float, big: float
) -> None:
    panels, fold = pair(length=length, holes=(hole("A", -6.0, spot * length, big),))
    sheet = Sheet(thickness_mm=thickness)
    shop = Shop(lever_mm=lever)
    made = with_bridges(fold, sheet, STEEL, shop, panels, (fold,))
    ends = [e for b in made.bridges for e in (b.start_mm, b.end_mm)]
    assert ends == sorted(ends)
    assert all(-1e-9 <= e <= length + 1e-9 for e in ends)
    widths = [b.end_mm - b.start_mm for b in made.bridges]
    runs = weld_runs((made,))
    assert sum(run.length_mm for run in runs) + sum(widths) == pytest.approx(length)
    assert made.weld_length_mm == pytest.approx(length - sum(widths))
    assert all(w >= thickness - 1e-9 or w >= length / 2.0 for w in widths)
    clear = big / 2.0 + thickness
    for bridge in made.bridges:
        away = max(bridge.start_mm - spot * length, spot * length - bridge.end_mm, 0.0)
        assert big / 2.0 + thickness <= 6.0 or away >= clear - 1e-6
