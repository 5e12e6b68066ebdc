"""The demonstration is what it says: invented, complete, hard enough, and true to the geometry it was made from."""

from __future__ import annotations

import itertools
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from halfshaft.build import load
from halfshaft.build.readings import KINDS
from halfshaft.demo import make, make_road
from halfshaft.demo.truth import truth
from halfshaft.fold import fold
from halfshaft.measure import measure
from halfshaft.measure.network import network_of
from halfshaft.measure.system import State, predict

DEMO = Path(str(files("halfshaft.demo")))


@pytest.fixture(scope="module")
def build():
    return load(DEMO)


@pytest.fixture(scope="module")
def true_state(build):
    """The truth laid out as the network wants it."""
    network, reality = network_of(build), truth()
    unit = network.body_names.index("unit")
    rotations = np.tile(np.eye(3), (2, 1, 1))
    shifts = np.zeros((2, 3))
    rotations[unit], shifts[unit] = reality.unit_in_car.rotation, reality.unit_in_car.shift_mm
    state = State(
        np.array([reality.points_mm[name] for name in network.point_names]),
        np.array([reality.faces[name].normal for name in network.face_names]),
        np.array([reality.faces[name].distance_mm for name in network.face_names]),
        rotations,
        shifts,
    )
    return network, state


def test_the_demo_is_marked_as_invented():
    for name in ("build.toml", "readings.csv"):
        assert "INVENTED" in (DEMO / name).read_text().splitlines()[0]


def test_the_demo_has_the_work_it_promises(build):
    assert sum(len(body.point) for body in build.body.values()) >= 40
    assert len(build.readings) >= 160
    assert {reading.kind for reading in build.readings} == set(KINDS)
    assert len(make.SLIPS) == 3
    assert {"front_left", "front_left_first_try", "front_right", "rear"} <= set(build.bracket)
    assert all(len(build.bracket[name].panel) >= 3 for name in ("front_left", "front_right"))
    assert any(obstacle.hidden for obstacle in build.obstacle.values())
    assert any(obstacle.mesh for obstacle in build.obstacle.values())


def test_the_files_are_those_that_the_truth_makes():
    assert (DEMO / "readings.csv").read_text() == make.readings_text()
    assert (DEMO / "spring_perch.stl").read_text() == make.mesh_text()


def test_every_reading_but_the_three_slips_lies_within_four_spreads_of_the_truth(build, true_state):
    # the truth's own geometry and the adjustment's equations were written apart: they must agree
    network, state = true_state
    away = np.array(
        [
            (equation.value - predicted) / equation.sigma
            for equation, predicted in zip(network.equations, predict(network, state), strict=True)
        ]
    )
    wild = {network.equations[i].row for i in np.flatnonzero(np.abs(away) > 4.0)}
    assert len(wild) == 3
    told = {(build.readings[row].kind, " ".join(n.split(".")[1] for n in build.readings[row].names)) for row in wild}
    assert told == {(slip.reading, slip.points) for slip in make.SLIPS}
    kept = np.abs(away) <= 4.0
    assert 0.8 < np.sqrt(np.mean(away[kept] ** 2)) < 1.2


def test_panels_meet_at_angles_that_a_hand_can_fold(build):
    reality = truth()

    def normal(face: str):
        own = reality.faces[face].normal
        return reality.unit_in_car.rotation @ own if face.startswith("unit.") else own

    skew = []
    for bracket in build.bracket.values():
        for joined in bracket.folds:
            one, two = (normal(bracket.panel[name].face) for name in joined.between)
            lean = np.degrees(np.arccos(abs(one @ two)))
            assert 30 <= lean <= 100
            skew.append(abs(90 - lean))
            line = np.cross(one, two)
            assert np.max(np.abs(line / np.linalg.norm(line))) < 0.9999  # along no axis: the angle is compound
    assert max(skew) > 5


def test_the_mesh_is_closed():
    trimesh = pytest.importorskip("trimesh")
    mesh = trimesh.load(DEMO / "spring_perch.stl")
    assert mesh.is_watertight
    # a prism of 24 sides on a circle of 45 mm: area n/2 r^2 sin(2 pi / n)
    assert mesh.volume == pytest.approx(12 * 45**2 * np.sin(2 * np.pi / 24) * 30, rel=1e-5)


def test_spots_of_the_mesh_lie_like_the_points_they_are_put_on(build):
    perch, reality = build.obstacle["spring_perch"], truth()
    for i, j in itertools.combinations(range(3), 2):
        on = np.linalg.norm(reality.points_mm[perch.on[i]] - reality.points_mm[perch.on[j]])
        assert np.linalg.norm(np.subtract(perch.at[i], perch.at[j])) == pytest.approx(on, abs=3)


@pytest.fixture(scope="module")
def measured(build):
    return measure(build)


def test_the_three_slips_and_no_other_reading_are_named(build, measured):
    told = {
        (build.readings[s.index].kind, " ".join(n.split(".")[1] for n in build.readings[s.index].names))
        for s in measured.suspects
    }
    assert told == {(slip.reading, slip.points) for slip in make.SLIPS}
    kinds = {suspect.label.split()[1]: suspect.kind for suspect in measured.suspects}
    assert kinds["WL1"] == "unit mistaken"
    assert kinds["WR2"] == "wrong point named"
    assert measured.global_test.ok
    assert not measured.unlocated


def test_the_points_come_out_where_they_truly_are(measured):
    reality = truth()
    away = []
    for name, point in measured.points.items():
        error = point.xyz_mm - reality.in_car(name)
        away.append(float(error @ np.linalg.solve(point.covariance_mm2, error)))
    assert len(away) == len(reality.points_mm)
    # chi-square of three degrees of freedom: 7.81 holds 95 %, 21.1 holds 99.99 %
    assert max(away) < 21.1
    assert np.mean(np.array(away) < 7.81) > 0.85


def test_the_first_try_hits_the_hidden_gusset_and_the_drawn_outline_does_not(build, measured):
    def stops(name: str) -> list[str]:
        bracket = fold(build, measured, name, folder=DEMO)
        return [
            f"{check.about}: {check.title}" for check in bracket.checks if check.severity == "stop" and not check.ok
        ]

    first = stops("front_left_first_try")
    assert len(first) == 1
    assert "hidden_gusset" in first[0]
    assert stops("front_left") == stops("front_right") == stops("rear") == []


def test_the_files_of_the_road_are_those_that_are_made_and_marked_as_invented():
    for name, text in make_road.FILES.items():
        assert (DEMO / name).read_text(encoding="utf-8") == text()
        assert "INVENTED" in text()
