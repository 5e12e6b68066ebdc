"""Six modes against closed forms of springs and pendulums, and a second eigenproblem in other coordinates.

No published worked example of a unit's six modes was at hand; the closed forms are those of any handbook of vibration,
from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import eigvals
from scipy.spatial.transform import Rotation

from halfshaft.mounts.bulk import Body, body
from halfshaft.mounts.bushings import Axis, Bushing, laid_out, own_axes
from halfshaft.mounts.equilibrium import Moved, resistance
from halfshaft.mounts.held import NotHeld
from halfshaft.mounts.modes import MOTIONS, Modes, modes
from halfshaft.mounts.statics import settle

G = 9.80665  # m/s2, standard gravity (3rd CGPM, 1901)
A, B = 250.0, 180.0
KX, KY, KZ = 90.0, 120.0, 200.0  # N/mm
UNIT = body(85.0, (0.0, 0.0, 0.0), (1.2e6, 2.1e6, 2.6e6))


def corners(height: float = 0.0, about: tuple[Axis, Axis, Axis] = (Axis(0.0),) * 3) -> list[Bushing]:
    return [
        Bushing(f"m{i}", np.array([x, y, height]), np.eye(3), (Axis(KX), Axis(KY), Axis(KZ)), about)
        for i, (x, y) in enumerate([(A, B), (A, -B), (-A, B), (-A, -B)])
    ]


def found_by(mounts: list[Bushing], unit: Body, force: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Modes:
    rubber = laid_out(mounts)
    return modes(rubber, unit, settle(rubber, unit.centre_mm, force, np.zeros(3)))


def hz(stiffness: float, mass: float) -> float:
    """From N/mm and kg, or N mm/rad and kg mm2."""
    return float(np.sqrt(1000.0 * stiffness / mass) / (2.0 * np.pi))


def test_four_equal_springs_at_the_height_of_the_centre_have_the_handbook_s_six_frequencies() -> None:
    found = found_by(corners(), UNIT)
    wanted = {
        "fore-aft": hz(4 * KX, 85.0),
        "sideways": hz(4 * KY, 85.0),
        "bounce": hz(4 * KZ, 85.0),
        "roll": hz(4 * KZ * B * B, 1.2e6),
        "pitch": hz(4 * KZ * A * A, 2.1e6),
        "yaw": hz(4 * (KX * B * B + KY * A * A), 2.6e6),
    }
    got = dict(zip(found.names, found.frequency_hz, strict=True))
    assert got == pytest.approx(wanted, rel=1e-9)
    np.testing.assert_allclose(found.decoupled, 1.0, atol=1e-9)


def test_springs_below_the_centre_couple_fore_aft_and_pitch_as_the_quadratic_says() -> None:
    h = 120.0
    found = found_by(corners(-h), UNIT)
    # any handbook: (4 kx - m w2)(4 kz a2 + 4 kx h2 - I w2) = (4 kx h)2, worked as the roots of a quadratic in w2
    m, inertia, k, c = 85.0, 2.1e6, 4 * KX, 4 * KX * h
    turn = 4 * KZ * A * A + 4 * KX * h * h
    squares = np.roots([m * inertia, -(m * turn + inertia * k), k * turn - c * c])
    for square in squares:
        wanted = np.sqrt(1000.0 * square) / (2.0 * np.pi)
        mode = int(np.argmin(np.abs(found.frequency_hz - wanted)))
        assert found.frequency_hz[mode] == pytest.approx(wanted, rel=1e-9)
        along = c / (k - m * square)  # mm a radian, from the first row
        share = m * along**2 / (m * along**2 + inertia)
        assert found.energy[mode, MOTIONS.index("fore-aft")] == pytest.approx(share, rel=1e-8)
        assert found.energy[mode, MOTIONS.index("pitch")] == pytest.approx(1.0 - share, rel=1e-8)


def test_a_unit_hung_from_a_ball_joint_swings_as_a_compound_pendulum() -> None:
    # any handbook: w2 = (m g l + k) / (I + m l2); a little rubber k in the joint, since weight alone is no mount
    length, weight = 300.0, 85.0 * G
    rubber = (Axis(5.0), Axis(5.0), Axis(500.0))
    joint = Bushing("joint", np.array([0.0, 0.0, length]), np.eye(3), (Axis(1e5),) * 3, rubber)
    found = found_by([joint], UNIT, (0.0, 0.0, -weight))
    for inertia in (1.2e6, 2.1e6):
        wanted = hz(weight * length + 5.0 * 180.0 / np.pi, inertia + 85.0 * length**2)
        assert np.min(np.abs(found.frequency_hz - wanted)) < 3e-4 * wanted


def test_a_unit_standing_on_its_mounts_is_softened_by_its_own_weight() -> None:
    # by hand: upright on a hinge of turning stiffness k, w2 = (k - m g l) / (I + m l2)
    length, weight, k = 200.0, 85.0 * G, 4e5
    per_deg = Axis(k * np.pi / 180.0)
    foot = Bushing("foot", np.array([0.0, 0.0, -length]), np.eye(3), (Axis(1e7),) * 3, (per_deg, per_deg, Axis(5e5)))
    found = found_by([foot], UNIT, (0.0, 0.0, -weight))
    wanted = hz(k - weight * length, 2.1e6 + 85.0 * length**2)
    # the stiff foot sinks by a hair, and the hinge line with it
    assert np.min(np.abs(found.frequency_hz - wanted)) < 1e-4 * wanted


def test_a_released_unit_swings_with_the_mode_s_frequency_as_its_motion_is_worked_step_by_step() -> None:
    unit = body(85.0, (10.0, -20.0, 60.0), [[1.2e6, 1e5, -5e4], [1e5, 2.1e6, 2e5], [-5e4, 2e5, 2.6e6]])
    rubber = laid_out(corners())
    rest = settle(rubber, unit.centre_mm, (0.0, 0.0, -85.0 * G), np.zeros(3))
    found = modes(rubber, unit, rest)
    mode = 2
    shape = found.shapes[:, mode] * 1e-3 / np.abs(found.shapes[:3, mode]).max()
    mass = np.linalg.inv(found.mass)
    load = np.array([0.0, 0.0, -85.0 * G, 0.0, 0.0, 0.0])

    def pulled(_: float, y: np.ndarray) -> np.ndarray:
        turned = Rotation.from_rotvec(y[3:6]).as_matrix() @ rest.moved.rotation
        force = load - resistance(rubber, unit.centre_mm, Moved(rest.moved.shift_mm + y[:3], turned)).wrench
        return np.concatenate([y[6:], 1000.0 * mass @ force])

    half = 0.5 / float(found.frequency_hz[mode])
    run = solve_ivp(pulled, (0.0, half), np.concatenate([shape, np.zeros(6)]), rtol=1e-8, atol=1e-12)
    # after half a period it stands mirrored
    np.testing.assert_allclose(run.y[:6, -1], -shape, atol=2e-3 * np.abs(shape).max())


def skewed() -> tuple[list[Bushing], Body]:
    unit = body(85.0, (10.0, -20.0, 60.0), [[1.2e6, 1e5, -5e4], [1e5, 2.1e6, 2e5], [-5e4, 2e5, 2.6e6]])
    mounts = [
        Bushing("a", np.array([-200.0, 220.0, 0.0]), own_axes((0.2, 1, 0.1)), (Axis(80.0), Axis(250.0), Axis(190.0)),
                loss_factor=0.05),
        Bushing("b", np.array([-210.0, -240.0, 30.0]), own_axes((0, 1, 0.3)), (Axis(90.0), Axis(260.0), Axis(200.0)),
                loss_factor=0.05),
        Bushing("c", np.array([260.0, 30.0, 80.0]), own_axes((1, 0, 0)), (Axis(110.0), Axis(300.0), Axis(150.0)),
                (Axis(900.0),) * 3, loss_factor=0.05),
    ]  # fmt: skip
    return mounts, unit


def test_a_skew_unit_has_the_frequencies_of_the_same_body_written_as_eight_point_masses() -> None:
    mounts, unit = skewed()
    found = found_by(mounts, unit)
    # another route: mass matrix about the root's origin from six point masses with the same mass and inertia,
    # stiffness from springs stretched one by one, eigenvalues of an unsymmetric matrix
    values, axes = np.linalg.eigh(unit.inertia_kg_mm2)
    second = values.sum() / 2.0 - values  # sum of m x2 along each principal axis
    points = [s * np.sqrt(3.0 * v / 85.0) * axes[:, i] for i, v in enumerate(second) for s in (1.0, -1.0)]
    mass, stiff = np.zeros((6, 6)), np.zeros((6, 6))

    def move(spot: np.ndarray) -> np.ndarray:
        return np.array([np.concatenate([e, np.cross(spot, e)]) for e in np.eye(3)])

    for point in points:
        mass += 85.0 / 6.0 * move(unit.centre_mm + point).T @ move(unit.centre_mm + point)
    for mount in mounts:
        for i in range(3):
            row = mount.own_axes[:, i] @ move(mount.centre_mm)
            stiff += mount.along[i].stiffness * np.outer(row, row)
            spin = np.concatenate([np.zeros(3), mount.own_axes[:, i]])
            stiff += mount.about[i].stiffness * 180.0 / np.pi * np.outer(spin, spin)
    wanted = np.sort(np.sqrt(1000.0 * np.abs(eigvals(np.linalg.solve(mass, stiff)))) / (2.0 * np.pi))
    np.testing.assert_allclose(found.frequency_hz, wanted, rtol=1e-8)


def test_energy_shares_of_each_mode_sum_to_one_and_so_do_those_of_each_motion() -> None:
    mounts, unit = skewed()
    found = found_by(mounts, unit)
    np.testing.assert_allclose(found.energy.sum(axis=1), 1.0, atol=1e-12)
    np.testing.assert_allclose(found.energy.sum(axis=0), 1.0, atol=1e-9)
    assert len(MOTIONS) == found.energy.shape[1]


def test_where_all_mounts_have_one_loss_factor_every_mode_has_it() -> None:
    mounts, unit = skewed()
    np.testing.assert_allclose(found_by(mounts, unit).loss, 0.05, rtol=1e-9)
    np.testing.assert_allclose(found_by(mounts, unit).damping_ratio, 0.025, rtol=1e-9)


@given(st.floats(0.2, 5.0))
def test_rubber_stiffer_in_quick_motion_raises_all_frequencies_by_its_root(ratio: float) -> None:
    mounts, unit = skewed()
    rubber = laid_out(mounts)
    rest = settle(rubber, unit.centre_mm, np.zeros(3), np.zeros(3))
    plain, quick = modes(rubber, unit, rest), modes(rubber, unit, rest, ratio)
    np.testing.assert_allclose(quick.frequency_hz, np.sqrt(ratio) * plain.frequency_hz, rtol=1e-8)


def test_a_unit_pressed_onto_its_snubbers_shakes_faster() -> None:
    snubbed = Axis(KZ, 3.0, 3.0, 2000.0, 0.5)
    mounts = [Bushing(m.name, m.centre_mm, m.own_axes, (m.along[0], m.along[1], snubbed)) for m in corners()]
    pressed = found_by(mounts, UNIT, (0.0, 0.0, -8000.0))
    bounce = pressed.frequency_hz[pressed.names.index("bounce")]
    assert bounce == pytest.approx(hz(4 * (KZ + 2000.0), 85.0), rel=1e-6)


def test_motion_for_a_picture_moves_its_farthest_spot_by_one() -> None:
    found = found_by(corners(), UNIT)
    moved = found.motion_mm(found.names.index("bounce"), [[100.0, 0.0, 0.0], [-50.0, 20.0, 10.0]])
    np.testing.assert_allclose(np.abs(moved), [[0, 0, 1], [0, 0, 1]], atol=1e-6)


def test_a_ratio_of_nought_and_a_state_that_tips_are_refused() -> None:
    rubber = laid_out(corners())
    rest = settle(rubber, UNIT.centre_mm, np.zeros(3), np.zeros(3))
    with pytest.raises(ValueError, match="ratio"):
        modes(rubber, UNIT, rest, 0.0)
    tall = body(85.0, (0.0, 0.0, 900.0), (1.2e6, 2.1e6, 2.6e6))
    soft = [Bushing(m.name, m.centre_mm, m.own_axes, (Axis(900.0), Axis(900.0), Axis(3.0))) for m in corners()]
    with pytest.raises(NotHeld):
        found_by(soft, tall, (0.0, 0.0, -85.0 * G))
