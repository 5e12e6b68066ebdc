"""What a further reading brings is what the adjustment with it in place gives, for any frame, unit and faces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from halfshaft.build.schema import Build, Reading
from halfshaft.geometry.pose import turn
from halfshaft.measure.adjust import Adjustment, NotHeld, adjust
from halfshaft.measure.candidates import candidates_of
from halfshaft.measure.network import Network, State, network_of, predict
from halfshaft.measure.next_best import NextReading, checking_readings, next_readings, relative_spread_mm


def _build(readings: list[Reading], faces: bool = True) -> Build:
    car = {"face": {"web": {"points": ["A", "B", "C", "D"], "looks": "left"}, "top": {"points": [], "looks": "up"}}}
    bodies = {"car": car if faces else {}, "unit": {}}
    return Build.model_validate({"build": {"name": "t"}, "body": bodies, "readings": readings})


def _random(seed: int) -> tuple[Build, Network, Adjustment]:
    """A frame of seven points with two faces and a unit of five, with most of what could be read."""
    rng = np.random.default_rng(seed)
    frame = ["A", "B", "C", "D", "E", "F", "G"]
    unit = ["P", "Q", "R", "S", "T"]
    spots = {f"car.{n}": rng.uniform([-500, -400, 300], [500, 400, 700]) for n in frame}
    for i, n in enumerate("ABCD"):
        spots[f"car.{n}"][1] = 300.0 + 0.05 * spots[f"car.{n}"][0] + 0.2 * i
    spots |= {f"unit.{n}": rng.uniform(-250, 250, size=3) for n in unit}
    rows: list[tuple[str, tuple[str, ...]]] = []
    for names in ([f"car.{n}" for n in frame], [f"unit.{n}" for n in unit]):
        rows += [("tape", (a, b)) for i, a in enumerate(names) for b in names[i + 1 :] if rng.random() < 0.85]
    rows += [("tape", (f"car.{a}", f"unit.{b}")) for a in frame for b in unit if rng.random() < 0.5]
    if rng.random() < 0.6:
        rows += [("height", (f"car.{n}",)) for n in frame]
    if rng.random() < 0.3:
        rows += [("offset", (f"car.{n}",)) for n in frame]
    rows += [("onface", (f"car.{n}", "car.top")) for n in "AEFG"]
    made = [Reading(kind=k, names=n, value=(1.0,)) for k, n in rows]
    network = network_of(_build(made))
    angle = rng.normal(size=3) * 0.5
    normals = np.array([[-0.05, 1.0, 0.0], rng.normal(size=3) * 0.2 + [0, 0, 1]])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    own = np.array([spots[n] for n in network.point_names])
    order = [network.face_names.index(n) for n in ("car.web", "car.top")]
    state = State(
        own,
        normals[np.argsort(order)],
        np.array([300.0, 500.0])[np.argsort(order)],
        np.array([np.eye(3), turn(angle)]),
        np.array([[0.0, 0, 0], [100.0, 0, 500]]),
    )
    said = predict(network, state)
    build = _build([r.model_copy(update={"value": (float(v),)}) for r, v in zip(made, said, strict=False)])
    network = network_of(build)
    return build, network, adjust(network, state, build, np.ones(len(network.equations), dtype=bool))


def _as_rows(taken: Sequence[NextReading]) -> list[Reading]:
    return [
        Reading(kind=t.kind, names=t.names, value=(t.expected,), instrument=t.instrument, frame=t.frame) for t in taken
    ]


def _after(build: Build, adjustment: Adjustment, taken: list[NextReading], holes: list[str]) -> float:
    """Spread of the holes by a whole adjustment with the readings added."""
    extended = build.model_copy(update={"readings": (*build.readings, *_as_rows(taken))})
    network = network_of(extended)
    whole = adjust(network, adjustment.state, extended, np.ones(len(network.equations), dtype=bool))
    return relative_spread_mm(network, whole, holes)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["gain", "effort"]))
def test_the_spread_told_for_each_pick_is_that_of_the_adjustment_with_it(seed, by):
    try:
        build, network, adjustment = _random(seed)
    except NotHeld:
        assume(False)
    holes = ["car.A", "car.E", "unit.P", "unit.S", "car.web"]
    found = next_readings(build, network, adjustment, holes, count=4, by=by)
    assert len(found) == 4
    before = relative_spread_mm(network, adjustment, holes)
    for number in range(1, len(found) + 1):
        assert found[number - 1].before_mm == pytest.approx(before, rel=1e-6)
        before = _after(build, adjustment, list(found[:number]), holes)
        assert found[number - 1].after_mm == pytest.approx(before, rel=1e-6)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10_000))
def test_no_other_candidate_brings_more_than_the_first(seed):
    try:
        build, network, adjustment = _random(seed)
    except NotHeld:
        assume(False)
    holes = ["car.A", "car.B", "car.G"]
    best = next_readings(build, network, adjustment, holes, count=1)[0]
    tried = candidates_of(build, network, adjustment, holes)
    rng = np.random.default_rng(seed)
    for i in rng.choice(len(tried.kinds), size=8, replace=False):
        eq = tried.equations[i]
        names = (*(network.point_names[p] for p in eq.points), *(network.face_names[f] for f in eq.faces))
        frame = network.body_names[eq.frame] if eq.frame >= 0 else ""
        other = Reading(kind=tried.kinds[i], names=names, value=(float(tried.expected[i]),), frame=frame)
        extended = build.model_copy(update={"readings": (*build.readings, other)})
        grown = network_of(extended)
        whole = adjust(grown, adjustment.state, extended, np.ones(len(grown.equations), dtype=bool))
        if whole.datum.defect < adjustment.datum.defect:
            continue  # it took up what was left to the datum: it told axes, not places
        assert relative_spread_mm(grown, whole, holes) >= best.after_mm - 1e-9


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 10_000))
def test_a_rigid_motion_of_the_datum_changes_nothing(seed):
    try:
        build, network, adjustment = _random(seed)
    except NotHeld:
        assume(False)
    holes = ["car.A", "car.E", "unit.P", "car.web"]
    axes = {"datum": {"origin": "C", "along": "D", "level": "G"}}
    other = Build.model_validate(
        {
            "build": {"name": "t"},
            "body": {n: b.model_dump() | (axes if n == "car" else {}) for n, b in build.body.items()},
        }
    ).model_copy(update={"readings": build.readings})
    held = adjust(network, adjustment.state, other, np.ones(len(network.equations), dtype=bool))
    assert relative_spread_mm(network, held, holes) == pytest.approx(
        relative_spread_mm(network, adjustment, holes), rel=1e-6
    )
    first = next_readings(build, network, adjustment, holes, count=3)
    second = next_readings(other, network, held, holes, count=3)
    assert [f.after_mm for f in first] == pytest.approx([s.after_mm for s in second], rel=1e-6)


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 10_000))
def test_picks_for_checking_raise_the_redundancy_as_told(seed):
    try:
        build, network, adjustment = _random(seed)
    except NotHeld:
        assume(False)
    found = checking_readings(build, network, adjustment, count=6)
    lean = {
        i for i in np.flatnonzero(adjustment.redundancy < 0.1) if network.equations[i].row >= 0 and adjustment.use[i]
    }
    assert bool(found) == bool(lean) or not lean
    more = tuple(
        Reading(kind=t.kind, names=t.names, value=(t.expected,), instrument=t.instrument, frame=t.frame) for t in found
    )
    extended = build.model_copy(update={"readings": (*build.readings, *more)})
    grown = network_of(extended)
    whole = adjust(grown, adjustment.state, extended, np.ones(len(grown.equations), dtype=bool))
    told = {label for f in found for label in f.checks}
    for i in lean:
        row = network.equations[i].row
        reading = build.readings[row]
        label = " ".join([reading.kind, *(n.removeprefix("car.") for n in reading.names)])
        now = next(float(whole.redundancy[k]) for k, eq in enumerate(grown.equations) if eq.row == row)
        assert (now >= 0.1 - 1e-9) == (label in told)
