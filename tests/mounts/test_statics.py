"""A unit at rest on its mounts: by hand, by a second solver, turned as a whole, and to the last newton in balance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize, root
from scipy.spatial.transform import Rotation

from halfshaft.mounts.bushings import Axis, Bushing, own_axes
from halfshaft.mounts.held import NotHeld
from halfshaft.mounts.statics import Settled, settle

CENTRE = np.array([20.0, -10.0, 40.0])
FREE = Axis(0.0)


def snubbed(stiffness: float) -> Axis:
    return Axis(stiffness, 4.0, 4.0, 6.0 * stiffness, 1.0, 9.0, 9.0)


def three() -> list[Bushing]:
    soft = (snubbed(80.0), snubbed(250.0), snubbed(250.0))
    stiff = (snubbed(120.0), snubbed(300.0), snubbed(300.0))
    return [
        Bushing("left", np.array([-220.0, 240.0, 10.0]), own_axes((0, 1, 0)), soft),
        Bushing("right", np.array([-220.0, -240.0, 10.0]), own_axes((0, 1, 0)), soft),
        Bushing("front", np.array([260.0, 30.0, 60.0]), own_axes((1, 0.2, 0.1)), stiff, (Axis(900.0),) * 3),
    ]


def law(axis: Axis, x: float) -> float:
    """Force of a snubbed axis by numbers: a fine sum of its stiffness, written apart from the house's formula."""
    s = np.linspace(0.0, x, 4001)
    past = np.abs(s) - axis.free_ahead
    stiff = axis.stiffness + axis.snubber * np.clip(past / (axis.blend or 1.0), 0.0, 1.0)
    return float(np.trapezoid(stiff, s))


def area(axis: Axis, x: float) -> float:
    """Energy of a snubbed axis: its force summed again, by Cauchy's formula for repeated integrals."""
    s = np.linspace(0.0, x, 4001)
    stiff = axis.stiffness + axis.snubber * np.clip((np.abs(s) - axis.free_ahead) / (axis.blend or 1.0), 0.0, 1.0)
    return float(np.trapezoid((x - s) * stiff, s))


def balance_left(mounts: list[Bushing], state: np.ndarray, force: np.ndarray, moment: np.ndarray) -> np.ndarray:
    """What is out of balance at a shift and rotation vector: levers, scipy's rotations, forces by `law`.

    Without turning stiffness, where a mount's own moment would need the potential's formula.
    """
    turned = Rotation.from_rotvec(state[3:])
    sum_f, sum_m = force.copy(), moment.copy()
    for mount in mounts:
        arm = turned.apply(mount.centre_mm - CENTRE)
        away = mount.own_axes.T @ (CENTRE + state[:3] + arm - mount.centre_mm)
        back = -mount.own_axes @ np.array([law(a, x) for a, x in zip(mount.along, away, strict=True)])
        sum_f += back
        sum_m += np.cross(arm, back)
    return np.concatenate([sum_f, sum_m / 300.0])


def test_the_balanced_state_is_the_root_that_another_solver_finds() -> None:
    plain = [Bushing(m.name, m.centre_mm, m.own_axes, m.along) for m in three()]
    force, moment = np.array([400.0, -300.0, -2500.0]), np.array([2e4, -1.6e6, 1e4])
    found = settle(plain, CENTRE, force, moment)
    other = root(
        lambda q: balance_left(plain, q * [1, 1, 1, 0.003, 0.003, 0.003], force, moment), np.zeros(6), tol=1e-12
    )
    assert other.success
    np.testing.assert_allclose(found.shift_mm, other.x[:3], atol=2e-5)
    np.testing.assert_allclose(np.radians(found.turn_deg), 0.003 * other.x[3:], atol=1e-7)
    assert np.linalg.norm(found.turn_deg) > 0.5  # large enough to matter
    assert any(m.on_snubber.any() for m in found.mounts)


def test_under_a_force_alone_the_energy_is_the_least_that_scipy_finds() -> None:
    mounts, force = three(), np.array([3500.0, -1200.0, -6000.0])

    def energy(q: np.ndarray) -> float:
        turned, out = Rotation.from_rotvec(0.003 * q[3:]), -float(force @ q[:3])
        for mount in mounts:
            arm = turned.apply(mount.centre_mm - CENTRE)
            away = mount.own_axes.T @ (CENTRE + q[:3] + arm - mount.centre_mm)
            about = np.degrees(mount.own_axes.T @ (0.003 * q[3:]))
            out += sum(area(a, x) for a, x in zip(mount.along, away, strict=True))
            out += sum(0.5 * a.stiffness * t * np.radians(t) for a, t in zip(mount.about, about, strict=True))
        return out

    found = settle(mounts, CENTRE, force, np.zeros(3))
    at = np.concatenate([found.shift_mm, np.radians(found.turn_deg) / 0.003])
    # the second solver starts a little off, so that it has to come back to the same place
    other = minimize(energy, at + 0.3, method="BFGS", options={"gtol": 0.5, "maxiter": 60})
    np.testing.assert_allclose(other.x, at, atol=2e-2)
    assert energy(at) <= other.fun + 1e-2
    assert found.energy_nmm - float(force @ found.shift_mm) == pytest.approx(energy(at), rel=1e-4)


