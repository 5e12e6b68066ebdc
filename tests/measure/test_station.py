"""Measure-up as a whole, on an invented frame of which the truth is known: from a build to points, slips and checks."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from halfshaft.build.schema import Build
from halfshaft.checks import Severity
from halfshaft.geometry.pose import turn
from halfshaft.measure.model import Measured
from halfshaft.measure.station import measure

# An invented ladder frame, mm: left and right rails, two cross members.
CAR = {
    "L1": (0.0, 420.0, 520.0),
    "L2": (600.0, 400.0, 480.0),
    "L3": (1250.0, 380.0, 470.0),
    "R1": (0.0, -420.0, 520.0),
    "R2": (600.0, -400.0, 480.0),
    "R3": (1250.0, -380.0, 470.0),
    "T1": (10.0, 0.0, 610.0),
    "T3": (1240.0, 0.0, 560.0),
    "W1": (300.0, 411.0, 430.0),
    "W2": (900.0, 391.0, 400.0),
}
UNIT = {"A": (0.0, 0.0, 0.0), "B": (310.0, 0.0, 0.0), "C": (140.0, 260.0, 0.0), "D": (150.0, 90.0, 230.0)}
TURN, SHIFT = turn(np.array([0.1, -0.15, 0.3])), np.array([480.0, -60.0, 520.0])


@dataclass
class Shop:
    """Readings of the invented frame with honest errors; `slip` falsifies one."""

    seed: int = 3
    rows: list[dict[str, object]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)
        self.at = {f"car.{n}": np.array(p) for n, p in CAR.items()}
        self.at |= {f"unit.{n}": TURN @ np.array(p) + SHIFT for n, p in UNIT.items()}

    def add(self, kind: str, names: tuple[str, ...], value: float, sigma: float) -> None:
        read = value + sigma * float(self.rng.normal())
        self.rows.append({"kind": kind, "names": names, "value": (read,), "line": len(self.rows) + 2})

    def tape(self, a: str, b: str) -> None:
        self.add("tape", (a, b), float(np.linalg.norm(self.at[a] - self.at[b])), 0.85)

    def height(self, a: str) -> None:
        self.add("height", (a,), float(self.at[a][2]), 1.0)

    def offset(self, a: str) -> None:
        self.add("offset", (a,), float(self.at[a][1]), 1.5)

    def station(self, a: str) -> None:
        self.add("station", (a,), float(self.at[a][0]), 1.5)

    def usual(self) -> Shop:
        names = [f"car.{n}" for n in CAR]
        for i, a in enumerate(names):
            for j, b in enumerate(names[:i]):
                if (i + 2 * j) % 5 != 4:
                    self.tape(b, a)
        for a in names:
            self.height(a)
        for a in ("car.L1", "car.R1", "car.L3", "car.R3", "car.T1"):
            self.offset(a)
        for a in ("car.L1", "car.R3", "car.L2"):
            self.station(a)
        return self

    def build(self, **bodies: dict[str, object]) -> Build:
        sides = {"L": "left", "R": "right", "T": "middle", "W": "left"}
        hints = {n: {"side": sides[n[0]]} for n in CAR}
        car: dict[str, object] = {"root": True, "point": hints}
        return Build.model_validate(
            {
                "build": {"name": "invented frame"},
                "body": {"car": car | bodies.pop("car", {}), **bodies},
                "readings": self.rows,
            }
        )


def _far(measured: Measured, names: dict[str, tuple[float, float, float]], body: str = "car") -> float:
    return max(float(np.linalg.norm(measured.points[f"{body}.{n}"].xyz_mm - p)) for n, p in names.items())


@pytest.fixture(scope="module")
def usual() -> Measured:
    return measure(Shop().usual().build())


def test_points_are_found_without_starting_values(usual: Measured) -> None:
    assert set(usual.points) == {f"car.{n}" for n in CAR}
    assert _far(usual, CAR) < 5.0
    assert usual.suspects == ()
    assert usual.unlocated == ()
    assert usual.global_test.ok


def test_errors_are_within_the_ellipsoids_they_claim(usual: Measured) -> None:
    """Squared distance in the metric of the covariance is chi-square with three degrees of freedom."""
    for name, place in CAR.items():
        point = usual.points[f"car.{name}"]
        off = point.xyz_mm - np.array(place)
        assert float(off @ np.linalg.solve(point.covariance_mm2, off)) < 16.3  # 99.9 % of chi-square, 3 degrees


def test_vector_and_covariance_agree_with_the_points(usual: Measured) -> None:
    mean, covariance = usual.joint(["car.L2", "car.R3"])
    assert np.allclose(mean[:3], usual.points["car.L2"].xyz_mm)
    assert np.allclose(covariance[3:, 3:], usual.points["car.R3"].covariance_mm2)
    assert np.all(np.linalg.eigvalsh(usual.covariance) > -1e-9)


def test_what_the_builder_did_not_say_is_listed_as_assumed(usual: Measured) -> None:
    said = {a.where for a in usual.assumed}
    assert {"instrument.tape.spread", "instrument.level.spread", "instrument.plumb.spread"} <= said
    # Heights, offsets and stations hold the car: its datum is read, not assumed.
    assert "body.car.datum" not in said


def test_a_slip_is_named_with_its_size_and_the_points_stay_good() -> None:
    shop = Shop().usual()
    row = next(i for i, r in enumerate(shop.rows) if r["names"] == ("car.L1", "car.R3"))
    shop.rows[row]["value"] = (shop.rows[row]["value"][0] + 25.0,)  # type: ignore[index]
    found = measure(shop.build())
    assert [s.index for s in found.suspects] == [row]
    suspect = found.suspects[0]
    assert suspect.label == "tape L1 R3"
    assert suspect.line == row + 2
    assert abs(suspect.slip - 25.0) < 3.5 * suspect.slip_spread
    assert "tape L1 R3" in suspect.words
    assert not found.readings[row].used
    assert _far(found, CAR) < 5.0
    assert any(c.about == "tape L1 R3" and not c.ok for c in found.checks)


def test_a_point_that_hangs_on_one_tape_is_named_and_the_rest_stands() -> None:
    shop = Shop().usual()
    shop.at["car.X9"] = np.array([700.0, 0.0, 300.0])
    shop.tape("car.X9", "car.L2")
    found = measure(shop.build())
    assert "car.X9" not in found.points
    assert [u.name for u in found.unlocated] == ["car.X9"]
    assert found.unlocated[0].take
    assert any(c.severity is Severity.STOP and c.about == "X9" and not c.ok for c in found.checks)
    assert _far(found, CAR) < 5.0


def _with_unit(shop: Shop, tied: bool) -> Shop:
    names = [f"unit.{n}" for n in UNIT]
    for i, a in enumerate(names):
        for b in names[:i]:
            shop.tape(a, b)
    if tied:
        for a in names:
            for b in ("car.L2", "car.R2", "car.T1", "car.W2"):
                shop.tape(a, b)
    return shop


def test_a_body_taped_to_the_car_comes_out_in_the_cars_axes() -> None:
    found = measure(_with_unit(Shop().usual(), tied=True).build(unit={"point": {"D": {"height": "up"}}}))
    assert "unit" in found.poses
    there = {n: tuple(TURN @ np.array(p) + SHIFT) for n, p in UNIT.items()}
    assert _far(found, there, "unit") < 8.0
    assert all(found.points[f"unit.{n}"].tied for n in UNIT)
    # Pose and own coordinates agree with what is told in root axes.
    assert np.allclose(found.poses["car"].rotation, np.eye(3))


def test_a_body_that_nothing_ties_keeps_its_own_axes() -> None:
    found = measure(_with_unit(Shop().usual(), tied=False).build(unit={"point": {"D": {"height": "up"}}}))
    assert all(not found.points[f"unit.{n}"].tied for n in UNIT)
    spots = np.array([found.points[f"unit.{n}"].xyz_mm for n in UNIT])
    apart = np.linalg.norm(spots[:, None] - spots[None], axis=2)
    true = np.array(list(UNIT.values()))
    assert np.max(np.abs(apart - np.linalg.norm(true[:, None] - true[None], axis=2))) < 4.0
    assert _far(found, CAR) < 5.0


def test_equal_names_on_two_bodies_are_two_points() -> None:
    shop = Shop().usual()
    shop.at |= {f"unit.{n}": TURN @ (np.array(CAR[n]) / 3.0) + SHIFT for n in ("L1", "L2", "R1", "T1")}
    names = ["unit.L1", "unit.L2", "unit.R1", "unit.T1"]
    for i, a in enumerate(names):
        for b in names[:i]:
            shop.tape(a, b)
    found = measure(shop.build(unit={}))
    assert "car.L1" in found.points
    assert _far(found, CAR) < 5.0


def test_a_face_lies_on_its_points() -> None:
    shop = Shop().usual()
    build = shop.build(car={"face": {"left_rail": {"points": ["L1", "L2", "L3", "W1", "W2"], "looks": "left"}}})
    found = measure(build)
    face = found.faces["car.left_rail"]
    assert face.plane.normal[1] > 0.9
    assert np.linalg.norm(face.plane.normal) == pytest.approx(1.0)
    assert set(face.points) == {"car.L1", "car.L2", "car.L3", "car.W1", "car.W2"}
    assert abs(float(face.plane.height_mm(face.middle_mm))) < 1e-9
    # Best plane through the true points, by singular values.
    spots = np.array([CAR[n] for n in ("L1", "L2", "L3", "W1", "W2")])
    normal = np.linalg.svd(spots - spots.mean(axis=0))[2][2]
    assert abs(float(normal @ face.plane.normal)) > np.cos(np.radians(1.5))
    assert found.covariance[found.where["car.left_rail"], found.where["car.left_rail"]].shape == (4, 4)


def test_a_frame_with_tapes_alone_has_its_shape() -> None:
    shop = Shop()
    names = [f"car.{n}" for n in CAR]
    for i, a in enumerate(names):
        for b in names[:i]:
            shop.tape(a, b)
    found = measure(shop.build())
    spots = np.array([found.points[n].xyz_mm for n in names])
    true = np.array(list(CAR.values()))
    apart = np.linalg.norm(spots[:, None] - spots[None], axis=2) - np.linalg.norm(true[:, None] - true[None], axis=2)
    assert np.max(np.abs(apart)) < 4.0
    assert found.global_test.ok
    assert "body.car.datum" in {a.where for a in found.assumed}


def test_no_readings_at_all_give_nothing_and_no_fault() -> None:
    found = measure(Build.model_validate({"build": {"name": "empty"}, "body": {"car": {"point": {"L1": {}}}}}))
    assert found.points == {}
    assert [u.name for u in found.unlocated] == ["car.L1"]


def test_readings_just_enough_say_that_nothing_checks_them() -> None:
    shop = Shop()
    for name in ("car.L1", "car.L2", "car.R1"):
        shop.height(name)
        shop.offset(name)
        shop.station(name)
    rows = Build.model_validate({"build": {"name": "few"}, "body": {"car": {}}, "readings": shop.rows})
    found = measure(rows)
    assert len(found.points) == 3
    assert found.global_test.degrees_of_freedom == 0
    assert any(c.title == "no reading checks another" and not c.ok for c in found.checks)
    assert all(r.redundancy == pytest.approx(0.0, abs=1e-6) for r in found.readings)
