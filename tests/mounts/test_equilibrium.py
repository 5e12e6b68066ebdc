"""Force, moment and tangent of turned mounts against differences of the energy, and scipy's rotations."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from halfshaft.mounts.bushings import Axis, Bushing, Rubber, laid_out, own_axes
from halfshaft.mounts.equilibrium import Moved, energy_nmm, moved_on, resistance, still, travel
from halfshaft.mounts.turning import rotation_vector, vector_rate

CENTRE = np.array([15.0, -20.0, 35.0])


def three(seed: int) -> Rubber:
    any_ = np.random.default_rng(seed)
    return laid_out(
        [
            Bushing(
                f"m{i}",
                any_.normal(size=3) * 300.0,
                own_axes(any_.normal(size=3), any_.normal(size=3)),
                tuple(Axis(any_.uniform(50, 300), 3.0, 4.0, 900.0, 2.0, preload=any_.normal() * 50) for _ in range(3)),
                tuple(Axis(any_.uniform(300, 3000), 3.0, 2.0, 9000.0, 4.0) for _ in range(3)),
            )
            for i in range(3)
        ]
    )


def moved(seed: int, turn: float) -> Moved:
    any_ = np.random.default_rng(seed + 1000)
    way = any_.normal(size=3)
    return moved_on(still(), np.concatenate([any_.normal(size=3) * 6.0, turn * way / np.linalg.norm(way)]))


@given(st.integers(0, 500), st.sampled_from([0.0, 1e-6, 0.009, 0.011, 0.3, 1.2, 2.9]))
def test_force_and_moment_are_the_slope_of_the_energy_and_the_tangent_theirs(seed: int, turn: float) -> None:
    rubber, at = three(seed), moved(seed, turn)
    found = resistance(rubber, CENTRE, at)
    slope, change = np.zeros(6), np.zeros((6, 6))
    for i in range(6):
        step = np.zeros(6)
        step[i] = 1e-4 if i < 3 else 1e-6
        ahead, back = moved_on(at, step), moved_on(at, -step)
        slope[i] = (energy_nmm(rubber, CENTRE, ahead) - energy_nmm(rubber, CENTRE, back)) / (2.0 * step[i])
        change[:, i] = (resistance(rubber, CENTRE, ahead).wrench - resistance(rubber, CENTRE, back).wrench) / (
            2.0 * step[i]
        )
    size = np.array([1.0, 1.0, 1.0, 300.0, 300.0, 300.0])
    np.testing.assert_allclose(slope / size, found.wrench / size, rtol=0, atol=2e-6 * np.abs(found.wrench / size).max())
    scaled = found.tangent / np.outer(size, size)
    np.testing.assert_allclose(change / np.outer(size, size), scaled, rtol=0, atol=2e-5 * np.abs(scaled).max())


@given(st.integers(0, 200))
def test_rotation_vectors_change_as_scipy_s_rotations_do(seed: int) -> None:
    any_ = np.random.default_rng(seed)
    start, small = Rotation.from_rotvec(any_.normal(size=3)), any_.normal(size=3) * 1e-6
    after = (Rotation.from_rotvec(small) * start).as_rotvec()
    before = (Rotation.from_rotvec(-small) * start).as_rotvec()
    np.testing.assert_allclose(vector_rate(start.as_rotvec()) @ small, (after - before) / 2.0, rtol=1e-4, atol=1e-11)


def test_travel_is_seen_in_the_mount_s_own_axes() -> None:
    rubber = laid_out([Bushing("a", np.array([100.0, 0.0, 0.0]), own_axes((0, 1, 0), (0, 0, 1)), (Axis(1.0),) * 3)])
    quarter = Moved(np.zeros(3), Rotation.from_euler("z", 90, degrees=True).as_matrix())
    # by hand: (100, 0, 0) goes to (0, 100, 0): shift (-100, 100, 0); own axes y, z, x
    np.testing.assert_allclose(
        travel(rubber, np.zeros(3), quarter), [[100.0, 0.0, -100.0, 0.0, np.pi / 2, 0.0]], atol=1e-12
    )


def test_many_small_turns_add_up_without_drift() -> None:
    at = still()
    for _ in range(400):
        at = moved_on(at, np.array([0.0, 0.0, 0.0, 0.0, np.pi / 800.0, 0.0]))
    np.testing.assert_allclose(rotation_vector(at.rotation), [0.0, np.pi / 2.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(at.rotation @ at.rotation.T, np.eye(3), atol=1e-14)
