"""Counting and fatigue against the standards' own examples and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.catalogue.mounts import DutyRow
from halfshaft.checks import Severity
from halfshaft.mounts.duty import CASES, assumed, ranges
from halfshaft.mounts.fatigue import Curve, curve_of, fatigue_checks, life, weld_ranges
from halfshaft.mounts.rainflow import rainflow, rainflow_repeated, spectrum, turning_points
from halfshaft.mounts.weld_group import ThroatStress

# ASTM E1049-85, figure 6: the history and its count, range: cycles (figures as in the tests of a public
# implementation, read there)
ASTM = [-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]
ASTM_COUNT = {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}
# the same standard, figure 7: a repeating history counted whole: 3: 1 (wrap), 4: 1, 7: 1, 9: 1 (from memory)
ASTM_REPEATED = {3.0: 1.0, 4.0: 1.0, 7.0: 1.0, 9.0: 1.0}


def test_the_example_of_the_counting_standard() -> None:
    assert dict(spectrum(rainflow(ASTM))) == ASTM_COUNT


def test_the_example_counted_as_it_repeats() -> None:
    assert dict(spectrum(rainflow_repeated(ASTM))) == ASTM_REPEATED


def test_means_of_the_example() -> None:
    # figure 6 by eye: -2 to 1 about -0.5; 1 to -3 about -1; -1 to 3 about 1; 5 to -4 about 0.5
    counted = {(size, count): mean for size, mean, count in rainflow(ASTM)}
    assert counted[(3.0, 0.5)] == -0.5
    assert counted[(4.0, 1.0)] == 1.0
    assert counted[(9.0, 0.5)] == 0.5


histories = st.lists(st.integers(-20, 20).map(float), min_size=2, max_size=60)


@given(history=histories)
def test_counted_halves_are_the_travel_of_the_history(history: list[float]) -> None:
    # each cycle is its range up and down once: the sum of 2 x range x count is the whole travel
    counted = rainflow(history)
    travel = float(np.abs(np.diff(history)).sum())
    assert float((2.0 * counted[:, 0] * counted[:, 2]).sum()) == pytest.approx(travel)
    points = turning_points(history)
    if len(points) > 1:
        assert counted[:, 0].max() == np.ptp(history)


@given(history=histories, turn=st.integers(0, 59))
def test_a_repeating_history_counts_alike_wherever_it_begins(history: list[float], turn: int) -> None:
    at = turn % len(history)
    assert spectrum(rainflow_repeated(history)) == spectrum(rainflow_repeated(history[at:] + history[:at]))


@given(history=histories)
def test_a_repeating_history_counts_its_travel_round(history: list[float]) -> None:
    counted = rainflow_repeated(history)
    travel = float(np.abs(np.diff([*history, history[0]])).sum())
    assert float((2.0 * counted[:, 0] * counted[:, 2]).sum()) == pytest.approx(travel)


def test_short_and_level_histories_count_nothing() -> None:
    assert len(rainflow([])) == 0
    assert len(rainflow([1.0])) == 0
    assert len(rainflow([2.0, 2.0, 2.0])) == 0
    assert len(rainflow_repeated([2.0, 2.0])) == 0
    with pytest.raises(ValueError, match="numbers"):
        rainflow([1.0, math.nan])


# EN 1993-1-9:2005, figure 7.1 with table of limits, detail categories 160, 90, 71, 36: knee 117, 66, 52, 26; cut-off
# 64, 36, 29, 14; figure 7.2: shear 100 and 80 cut off at 46 and 36 (from memory)
@pytest.mark.parametrize(("category", "knee", "cut_off"), [(160, 117, 64), (90, 66, 36), (71, 52, 29), (36, 26, 14)])
def test_curves_have_the_limits_of_the_standard(category: float, knee: float, cut_off: float) -> None:
    curve = Curve(category, shear=False)
    assert curve.knee_mpa == pytest.approx(knee, abs=1.0)
    assert curve.cut_off_mpa == pytest.approx(cut_off, abs=1.0)


@pytest.mark.parametrize(("category", "cut_off"), [(100, 46), (80, 36)])
def test_shear_curves_have_the_limits_of_the_standard(category: float, cut_off: float) -> None:
    assert Curve(category, shear=True).cut_off_mpa == pytest.approx(cut_off, abs=1.0)


@given(category=st.floats(30.0, 160.0), shear=st.booleans())
def test_curves_pass_their_corners(category: float, shear: bool) -> None:
    curve = Curve(category, shear)
    assert curve.cycles(category) == pytest.approx(2e6)
    assert curve.cycles(curve.cut_off_mpa * (1 + 1e-9)) == pytest.approx(1e8, rel=1e-6)
    assert curve.cycles(curve.cut_off_mpa) == math.inf
    assert curve.cycles(2.0 * category) == pytest.approx(2e6 / (32.0 if shear else 8.0))
    if not shear:
        assert curve.cycles(curve.knee_mpa) == pytest.approx(5e6)
        assert curve.cycles(curve.knee_mpa, constant=True) == math.inf


def test_a_spectrum_summed_by_hand() -> None:
    # category 71 without factor: 142 MPa lasts 2e6 / 8 = 250,000; 71 MPa 2,000,000; 40 MPa, under the knee of 52.3:
    # 5e6 (52.33 / 40)^5 = 19.16e6; 20 MPa under the cut-off of 28.7: for ever
    found = life(Curve(71.0, shear=False), [(142.0, 25e3), (71.0, 400e3), (40.0, 1.916e6), (20.0, 1e9)])
    assert found.damage == pytest.approx(0.1 + 0.2 + 0.1, rel=1e-3)
    assert found.passes == pytest.approx(2.5, rel=1e-3)
    assert found.equivalent_mpa == pytest.approx(71.0 * 0.4 ** (1.0 / 3.0), rel=1e-3)


@given(category=st.floats(36.0, 160.0), size=st.floats(10.0, 300.0), count=st.floats(1.0, 1e7))
def test_the_equivalent_range_does_the_same_damage(category: float, size: float, count: float) -> None:
    curve = Curve(category, shear=False)
    found = life(curve, [(size, count)])
    if found.equivalent_mpa > curve.knee_mpa:
        assert life(curve, [(found.equivalent_mpa, 2e6)]).damage == pytest.approx(found.damage)


@given(swings=st.lists(st.tuples(st.floats(0.0, 300.0), st.floats(0.0, 1e6)), max_size=8), worse=st.floats(1.0, 3.0))
def test_greater_ranges_never_harm_less(swings: list[tuple[float, float]], worse: float) -> None:
    curve = Curve(71.0, shear=False)
    one, two = life(curve, swings), life(curve, [(worse * s, n) for s, n in swings])
    assert two.damage >= one.damage * (1 - 1e-12)


def test_the_factor_of_a_safe_part_divides_the_category() -> None:
    # EN 1993-1-9:2005 table 3.1: 1.35 for safe life with grave consequence
    assert curve_of(rows.detail("fillet, root")).at_2e6_mpa == pytest.approx(36.0 / 1.35)
    # 7.2.2: 50 mm plate, (25 / 50)^0.2 = 0.87
    assert curve_of(rows.detail("fillet, root"), thickness_mm=50.0).at_2e6_mpa == pytest.approx(
        36.0 / 1.35 * 0.8706, rel=1e-4
    )


def test_ranges_on_a_throat_come_from_the_difference_of_states() -> None:
    low, high = ThroatStress(0, "start", -30.0, 10.0, 20.0), ThroatStress(0, "start", 0.0, -30.0, -15.0)
    assert weld_ranges(low, high) == (50.0, 35.0)


def test_a_weld_worked_too_hard_is_caught_and_the_cut_told_saves_it() -> None:
    detail = rows.detail("tee, toe")
    swings = [(120.0, 3e5), (60.0, 2e6)]
    bad = fatigue_checks("bracket, fold 2", detail, swings)[0]
    assert not bad.ok
    assert bad.severity is Severity.STOP
    share = float(bad.do.split("stress to ")[1].split(" %")[0]) / 100.0
    assert fatigue_checks("bracket, fold 2", detail, [(share * 0.995 * s, n) for s, n in swings])[0].ok


def test_shear_and_direct_damage_are_added() -> None:
    direct, along = rows.detail("fillet, root"), rows.detail("fillet, shear")
    both = fatigue_checks("w", direct, [(40.0, 2e5)], shear=(along, [(70.0, 5e5)]))[0].found
    one = fatigue_checks("w", direct, [(40.0, 2e5)])[0].found
    other = fatigue_checks("w", along, [(70.0, 5e5)])[0].found
    assert both is not None
    assert one is not None
    assert other is not None
    assert both == pytest.approx(one + other)
    assert min(one, other) > 0.0


def test_ranges_past_yield_are_barred() -> None:
    # EN 1993-1-9:2005 clause 8: 1.5 fy
    checks = fatigue_checks("w", rows.detail("rolled plate"), [(400.0, 10.0)], yield_mpa=235.0)
    assert "largest stress range" in {c.title for c in checks if not c.ok}


def test_kinds_of_detail_are_not_mixed_up() -> None:
    with pytest.raises(ValueError, match="is not a detail in shear"):
        fatigue_checks("w", rows.detail("tee, toe"), [], shear=(rows.detail("tee, toe"), []))
    with pytest.raises(ValueError, match="cannot be"):
        fatigue_checks("w", rows.detail("tee, toe"), [(-5.0, 10.0)])
    with pytest.raises(KeyError, match="tee, toe"):
        rows.detail("tee toe")


def test_details_of_the_catalogue_are_classes_of_the_standard() -> None:
    # EN 1993-1-9:2005, the fourteen direct and two shear curves of figures 7.1 and 7.2
    classes = {160, 140, 125, 112, 100, 90, 80, 71, 63, 56, 50, 45, 40, 36}
    for name in rows.details():
        row = rows.detail(name)
        assert row.category_mpa in (classes if row.kind == "direct" else {100, 80}), name
        assert row.stress in ("nominal", "hot spot")


def test_the_duty_swings_between_known_cases() -> None:
    for row in rows.duty():
        assert set(row.low) | set(row.high) <= set(CASES), row.name
        assert row.per_100000_km > 0.0
        assert "no published source" in row.source.text
    assert len(assumed()) == len(rows.duty())


def test_ranges_of_a_duty_by_hand() -> None:
    source = rows.duty()[0].source
    kinds = (
        DutyRow("pull", 1000.0, {}, {"torque": 1.0}, source),
        DutyRow("to and fro", 5000.0, {"torque": -0.5}, {"torque": 0.5}, source),
        DutyRow("hop", 9000.0, {"vertical": -1.0}, {"vertical": 1.0}, source),
    )
    found = ranges({"torque": 80.0, "vertical": 10.0}, 200000.0, kinds)
    # 80 twice 1000 times, 80 twice 5000, 20 twice 9000, and -40 to 80 as often as the rarest
    assert found == ((120.0, 2000.0), (80.0, 10000.0), (80.0, 2000.0), (20.0, 18000.0))


def test_stresses_that_cancel_do_not_swing() -> None:
    source = rows.duty()[0].source
    kind = DutyRow("launch", 1000.0, {}, {"torque": 1.0, "longitudinal": 0.5}, source)
    assert ranges({"torque": 10.0, "longitudinal": -20.0}, 1e5, [kind]) == ()


def test_duties_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="no load case torq"):
        ranges({"torq": 1.0}, 1e5)
    with pytest.raises(ValueError, match="distance"):
        ranges({"torque": 1.0}, 0.0)
