"""What the adjustment must do on small networks whose answer can be told by hand, and on awkward ones."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import chi2, norm

from halfshaft.build.schema import Axes
from halfshaft.geometry.pose import turn
from halfshaft.measure.adjust import CRITICAL_W, NONCENTRALITY, NotHeld, adjust, examine, settle
from halfshaft.measure.snoop import snoop
from halfshaft.measure.system import Equation, Network, State, assemble, jacobian, predict, root_points_mm, stepped

BOX = np.array([[x, y, z] for x in (0.0, 1200.0) for y in (-400.0, 400.0) for z in (300.0, 700.0)])


def _network(
    equations: list[tuple[str, tuple[int, ...], float, float]],
    points: int,
    body: list[int] | None = None,
    faces: list[int] | None = None,
) -> Network:
    """Equations as (kind, points, value, sigma) in the root's frame; 'onface' and 'bevel' name faces last."""
    out = []
    bodies = body or [0] * points
    for row, (kind, at, value, sigma) in enumerate(equations):
        spots, on = at, ()
        if kind == "onface":
            spots, on = at[:1], at[1:]
        if kind == "bevel":
            spots, on = (), at
        frame = -1 if kind in {"distance", "angle", "bevel", "onface"} else 0
        unit = "deg" if kind in {"angle", "slope", "bevel"} else "mm"
        out.append(Equation(row, 0, kind, spots, on, frame, value, sigma, unit))
    names = ["car", "unit"][: max(bodies) + 1]
    planes = faces or []
    return assemble(
        names, 0, [f"{names[b]}.P{i}" for i, b in enumerate(bodies)], bodies, [f"car.F{i}" for i in planes], planes, out
    )


def _state(points: np.ndarray, bodies: int = 1, faces: int = 0) -> State:
    normals = np.tile([0.0, 0.0, 1.0], (faces, 1))
    return State(points.copy(), normals, np.zeros(faces), np.tile(np.eye(3), (bodies, 1, 1)), np.zeros((bodies, 3)))


def _all(network: Network) -> np.ndarray:
    return np.ones(len(network.equations), dtype=bool)


def _read(network: Network, truth: State, noise: float = 0.0, seed: int = 1) -> Network:
    """The same network with the readings of `truth`, `noise` spreads off."""
    rng = np.random.default_rng(seed)
    values = predict(network, truth) + noise * rng.normal(size=len(network.equations)) * network.sigmas
    return _with_values(network, values)


def _with_values(network: Network, values: np.ndarray) -> Network:
    told = [
        Equation(e.row, e.part, e.kind, e.points, e.faces, e.frame, float(v), e.sigma, e.unit)
        for e, v in zip(network.equations, values, strict=True)
    ]
    return assemble(
        network.body_names,
        network.root,
        network.point_names,
        [int(b) for b in network.point_body],
        network.face_names,
        [int(b) for b in network.face_body],
        told,
    )


def _every_tape(sigma: float = 1.0, points: int = 8) -> list[tuple[str, tuple[int, ...], float, float]]:
    return [("distance", (a, b), 0.0, sigma) for a in range(points) for b in range(a)]


def test_two_equal_tapes_halve_the_variance_and_have_half_the_redundancy() -> None:
    """Mean of two readings: variance sigma^2 / 2, redundancy 1/2 each."""
    equations = [("height", (0,), 500.0, 2.0), ("height", (0,), 504.0, 2.0)]
    equations += [("offset", (0,), 10.0, 1.0), ("station", (0,), 20.0, 1.0)]
    result = adjust(_network(equations, 1), _state(np.zeros((1, 3))), None, np.ones(4, dtype=bool))
    assert np.allclose(result.state.points_mm[0], [20.0, 10.0, 502.0], atol=1e-9)
    assert result.covariance[2, 2] == pytest.approx(2.0)
    assert np.allclose(result.redundancy, [0.5, 0.5, 0.0, 0.0], atol=1e-9)
    assert result.degrees_of_freedom == 1
    # w of the mean of two: v / (sigma sqrt(r)) = 2 / (2 sqrt(0.5)).
    assert abs(result.w[0]) == pytest.approx(np.sqrt(2.0))