def test_three_points_that_hold_six_ways_carry_what_statics_says() -> None:
    # by hand: shores at (0, 200), (0, -200), (400, 0), a sideways one at (400, 0), fore-and-aft ones at (0, +-200)
    stiff = Axis(5e6)
    mounts = [
        Bushing("left", np.array([0.0, 200.0, 0.0]), np.eye(3), (stiff, FREE, stiff)),
        Bushing("right", np.array([0.0, -200.0, 0.0]), np.eye(3), (stiff, FREE, stiff)),
        Bushing("front", np.array([400.0, 0.0, 0.0]), np.eye(3), (FREE, stiff, stiff)),
    ]
    found = settle(mounts, (100.0, 0.0, 0.0), (0.0, 500.0, -1000.0), (4e4, -8e5, 6e4))
    # moments about y through the rear: -8e5 + 100 x 1000 = -400 Fz => front Fz on the frame = -400 F = ...
    # forces on the frame: front z: M_y = -x F_z: -8e5 + 100 * 1000 = -400 F => F = 1750
    front = 1750.0
    # up and down in all is -1000; about x: 4e4 = 200 (left - right)
    left, right = (-1000.0 - front + 200.0) / 2.0, (-1000.0 - front - 200.0) / 2.0
    # sideways all at the front; about z through the rear: 6e4 + 100 * 500 = 400 * 500 + 200 (right_x - left_x)
    pull = (6e4 + 5e4 - 2e5) / 400.0
    np.testing.assert_allclose(found.mount("front").force_n, [0.0, 500.0, front], atol=0.05)
    np.testing.assert_allclose(found.mount("left").force_n, [-pull, 0.0, left], atol=0.05)
    np.testing.assert_allclose(found.mount("right").force_n, [pull, 0.0, right], atol=0.05)


def held_up(found: Settled, mounts: list[Bushing]) -> tuple[np.ndarray, np.ndarray]:
    """Sum of what the frame gets, and its moment about the root's origin."""
    force = sum((m.force_n for m in found.mounts), np.zeros(3))
    moment = sum(
        (s.moment_nmm + np.cross(m.centre_mm, s.force_n) for s, m in zip(found.mounts, mounts, strict=True)),
        np.zeros(3),
    )
    return force, moment


@given(
    st.lists(st.floats(-4000.0, 4000.0), min_size=3, max_size=3),
    st.lists(st.floats(-1.5e6, 1.5e6), min_size=3, max_size=3),
)
def test_what_the_frame_gets_is_what_the_unit_is_loaded_with(force: list[float], moment: list[float]) -> None:
    mounts = three()
    found = settle(mounts, CENTRE, force, moment)
    sum_f, sum_m = held_up(found, mounts)
    size = 1.0 + float(np.linalg.norm(force)) + float(np.linalg.norm(moment)) / 300.0
    np.testing.assert_allclose(sum_f, force, atol=1e-9 * size)
    # the load acts where the centre of mass has gone
    wanted = np.asarray(moment) + np.cross(CENTRE + found.shift_mm, force)
    np.testing.assert_allclose(sum_m, wanted, atol=1e-9 * 300.0 * size)
    for state, mount in zip(found.mounts, mounts, strict=True):
        np.testing.assert_allclose(mount.own_axes @ state.own_force_n, state.force_n, atol=1e-9 * size)


@given(st.integers(0, 300))
def test_the_whole_problem_turned_gives_the_whole_answer_turned(seed: int) -> None:
    turn, mounts = Rotation.random(random_state=seed).as_matrix(), three()
    force, moment = np.array([900.0, 500.0, -1800.0]), np.array([1e5, -9e5, 5e4])
    turned = [Bushing(m.name, turn @ m.centre_mm, turn @ m.own_axes, m.along, m.about) for m in mounts]
    found = settle(mounts, CENTRE, force, moment)
    other = settle(turned, turn @ CENTRE, turn @ force, turn @ moment)
    np.testing.assert_allclose(other.shift_mm, turn @ found.shift_mm, atol=1e-8)
    np.testing.assert_allclose(other.turn_deg, turn @ found.turn_deg, atol=1e-8)
    for a, b in zip(found.mounts, other.mounts, strict=True):
        np.testing.assert_allclose(b.own_force_n, a.own_force_n, atol=1e-6)
        np.testing.assert_allclose(b.own_moment_nmm, a.own_moment_nmm, atol=1e-3)


def test_small_loads_move_the_unit_in_proportion() -> None:
    mounts, load = three(), np.array([30.0, 20.0, -80.0, 3e3, -2e4, 1e3])
    one = settle(mounts, CENTRE, 1e-4 * load[:3], 1e-4 * load[3:])
    two = settle(mounts, CENTRE, 2e-4 * load[:3], 2e-4 * load[3:])
    np.testing.assert_allclose(two.shift_mm, 2.0 * one.shift_mm, rtol=1e-4, atol=1e-12)
    np.testing.assert_allclose(two.turn_deg, 2.0 * one.turn_deg, rtol=1e-4, atol=1e-12)


