"""Marks read, lie on clear metal, and stay readable on the twin."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from halfshaft.fold.marks import marks_and_checks
from halfshaft.fold.model import FlatPart, Mark
from halfshaft.fold.slab import figure, fold_pose, hole_figure
from halfshaft.fold.strokes import strokes_of
from halfshaft.fold.twin import mirrored, mirrored_panels
from halfshaft.geometry.arcs import contours_of
from tests.fold.builders import hole, hung, plate, slit


def angle_part(height: float = 60.0, holes=None, turned: float = 0.0) -> tuple[FlatPart, dict, tuple]:
    holes = [hole("rail.RL3", 25, 25), hole("rail.RL4", 75, 25)] if holes is None else holes
    base = plate("rail", [(0, 0), (100, 0), (100, height), (0, height)], holes=holes)
    fold = slit("rail", "ear", [(100, height), (0, height)], [(100, 0), (0, 0)], 47.5)
    ear = hung(plate("ear", [(0, 0), (100, 0), (100, 40), (0, 40)]), fold, base)
    cosine, sine = np.cos(turned), np.sin(turned)
    turn = np.array([[cosine, -sine], [sine, cosine]])
    shape = Polygon(np.array([(0, 0), (100, 0), (100, height + 40), (0, height + 40)]) @ turn.T)
    flip = turn @ np.array([[1.0, 0.0], [0.0, 1.0]])
    line = np.array([[100.0, height], [0.0, height]]) @ turn.T
    slits = tuple(line[0] + np.array([[a], [b]]) * (line[1] - line[0]) for a, b in ((0.1, 0.4), (0.6, 0.9)))
    from dataclasses import replace

    bores = tuple(replace(h, centre_mm=turn @ h.centre_mm) for h in base.holes)
    part = FlatPart(
        "front_left", "plate", 5.0, contours_of(shape)[0][0], (), bores, slits, 2.0, {fold.name: line}, (),
        {"rail": (flip, np.zeros(2)), "ear": (turn, turn @ [0, height])},
    )  # fmt: skip
    return part, {"rail": base, "ear": ear}, (fold,)


def cuts_of(part: FlatPart):
    return shapely.union_all(
        [hole_figure(h) for h in part.bores] + [LineString(s).buffer(part.slit_width_mm / 2) for s in part.slits_mm]
    )


def assert_clear(part: FlatPart, marks: tuple[Mark, ...]) -> None:
    metal = part.outline.polygon().difference(cuts_of(part))
    for mark in marks:
        for stroke in mark.strokes_mm:
            assert metal.buffer(-0.4).contains(LineString(stroke)), mark.text


@settings(max_examples=12)
@given(st.floats(0, 6.28))
def test_marks_lie_on_clear_metal_however_the_part_is_turned(turned: float) -> None:
    part, panels, folds = angle_part(turned=turned)
    marks, checks = marks_and_checks(part, panels, folds, ["rail-ear"])
    assert_clear(part, marks)
    assert checks == ()
    assert {"front_left", "RL3", "RL4", "1 UP 47.5°", "plate 5"} <= {mark.text for mark in marks}


def test_no_two_texts_overlap() -> None:
    part, panels, folds = angle_part()
    marks, _ = marks_and_checks(part, panels, folds)
    hulls = [shapely.convex_hull(shapely.MultiLineString(list(m.strokes_mm))) for m in marks if m.text]
    for place, one in enumerate(hulls):
        assert not any(one.intersects(other) for other in hulls[place + 1 :])


def test_the_fold_mark_stands_beside_its_fold_along_it() -> None:
    part, panels, folds = angle_part(turned=0.6)
    marks, _ = marks_and_checks(part, panels, folds)
    (text,) = [mark for mark in marks if mark.text == "UP 47.5°"]
    spots = np.vstack(text.strokes_mm)
    line = LineString(part.fold_lines_mm["rail-ear"])
    assert max(line.distance(Point(p)) for p in spots) < 25
    wide = np.linalg.svd(spots - spots.mean(axis=0))[2][0]
    assert abs(wide @ [np.cos(0.6), np.sin(0.6)]) > 0.95


def test_match_ticks_of_both_panels_meet_when_folded() -> None:
    part, panels, folds = angle_part()
    marks, _ = marks_and_checks(part, panels, folds)
    ticks = next(
        mark
        for mark in marks
        if not mark.text and len(mark.strokes_mm) == 2 and all(len(s) == 2 for s in mark.strokes_mm)
    )
    on_ear = [s - [0, 60] for s in ticks.strokes_mm if s[:, 1].min() > 60]
    on_rail = [s for s in ticks.strokes_mm if s[:, 1].max() < 60]
    pose = fold_pose(folds[0], 5.0, figure(panels["rail"]))
    foot_ear = pose.apply(np.append(on_ear[0][0], 5.0))
    assert foot_ear[0] == pytest.approx(on_rail[0][0][0], abs=1e-9)  # same place along the fold
    assert np.linalg.norm(foot_ear - np.append(on_rail[0][0], 5.0)) < 6.0


def test_a_part_too_small_for_letters_says_what_was_left_out() -> None:
    part, panels, folds = angle_part(height=30.0, holes=[hole("rail.A_VERY_LONG_HOLE_NAME_INDEED", 50, 14)])
    marks, checks = marks_and_checks(part, panels, folds)
    assert_clear(part, marks)
    assert any("A_VERY_LONG" in check.do for check in checks)


def test_capitals_are_as_high_as_asked_and_start_on_the_line() -> None:
    strokes, width = strokes_of("HALF", 10.0)
    spots = np.vstack(strokes)
    assert spots[:, 1].min() == pytest.approx(0.0)
    assert spots[:, 1].max() == pytest.approx(10.0)
    assert spots[:, 0].min() >= 0
    assert spots[:, 0].max() <= width


def test_letters_that_the_font_lacks_do_not_break_a_mark() -> None:
    assert strokes_of("träger é 47.5° \U0001f527", 5.0)[0]
    with pytest.raises(ValueError, match="text"):
        strokes_of("  ", 5.0)


@settings(max_examples=12)
@given(st.floats(0, 6.28))
def test_the_twin_is_the_mirror_image_with_readable_letters(turned: float) -> None:
    from dataclasses import replace

    part, panels, folds = angle_part(turned=turned)
    marks, _ = marks_and_checks(part, panels, folds)
    part = replace(part, marks=marks)
    twin = mirrored(part, {"car.rail.RL3": "car.rail.RR3", "RL3": "RR3", "RL4": "RR4"})
    assert twin.name == "front_left.twin"
    assert twin.outline.area_mm2 == pytest.approx(part.outline.area_mm2)  # still counter-clockwise
    assert_clear(twin, twin.marks)
    texts = {mark.text for mark in twin.marks}
    assert {"front_left.twin", "RR3", "UP 47.5°"} <= texts
    for mark in twin.marks:
        if mark.text:
            plain = np.vstack(strokes_of(mark.text, 1.0)[0])
            spots = np.vstack(mark.strokes_mm)
            a, b = plain - plain.mean(axis=0), spots - spots.mean(axis=0)
            # a turned copy, not a mirrored one: the best linear map between them has a positive determinant
            assert np.linalg.det(np.linalg.lstsq(a, b, rcond=None)[0]) > 0


def test_the_twins_panels_are_the_mirror_image_across_the_middle_of_the_car() -> None:
    _, panels, folds = angle_part()
    twin, turned = mirrored_panels(panels, folds)
    for name, panel in panels.items():
        spots = np.column_stack([panel.outline.points_mm, np.full(len(panel.outline.points_mm), 5.0)])
        other = twin[name]
        again = other.pose.apply(np.column_stack([spots[:, :2] * [-1, 1], spots[:, 2]]))
        assert again == pytest.approx(panel.pose.apply(spots) * [1, -1, 1])
        assert np.linalg.det(other.pose.rotation) == pytest.approx(1.0)
        assert other.outline.area_mm2 == pytest.approx(panel.outline.area_mm2)
    # folding the mirrored flat the same way up gives the mirrored pose
    again = twin["rail"].pose.after(fold_pose(turned[0], 5.0, figure(twin["rail"])))
    assert again.rotation == pytest.approx(twin["ear"].pose.rotation, abs=1e-12)
    assert again.shift_mm == pytest.approx(twin["ear"].pose.shift_mm, abs=1e-9)


def test_twice_mirrored_is_the_part_again() -> None:
    part, _, _ = angle_part(turned=0.3)
    again = mirrored(mirrored(part))
    assert again.outline.polygon().symmetric_difference(part.outline.polygon()).area < 1e-9
    assert again.mirrored == part.mirrored


@pytest.mark.parametrize("renamed", [None, {}, {"car.RL3": "car.RR3"}])
def test_a_twin_is_made_where_no_mark_reads_anything_that_changes(renamed: dict[str, str] | None) -> None:
    from dataclasses import replace

    part, panels, folds = angle_part()
    marks = [mark for mark in marks_and_checks(part, panels, folds)[0] if mark.text in ("RL4", "UP 47.5°", "")]
    for some in ([], marks, [Mark(tuple(strokes_of("I", 5.0)[0]), "I")]):
        twin = mirrored(replace(part, marks=tuple(some)), renamed)
        assert [mark.text for mark in twin.marks] == [mark.text for mark in some]
        before = sum(shapely.length(LineString(s)) for mark in some for s in mark.strokes_mm)
        after = sum(shapely.length(LineString(s)) for mark in twin.marks for s in mark.strokes_mm)
        assert after == pytest.approx(before)
