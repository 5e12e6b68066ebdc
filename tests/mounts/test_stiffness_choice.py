"""One stiffness varied: frequencies by the root of the factor, sag by its inverse, crossings followed."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.checks import Origin, Source
from halfshaft.mounts.bulk import body
from halfshaft.mounts.bushings import Axis, Bushing
from halfshaft.mounts.loads import Case
from halfshaft.mounts.stiffness_choice import stiffened, stiffness_choice

SOURCE = Source(Origin.BUILDER, "own case")
UNIT = body(80.0, (0.0, 0.0, 0.0), (1.2e6, 2.1e6, 2.6e6))
MOUNTS = [
    Bushing(f"m{x}{y}", np.array([x, y, 0.0]), np.eye(3), (Axis(300.0), Axis(350.0), Axis(500.0, most_back=10.0)))
    for x in (-250, 250)
    for y in (-200, 200)
]
REST = Case("at rest", np.array([0.0, 0.0, -784.0]), np.zeros(3), np.zeros(3), "everyday", SOURCE)
BUMP = Case("bump", np.array([0.0, 0.0, -4000.0]), np.zeros(3), np.zeros(3), "everyday", SOURCE)


def test_all_stiffness_times_a_factor_raises_frequencies_by_its_root_and_lessens_sag() -> None:
    factors = np.array([0.5, 1.0, 2.0, 4.0])
    found = stiffness_choice(MOUNTS, UNIT, REST, factors, [BUMP])
    np.testing.assert_allclose(
        found.frequency_hz / found.frequency_hz[1], np.sqrt(factors)[:, None] * np.ones(6), rtol=2e-2
    )
    np.testing.assert_allclose(found.sag_mm, 784.0 / (4 * 500.0 * factors), rtol=1e-6)
    # by hand: 4000 N over 4 x 500 N/mm is 2 mm of 10
    np.testing.assert_allclose(found.most_used[:, 0], 0.2 / factors, rtol=1e-6)
    np.testing.assert_allclose(found.most_shift_mm[:, 0], 2.0 / factors, rtol=1e-6)


def test_modes_are_followed_as_they_cross() -> None:
    # upright stiffness alone: bounce, roll and pitch climb past fore-aft, sideways and yaw, which stay
    factors = np.geomspace(0.2, 3.0, 25)
    found = stiffness_choice(MOUNTS, UNIT, REST, factors, axes=["second radial"])
    names = np.array(found.names)
    assert all(len(set(column)) == 1 for column in names.T)
    for motion in ("fore-aft", "sideways"):
        column = found.frequency_hz[:, list(names[0]).index(motion)]
        np.testing.assert_allclose(column, column[0], rtol=2e-2)
    bounce = found.frequency_hz[:, list(names[0]).index("bounce")]
    np.testing.assert_allclose(bounce, np.sqrt(factors * 4 * 500.0 * 1000.0 / 80.0) / (2 * np.pi), rtol=1e-6)
    fore_aft = found.frequency_hz[:, list(names[0]).index("fore-aft")]
    assert bounce[0] < fore_aft[0]
    assert bounce[-1] > fore_aft[-1]


def test_where_soft_mounts_let_the_unit_tip_the_rest_of_the_curve_stands() -> None:
    tall = body(80.0, (0.0, 0.0, 900.0), (1.2e6, 2.1e6, 2.6e6))
    # by hand: 4 k a2 over W h with a = 200 tips under k = 4.4 N/mm
    found = stiffness_choice(MOUNTS, tall, REST, [0.005, 1.0, 2.0], [BUMP], axes=["second radial"])
    assert np.isnan(found.frequency_hz[0]).all()
    assert "do not hold" in found.refused[0]
    assert np.isfinite(found.frequency_hz[1:]).all()
    assert found.refused[1:] == ("", "")


def test_only_what_is_named_is_made_stiffer() -> None:
    new = stiffened(MOUNTS, 2.0, only=[MOUNTS[0].name], axes=["axial"])
    assert new[0].along[0].stiffness == 600.0
    assert new[0].along[1].stiffness == 350.0
    assert new[1] is MOUNTS[1]
    with pytest.raises(ValueError, match="not there: bump stop"):
        stiffened(MOUNTS, 2.0, only=["bump stop"])
    with pytest.raises(ValueError, match="over nought"):
        stiffened(MOUNTS, 0.0)
