"""The analytic Jacobian against finite differences, for every kind of reading, within a body and across bodies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.geometry.pose import turn
from halfshaft.measure.system import Equation, Network, State, assemble, bodies_of, jacobian, predict, stepped

KINDS = ["distance", "height", "rise", "offset", "station", "angle", "slope", "bevel", "onface", "given", "mirror"]
DEGREES = {"angle", "slope", "bevel"}


def _equations(kind: str, points: tuple[int, ...], faces: tuple[int, ...], frame: int) -> list[Equation]:
    take = {"distance": 2, "rise": 2, "slope": 2, "mirror": 2, "angle": 3, "bevel": 0}.get(kind, 1)
    on = {"onface": 1, "bevel": 2}.get(kind, 0)
    standing = faces[-1:] if kind == "onface" else faces[:on]
    told = -1 if kind in {"distance", "angle", "bevel", "onface"} else frame
    unit = "deg" if kind in DEGREES else "mm"
    parts = 3 if kind in {"given", "mirror"} else 1
    return [Equation(0, p, kind, points[:take], standing, told, 0.0, 1.0, unit) for p in range(parts)]


def _network() -> Network:
    """Three bodies with three points and two faces each; every kind within the root, within another, and across."""
    equations: list[Equation] = []
    for kind in KINDS:
        equations += _equations(kind, (0, 1, 2), (0, 1), 0)
        equations += _equations(kind, (3, 4, 5), (2, 3), 1)
        equations += _equations(kind, (3, 4, 5), (2, 3), 0)
        equations += _equations(kind, (0, 3, 6), (0, 2), 0)
        equations += _equations(kind, (6, 4, 7), (5, 3), 2)
        equations += _equations(kind, (3, 0, 4), (2, 1), 1)
    names = [f"b{i // 3}.P{i}" for i in range(9)]
    faces = [f"b{i // 2}.F{i}" for i in range(6)]
    return assemble(
        ["b0", "b1", "b2"], 0, names, [i // 3 for i in range(9)], faces, [i // 2 for i in range(6)], equations
    )


def _state(seed: int) -> State:
    rng = np.random.default_rng(seed)
    normals = rng.normal(size=(6, 3))
    return State(
        rng.uniform(-1500.0, 1500.0, (9, 3)),
        normals / np.linalg.norm(normals, axis=1, keepdims=True),
        rng.uniform(-800.0, 800.0, 6),
        np.array([np.eye(3), turn(rng.normal(size=3)), turn(rng.normal(size=3))]),
        np.vstack([np.zeros(3), rng.uniform(-900.0, 900.0, (2, 3))]),
    )


NETWORK = _network()


@settings(max_examples=12, deadline=None)  # each looks at every column
@given(st.integers(0, 2**32 - 1))
def test_the_slopes_are_those_of_the_predictions(seed: int) -> None:
    state = _state(seed)
    analytic = jacobian(NETWORK, state).toarray()
    step = np.full(NETWORK.size, 1e-3)
    for body, at in enumerate(NETWORK.pose_at):
        if body != NETWORK.root:
            step[at : at + 3] = 1e-6
    for at in NETWORK.face_at:
        step[at : at + 2] = 1e-6
    for column in range(NETWORK.size):
        delta = np.zeros(NETWORK.size)
        delta[column] = step[column]
        ahead, behind = (
            predict(NETWORK, stepped(NETWORK, state, delta)),
            predict(NETWORK, stepped(NETWORK, state, -delta)),
        )
        numeric = (ahead - behind) / (2.0 * step[column])
        # Angles close to straight, and lines close to upright, bend within the step: allow for their curvature.
        scale = 1.0 + np.abs(analytic[:, column])
        assert np.all(np.abs(numeric - analytic[:, column]) < 2e-4 * scale + 1e-5 * scale**2)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_moving_everything_together_changes_no_reading_that_has_no_frame(seed: int) -> None:
    """Rotation and shift of one whole body in its own axes leaves its tapes, angles, bevels and stand-offs alone."""
    state = _state(seed)
    rotation, shift = turn(np.array([0.3, -0.2, 0.5])), np.array([10.0, -20.0, 30.0])
    moved = State(
        state.points_mm @ rotation.T + shift,
        state.normals @ rotation.T,
        state.distances_mm + (state.normals @ rotation.T) @ shift,
        state.rotations,
        state.shifts_mm,
    )
    inside = [i for i, e in enumerate(NETWORK.equations) if e.frame < 0 and len(bodies_of(NETWORK, e)) == 1]
    assert len(inside) == 12
    assert np.allclose(predict(NETWORK, moved)[inside], predict(NETWORK, state)[inside], atol=1e-6)


def _pair(kind: str, first: tuple[float, float, float], second: tuple[float, float, float]) -> tuple[Network, State]:
    network = assemble(["car"], 0, ["car.A", "car.B"], [0, 0], [], [], _equations(kind, (0, 1), (), 0))
    return network, State(np.array([first, second]), np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)))


@pytest.mark.parametrize("kind", ["distance", "slope", "rise", "mirror"])
def test_points_in_one_place_give_finite_slopes(kind: str) -> None:
    network, state = _pair(kind, (5.0, 6.0, 7.0), (5.0, 6.0, 7.0))
    assert np.all(np.isfinite(jacobian(network, state).toarray()))
    assert np.all(np.isfinite(predict(network, state)))


def test_the_slope_of_an_upright_line_is_ninety_and_finite() -> None:
    network, state = _pair("slope", (5.0, 6.0, 7.0), (5.0, 6.0, 9.0))
    assert predict(network, state)[0] == pytest.approx(90.0)
    assert np.all(np.isfinite(jacobian(network, state).toarray()))


@pytest.mark.parametrize(("last", "expected"), [((2.0, 0.0, 0.0), 180.0), ((-3.0, 0.0, 0.0), 0.0)])
def test_straight_and_folded_angles_are_finite(last: tuple[float, float, float], expected: float) -> None:
    network = assemble(["car"], 0, ["a", "b", "c"], [0, 0, 0], [], [], _equations("angle", (0, 1, 2), (), 0))
    points = np.array([(-1.0, 0.0, 0.0), (0.0, 0.0, 0.0), last])
    state = State(points, np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)))
    assert predict(network, state)[0] == pytest.approx(expected)
    assert np.all(np.isfinite(jacobian(network, state).toarray()))


def test_signs_are_those_of_the_shop() -> None:
    """Left is +y, forward +x, up +z (ISO 8855); a slope is positive when the second point is higher."""
    for kind, point, value in [("height", (1, 2, 3), 3), ("offset", (1, 2, 3), 2), ("station", (1, 2, 3), 1)]:
        network, state = _pair(kind, tuple(map(float, point)), (0.0, 0.0, 0.0))
        assert predict(network, state)[0] == value
    network, state = _pair("slope", (0.0, 0.0, 0.0), (100.0, 0.0, 100.0))
    assert predict(network, state)[0] == pytest.approx(45.0)
    network, state = _pair("rise", (0.0, 0.0, 40.0), (100.0, 0.0, 100.0))
    assert predict(network, state)[0] == pytest.approx(60.0)
    network, state = _pair("mirror", (10.0, 5.0, 1.0), (10.0, -5.0, 1.0))
    assert np.allclose(predict(network, state), 0.0)


def test_the_bevel_of_a_square_box_edge_is_ninety() -> None:
    network = assemble(["car"], 0, [], [], ["car.top", "car.side"], [0, 0], _equations("bevel", (), (0, 1), 0))
    normals = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
    state = State(np.zeros((0, 3)), normals, np.zeros(2), np.eye(3)[None], np.zeros((1, 3)))
    assert predict(network, state)[0] == pytest.approx(90.0)
    blunt = State(
        np.zeros((0, 3)),
        np.array([[0.0, 0.0, 1.0], [0.0, np.sin(0.5), np.cos(0.5)]]),
        *(np.zeros(2), np.eye(3)[None], np.zeros((1, 3))),
    )
    assert predict(network, blunt)[0] == pytest.approx(180.0 - np.degrees(0.5))
