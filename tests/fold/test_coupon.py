"""The test coupon and the depth it gives, against slabs turned corner by corner."""

from __future__ import annotations

import cmath
from math import radians

import numpy as np
import pytest
from shapely.geometry import LineString, MultiPoint, Polygon

from halfshaft.build.schema import Sheet, Shop
from halfshaft.fold.coupon import HEADER, CouponRow, coupon, pivot_from_coupon, read_table

SHEET = Sheet.model_validate({"thickness": "5 mm"})
SHOP = Shop()


def folded(
    depth: float, leg: float, base: float, angle: float, t: float = 5.0, slit: float = 1.5
) -> tuple[float, float]:
    """Height and reach of two slabs in section, one turned about a line `depth` under the inside face.

    The base lies on y = 0 with its inside up, its slit's middle at x = 0; complex numbers turn the tongue.
    """
    pivot = complex(0.0, t - depth)
    corners = [complex(x, y) for x in (slit / 2.0, leg) for y in (0.0, t)]
    turned = [pivot + (z - pivot) * cmath.exp(1j * radians(angle)) for z in corners]
    return max(z.imag for z in turned), max(z.real for z in turned) + base


def rows_of(depth: float, angles: list[float], noise: np.random.Generator | None = None) -> list[CouponRow]:
    rows = []
    for i, angle in enumerate(angles):
        height, reach = folded(depth, 59.6, 60.3, angle)
        off = noise.normal(size=3) * [0.15, 0.15, 0.5] if noise else np.zeros(3)
        told = reach + off[1] if angle <= 90.0 else None
        rows.append(CouponRow(f"plate.{i + 1}", 5.0, 59.6, 60.3, angle + off[2], height + off[0], told))
    return rows


@pytest.mark.parametrize("depth", [0.3, 0.75, 1.4, 2.5])
@pytest.mark.parametrize("angles", [[90.0], [60.0, 90.0], [45.0, 75.0, 88.0], [110.0, 90.0]])
def test_depth_is_found_from_exact_readings(depth: float, angles: list[float]) -> None:
    found = pivot_from_coupon(rows_of(depth, angles), SHEET)
    assert found.value_mm == pytest.approx(depth, abs=1e-6)
    assert [each for _, _, each in found.each_mm] == pytest.approx([depth] * len(angles), abs=1e-6)
    assert found.words == ()


def test_the_spread_that_is_told_is_the_spread_that_happens() -> None:
    rng = np.random.default_rng(11)
    found = [pivot_from_coupon(rows_of(1.2, [90.0, 90.0, 60.0], rng), SHEET) for _ in range(300)]
    scatter = float(np.std([one.value_mm for one in found]))
    # the told spread never shrinks below what the readings are good for, so it may only be a little too large
    assert 0.85 * scatter < float(np.mean([one.spread_mm for one in found])) < 1.5 * scatter
    assert float(np.mean([one.value_mm for one in found])) == pytest.approx(1.2, abs=0.03)


def test_a_fold_that_disagrees_is_named() -> None:
    rows = rows_of(1.2, [90.0, 90.0, 60.0])
    assert rows[1].height_mm is not None
    wrong = CouponRow(rows[1].fold, 5.0, 59.6, 60.3, 90.0, rows[1].height_mm - 1.5, rows[1].reach_mm)
    found = pivot_from_coupon([rows[0], wrong, rows[2]], SHEET)
    assert "plate.2" in " ".join(found.words)


def test_a_depth_past_the_middle_of_the_plate_is_doubted() -> None:
    found = pivot_from_coupon(rows_of(3.4, [90.0, 90.0]), SHEET)
    assert "mid-thickness" in found.words[0]


def test_rows_that_cannot_be_are_refused_all_at_once() -> None:
    bad = [
        CouponRow("plate.1", 5.0, 60.0, 60.0, 90.0),
        CouponRow("plate.2", 8.0, 60.0, 60.0, 5.0, 60.0),
    ]
    with pytest.raises(ValueError, match=r"(?s)plate\.1.*height_mm.*plate\.2: angle.*plate\.2: thickness"):
        pivot_from_coupon(bad, SHEET)
    with pytest.raises(ValueError, match="no folded tongue"):
        pivot_from_coupon([], SHEET)


def test_the_table_that_is_handed_out_reads_back_when_filled() -> None:
    made = coupon("plate", SHEET, SHOP)
    assert read_table(made.table) == ()  # nothing folded yet
    height, reach = folded(1.1, 60.0, 60.0, 90.0)
    lines = made.table.splitlines()
    lines[-3] = f"plate.1, 5.02, 60, 60, 90, {height:.3f}, {reach:.3f}  # first"
    (row,) = read_table("\n".join(lines))
    assert row.fold == "plate.1"
    assert row.thickness_mm == 5.02
    assert pivot_from_coupon([row], SHEET).value_mm == pytest.approx(1.1, abs=0.03)


def test_faults_in_the_table_are_told_with_line_and_what_to_write() -> None:
    text = ",".join(HEADER) + "\nplate.1,5,60,60,abc,64,\nplate.2,5,60\nplate.3,5,60,60,90,,\n"
    with pytest.raises(
        ValueError, match=r"(?s)line 2: found 'abc' for angle_deg.*line 3: 3 found of 7.*line 4: neither"
    ):
        read_table(text)


def test_the_coupon_is_one_piece_with_slits_bridges_and_a_ladder_in_the_metal() -> None:
    made = coupon("plate", SHEET, SHOP, (90.0, 75.0, 60.0))
    metal = Polygon(made.part.outline.flattened_mm())
    assert metal.is_valid
    assert made.part.outline.area_mm2 > 0.0  # counter-clockwise
    # base 150 x 60 and three tongues 40 x 60, less two gaps 15 wide, one thickness deep into the base
    assert metal.area == pytest.approx(150 * 60 + 3 * 40 * 60 - 2 * 15 * 5)
    slit_length = sum(float(np.linalg.norm(s[1] - s[0])) for s in made.part.slits_mm)
    bridge_length = sum(b.end_mm - b.start_mm for fold in made.folds for b in fold.bridges)
    assert slit_length + bridge_length == pytest.approx(3 * 40.0)
    assert all(len(fold.bridges) >= 1 for fold in made.folds)
    for mark in made.part.marks:
        for stroke in mark.strokes_mm:
            assert metal.buffer(1e-9).covers(MultiPoint(stroke))
    assert [fold.angle_deg for fold in made.folds] == [90.0, 75.0, 60.0]


@pytest.mark.parametrize("name", ["plate", "a sheet with a long name"])
def test_letters_and_ticks_of_the_coupon_keep_clear_of_each_other(name: str) -> None:
    marks = coupon(name, SHEET, SHOP, (90.0, 90.0, 60.0)).part.marks
    letters = [MultiPoint(np.vstack(mark.strokes_mm)).envelope for mark in marks if mark.text]
    ticks = [LineString(stroke) for mark in marks if not mark.text for stroke in mark.strokes_mm]
    assert len(ticks) > 40
    assert min(tick.distance(box) for tick in ticks for box in letters) >= 1.5


def test_angles_that_show_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="between 30 and 120"):
        coupon("plate", SHEET, SHOP, (10.0,))
