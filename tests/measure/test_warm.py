"""Starting values after an edit against the search from nothing: what was known must not change what is found."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.build.schema import Build, Reading
from halfshaft.measure.network import network_of
from halfshaft.measure.start import Start
from halfshaft.measure.station import Surveyed, survey
from halfshaft.measure.warm import warmed
from tests.measure.shop_frames import Frame, frame


@pytest.fixture(scope="module")
def job() -> Frame:
    return frame(4, points=20, slips=0.0)


@pytest.fixture(scope="module")
def before(job: Frame) -> Surveyed:
    return survey(job.build)


def _edited(build: Build, row: int, by: float) -> Build:
    readings = list(build.readings)
    readings[row] = readings[row].model_copy(update={"value": (readings[row].value[0] + by,)})
    return build.model_copy(update={"readings": tuple(readings)})


def _warm(build: Build, before: Surveyed) -> Start | None:
    located = (before.points_located, before.faces_located, before.bodies_located)
    return warmed(network_of(build), build, before.network, before.snooped.adjustment.state, located)


def _tape_row(build: Build) -> int:
    return next(i for i, r in enumerate(build.readings) if r.kind == "tape" and {n[:3] for n in r.names} == {"car"})


@pytest.mark.parametrize("by", [1.0, 90.0])
def test_after_an_edit_the_same_is_found_as_from_nothing(job: Frame, before: Surveyed, by: float) -> None:
    build = _edited(job.build, _tape_row(job.build), by)
    assert _warm(build, before) is not None
    near, afresh = survey(build, before=before), survey(build)
    assert near.snooped.adjustment.chi2 == pytest.approx(afresh.snooped.adjustment.chi2, rel=1e-6)
    assert {a.equation for a in near.snooped.aside} == {a.equation for a in afresh.snooped.aside}


def test_a_slip_put_right_is_no_longer_set_aside(job: Frame, before: Surveyed) -> None:
    row = _tape_row(job.build)
    wrong = survey(_edited(job.build, row, 90.0), before=before)
    assert row in {wrong.network.equations[a.equation].row for a in wrong.snooped.aside}
    mended = survey(job.build, before=wrong)
    assert row not in {mended.network.equations[a.equation].row for a in mended.snooped.aside}
    assert np.allclose(mended.snooped.adjustment.chi2, before.snooped.adjustment.chi2, rtol=1e-6)


def test_a_new_point_or_a_height_that_does_not_fit_asks_for_a_fresh_search(job: Frame, before: Surveyed) -> None:
    new = Reading(kind="tape", names=("car.NEW", "car.L0"), value=(500.0,))
    assert _warm(job.build.model_copy(update={"readings": (*job.build.readings, new)}), before) is None
    row = next(i for i, r in enumerate(job.build.readings) if r.kind == "height")
    assert _warm(_edited(job.build, row, 400.0), before) is None


def test_readings_taken_away_leave_the_point_named(job: Frame, before: Surveyed) -> None:
    kept = [r for r in job.build.readings if "unit.U1" not in r.names]
    lost = [r for r in job.build.readings if "unit.U1" in r.names and r.kind == "tape"][:1]
    start = _warm(job.build.model_copy(update={"readings": (*kept, *lost)}), before)
    assert start is None or "unit.U1" in [u.name for u in start.unlocated]
