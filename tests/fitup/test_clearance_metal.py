"""Metal that a place costs: against volumes and sections worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.fitup.metal import cut, estimate, grown, line_of, metal_of
from halfshaft.fitup.model import Fixed, Piece
from halfshaft.fitup.screen import probe
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box, moved, union, without
from halfshaft.geometry.pose import turn

LINE = np.array([[-500.0, 0.0, 0.0], [500.0, 0.0, 0.0]])
LOW, HIGH = np.full(3, -700.0), np.full(3, 700.0)


def rail() -> Fixed:
    """A box section 60 x 80 x 3 along x, open at its ends."""
    metal = without(box([-500, -30, -40], [500, 30, 40]), box([-501, -27, -37], [501, 27, 37]))
    return Fixed("rail", "member", metal, 5.0)


def test_a_block_through_the_top_of_a_box_section_takes_what_the_hand_reckons() -> None:
    # block 110 long from y = 8 outward and z = 19 upward: top wall 3 x 22, web 3 x 18, over 110 mm
    block = box([-55.0, 8.0, 19.0], [55.0, 100.0, 100.0])
    found = cut("rail", rail().solid, LINE, [block])
    assert found.removed_mm3 == pytest.approx(110.0 * (3 * 22 + 3 * 18))
    whole = 60 * 80 - 54 * 74
    assert found.section_lost == pytest.approx((3 * 22 + 3 * 18) / whole)


def test_a_slanted_cut_is_judged_at_its_worst_section() -> None:
    bar = box([-200.0, -10.0, -20.0], [200.0, 10.0, 20.0])
    wedge = moved(
        box([0.0, -50.0, 0.0], [400.0, 50.0, 100.0]),
        Pose(turn([0.0, np.radians(45.0), 0.0]), np.array([0.0, 0.0, 10.0])),
    )
    # the box turned nose down: its edge along y stands at z = 10 over x = 0, its under side falls at 45 degrees,
    # its back rises at 45 degrees: of 40 mm height 30 are gone where the under side has fallen 20, and all past 30
    found = cut("bar", bar, np.array([[-200.0, 0.0, 0.0], [200.0, 0.0, 0.0]]), [wedge])
    assert found.section_lost == pytest.approx(1.0)
    shallow = cut(
        "bar", bar, np.array([[-200.0, 0.0, 0.0], [200.0, 0.0, 0.0]]), [box([20.0, -50.0, 5.0], [60.0, 2.0, 50.0])]
    )
    assert shallow.section_lost == pytest.approx(12.0 * 15.0 / 800.0)
    assert shallow.removed_mm3 == pytest.approx(40.0 * 12.0 * 15.0)


def test_a_bent_member_is_judged_square_to_its_own_run() -> None:
    # a bar along x, then up along z: a notch in the upright, 12 of its 20 mm, over 30 mm of height
    bent = union([box([-300, -10, -10], [10, 10, 10]), box([-10, -10, -10], [10, 10, 300])])
    line = np.array([[-300.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 300.0]])
    found = cut("bent", bent, line, [box([-2.0, -20.0, 150.0], [40.0, 20.0, 180.0])])
    assert found.section_lost == pytest.approx(12.0 / 20.0)
    assert found.removed_mm3 == pytest.approx(12.0 * 20.0 * 30.0)


def test_nothing_taken_is_no_loss() -> None:
    found = cut("rail", rail().solid, LINE, [box([600, 0, 0], [700, 10, 10])])
    assert (found.removed_mm3, found.section_lost) == (0.0, 0.0)


def test_a_box_grows_by_the_sum_of_steiner() -> None:
    # Steiner's formula for a convex body: V + A r + pi r^2 (a + b + c) + 4/3 pi r^3
    a, b, c, r = 300.0, 200.0, 100.0, 8.0
    hand = a * b * c + 2 * (a * b + b * c + c * a) * r + np.pi * r**2 * (a + b + c) + 4 / 3 * np.pi * r**3
    out = grown(box([0, 0, 0], [a, b, c]), r)
    assert out.volume_mm3 == pytest.approx(hand, rel=1e-3)
    np.testing.assert_allclose(out.bounds_mm[0], -r, atol=1e-6)


def test_a_hollow_piece_keeps_its_hollow_when_it_grows() -> None:
    # two legs 60 apart: grown by 10 a gap of 40 is left
    legs = union([box([0, 0, 0], [100, 20, 100]), box([0, 80, 0], [100, 100, 100]), box([0, 0, 0], [100, 100, 20])])
    out = grown(legs, 10.0)
    between = box([40.0, 31.0, 45.0], [60.0, 69.0, 90.0])
    assert without(between, out).volume_mm3 == pytest.approx(between.volume_mm3)
    assert without(legs, out).volume_mm3 == pytest.approx(0.0, abs=1.0)


def test_the_estimate_stands_by_the_exact_loss_over_many_poses() -> None:
    fixed, block = rail(), box([-50, -40, -30], [50, 40, 30])
    metal = metal_of([fixed], {}, LOW, HIGH)
    assert metal.weight_mm3.sum() == pytest.approx(fixed.solid.volume_mm3)
    unit = probe([Piece("block", block)], points=300, grow_mm=20.0)
    rng = np.random.default_rng(0)
    turns = np.array([turn(np.radians(rng.uniform(-20, 20, 3))) for _ in range(40)])
    shifts = np.array([[0.0, 45.0, 60.0]]) + rng.uniform(-15.0, 15.0, (40, 3))
    volume, share, _ = estimate(metal, unit, turns, shifts)
    big = grown(block, fixed.clearance_mm)
    exact = [
        cut("rail", fixed.solid, line_of(fixed, {}), [moved(big, Pose(r, t))])
        for r, t in zip(turns, shifts, strict=True)
    ]
    removed = np.array([c.removed_mm3 for c in exact])
    assert np.abs(volume[:, 0] - removed).max() < 0.1 * removed.max()
    assert np.abs(volume[:, 0] - removed).mean() < 0.03 * removed.mean()
    assert np.abs(share[:, 0] - [c.section_lost for c in exact]).max() < 0.08


def test_a_member_without_a_line_is_looked_at_along_its_longest_direction() -> None:
    line = line_of(rail(), {})
    assert abs((line[1] - line[0])[0]) == pytest.approx(1000.0, rel=1e-6)
