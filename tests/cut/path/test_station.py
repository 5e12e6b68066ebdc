"""Paths of a build's sheets: marks, holes to drill, tabs, checks, files, and the view that plays them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from halfshaft.bench.path_view import view_of_path
from halfshaft.build.cutter import CutSettingInput, CutterInput, PriceInput
from halfshaft.build.schema import Shop
from halfshaft.checks import Severity
from halfshaft.cut.layers import Disc, Figure, Path, figures_of
from halfshaft.cut.path.gcode import code_text
from halfshaft.cut.path.model import OnSheet, SheetPath, Stock
from halfshaft.cut.path.sheet import sheet_path
from halfshaft.geometry import Contour
from tests.cut.parts import plate
from tests.cut.path import shop_floor
from tests.cut.path.random_parts import moved
from tests.cut.path.rs274 import Step, run

SHEET = shapely.box(0.0, 0.0, 400.0, 260.0)


def figures(x: float = 30.0, y: float = 30.0, part=None) -> tuple[Figure, ...]:
    return tuple(moved(f, 0.0, np.array([x, y])) for f in figures_of(part or plate(), 1.5))


def path(*parts: tuple[Figure, ...], sheet=SHEET, no_go=(), shop: Shop | None = None, thick: float = 3.0, **more):
    told = CutterInput(**more)
    stock = Stock("S1", sheet, thick, "mild steel S275", tuple(no_go))
    own = [OnSheet(f"P{n}", part) for n, part in enumerate(parts or (figures(),))]
    return sheet_path(stock, own, shop or Shop(kerf=1.5), told)


def steps_of(found: SheetPath) -> list[Step]:
    text = code_text(found.cuts, found.setup, CutterInput().code, "metric", np.zeros(2))
    return run(text, found.setup.rapid_mm_min)


def titles(found: SheetPath) -> list[str]:
    return [check.title for check in found.checks if not check.ok]


def test_a_plain_plate_is_cut_without_anything_to_settle() -> None:
    found = path()
    assert titles(found) == []
    assert [cut.kind for cut in found.cuts][-1] == "outline"
    assert sorted({cut.kind for cut in found.cuts}) == ["bore", "opening", "outline", "slit"]


def test_outlines_run_clockwise_and_holes_the_other_way_so_that_the_square_edge_is_the_part() -> None:
    for side, sign in (("right", -1.0), ("left", 1.0)):
        for cut in path(good_side=side).cuts:
            if cut.kind == "outline":
                assert np.sign(cut.path.area_mm2) == sign
            elif cut.kind in ("bore", "opening"):
                assert np.sign(cut.path.area_mm2) == -sign


def test_small_holes_are_cut_slower_and_the_smallest_left_to_the_drill() -> None:
    tiny = Figure("bore", Disc(np.array([220.0, 150.0]), 2.0))
    found = path((tiny, *figures()), thick=6.0)
    slow = {cut.feed_mm_min for cut in found.cuts if cut.kind == "bore"}
    # 13.5 mm is under five times 6 mm: 60 % of the feed
    assert sorted(slow) == pytest.approx([0.6 * found.setup.feed_mm_min])
    assert found.drill == (("P0", (220.0, 150.0), 4.0),)
    assert any("too small for the cutter" in title for title in titles(found))
    assert not any(shapely.Point(220, 150).distance(burn.line) < 4 for burn in shop_floor.burns(steps_of(found)))


def test_marker_goes_first_and_marks_names_and_the_centres_to_drill() -> None:
    tiny = Figure("bore", Disc(np.array([220.0, 150.0]), 2.0))
    found = path((tiny, *figures()), marker=True)
    kinds = [cut.kind for cut in found.cuts]
    assert set(kinds[: kinds.count("mark") + kinds.count("spot")]) == {"mark", "spot"}
    steps = steps_of(found)
    marked = [step for step in steps if step.marker and step.length]
    assert max(step.line for step in marked) < min(step.line for step in steps if step.on)
    crossing = [s for s in marked if shapely.LineString(s.points()).distance(shapely.Point(220, 150)) < 1e-3]
    assert len(crossing) == 2
    flat = sum(np.hypot(step.end[0] - step.start[0], step.end[1] - step.start[1]) for step in marked)
    assert flat == pytest.approx(found.estimate.mark_mm, abs=0.01)
    assert sum(step.seconds for step in steps) == pytest.approx(found.estimate.seconds, rel=1e-3)


def test_strokes_that_meet_are_one_mark_either_way_round() -> None:
    strokes = [[[0, 0], [5, 0]], [[5, 5], [5, 0]], [[9, 9], [0, 0]], [[20, 20], [30, 20]]]
    marks = [Figure("mark", Path(np.array(line, float) + np.array([60.0, 60.0]))) for line in strokes]
    square = Figure("cut", Contour.of_points([[40, 40], [150, 40], [150, 150], [40, 150]]))
    runs = [cut for cut in path((*marks, square), marker=True).cuts if cut.kind == "mark"]
    assert sorted(round(run.path.length_mm, 6) for run in runs) == pytest.approx([10.0, 10.0 + np.hypot(9, 9)])


def test_tabs_hold_the_part_and_their_number_and_width_are_as_told() -> None:
    found = path(tabs=3, tab_width="2 mm")
    gone = shop_floor.swath(shop_floor.burns(steps_of(found)), 1.5)
    left = SHEET.difference(gone)
    spot = shapely.Point(30 + 60, 30 + 90)  # in the plate's web
    assert next(piece for piece in shapely.get_parts(left) if piece.contains(spot)).area > 0.6 * SHEET.area
    rim = shapely.Polygon(plate().outline.flattened_mm(0.01) + np.array([30.0, 30.0])).buffer(0.75).exterior
    tabs = shapely.get_parts(shapely.line_merge(rim.difference(gone)))
    assert [tab.length for tab in tabs if tab.length > 0.2] == pytest.approx([2.0] * 3, abs=0.1)


def test_every_lead_in_keeps_clear_of_corners() -> None:
    found = path()
    square = Figure("cut", Contour.of_points([[30, 30], [130, 30], [130, 90], [30, 90]]))
    for cut in (*path((square,), corner_clear="12 mm").cuts, *found.cuts):
        if cut.kind != "outline" or cut.part != "P0":
            continue
        assert cut.lead_in is not None
    outline = path((square,), corner_clear="12 mm").cuts[-1]
    corners = np.array([[30, 30], [130, 30], [130, 90], [30, 90]], float)
    assert np.linalg.norm(corners - outline.path.start_mm, axis=1).min() > 12.0


def test_a_part_too_near_the_edge_is_stopped_and_a_clamp_is_kept_off() -> None:
    assert "A cut runs off the sheet" in titles(path(figures(0.5, 30.0)))
    assert path(figures(0.5, 30.0)).stopped
    clamp = shapely.box(0.0, 100.0, 25.0, 140.0)
    found = path(no_go=[clamp])
    burns = shop_floor.burns(steps_of(found))
    assert all(burn.line.distance(clamp) >= 0.75 - 1e-3 for burn in burns)
    assert "A cut runs off the sheet" in titles(path(no_go=[shapely.box(0, 100, 40, 140)]))


def test_parts_nearer_than_the_kerf_stop_the_sheet() -> None:
    def square(x: float) -> tuple[Figure, ...]:
        return (Figure("cut", Contour.of_points([[x, 30], [x + 40, 30], [x + 40, 70], [x, 70]])),)

    assert "A cut takes metal of the part beside it" in titles(path(square(30), square(71.2)))
    assert not path(square(30), square(76)).stopped


def test_an_opening_narrower_than_the_kerf_is_left_out_and_told() -> None:
    narrow = Figure("cut", Contour.of_points([[90, 60], [90, 61.2], [110, 61.2], [110, 60]]))
    found = path((narrow, *figures()))
    told = [check for check in found.checks if check.title == "An opening is narrower than the kerf"]
    assert [check.severity for check in told] == [Severity.STOP]


def test_parts_so_near_that_no_lead_fits_are_told() -> None:
    a = Figure("cut", Contour.of_points([[30, 30], [60, 30], [60, 60], [30, 60]]))
    ring = [[20, 20], [70, 20], [70, 70], [20, 70]]
    hole = Figure("cut", Contour.of_points([[28, 62], [62, 62], [62, 28], [28, 28]]))
    found = path((a,), (hole, Figure("cut", Contour.of_points(ring))))
    assert "No room for a lead-in" in titles(found)


def test_a_part_within_an_opening_is_cut_out_first() -> None:
    small = Figure("cut", Contour.of_points([[80, 80], [110, 80], [110, 110], [80, 110]]))
    opening = Figure("cut", Contour.of_points([[60, 130], [130, 130], [130, 60], [60, 60]]))
    outer = Figure("cut", Contour.of_points([[40, 40], [150, 40], [150, 150], [40, 150]]))
    found = path((opening, outer), (small,))
    assert [(cut.part, cut.kind) for cut in found.cuts] == [("P1", "outline"), ("P0", "opening"), ("P0", "outline")]


def test_the_shops_own_row_goes_before_the_catalogue_and_prices_give_a_cost() -> None:
    own = CutSettingInput(thickness="3 mm", feed="3000 mm/min", pierce="0.5 s", pierce_height=4, cut_height=1.5)
    price = PriceInput(power_kwh=0.4, gas_m3=0.0, wear_set=20.0, hour=60.0)
    found = path(setting=(own,), price=price)
    told = found.estimate
    assert {cut.feed_mm_min for cut in found.cuts if not cut.slow} == {3000.0}
    assert told.wait_s == pytest.approx(0.5 * told.pierces)
    # by hand: kW and minutes of the torch, a set lasts 400 starts or 120 minutes
    minutes = told.torch_s / 60.0
    assert told.cost["power"] == pytest.approx(10.0 * minutes / 60.0 * 0.4)
    assert told.cost["electrode and nozzle"] == pytest.approx(20.0 * max(told.pierces / 400.0, minutes / 120.0))
    assert told.cost["time of the table"] == pytest.approx(told.seconds / 60.0)


def test_a_thickness_past_the_table_is_told() -> None:
    assert "No feed is known for this thickness" in titles(path(thick=60.0))
    assert "No feed is known for this thickness" not in titles(path(thick=6.35))


def test_the_player_shows_every_move_and_ends_with_the_estimate() -> None:
    found = path()
    view = view_of_path(found)
    assert view["seconds"] == pytest.approx(found.estimate.seconds, abs=0.01)
    assert len(view["cuts"]) == len(found.cuts)
    assert [cut["t"] for cut in view["cuts"]] == sorted(cut["t"] for cut in view["cuts"])
    lines = [step for step in view["steps"] if step["k"] in ("cut", "lead")]
    drawn = sum(float(np.linalg.norm(np.diff(np.reshape(s["p"], (-1, 2)), axis=0), axis=1).sum()) for s in lines)
    assert drawn == pytest.approx(found.estimate.cut_mm, rel=0.005)
    assert view["cuts"][-1]["words"] == f"{len(found.cuts)} of {len(found.cuts)}, outline of P0"


def test_the_same_sheet_gives_the_same_path() -> None:
    a, b = path(), path()
    assert code_text(a.cuts, a.setup, CutterInput().code, "metric", np.zeros(2)) == code_text(
        b.cuts, b.setup, CutterInput().code, "metric", np.zeros(2)
    )
    part = replace(plate(), name="other")
    assert [cut.kind for cut in path(figures(part=part)).cuts] == [cut.kind for cut in a.cuts]
