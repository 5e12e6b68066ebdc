"""A unit set to a place: its points go there, their spread is that of its shape and of the setting, nothing else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from halfshaft.build import load
from halfshaft.fitup.carried import carried
from halfshaft.geometry import Pose
from halfshaft.measure import measure
from halfshaft.measure.model import Measured
from tests.fitup.test_scene import UNIT, write_folder

PLACE = Pose(Rotation.from_euler("xyz", [2.0, -3.0, 5.0], degrees=True).as_matrix(), np.array([130.0, -8.0, 402.0]))
MORE = "\n[body.unit.face.foot]\nlooks = 'front'\n"
ON = "onface, unit.M1 foot, 3\nonface, unit.OL foot, 1\nonface, unit.OR foot, 0\n"


def measured_of(folder: Path, tied: bool = True) -> Measured:
    write_folder(folder, MORE, "[obstacle.tank]\nbox = [[-600, -100, 400], [-400, 100, 600]]\n")
    text = (folder / "readings.csv").read_text()
    if not tied:
        text = "".join(line for line in text.splitlines(keepends=True) if not line.endswith(",,, car\n"))
    (folder / "readings.csv").write_text(text + ON)
    return measure(load(folder))


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Measured:
    return measured_of(tmp_path_factory.mktemp("carried"))


def test_points_and_faces_land_where_the_place_puts_them(measured: Measured) -> None:
    there = carried(measured, "unit", PLACE)
    for name, point in there.points.items():
        if point.body == "unit":
            own = measured.poses["unit"].inverse().apply(measured.points[name].xyz_mm)
            assert point.xyz_mm == pytest.approx(PLACE.rotation @ own + PLACE.shift_mm, abs=1e-9)
            assert there.vector[there.where[name]] == pytest.approx(point.xyz_mm)
        else:
            assert point is measured.points[name]
    face, was = there.faces["unit.foot"].plane, measured.faces["unit.foot"].plane
    for name in ("unit.M1", "unit.OL"):
        now = face.height_mm(there.points[name].xyz_mm)
        assert now == pytest.approx(was.height_mm(measured.points[name].xyz_mm), abs=1e-9)


def test_how_surely_the_unit_was_mocked_up_no_longer_counts(measured: Measured) -> None:
    # a unit read as loosely as may be against the frame: its own shape stays what it was
    loose = np.zeros((len(measured.vector), 6))
    spots = {n: measured.vector[measured.where[n]] for n, p in measured.points.items() if p.body == "unit"}
    middle = np.mean(list(spots.values()), axis=0)
    for name, spot in spots.items():
        for k in range(3):
            loose[measured.where[name], k] = np.cross(np.eye(3)[k], spot - middle)
            loose[measured.where[name], 3 + k] = np.eye(3)[k]
    normal = measured.faces["unit.foot"].plane.normal
    at = measured.where["unit.foot"]
    for k in range(3):
        turned = np.cross(np.eye(3)[k], normal)
        loose[at, k] = [*turned, turned @ middle]
        loose[at, 3 + k] = [0.0, 0.0, 0.0, normal[k]]
    spread = np.array([0.02, 0.02, 0.02, 9.0, 9.0, 9.0])
    worse = replace(measured, covariance=measured.covariance + (loose * spread**2) @ loose.T)
    one, other = carried(measured, "unit", PLACE, 1.0, 0.2), carried(worse, "unit", PLACE, 1.0, 0.2)
    np.testing.assert_allclose(other.covariance, one.covariance, atol=1e-6)


def test_setting_comes_on_as_a_shift_and_a_turn_of_all_of_it(measured: Measured) -> None:
    still, set_ = carried(measured, "unit", PLACE), carried(measured, "unit", PLACE, 1.5, 0.3)
    names = [n for n, p in measured.points.items() if p.body == "unit"]
    rng = np.random.default_rng(4)
    spots = np.array([still.points[n].xyz_mm for n in names])
    middle = spots.mean(axis=0)
    # by trial: turned by another library, straight-line theory within its own error
    turns = Rotation.from_rotvec(rng.normal(0.0, np.radians(0.3), (40_000, 3))).as_matrix()
    moved = np.einsum("nij,pj->npi", turns, spots - middle) + middle + rng.normal(0.0, 1.5, (40_000, 1, 3))
    tried = np.cov(moved.reshape(len(moved), -1).T)
    at = np.concatenate([np.arange(3) + set_.where[n].start for n in names])
    added = (set_.covariance - still.covariance)[np.ix_(at, at)]
    np.testing.assert_allclose(added, tried, atol=0.06 * 1.5**2)


def test_a_face_turns_and_shifts_with_its_points(measured: Measured) -> None:
    # points on the face stay on it however the unit is set: the spread of their height is that of the shape alone
    still, set_ = carried(measured, "unit", PLACE), carried(measured, "unit", PLACE, 2.0, 0.5)
    for name in ("unit.M1", "unit.OR"):
        spot, normal = still.points[name].xyz_mm, still.faces["unit.foot"].plane.normal
        at = np.concatenate([np.arange(3) + still.where[name].start, np.arange(4) + still.where["unit.foot"].start])
        way = np.concatenate([normal, spot, [-1.0]])
        before, after = (way @ m.covariance[np.ix_(at, at)] @ way for m in (still, set_))
        assert after == pytest.approx(before, abs=1e-7)


def test_a_unit_that_was_never_mocked_up_is_set_from_its_own_axes(tmp_path: Path) -> None:
    apart = measured_of(tmp_path, tied=False)
    assert "unit" not in apart.poses
    there = carried(apart, "unit", PLACE, 1.0, 0.1)
    for name, (x, y, z) in UNIT.items():
        # its own axes lie 100, 0, 380 from those the spots are told in
        assert there.points[f"unit.{name}"].xyz_mm == pytest.approx(PLACE.apply([x - 100, y, z - 380]), abs=1.0)
        assert there.points[f"unit.{name}"].tied
    assert there.poses["unit"] is PLACE


def test_two_points_are_too_few_to_set_it_by(measured: Measured) -> None:
    few = replace(measured, points={n: p for n, p in measured.points.items() if n not in ("unit.M1", "unit.M2")})
    with pytest.raises(ValueError, match="2 located point"):
        carried(few, "unit", PLACE)
