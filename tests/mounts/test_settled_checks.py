"""Checks on mounts at rest: travel run out, rubber pulled, the unit leaving a mount, a crash told apart."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.checks import Origin, Severity, Source
from halfshaft.mounts.bulk import body
from halfshaft.mounts.bushings import Axis, Bushing, own_axes
from halfshaft.mounts.loads import Case, Kind
from halfshaft.mounts.settled_checks import mount_checks
from halfshaft.mounts.statics import settle_cases

SOURCE = Source(Origin.BUILDER, "own case")
UNIT = body(90.0, (0.0, 0.0, 50.0), (1.2e6, 2.1e6, 2.6e6))


def pads(axial: Axis) -> list[Bushing]:
    return [
        Bushing(f"pad {i}", np.array([x, y, 0.0]), own_axes((0, 0, 1)), (axial, Axis(200.0), Axis(200.0)), pad=True)
        for i, (x, y) in enumerate([(200.0, 200.0), (200.0, -200.0), (-200.0, 200.0), (-200.0, -200.0)])
    ]


def case(name: str, up: float, roll: float = 0.0, pitch: float = 0.0, kind: Kind = "everyday") -> Case:
    return Case(name, np.array([0.0, 0.0, up]), np.array([roll, pitch, 0.0]), np.zeros(3), kind, SOURCE)


def test_a_mount_that_runs_out_of_travel_is_named_with_the_case_that_does_it() -> None:
    mounts = pads(Axis(100.0, most_back=5.0, most_ahead=3.0))
    cases = [case("at rest", -900.0), case("bump", -2700.0)]
    checks = mount_checks(cases, settle_cases(mounts, UNIT, cases))
    assert [check.about for check in checks] == [f"mount pad {i}" for i in range(4)]
    for check in checks:
        # by hand: 2700 N over four mounts of 100 N/mm is 6.75 mm of 5
        assert check.found == pytest.approx(135.0, rel=1e-6)
        assert not check.ok
        assert check.severity is Severity.STOP
        assert "'bump'" in check.title
        assert "licensed" in check.do


def test_travel_that_runs_out_only_in_a_crash_is_a_note() -> None:
    mounts = pads(Axis(100.0, most_back=5.0, most_ahead=3.0))
    cases = [case("at rest", -900.0), case("crash", -5000.0, kind="crash")]
    checks = mount_checks(cases, settle_cases(mounts, UNIT, cases))
    assert {c.severity for c in checks if not c.ok} == {Severity.NOTE}
    assert all(c.ok for c in checks if c.severity is Severity.STOP)


def test_a_pulled_pad_is_told_with_its_pull() -> None:
    cases = [case("at rest", -900.0), case("launch", -900.0, pitch=-4e5)]
    checks = mount_checks(cases, settle_cases(pads(Axis(1e4)), UNIT, cases))
    pulled = {c.about: c for c in checks if "pulled" in c.title}
    assert set(pulled) == {"mount pad 0", "mount pad 1"}
    # by hand: 4e5 / (4 x 200) less 225 N, nearly, since stiff pads hardly tilt
    assert pulled["mount pad 0"].found == pytest.approx(275.0, rel=0.01)


def test_a_mount_that_the_unit_leaves_is_a_stop() -> None:
    cases = [case("at rest", -900.0), case("kerb", -900.0, 1.2e5, -1.2e5)]
    states = settle_cases(pads(Axis(300.0, preload=200.0, holds_pull=False)), UNIT, cases)
    left = [c for c in mount_checks(cases, states) if "leaves" in c.title]
    assert [c.about for c in left] == ["mount pad 0"]
    assert left[0].severity is Severity.STOP
    assert "'kerb'" in left[0].title


def test_cases_and_states_that_do_not_belong_together_are_refused() -> None:
    cases = [case("at rest", -900.0)]
    states = settle_cases(pads(Axis(300.0)), UNIT, cases)
    with pytest.raises(ValueError, match="same order"):
        mount_checks([case("bump", -900.0)], states)
    assert mount_checks([], ()) == ()