def test_a_spur_has_no_redundancy_no_w_and_no_least_slip() -> None:
    truth = _state(np.vstack([BOX, [600.0, 0.0, 1500.0]]))
    network = _read(_network(_every_tape() + [("distance", (8, k), 0.0, 1.0) for k in (0, 3, 5)], 9), truth)
    result = adjust(network, stepped(network, truth, np.full(network.size, 0.5)), None, _all(network))
    assert np.allclose(result.redundancy[-3:], 0.0, atol=1e-6)
    assert np.all(result.w[-3:] == 0.0)
    assert np.all(np.isinf(result.least_seen[-3:]))
    assert np.all(np.isfinite(result.covariance))


def test_only_tapes_leave_six_moves_open_and_inner_constraints_hold_them() -> None:
    """Minimum-norm property: the covariance is the pseudo-inverse of the normal matrix (Meissl; inner constraints)."""
    truth = _state(BOX)
    network = _read(_network(_every_tape(), 8), truth, noise=1.0)
    result = adjust(network, truth, None, _all(network))
    assert result.datum.defect == 6
    assert result.degrees_of_freedom == 28 - (24 - 6)
    slopes = jacobian(network, result.state).toarray()
    assert np.allclose(result.covariance, np.linalg.pinv(slopes.T @ slopes, rcond=1e-10), atol=1e-8)


