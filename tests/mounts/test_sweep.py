"""The sweep of the torque: balanced at each step, at its ends the launches of the table, signs as a car shows them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.mounts.stands import worked


def test_each_step_is_balanced_and_the_ends_are_the_launches() -> None:
    found = worked()
    sweep = found.sweep
    names = [case.name for case in found.cases.cases]
    rest, forward, backward = (found.cases.cases[names.index(n)] for n in ("at rest", "launch", "launch in reverse"))
    assert len(sweep.torque_nm) == len(sweep.poses) == len(sweep.force_n)
    assert (np.diff(sweep.torque_nm) > 0.0).all()
    for at, case, sign in ((0, backward, -1.0), (-1, forward, 1.0)):
        # the moment less that of the weight, which has none about the centre of mass
        assert sweep.torque_nm[at] == pytest.approx(sign * np.linalg.norm(case.moment_nmm) / 1000.0)
    none = int(np.abs(sweep.torque_nm).argmin())
    assert sweep.torque_nm[none] == 0.0
    for at, case in ((0, backward), (none, rest), (-1, forward)):
        assert sweep.force_n[at].sum(axis=0) == pytest.approx(case.force_n, abs=1e-3)
        for number, mount in enumerate(found.mounts):
            assert sweep.force_n[at, number] == pytest.approx(mount.force_n[names.index(case.name)], abs=0.01)


def test_driving_pulls_the_front_up_and_the_rear_down_the_more_the_harder() -> None:
    """Common practice, no source: a rear unit with mounts ahead and behind its axle, driven forward."""
    found = worked()
    names = [mount.name for mount in found.mounts]
    up = found.sweep.force_n[:, :, 2]
    assert (np.diff(up[:, names.index("left")]) > 0.0).all()
    assert (np.diff(up[:, names.index("rear")]) < 0.0).all()
