"""A folded bracket against boxes, panels and meshes: amounts from plain geometry of boxes."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.build import Build
from halfshaft.checks import Origin, Severity, Source
from halfshaft.fold.interfere import faces_of, interference
from halfshaft.geometry import Plane, Pose, mesh
from halfshaft.measure.model import FaceEstimate, GlobalTest, Measured, PointEstimate
from halfshaft.measure.obstacles import Obstacle, flat_panel, obstacles_of
from tests.fold.builders import hole, hung, plate, slit
from tests.fold.frames import measured_of

# A plate 100 x 60 x 5 standing over the origin's quarter plane.
PLATE = plate("plate", [(0, 0), (100, 0), (100, 60), (0, 60)])


def about(box_low, box_high, clearance=6.0, spread=0.0, **more) -> Obstacle:
    return Obstacle("block", mesh.box(box_low, box_high), clearance, spread, **more)


def common_cm3(check) -> float:
    return float(re.search(r"\(([\d.]+) cm³", check.do)[1])


def one_check(obstacle: Obstacle, panel=PLATE, folds=()):
    (check,) = interference({panel.name: panel}, folds, [obstacle], "front_left")
    return check


@given(st.floats(0.5, 40), st.floats(10, 40))
def test_a_box_through_the_edge_tells_how_far_the_outline_runs_past_it(past: float, wide: float) -> None:
    check = one_check(about([100 - past, 30 - wide / 2, -20], [160, 30 + wide / 2, 20]))
    assert check.severity is Severity.STOP
    assert not check.ok
    # The block goes right through: the outline reaches `past` beyond the block's near side, or half of its width may be
    # saved by going back from a side. The least is told.
    assert check.found == pytest.approx(-min(past, 30 + wide / 2), abs=1e-6)
    assert common_cm3(check) == pytest.approx(past * wide * 5 / 1000, abs=0.006)
    assert "rearward" in check.do or past > 30


@given(st.floats(0.2, 4.5))
def test_a_box_let_into_one_side_tells_its_depth(depth: float) -> None:
    check = one_check(about([30, 20, 5 - depth], [60, 40, 30]))
    assert check.found == pytest.approx(-depth, abs=1e-6)
    assert common_cm3(check) == pytest.approx(30 * 20 * depth / 1000, abs=0.006)


@given(st.floats(0.1, 50), st.floats(0, 50))
def test_the_gap_to_a_box_is_its_distance(dx: float, dz: float) -> None:
    checks = interference({"plate": PLATE}, (), [about([100 + dx, 10, 5 + dz], [400, 20, 300])], "b")
    distance = float(np.hypot(dx, dz))
    if distance >= 60.0:
        assert checks == ()
    else:
        (check,) = checks
        assert check.found == pytest.approx(distance, abs=1e-6)
        assert check.ok == (distance >= 6.0)


def test_a_gap_within_two_spreads_of_the_clearance_is_a_caution() -> None:
    block = [110.0, 0, 0], [150.0, 60, 5]
    assert one_check(about(*block, clearance=6.0, spread=1.9)).ok
    unsure = one_check(about(*block, clearance=6.0, spread=2.1))
    assert unsure.severity is Severity.CAUTION
    assert not unsure.ok
    assert "two spreads" in unsure.do


def test_the_place_is_told_by_the_nearest_hole_and_hidden_things_are_called_hidden() -> None:
    panel = plate("plate", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("RL3", 20, 20), hole("RL4", 80, 30)])
    check = one_check(about([90, 20, -5], [120, 40, 8], hidden=True), panel)
    assert "hole RL4" in check.do
    assert "(hidden)" in check.do
    assert "left" in check.do


def test_a_hole_that_the_stud_passes_through_is_no_hit() -> None:
    panel = plate("plate", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("RL3", 50, 30, 40.0)])
    check = one_check(about([45, 25, -50], [55, 35, 50], clearance=3.0), panel)
    # corner of a 10 mm square in a 40 mm round hole: 20 - 5 sqrt(2)
    assert check.found == pytest.approx(20 - 5 * np.sqrt(2), abs=0.03)
    assert check.ok


def test_the_second_panel_is_judged_where_the_fold_carries_it() -> None:
    fold = slit("plate", "ear", [(100, 0), (100, 60)], [(60, 0), (0, 0)], 90.0)
    ear = hung(plate("ear", [(0, 0), (60, 0), (60, 80), (0, 80)]), fold, PLATE)
    checks = interference({"plate": PLATE, "ear": ear}, [fold], [about([60, 10, 50], [300, 50, 70])], "b")
    bad = [check for check in checks if not check.ok]
    assert [check.about for check in bad] == ["b, panel ear, block"]


def test_a_socket_that_meets_a_block_is_told() -> None:
    panel = plate("plate", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("RL3", 50, 30, socket_mm=25.0)])
    block = about([40, 20, 40], [60, 40, 60])
    checks = interference({"plate": panel}, (), [block], "b", reach_mm=lambda h: 75.0)
    (bad,) = [check for check in checks if not check.ok]
    assert "socket" in bad.about
    far = interference({"plate": panel}, (), [block], "b", reach_mm=lambda h: 20.0)
    assert all(check.ok for check in far)


def test_a_flat_panel_through_points_has_its_area_times_thickness() -> None:
    corners = np.array([[0, 0, 0], [300, 0, 100], [300, 200, 100], [0, 200, 0]], dtype=float)
    solid = flat_panel(corners, 1.5)
    assert solid.volume_mm3 == pytest.approx(np.hypot(300, 100) * 200 * 1.5, rel=1e-9)
    with pytest.raises(ValueError, match="cross"):
        flat_panel(corners[[0, 2, 1, 3]], 1.5)


def measured_with(points: dict[str, tuple[float, float, float]], faces: dict[str, tuple[str, ...]]) -> Measured:
    estimates = {n: PointEstimate(n, "car", np.array(p, float), 0.25 * np.eye(3)) for n, p in points.items()}
    made = {}
    for name, names in faces.items():
        spots = np.array([points[n] for n in names])
        plane = Plane.through(spots, toward=[0, 0, 1])
        made[name] = FaceEstimate(name, "car", plane, spots.mean(axis=0), np.diag([0, 0, 0, 0.25]), names)
    return Measured(
        estimates, made, {"car": Pose.identity()}, np.zeros(0), np.zeros((0, 0)), {}, (), (), (),
        GlobalTest(0, 0.0, 0.0, 0.0, 1.0),
    )  # fmt: skip


def test_a_panel_may_lie_on_its_own_face_and_not_run_through_another() -> None:
    top = {"a": (0, 0, 0), "b": (100, 0, 0), "c": (100, 60, 0), "d": (0, 60, 0)}
    wall = {"e": (40, 20, -30), "f": (40, 20, 30), "g": (40, 40, 30), "h": (40, 40, -30)}
    measured = measured_with(
        {f"car.{k}": v for k, v in (top | wall).items()},
        {"car.face": ("car.a", "car.b", "car.c", "car.d"), "car.wall": ("car.e", "car.f", "car.g", "car.h")},
    )
    source = Source(Origin.COMMON_PRACTICE, "wall of a frame rail")
    faces = faces_of(measured, {"plate": PLATE}, 3.0, source)
    checks = interference({"plate": PLATE}, (), faces, "b", measured=measured)
    (bad,) = [check for check in checks if not check.ok]
    assert "car.wall" in bad.about
    assert bad.severity is Severity.CAUTION
    assert f"{20 * 3 * 5 / 1000:.2f} cm³" in bad.do


@pytest.mark.parametrize("face", ["car.face", "car.other"])
def test_a_bolt_of_a_panel_that_stands_off_its_face_goes_through_that_face_and_no_other(face: str) -> None:
    # 3 mm of metal 4 mm under the plate, in the way of a socket from below
    metal = Obstacle("face", mesh.box([0, 0, -7], [100, 60, -4]), 0.0, faces=frozenset({face}), sure=False)
    off = plate(
        "plate", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("a", 50, 30, socket_mm=24.0)], contact="none"
    )
    hits = [c for c in interference({"plate": off}, (), [metal], "b", lambda _: 60.0) if not c.ok]
    assert [c.about for c in hits] == ([] if face == off.face else ["b, bolt and socket of hole a, face"])


@pytest.mark.parametrize(
    ("at", "miss"), [([[0, 0, 0], [60, 0, 0], [0, 40, 0]], 0.0), ([[0, 0, 0], [90, 0, 0], [0, 40, 0]], 20.0)]
)
def test_a_mesh_whose_spots_do_not_fit_their_points_is_told(at: list[list[int]], miss: float, tmp_path: Path) -> None:
    trimesh.creation.box((30.0, 30.0, 30.0)).export(tmp_path / "tank.stl")
    build = Build.model_validate(
        {"build": {"name": "t"}, "obstacle": {"tank": {"mesh": "tank.stl", "at": at, "on": ["A", "B", "C"]}}}
    )
    known = measured_of({"car.A": (500, 0, 400), "car.B": (500, 60, 400), "car.C": (500, 0, 440)})
    (tank,), checks = obstacles_of(build, known, tmp_path)
    if not miss:
        assert checks == ()
        assert tank.spread_mm < 1.0
        return
    (check,) = checks
    assert check.severity is Severity.CAUTION
    # 30 mm too long a side cannot be shared out so that no corner is farther off than a third of it
    assert check.found == pytest.approx(miss, abs=10.0)
    assert tank.spread_mm >= check.found
    assert "A, B, C" in check.do