def test_the_answer_is_that_of_an_independent_solver() -> None:
    """scipy.optimize.least_squares on the same residuals, with heights, offsets and stations holding the datum."""
    truth = _state(BOX)
    equations = _every_tape() + [(k, (i,), 0.0, 1.5) for i in range(0, 8, 2) for k in ("height", "offset", "station")]
    equations += [("angle", (0, 1, 2), 0.0, 0.3), ("slope", (1, 6), 0.0, 0.3), ("rise", (2, 3), 0.0, 1.0)]
    network = _read(_network(equations, 8), truth, noise=1.0)
    ours = adjust(network, truth, None, _all(network))

    def off(flat: np.ndarray) -> np.ndarray:
        return (predict(network, _state(flat.reshape(8, 3))) - network.values) / network.sigmas

    other = least_squares(off, truth.points_mm.ravel(), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    assert np.allclose(ours.state.points_mm.ravel(), other.x, atol=1e-4)
    assert ours.chi2 == pytest.approx(2.0 * other.cost, rel=1e-8)
    assert np.allclose(ours.covariance, np.linalg.inv(other.jac.T @ other.jac), rtol=1e-3, atol=1e-6)


def test_axes_put_the_builders_points_where_he_says() -> None:
    """3-2-1: origin at nought, along on +x, the third level with them on the left; nothing else is strained."""
    turned = _state(BOX @ turn(np.array([0.4, -0.3, 2.6])).T + np.array([50.0, -80.0, 900.0]))
    network = _read(_network(_every_tape(), 8), turned)
    state, _ = settle(network, turned, _all(network), {0: Axes(origin="P0", along="P4", level="P2")})
    points = state.points_mm
    assert np.allclose(points[0], 0.0, atol=1e-6)
    assert np.allclose(points[4], [1200.0, 0.0, 0.0], atol=1e-6)
    assert points[2][2] == pytest.approx(0.0, abs=1e-6)
    assert points[2][1] > 0.0
    assert np.allclose(predict(network, state), network.values, atol=1e-6)
    result = examine(network, state, _all(network), {0: Axes(origin="P0", along="P4", level="P2")})
    held = [0, 1, 2, 13, 14, 8]
    assert np.allclose(np.diag(result.covariance)[held], 0.0)
    assert result.degrees_of_freedom == 28 - 18


def test_axes_hold_only_what_the_heights_leave_open() -> None:
    truth = _state(BOX)
    equations = _every_tape() + [("height", (i,), 0.0, 1.0) for i in range(8)]
    network = _read(_network(equations, 8), truth, noise=1.0)
    start = _state(BOX @ turn(np.array([0.0, 0.0, 2.5])).T)
    axes = {0: Axes(origin="P0", along="P4", level="P2")}
    state, _ = settle(network, start, _all(network), axes)
    result = examine(network, state, _all(network), axes)
    assert result.datum.defect == 3
    assert np.allclose(state.points_mm[0][:2], 0.0, atol=1e-6)
    assert state.points_mm[0][2] == pytest.approx(300.0, abs=3.0)
    assert state.points_mm[4][0] > 0.0
    assert state.points_mm[4][1] == pytest.approx(0.0, abs=1e-6)


def test_shape_and_tests_do_not_depend_on_the_datum() -> None:
    """Adjusted readings, redundancies and w are invariant under the choice of datum (Caspary 1987, from memory)."""
    truth = _state(BOX)
    network = _read(_network(_every_tape(), 8), truth, noise=1.0)
    free = adjust(network, truth, None, _all(network))
    axes = {0: Axes(origin="P0", along="P4", level="P2")}
    state, _ = settle(network, truth, _all(network), axes)
    held = examine(network, state, _all(network), axes)
    assert np.allclose(free.residuals, held.residuals, atol=1e-5)
    assert np.allclose(free.redundancy, held.redundancy, atol=1e-7)
    assert np.allclose(free.w, held.w, atol=1e-5)


def test_a_point_on_too_few_tapes_is_named() -> None:
    truth = _state(np.vstack([BOX, [600.0, 0.0, 1500.0]]))
    network = _read(
        _network([*_every_tape(), ("distance", (8, 0), 0.0, 1.0), ("distance", (8, 3), 0.0, 1.0)], 9), truth
    )
    with pytest.raises(NotHeld, match=r"car\.P8") as found:
        adjust(network, truth, None, _all(network))
    assert found.value.points == [8]


def test_a_bad_start_still_comes_home() -> None:
    truth = _state(BOX)
    network = _read(_network(_every_tape(), 8), truth)
    rng = np.random.default_rng(3)
    start = stepped(network, truth, rng.normal(size=network.size) * 60.0)
    result = adjust(network, start, None, _all(network))
    assert result.chi2 < 1e-6


def test_points_that_start_in_one_place_do_not_break_it() -> None:
    truth = _state(BOX)
    network = _read(_network(_every_tape(), 8), truth)
    start = BOX.copy()
    start[1] = start[0]
    result = adjust(network, _state(start), None, _all(network))
    assert np.all(np.isfinite(result.state.points_mm))
    assert np.all(np.isfinite(result.covariance))


def test_two_bodies_that_are_taped_together_share_one_shape() -> None:
    """Points of the unit, told in its own axes, come out in root axes where they are; unit tapes are its own."""
    there = np.array([[400.0, 100.0, 500.0], [700.0, -150.0, 480.0], [500.0, 0.0, 760.0], [650.0, 120.0, 600.0]])
    rotation, shift = turn(np.array([0.2, 0.1, -0.4])), np.array([550.0, 20.0, 560.0])
    own = (there - shift) @ rotation
    truth = State(
        np.vstack([BOX, own]),
        np.zeros((0, 3)),
        np.zeros(0),
        np.array([np.eye(3), rotation]),
        np.array([[0, 0, 0], shift]),
    )
    equations = _every_tape() + [("distance", (a, b), 0.0, 1.0) for a in range(8, 12) for b in range(8, a)]
    equations += [("distance", (a, b), 0.0, 1.0) for a in range(8, 12) for b in range(8)]
    network = _read(_network(equations, 12, [0] * 8 + [1] * 4), truth)
    start = stepped(network, truth, np.concatenate([np.full(36, 3.0), [0.02, -0.03, 0.01, 5.0, -4.0, 6.0]]))
    result = adjust(network, start, None, _all(network))
    assert result.datum.defect == 12
    assert np.allclose(predict(network, result.state), network.values, atol=1e-6)
    together = root_points_mm(network, result.state)
    apart = np.linalg.norm(together[:, None] - together[None], axis=2)
    everything = np.vstack([BOX, there])
    assert np.allclose(apart, np.linalg.norm(everything[:, None] - everything[None], axis=2), atol=1e-5)


def test_faces_are_found_from_points_on_them_and_their_bevel() -> None:
    truth = State(
        BOX.copy(),
        np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]]),
        np.array([700.0, 400.0]),
        np.eye(3)[None],
        np.zeros((1, 3)),
    )
    equations = _every_tape()
    equations += [("onface", (i, 0), 0.0, 0.5) for i in (1, 3, 5, 7)] + [
        ("onface", (i, 1), 0.0, 0.5) for i in (2, 3, 6, 7)
    ]
    equations += [("bevel", (0, 1), 90.0, 0.5)]
    network = _read(_network(equations, 8, faces=[0, 0]), truth)
    start = stepped(network, truth, np.concatenate([np.full(24, 2.0), [0.05, -0.04, 8.0, 0.03, 0.06, -5.0]]))
    result = adjust(network, start, None, _all(network))
    assert result.chi2 < 1e-9
    assert abs(float(result.state.normals[0] @ result.state.normals[1])) < 1e-7
    assert result.degrees_of_freedom == len(equations) - (30 - 6)