def test_the_work_of_a_force_put_on_slowly_is_what_the_rubber_holds() -> None:
    mounts, force = three(), np.array([2500.0, -900.0, -5000.0])
    shares = np.linspace(0.0, 1.0, 81)
    shifts = np.array([settle(mounts, CENTRE, s * force, np.zeros(3)).shift_mm for s in shares])
    work = float(np.trapezoid(shares, shifts @ force))
    assert settle(mounts, CENTRE, force, np.zeros(3)).energy_nmm == pytest.approx(work, rel=1e-3)


def test_far_turns_are_exact_a_bar_on_a_hinge_hangs_where_its_torque_lets_it() -> None:
    # by hand: on a stiff hinge at the origin with turning rubber k, its mass 200 mm out: k a = M - W r cos a, the bar
    # level at the start and turned up by the moment
    hinge = Bushing("hinge", np.zeros(3), np.eye(3), (Axis(1e5),) * 3, (Axis(1e7), Axis(4000.0), Axis(1e7)))
    found = settle([hinge], (200.0, 0.0, 0.0), (0.0, 0.0, -500.0), (0.0, -2.6e5, 0.0))
    angle = -found.turn_deg[1]
    assert angle > 20.0
    assert 4000.0 * angle == pytest.approx(2.6e5 - 500.0 * 200.0 * np.cos(np.radians(angle)), rel=1e-6)


def test_a_hard_load_far_past_the_snubbers_still_comes_to_rest() -> None:
    found = settle(three(), CENTRE, (15e3, 8e3, -60e3), (2e6, -6e6, 1e6))
    assert found.out_of_balance < 1e-9
    assert max(float(m.used.max()) for m in found.mounts) > 1.0


def test_a_unit_resting_on_pads_that_only_push_is_lifted_off_and_that_is_told() -> None:
    rest = Axis(300.0, holds_pull=False, preload=200.0)
    pads = [
        Bushing(f"pad {i}", np.array([x, y, 0.0]), own_axes((0, 0, 1)), (rest, Axis(200.0), Axis(200.0)), pad=True)
        for i, (x, y) in enumerate([(200.0, 200.0), (200.0, -200.0), (-200.0, 200.0), (-200.0, -200.0)])
    ]
    seated = settle(pads, (0.0, 0.0, 50.0), (0.0, 0.0, -900.0), (0.0, 0.0, 0.0))
    assert not any(m.let_go for m in seated.mounts)
    assert all(m.own_force_n[0] < 0.0 for m in seated.mounts)
    leaning = settle(pads, (0.0, 0.0, 50.0), (0.0, 0.0, -900.0), (1.2e5, -1.2e5, 0.0))
    # by hand: 225 N on each, 150 N off it by each moment at the front left corner
    assert [m.name for m in leaning.mounts if m.let_go] == ["pad 0"]
    with pytest.raises(NotHeld, match="left pad"):
        settle(pads, (0.0, 0.0, 50.0), (0.0, 0.0, 900.0), (0.0, 0.0, 0.0))


def test_a_unit_high_over_soft_mounts_tips_over_and_that_is_told() -> None:
    # by hand: four mounts of k at +-100 mm resist turning by 4 k 100^2; a weight W at height h tips it past W h
    soft = [
        Bushing(f"m{i}", np.array([x, y, 0.0]), np.eye(3), (Axis(2000.0), Axis(2000.0), Axis(10.0)))
        for i, (x, y) in enumerate([(100.0, 100.0), (100.0, -100.0), (-100.0, 100.0), (-100.0, -100.0)])
    ]
    assert settle(soft, (0.0, 0.0, 800.0), (0.0, 0.0, -450.0), (0.0, 0.0, 0.0)).out_of_balance < 1e-9
    with pytest.raises(NotHeld, match=r"rolls|pitches"):
        settle(soft, (0.0, 0.0, 800.0), (0.0, 0.0, -550.0), (0.0, 0.0, 0.0))


def test_tension_of_a_pad_is_told() -> None:
    pads = [
        Bushing(
            f"pad {i}", np.array([x, y, 0.0]), own_axes((0, 0, 1)), (Axis(300.0), Axis(200.0), Axis(200.0)), pad=True
        )
        for i, (x, y) in enumerate([(200.0, 200.0), (200.0, -200.0), (-200.0, 0.0)])
    ]
    found = settle(pads, (0.0, 0.0, 50.0), (0.0, 0.0, -900.0), (0.0, -8e5, 0.0))
    assert [m.in_tension for m in found.mounts] == [True, True, False]


def test_numbers_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="launch"):
        settle(three(), CENTRE, (0.0, np.nan, 0.0), (0.0, 0.0, 0.0), "launch")
