"""Panels and fold lines against trigonometry by hand and independent rotations."""

from __future__ import annotations

from math import acos, atan, cos, degrees, radians, sin, tan

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from halfshaft.fold import Bracket
from halfshaft.fold.station import shaped
from halfshaft.geometry.contour import arc_of
from tests.fold.frames import bolts, build_of, measured_of

FLOOR = ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
WALL = ((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0))  # metal on the side of -x
POINTS = {"car.A": (-60, -30, 0), "car.B": (-60, 30, 0), "car.C": (0, -30, 70), "car.D": (0, 30, 70)}
PANELS = {
    "foot": {"face": "car.floor", "holes": bolts("car.A", "car.B")},
    "back": {"face": "car.wall", "holes": bolts("car.C", "car.D")},
}
FOLDS = [{"between": ["foot", "back"]}]


def corner(thickness: float = 4.0, **more: object) -> Bracket:
    """Foot on a floor, back against a wall: a square corner seen from inside."""
    build = build_of({"panel": PANELS, "folds": FOLDS, **more}, {"thickness": thickness})
    return shaped(build, measured_of(POINTS, {"car.floor": FLOOR, "car.wall": WALL}), "piece")


def flat_spot(bracket: Bracket, hole: str) -> np.ndarray:
    return next(b.centre_mm for b in bracket.parts[0].bores if b.name == hole)


def test_a_square_corner_unfolds_to_lengths_worked_by_hand() -> None:
    # sheet 4 mm, slit 2 mm: tan 45 = 1 > 2/4, the slit closes, p = 2 / (2 x 1) = 1 mm.
    # inside apex at x = -4, z = 4; the line lies 1 mm beyond: foot hole at 60 - 4 + 1 = 57 mm,
    # back hole at 70 - 4 + 1 = 67
    bracket = corner()
    (one,) = bracket.folds
    assert one.angle_deg == pytest.approx(90.0, abs=1e-9)
    assert one.pivot_depth_mm == pytest.approx(1.0, abs=1e-12)
    apart = flat_spot(bracket, "foot.A") - flat_spot(bracket, "back.C")
    assert np.linalg.norm(apart) == pytest.approx(57.0 + 67.0, abs=1e-9)


def test_a_square_corner_by_brake_unfolds_to_lengths_worked_by_hand() -> None:
    # R = t = 4 (default of one thickness), K = 0.65 / 2: holes 60 - 4 - 4 and 70 - 4 - 4 from the bend,
    # pi/2 (4 + 1.3) between
    bracket = corner(fold="brake")
    apart = flat_spot(bracket, "foot.A") - flat_spot(bracket, "back.C")
    assert np.linalg.norm(apart) == pytest.approx(52.0 + 62.0 + 8.3252, abs=1e-4)


def test_the_holes_of_the_folded_bracket_lie_on_the_measured_points() -> None:
    bracket = corner()
    for panel in bracket.panels.values():
        for hole in panel.holes:
            z = panel.thickness_mm if panel.contact == "upper" else 0.0
            assert panel.pose.apply([*hole.centre_mm, z]) == pytest.approx(np.array(POINTS[hole.point]), abs=1e-9)


@pytest.mark.parametrize(("pitch", "splay"), [(20.0, 15.0), (35.0, -25.0), (-10.0, 40.0)])
def test_a_compound_angle_is_that_of_the_hip_of_two_roofs(pitch: float, splay: float) -> None:
    # wall leaning by `pitch` about y and then turned by `splay` about z, against a floor tipped 10 degrees about x:
    # angle between normals by the spherical law of cosines on their azimuths and polar angles
    lean = Rotation.from_euler("ZY", [splay, pitch], degrees=True)
    tip = Rotation.from_euler("X", 10.0, degrees=True)
    wall, floor = lean.apply([-1.0, 0.0, 0.0]), tip.apply([0.0, 0.0, 1.0])
    points = {
        "car.A": tip.apply([-60.0, -30.0, 0.0]),
        "car.B": tip.apply([-60.0, 30.0, 0.0]),
        "car.C": lean.apply([0.0, -30.0, 80.0]),
        "car.D": lean.apply([0.0, 30.0, 80.0]),
    }
    build = build_of({"panel": PANELS, "folds": FOLDS}, {"thickness": 4.0})
    faces = {"car.floor": ((0.0, 0.0, 0.0), floor), "car.wall": ((0.0, 0.0, 0.0), wall)}
    bracket = shaped(build, measured_of(points, faces), "piece")
    # polar angle and azimuth of the two normals
    polar_wall, azimuth_wall = acos(sin(radians(pitch))), radians(180.0 + splay)
    polar_floor, azimuth_floor = radians(10.0), radians(-90.0)
    between = acos(
        cos(polar_wall) * cos(polar_floor) + sin(polar_wall) * sin(polar_floor) * cos(azimuth_wall - azimuth_floor)
    )
    assert bracket.folds[0].angle_deg == pytest.approx(degrees(between), abs=1e-9)


def test_the_slit_of_a_shallow_fold_stays_open_and_turns_at_mid_thickness() -> None:
    # 4 mm sheet, 2 mm slit closes at 2 atan(0.5) = 53.1 degrees
    closes = 2.0 * degrees(atan(0.5))
    for turn, depth in ((closes - 20.0, 2.0), (closes + 20.0, 1.0 / tan(radians(closes + 20.0) / 2.0))):
        way = (-sin(radians(turn)), 0.0, cos(radians(turn)))
        points = {**POINTS}
        for name, y in (("car.C", -30.0), ("car.D", 30.0)):
            points[name] = (60.0 * cos(radians(turn)), y, 60.0 * sin(radians(turn)))  # type: ignore[assignment]
        build = build_of({"panel": PANELS, "folds": FOLDS}, {"thickness": 4.0})
        faces = {"car.floor": FLOOR, "car.wall": ((0.0, 0.0, 0.0), way)}
        bracket = shaped(build, measured_of(points, faces), "piece")
        assert bracket.folds[0].angle_deg == pytest.approx(turn, abs=1e-9)
        assert bracket.folds[0].pivot_depth_mm == pytest.approx(depth, abs=1e-9)


def test_two_bolts_hulled_with_an_edge_give_the_area_of_a_stadium_and_a_trapezium() -> None:
    # foot: bosses of radius 16.5 (1.5 x 11 mm) 60 apart; fold edge 93 long, flush with the bosses' sides, 57 mm away:
    # a rectangle 93 x 57, half a stadium of 60 x 16.5 and two quarter discs
    outline = corner().panels["foot"].outline
    assert outline.area_mm2 == pytest.approx(93.0 * 57.0 + 60.0 * 16.5 + np.pi * 16.5**2 / 2.0, abs=0.2)
    ends = zip(outline.points_mm, np.roll(outline.points_mm, -1, axis=0), outline.bulge, strict=True)
    radii = [arc_of(start, end, bulge)[1] for start, end, bulge in ends if bulge]
    assert len(radii) == 2
    assert radii == pytest.approx([16.5, 16.5], abs=1e-3)