def test_critical_value_and_noncentrality_are_baardas() -> None:
    """Baarda 1968, from memory: alpha 0.1 % two-sided gives 3.29, with power 80 % the root of lambda is 4.13."""
    assert pytest.approx(3.29, abs=0.005) == CRITICAL_W
    assert pytest.approx(4.13, abs=0.005) == NONCENTRALITY
    assert norm.cdf(NONCENTRALITY - CRITICAL_W) == pytest.approx(0.80)


def test_the_misfit_is_spread_as_chi_square() -> None:
    """Mean over 200 draws of the misfit is its degrees of freedom within four standard errors."""
    truth = _state(BOX)
    blank = _network(_every_tape(), 8)
    found = [adjust(n, truth, None, _all(n)).chi2 for n in (_read(blank, truth, 1.0, seed) for seed in range(200))]
    freedom = 28 - 18
    assert abs(np.mean(found) - freedom) < 4.0 * np.sqrt(2.0 * freedom / 200.0)
    low, high = chi2.ppf([0.005, 0.995], freedom)
    assert np.mean([(low < f) & (f < high) for f in found]) > 0.95


def test_a_least_slip_is_found_four_times_in_five() -> None:
    """Put in the least slip that is said to be seen: it passes the critical value in 80 % of draws."""
    truth = _state(BOX)
    blank = _network(_every_tape(), 8)
    slip = adjust(_read(blank, truth), truth, None, _all(blank)).least_seen[10]
    seen = 0
    for seed in range(300):
        clean = _read(blank, truth, 1.0, seed)
        values = clean.values.copy()
        values[10] += slip
        seen += abs(adjust(_with_values(clean, values), truth, None, _all(blank)).w[10]) > CRITICAL_W
    assert seen / 300 == pytest.approx(0.80, abs=4.0 * np.sqrt(0.8 * 0.2 / 300.0))


@pytest.mark.parametrize("slip", [10.0, -25.0, 254.0, -600.0])
def test_a_slip_is_set_aside_with_its_size(slip: float) -> None:
    truth = _state(BOX)
    equations = _every_tape() + [("height", (i,), 0.0, 1.0) for i in range(8)]
    network = _read(_network(equations, 8), truth, noise=1.0, seed=5)
    values = network.values.copy()
    values[12] += slip
    found = snoop(_with_values(network, values), truth, _all(network), {})
    assert [a.equation for a in found.aside] == [12]
    assert abs(found.aside[0].slip - slip) < 4.0 * found.aside[0].spread
    assert np.max(np.abs(root_points_mm(network, found.adjustment.state) - BOX)) < 6.0


def test_three_slips_at_once_are_set_aside_and_no_good_reading_stays_out() -> None:
    truth = _state(BOX)
    equations = _every_tape() + [("height", (i,), 0.0, 1.0) for i in range(8)]
    equations += [(k, (i,), 0.0, 1.5) for i in (0, 3, 5, 6) for k in ("offset", "station")]
    network = _read(_network(equations, 8), truth, noise=1.0, seed=11)
    values = network.values.copy()
    values[[3, 17, 31]] += [40.0, -305.0, 18.0]
    found = snoop(_with_values(network, values), truth, _all(network), {})
    assert {a.equation for a in found.aside} == {3, 17, 31}


def test_two_readings_that_disagree_alone_cannot_be_told_apart() -> None:
    """Two heights of one point and nothing else: correlation one, so each stands among the other's likes."""
    equations = [("height", (0,), 500.0, 1.0), ("height", (0,), 520.0, 1.0)]
    equations += [("offset", (0,), 10.0, 1.0), ("station", (0,), 20.0, 1.0)]
    network = _network(equations, 1)
    found = snoop(network, _state(np.array([[20.0, 10.0, 500.0]])), _all(network), {}, robust=False)
    assert len(found.aside) == 1
    assert {found.aside[0].equation, *found.aside[0].among} == {0, 1}


def test_a_slip_on_a_spur_leaves_the_point_located() -> None:
    """With no redundancy nothing can be set aside: the point stays on the reading it has."""
    truth = _state(np.vstack([BOX, [600.0, 0.0, 1500.0]]))
    network = _read(_network(_every_tape() + [("distance", (8, k), 0.0, 1.0) for k in (0, 3, 5)], 9), truth)
    values = network.values.copy()
    values[-1] += 80.0
    found = snoop(_with_values(network, values), truth, _all(network), {})
    assert found.aside == ()
    assert found.adjustment.active[24:27].all()
