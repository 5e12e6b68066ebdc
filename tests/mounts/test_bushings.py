"""Rubber with snubbers: force as the slope of energy by numbers, the law by hand, and numbers that make no sense."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from halfshaft.mounts.bushings import Axis, Bushing, Rubber, alike, laid_out, own_axes


def one(axis: Axis) -> Rubber:
    return laid_out([Bushing("a", np.zeros(3), np.eye(3), (axis, Axis(1.0), Axis(1.0)))])


def force(rubber: Rubber, x: float) -> float:
    return float(rubber.gradient(np.array([[x, 0.0, 0.0, 0.0, 0.0, 0.0]]))[0, 0])


SNUBBED = Axis(100.0, free_back=3.0, free_ahead=5.0, snubber=900.0, blend=1.0)


def test_a_snubber_adds_its_stiffness_beyond_the_free_travel_each_way() -> None:
    rubber = one(SNUBBED)
    assert force(rubber, 5.0) == pytest.approx(500.0)
    assert force(rubber, -3.0) == pytest.approx(-300.0)
    # by hand: past its blend of 1 mm a snubber lags by half of it
    assert force(rubber, 8.0) == pytest.approx(800.0 + 900.0 * (3.0 - 0.5))
    assert force(rubber, -7.0) == pytest.approx(-700.0 - 900.0 * (4.0 - 0.5))
    # half way into the blend: a parabola, y2 / 2
    assert force(rubber, 5.5) == pytest.approx(550.0 + 900.0 * 0.125)


def test_a_preload_pushes_the_unit_at_its_drawn_place() -> None:
    assert force(one(Axis(100.0, preload=250.0)), 0.0) == pytest.approx(-250.0)
    assert force(one(Axis(100.0, preload=250.0)), 2.5) == pytest.approx(0.0)


def test_a_mount_that_only_pushes_lets_go_and_never_pulls() -> None:
    rubber = one(Axis(100.0, preload=250.0, holds_pull=False, blend=0.2))
    assert force(rubber, 0.0) == pytest.approx(-250.0)
    assert force(rubber, -4.0) == pytest.approx(-650.0)
    assert force(rubber, 3.0) == 0.0
    # with a preload within the blend the push at the drawn place is still the preload
    assert force(one(Axis(100.0, preload=4.0, holds_pull=False, blend=0.2)), 0.0) == pytest.approx(-4.0)


def test_turns_are_told_in_degrees_and_worked_in_radians() -> None:
    turned = Bushing("a", np.zeros(3), np.eye(3), (Axis(1.0),) * 3, (alike(5000.0, 2.0, 9000.0),) * 3)
    rubber = laid_out([turned])
    x = np.zeros((1, 6))
    x[0, 3] = np.radians(1.5)
    assert rubber.gradient(x)[0, 3] == pytest.approx(5000.0 * 1.5)
    x[0, 3] = np.radians(4.0)
    assert rubber.gradient(x)[0, 3] == pytest.approx(5000.0 * 4.0 + 9000.0 * (2.0 - 0.25))


@given(
    st.floats(-12.0, 12.0), st.floats(0.0, 6.0), st.floats(0.0, 6.0), st.floats(0.05, 5.0), st.floats(0.0, 400.0),
    st.booleans(),
)  # fmt: skip
def test_force_is_the_slope_of_energy_and_stiffness_that_of_force(
    x: float, back: float, ahead: float, blend: float, preload: float, holds: bool
) -> None:
    rubber = one(Axis(80.0, back, ahead, 700.0, blend, preload=preload, holds_pull=holds))
    at = np.zeros((1, 6))

    def slope(travel: float) -> float:
        at[0, 0] = travel
        return float(rubber.tangent(at)[0, 0])

    knots = sorted({k for k in (ahead, ahead + blend, -back, -back - blend) if min(0.0, x) < k < max(0.0, x)})
    release = float(rubber.let_go[0, 0])
    knots += [k for k in (release, release - blend) if min(0.0, x) < k < max(0.0, x)]
    work, _ = quad(lambda s: force(rubber, s), 0.0, x, points=knots or None, limit=200)
    at[0, 0] = x
    assert float(rubber.energy(at)[0, 0]) == pytest.approx(work, rel=1e-7, abs=1e-6)
    gained, _ = quad(slope, 0.0, x, points=knots or None, limit=200)
    assert force(rubber, x) - force(rubber, 0.0) == pytest.approx(gained, rel=1e-7, abs=1e-6)
    assert slope(x) >= 0.0


def test_own_axes_are_square_right_handed_and_near_what_was_told() -> None:
    own = own_axes((0.0, 2.0, 0.0))
    np.testing.assert_allclose(own, np.column_stack([[0, 1, 0], [0, 0, 1], [1, 0, 0]]), atol=1e-12)
    np.testing.assert_allclose(own_axes((0.0, 0.0, 1.0))[:, 1], [1.0, 0.0, 0.0], atol=1e-12)
    tilted = own_axes((1.0, 1.0, 0.0), (1.0, 0.0, 0.0))
    assert np.linalg.det(tilted) == pytest.approx(1.0)
    assert tilted[0, 1] > 0.0
    with pytest.raises(ValueError, match="along its axial"):
        own_axes((1.0, 0.0, 0.0), (2.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="direction"):
        own_axes((0.0, 0.0, 0.0))


def test_all_faults_of_all_mounts_are_told_at_once_by_name() -> None:
    bad = Bushing("left", np.zeros(3), np.eye(3), (Axis(-5.0), Axis(np.nan), Axis(1.0, free_back=-1.0)))
    soft = Bushing("right", np.zeros(3), np.eye(3), (Axis(0.0),) * 3)
    skewed = Bushing("rear", np.zeros(3), np.diag([1.0, 1.0, 2.0]), (Axis(1.0),) * 3)
    with pytest.raises(ValueError, match="left") as told:
        laid_out([bad, soft, skewed])
    words = str(told.value)
    for part in ("axial: stiffness is -5", "first radial: stiffness is nan", "free_back", "'right' has no stiffness"):
        assert part in words
    assert "'rear': its own axes are not square" in words


def test_no_mounts_and_twins_by_name_are_refused() -> None:
    with pytest.raises(ValueError, match="no mounts"):
        laid_out([])
    twin = Bushing("left", np.zeros(3), np.eye(3), (Axis(1.0),) * 3)
    with pytest.raises(ValueError, match="two mounts are named 'left'"):
        laid_out([twin, twin])
    pulls = Bushing("a", np.zeros(3), np.eye(3), (Axis(1.0, preload=-5.0, holds_pull=False), Axis(1.0), Axis(1.0)))
    with pytest.raises(ValueError, match="only pushes"):
        laid_out([pulls])
