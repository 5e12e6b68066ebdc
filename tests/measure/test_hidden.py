"""Claims about slips that the readings hide, against numerical integration and adjustments made the long way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from halfshaft.build import catalogue
from halfshaft.build.schema import Build, Reading
from halfshaft.measure.adjust import Adjustment, adjust
from halfshaft.measure.contest import contest_of
from halfshaft.measure.evidence import log_evidence
from halfshaft.measure.hidden import hidden_slips
from halfshaft.measure.network import Network, State, network_of
from halfshaft.measure.snoop import Aside, Snooped, snoop

Z = {"A": 500.0, "B": 530.0, "C": 470.0, "D": 610.0, "E": 555.0}
# heights and rises alone: linear, so that one step is the whole way
ROWS = [("height", "A"), ("height", "C"), ("height", "E"), ("rise", "AB"), ("rise", "BC"), ("rise", "CD"),
        ("rise", "DE"), ("rise", "AD"), ("rise", "BE"), ("height", "A")]  # fmt: skip


def _levels(slips: dict[int, float], seed: int = 1) -> tuple[Build, Network, State]:
    rng = np.random.default_rng(seed)
    readings = []
    for number, (kind, names) in enumerate(ROWS):
        true = Z[names] if kind == "height" else Z[names[1]] - Z[names[0]]
        value = true + rng.normal() + slips.get(number, 0.0)
        readings.append(
            Reading(kind=kind, names=tuple(f"car.{n}" for n in names), value=(value,), spread=1.0, line=number + 2)
        )
    for n, (x, y) in zip(Z, ((0, 0), (500, 100), (900, -200), (300, 400), (-200, 300)), strict=True):
        readings += [Reading(kind=k, names=(f"car.{n}",), value=(float(v),), spread=1.0) for k, v in
                     (("station", x), ("offset", y))]  # fmt: skip
    build = Build.model_validate({"build": {"name": "t"}, "body": {"car": {}}, "readings": readings})
    network = network_of(build)
    spots = np.array([[0.0, 0.0, Z[n.partition(".")[2]]] for n in network.point_names])
    return build, network, State(spots, np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)))


def _without(build: Build, network: Network, state: State, *rows: int) -> Adjustment:
    use = np.ones(len(network.equations), dtype=bool)
    use[list(rows)] = False
    return adjust(network, state, build, use)


@pytest.mark.parametrize(
    ("w", "redundancy"), [(0.0, 0.5), (3.0, 0.9), (-2.5, 0.04), (1.0, 0.001), (40.0, 0.6), (0.0, 1e-6)]
)
def test_evidence_is_the_integral_over_every_size_of_slip(w: float, redundancy: float) -> None:
    about = w / np.sqrt(redundancy)

    def over(reach: float) -> float:
        # likelihood of the residual with a slip s, against that with none: exp(-((s - about)^2 r - w^2) / 2)
        spread = 1.0 / np.sqrt(redundancy)
        found, _ = quad(
            lambda s: np.exp(-((s - about) ** 2) * redundancy / 2.0),
            max(-reach, about - 40.0 * spread), min(reach, about + 40.0 * spread), limit=400,
            points=[about] if abs(about) < reach else None,
        )  # fmt: skip
        return found / (2.0 * reach)

    near, far = (float(catalogue.default(f"measure.slip_{k}").value) for k in ("reach", "far"))
    expected = w**2 / 2.0 + np.log((over(near) + over(far)) / 2.0)
    assert log_evidence(np.array([w]), np.array([redundancy]))[0] == pytest.approx(expected, abs=1e-5)


def test_a_reading_taken_back_in_thought_stands_as_it_does_in_the_adjustment_with_it() -> None:
    build, network, state = _levels({3: 6.0})
    found = contest_of(_without(build, network, state, 3), 3)
    whole = _without(build, network, state)
    sigma = network.sigmas
    assert found.own_w == pytest.approx(whole.w[3])
    assert found.own_redundancy == pytest.approx(whole.redundancy[3])
    others = [i for i in range(len(ROWS)) if i != 3]
    assert found.w[others] == pytest.approx(whole.w[others])
    assert found.redundancy[others] == pytest.approx(whole.redundancy[others])
    assert found.left[others] == pytest.approx(whole.residuals[others] / sigma[others])


def test_what_a_hidden_slip_moves_is_what_leaving_the_reading_out_moves() -> None:
    build, network, state = _levels({4: 3.0})
    whole = _without(build, network, state)
    found = hidden_slips(Snooped(whole, ()))
    for row in range(len(ROWS)):
        k = int(np.flatnonzero(found.equations == row)[0])
        less = _without(build, network, state, row)
        moved = less.state.points_mm[:, 2] - whole.state.points_mm[:, 2]
        # well within the reach, so nothing is cut off
        heights = network.point_at + 2
        assert found.mean[k][heights] == pytest.approx(moved, abs=1e-6)
        more = np.diag(less.covariance)[heights] - np.diag(whole.covariance)[heights]
        assert found.way[k][heights] ** 2 == pytest.approx(more, abs=1e-6)


def test_the_chance_of_a_hidden_slip_is_that_of_shops_drawn_at_random() -> None:
    # a share of readings slips; among those whose w came out alike, how many did slip is counted
    rng = np.random.default_rng(5)
    build, network, state = _levels({})
    whole = _without(build, network, state)
    share, near = (float(catalogue.default(f"measure.slip_{k}").value) for k in ("share", "reach"))
    redundancy = float(whole.redundancy[6])
    count = 4_000_000
    slipped = rng.random(count) < share
    far = float(catalogue.default("measure.slip_far").value)
    reach = np.where(rng.random(count) < 0.5, near, far)
    slip = np.where(slipped, rng.uniform(-1.0, 1.0, count) * reach, 0.0)
    w = rng.normal(size=count) + slip * np.sqrt(redundancy)
    at = np.abs(w - 2.8) < 0.1
    happened = float(slipped[at].mean())
    odds = share / (1.0 - share) * np.exp(log_evidence(np.array([2.8]), np.array([redundancy])))[0]
    assert odds / (1.0 + odds) == pytest.approx(happened, abs=4.0 * np.sqrt(happened / at.sum()) + 0.005)


def test_the_honest_one_of_two_is_told_where_the_wrong_one_stays_in() -> None:
    build, network, state = _levels({3: 25.0})
    # set aside by hand: an honest reading, so that the slip is still in use
    wrong = _without(build, network, state, 4)
    found = hidden_slips(Snooped(wrong, (Aside(4, 0.0, 1.0, 0.0, ()),)))
    k = int(np.flatnonzero((found.equations == 3) & (found.instead == 4))[0])
    assert found.chance[k] > 0.9
    right = _without(build, network, state, 3)
    heights = network.point_at + 2
    moved = right.state.points_mm[:, 2] - wrong.state.points_mm[:, 2]
    assert found.mean[k][heights] == pytest.approx(moved, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_snooping_keeps_nothing_that_is_a_likelier_slip_than_what_it_set_aside(seed: int) -> None:
    _, network, state = _levels({3: 25.0, 8: -14.0}, seed)
    snooped = snoop(network, state, np.ones(len(network.equations), dtype=bool), {})
    assert snooped.aside
    for aside in snooped.aside:
        assert float(np.max(contest_of(snooped.adjustment, aside.equation).log_odds())) < np.log(3.0)


def test_a_reading_that_nothing_checks_keeps_the_chance_it_had_before() -> None:
    build, network, state = _levels({})
    spur = Reading(kind="rise", names=("car.A", "car.S"), value=(80.0,), spread=1.0, line=40)
    more = [Reading(kind=k, names=("car.S",), value=(10.0,), spread=1.0) for k in ("station", "offset")]
    build = build.model_copy(update={"readings": (*build.readings, spur, *more)})
    network = network_of(build)
    state = replace(state, points_mm=np.vstack([state.points_mm, [10.0, 10.0, 580.0]]))
    adjustment = adjust(network, state, build, np.ones(len(network.equations), dtype=bool))
    found = hidden_slips(Snooped(adjustment, ()))
    at = next(i for i, eq in enumerate(network.equations) if eq.row == len(build.readings) - 3)
    k = int(np.flatnonzero(found.equations == at)[0])
    assert found.chance[k] == pytest.approx(float(catalogue.default("measure.slip_share").value), rel=0.02)
