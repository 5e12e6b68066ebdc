"""What is told of a row while it is typed is what the whole adjustment with it, or without it, gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from halfshaft.build.schema import Build, Reading
from halfshaft.measure.adjust import Adjustment, NotHeld, adjust
from halfshaft.measure.effect import compared, effect_of, standing_of
from halfshaft.measure.network import Network, network_of
from halfshaft.measure.next_best import relative_spread_mm
from halfshaft.measure.results import tell
from halfshaft.measure.snoop import Snooped
from halfshaft.measure.station import Surveyed
from tests.properties.test_next_best import _random

TYPED = [
    ("tape", ("car.A", "car.F"), "mm"),
    ("tape", ("car.B", "unit.T"), "mm"),
    ("caliper", ("unit.P", "unit.R"), "mm"),
    ("onface", ("car.E", "car.web"), "mm"),
    ("angle", ("car.A", "car.D", "car.G"), "deg"),
    ("rise", ("car.A", "car.G"), "mm"),
    ("bevel", ("car.web", "car.top"), "deg"),
]
HOLES = [{"at": name, "bolt": "M8"} for name in ("car.A", "car.E", "unit.P", "unit.S")]
BRACKET = {"sheet": "plate", "panel": {"web": {"face": "car.web", "holes": HOLES}}}


def _surveyed(build: Build, network: Network, adjustment: Adjustment) -> Surveyed:
    there = [np.ones(len(n), dtype=bool) for n in (network.point_names, network.face_names, network.body_names)]
    return Surveyed(network, Snooped(adjustment, ()), *there, ())


def _case(seed: int) -> tuple[Build, Surveyed]:
    try:
        build, network, adjustment = _random(seed)
    except NotHeld:
        assume(False)
    bracket = Build.model_validate({"build": {"name": "t"}, "bracket": {"one": BRACKET}}).bracket
    build = build.model_copy(update={"bracket": bracket})
    return build, _surveyed(build, network, adjustment)


def _whole(build: Build, surveyed: Surveyed, reading: Reading) -> tuple[Build, Surveyed]:
    longer = build.model_copy(update={"readings": (*build.readings, reading)})
    network = network_of(longer)
    use = np.ones(len(network.equations), dtype=bool)
    return longer, _surveyed(longer, network, adjust(network, surveyed.snooped.adjustment.state, longer, use))


def _largest_mm(surveyed: Surveyed) -> float:
    points = tell(surveyed.snooped.adjustment, surveyed.bodies_located).points.values()
    return max(float(point.ellipsoid_mm[0][0]) for point in points)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(TYPED))
def test_uncertainty_told_beside_the_row_is_that_of_the_adjustment_with_it(seed, typed):
    build, surveyed = _case(seed)
    kind, names, _ = typed
    first = effect_of(build, surveyed, Reading(kind=kind, names=names, value=(50.0,)))
    if not first.expected:
        assert kind == "rise"  # the only one here that may hang on axes that nothing holds yet
        return
    # what the others say changes no state, so that the two differ by rounding alone
    agreeing = Reading(kind=kind, names=names, value=first.expected)
    told = effect_of(build, surveyed, agreeing)
    assert told.agrees
    assert abs(told.w) < 1e-6
    longer, whole = _whole(build, surveyed, agreeing)
    assert told.largest_before_mm == pytest.approx(_largest_mm(surveyed), rel=1e-6)
    assert told.largest_after_mm == pytest.approx(_largest_mm(whole), rel=1e-5)
    needs = list(build.bracket["one"].needs)
    (holes,) = told.holes
    assert holes.before_mm == pytest.approx(
        relative_spread_mm(surveyed.network, surveyed.snooped.adjustment, needs), rel=1e-6
    )
    assert holes.after_mm == pytest.approx(relative_spread_mm(whole.network, whole.snooped.adjustment, needs), rel=1e-5)
    assert holes.after_mm <= holes.before_mm + 1e-9
    assert standing_of(longer, whole).point_mm == pytest.approx(told.largest_after_mm, rel=1e-5)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(TYPED), st.floats(-0.5, 0.5))
def test_w_told_beside_the_row_is_its_w_in_the_adjustment_with_it(seed, typed, times):
    build, surveyed = _case(seed)
    kind, names, _ = typed
    first = effect_of(build, surveyed, Reading(kind=kind, names=names, value=(50.0,)))
    assume(first.expected)
    value = first.expected[0] + times * first.spread[0]
    reading = Reading(kind=kind, names=names, value=(value,))
    told = effect_of(build, surveyed, reading)
    _, whole = _whole(build, surveyed, reading)
    at = next(i for i, eq in enumerate(whole.network.equations) if eq.row == len(build.readings))
    # the state moves, and with it the slopes: an error of the second order in what the reading is off
    assert told.w == pytest.approx(float(whole.snooped.adjustment.w[at]), abs=0.01 + 0.05 * times**2)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 30))
def test_a_row_being_changed_is_judged_by_the_others_alone(seed, pick):
    build, surveyed = _case(seed)
    network, adjustment = surveyed.network, surveyed.snooped.adjustment
    row = pick % len(build.readings)
    at = next(i for i, eq in enumerate(network.equations) if eq.row == row)
    assume(adjustment.redundancy[at] > 0.02)
    use = adjustment.use.copy()
    use[at] = False
    try:
        less = adjust(network, adjustment.state, build, use)
    except NotHeld:
        assume(False)
    told = effect_of(build, surveyed, build.readings[row], without=row)
    assume(told.expected)
    # taken out by one linear step, against an adjustment that went all the way: the slopes move with the state
    assert told.expected[0] == pytest.approx(network.values[at] - less.residuals[at], abs=0.01)
    spread = np.hypot(network.sigmas[at], less.spread_of_prediction[at])
    assert told.spread[0] == pytest.approx(spread, rel=1e-2)


def test_a_row_of_ten_spreads_off_is_named_a_slip_before_it_is_saved():
    build, surveyed = _case(3)
    names = ("car.A", "car.F")
    about = effect_of(build, surveyed, Reading(kind="tape", names=names, value=(50.0,))).expected
    first = effect_of(build, surveyed, Reading(kind="tape", names=names, value=about))
    value = first.expected[0] + 10.0 * first.spread[0]
    told = effect_of(build, surveyed, Reading(kind="tape", names=names, value=(value,)))
    assert told.agrees is False
    assert told.w == pytest.approx(10.0, rel=0.05)
    assert "long" in told.slip


def test_a_point_of_no_reading_wants_two_more_tapes():
    build, surveyed = _case(3)
    told = effect_of(build, surveyed, Reading(kind="tape", names=("car.A", "car.Z"), value=(400.0,)))
    assert [(n.name, n.still) for n in told.new] == [("car.Z", 2)]
    assert told.words == ("Z is new: 2 more readings hold it, from other sides",)
    spot = effect_of(build, surveyed, Reading(kind="given", names=("car.Z",), value=(0.0, 1.0, 2.0)))
    assert spot.new[0].still == 0


def test_two_standings_compared_tell_what_fell():
    build, surveyed = _case(3)
    reading = Reading(kind="tape", names=("car.A", "car.E"), value=(400.0,), spread=0.05)
    first = effect_of(build, surveyed, reading)
    reading = reading.model_copy(update={"value": first.expected})
    longer, whole = _whole(build, surveyed, reading)
    words = compared(longer, standing_of(build, surveyed), standing_of(longer, whole))
    assert any(w.startswith("holes of one among themselves") for w in words)
    same = compared(build, standing_of(build, surveyed), standing_of(build, surveyed))
    assert same == ("what is known stays as well known as it was",)
