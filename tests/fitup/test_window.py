"""Windows against exact solids: the piece's sum with a ball clears the cut member, and a hair less would not."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation, Slerp
from shapely.geometry import LineString, Polygon

from halfshaft.build.units import format_length
from halfshaft.checks import Severity
from halfshaft.cut.drawing import Label
from halfshaft.cut.typeset import run_parts
from halfshaft.cut.window_drawing import window_drawing
from halfshaft.fitup.member import member_of
from halfshaft.fitup.model import Member, Piece, Section
from halfshaft.fitup.walls import walls_of
from halfshaft.fitup.window import Window, windows
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, cylinder, hull, prism, union

UP = np.array([0.0, 0.0, 1.0])
RAIL = member_of("rail_left", Section("box", 60.0, 140.0, 3.0), [[-600, 400, 300], [600, 400, 300]], UP)
KERF = 1.5
EAR = [box([-40, -90, -15], [40, 90, 15])]
ELBOW = [box([-40, -90, -12], [40, 90, 12]), box([10, -90, 5], [40, 90, 40])]
_TIP = np.array([[-30, -90, -20], [30, -90, -20], [-30, -90, 20], [30, -90, 20], [0, 31, 3]], dtype=float)
TIP = [hull(_TIP)]  # ends inside the wall
_CHISEL = [[x, 90, z] for x in (-30, 30) for z in (-20, 20)] + [[-25, 21, 2], [25, 23, -4]]
CHISEL = [hull(np.array(_CHISEL, dtype=float))]  # ends in an edge a little inside of one wall
SHAPES = {"ear": EAR, "elbow": ELBOW, "tip": TIP, "chisel": CHISEL}


def grown(parts: list[MeshSolid], by_mm: float) -> manifold3d.Manifold:
    """Sum with a ball of convex parts: the hull of a ball about each corner, the ball inside the true one."""
    ball = np.asarray(manifold3d.Manifold.sphere(by_mm, 64).to_mesh64().vert_properties)[:, :3]
    sums = []
    for part in parts:
        corners = part.triangles[0]
        sums.append(manifold3d.Manifold.hull_points((corners[:, None, :] + ball[None]).reshape(-1, 3)))
    return manifold3d.Manifold.batch_boolean(sums, manifold3d.OpType.Add)


def at(solid: manifold3d.Manifold, pose: Pose) -> manifold3d.Manifold:
    return solid.transform(np.column_stack([pose.rotation, pose.shift_mm]))


def cut(member: Member, made: tuple[Window, ...], offset_mm: float = 0.0) -> manifold3d.Manifold:
    """The member without the windows, each contour offset in its own plane, through the wall alone."""
    left = member.solid.kernel
    for window in made:
        figure = window.contour.polygon(1e-4).buffer(offset_mm, quad_segs=64)
        depth = window.wall.thickness_mm
        left = left - prism(figure, -depth - 0.01, 0.5, window.wall.pose).kernel
    return left


def place(rotvec: tuple[float, float, float], along: float, up: float) -> Pose:
    return Pose(Rotation.from_rotvec(rotvec).as_matrix(), np.array([along, 400.0, 300.0 + up]))


def corner_radius_holds(figure: Polygon, radius: float) -> bool:
    again = figure.buffer(-radius + 0.02, quad_segs=64).buffer(radius - 0.02, quad_segs=64)
    return bool(figure.difference(again.buffer(0.02)).area < 1e-3)


@settings(max_examples=4, deadline=None)
@given(
    st.sampled_from(sorted(SHAPES)),
    st.tuples(st.floats(-0.25, 0.25), st.floats(-0.5, 0.5), st.floats(-0.25, 0.25)),
    st.floats(-300.0, 300.0),
    st.floats(-6.0, 6.0),
    st.sampled_from([3.0, 8.0, 12.0]),
)
def test_the_grown_piece_clears_the_cut_member_and_a_smaller_opening_would_not_do(
    shape: str, rotvec: tuple[float, float, float], along: float, up: float, clearance: float
) -> None:
    pose = place(rotvec, along, up)
    made = windows(RAIL, [Piece(shape, union(SHAPES[shape]))], [pose], clearance, KERF)
    assert made
    assert (cut(RAIL, made) ^ at(grown(SHAPES[shape], clearance - 0.05), pose)).volume() < 1e-6
    ball = at(grown(SHAPES[shape], clearance), pose)
    for window in made:
        assert corner_radius_holds(window.contour.polygon(1e-4), window.round_mm)
        assert len(window.contour.points_mm) <= 24
        if shapely.minimum_bounding_radius(window.need) < window.round_mm:
            # the cutter makes no smaller hole
            assert -window.contour.area_mm2 == pytest.approx(np.pi * window.round_mm**2)
            continue
        others = tuple(w for w in made if w is not window)
        tight = (
            cut(RAIL, others)
            - prism(
                window.contour.polygon(1e-4).buffer(-0.2, quad_segs=64),
                -window.wall.thickness_mm - 0.01,
                0.5,
                window.wall.pose,
            ).kernel
        )
        assert (tight ^ ball).volume() > 1e-6
        # room to spare is bounded by the slack that saves lines; a slot narrower than the least circle is widened to it
        narrow = max(0.0, window.round_mm - shapely.maximum_inscribed_circle(window.need).length)
        assert -window.contour.area_mm2 < 1.25 * window.need.buffer(narrow).area


def test_a_swept_ear_clears_the_cut_member_at_every_pose_of_its_way_and_between() -> None:
    spins = Rotation.from_rotvec([[0.05, 0.1, 0.0], [0.05, 0.35, 0.0], [-0.1, 0.2, 0.1]])
    spots = np.array([[20.0, 400.0, 305.0], [0.0, 360.0, 300.0], [40.0, 180.0, 295.0]])
    path = [Pose(spin.as_matrix(), spot) for spin, spot in zip(spins, spots, strict=True)]
    clearance = 6.0
    made = windows(RAIL, [Piece("ear", EAR[0])], path, clearance, KERF)
    left, tight = cut(RAIL, made), cut(RAIL, made, -0.2)
    ball, touched = grown(EAR, clearance - 0.05), 0.0
    for first in range(2):
        turning = Slerp([0.0, 1.0], spins[first : first + 2])
        for share in np.linspace(0.0, 1.0, 60):
            pose = Pose(turning(share).as_matrix(), (1 - share) * spots[first] + share * spots[first + 1])
            assert (left ^ at(ball, pose)).volume() < 1e-6
            touched = max(touched, (tight ^ at(ball, pose)).volume())
    assert touched > 1e-6


def test_one_ear_through_a_rail_asks_for_a_window_in_each_side_wall_with_four_corners() -> None:
    made = windows(RAIL, [Piece("ear", EAR[0])], [place((0.1, 0.05, 0.1), 0.0, 5.0)], 8.0, KERF)
    assert [w.wall.name for w in made] == ["left", "right"]
    for window in made:
        assert np.count_nonzero(np.abs(window.contour.bulge) > 0.1) == 4
        assert window.contour.area_mm2 < 0.0
        assert window.removed_mm3 == pytest.approx(window.removed_mm2 * 3.0, rel=1e-3)
        assert window.removed_mm2 == pytest.approx(-window.contour.area_mm2, rel=1e-3)


def test_a_straight_ear_square_through_a_wall_gets_the_rectangle_that_a_ruler_gives() -> None:
    made = windows(RAIL, [Piece("ear", EAR[0])], [place((0, 0, 0), 25.0, 10.0)], 10.0, KERF)
    left = next(w for w in made if w.wall.name == "left")
    # 80 by 30 grown by 10 all round, corners of the least radius 8: 100 x 50 less (4 - pi) 8^2; the chord 0.04 more
    assert -left.contour.area_mm2 == pytest.approx(100 * 50 - (4 - np.pi) * 64, rel=5e-3)
    assert left.edges_mm["upper edge"] == pytest.approx(70.0 - 10.0 - 25.0, abs=0.1)
    assert left.edges_mm["lower edge"] == pytest.approx(70.0 + 10.0 - 25.0, abs=0.1)
    assert left.edges_mm["first end"] == pytest.approx(600.0 + 25.0 - 50.0, abs=0.1)
    assert left.edges_mm["last end"] == pytest.approx(600.0 - 25.0 - 50.0, abs=0.1)


def test_a_round_piece_square_through_a_wall_gets_a_bored_hole() -> None:
    pipe = cylinder([0, -80, 0], [0, 1, 0], 20.0, 160.0)
    left = windows(RAIL, [Piece("pipe", pipe)], [place((0, 0, 0), 0.0, 0.0)], 8.0, KERF)[0]
    assert len(left.contour.points_mm) == 2
    assert np.ptp(left.contour.points_mm, axis=0).max() == pytest.approx(56.0, abs=0.2)


def test_sway_on_the_bushings_adds_to_the_clearance() -> None:
    still = windows(RAIL, [Piece("ear", EAR[0])], [place((0, 0, 0), 0.0, 0.0)], 10.0, KERF)[0]
    swaying = windows(RAIL, [Piece("ear", EAR[0], sway_mm=4.0)], [place((0, 0, 0), 0.0, 0.0)], 6.0, KERF)[0]
    assert swaying.clearance_mm == still.clearance_mm
    assert swaying.contour.area_mm2 == pytest.approx(still.contour.area_mm2)


def test_the_mirrored_scene_has_the_mirrored_windows() -> None:
    other = member_of("rail_right", RAIL.section, [[-600, -400, 300], [600, -400, 300]], UP)
    spin, flip = Rotation.from_rotvec([0.15, 0.2, 0.1]).as_matrix(), np.diag([1.0, -1.0, 1.0])
    here = windows(RAIL, [Piece("ear", EAR[0])], [Pose(spin, np.array([30.0, 400.0, 305.0]))], 8.0, KERF)
    # the ear is its own mirror image
    there = windows(
        other, [Piece("ear", EAR[0])], [Pose(flip @ spin @ flip, np.array([30.0, -400.0, 305.0]))], 8.0, KERF
    )
    assert [w.wall.name for w in there] == ["left", "right"]
    for one, twin in ((here[0], there[1]), (here[1], there[0])):
        assert twin.contour.area_mm2 == pytest.approx(one.contour.area_mm2, rel=1e-4)
        ours = Polygon((one.corners_mm * [1, -1, 1])[:, [0, 2]])
        assert ours.symmetric_difference(Polygon(twin.corners_mm[:, [0, 2]])).area < 2.0


def test_an_opening_over_the_walls_edge_is_stopped_with_that_edge_named() -> None:
    made = windows(RAIL, [Piece("ear", EAR[0])], [place((0, 0, 0), 0.0, 60.0)], 8.0, KERF)
    left = next(w for w in made if w.wall.name == "left")
    # top of the ear 15 over its middle, clearance 8: 13 past the edge at 70
    assert left.edges_mm["upper edge"] == pytest.approx(-13.0, abs=0.1)
    stop = next(c for c in left.checks if c.severity is Severity.STOP)
    assert "runs over the upper edge" in stop.title
    assert not stop.ok


def test_saving_lines_does_not_take_the_window_nearer_to_a_weld() -> None:
    # a blunt roof: one corner in place of two saves a line, and rises 10 * 5.5 / 30 over it
    profile = [(-40, -20), (40, -20), (40, 12), (10, 17.5), (-10, 17.5), (-40, 12)]
    house = hull([[x, y, z] for x, z in profile for y in (-90, 90)])
    weld = np.array([[-1.0, 430.0, 300.0 + 34.0], [1.0, 430.0, 300.0 + 34.0]])
    pose = [place((0, 0, 0), 0.0, 0.0)]
    free = windows(RAIL, [Piece("house", house)], pose, 8.0, KERF)[0]
    kept = windows(RAIL, [Piece("house", house)], pose, 8.0, KERF, welds_mm=[weld])[0]
    line = LineString(kept.wall.pose.inverse().apply(weld)[:, :2])
    # roof at 17.5, clearance 8 drawn 0.03 too large: 34 - 25.5
    assert kept.weld_mm == pytest.approx(8.5, abs=0.1)
    assert free.contour.polygon().distance(line) < 8.5 - 1.0
    check = next(c for c in kept.checks if "weld" in c.title)
    assert not check.ok
    assert check.found == pytest.approx(kept.weld_mm)
    assert all("weld" not in c.title for c in free.checks)


def test_two_prongs_near_each_other_are_cut_as_one_and_far_apart_as_two() -> None:
    pose = place((0, 0, 0), 0.0, 0.0)
    for gap, count in ((30.0, 1), (120.0, 2)):
        fork = union([
            box([-40 - gap / 2, -90, -10], [-gap / 2, 90, 10]), box([gap / 2, -90, -10], [gap / 2 + 40, 90, 10]),
        ])  # fmt: skip
        made = windows(RAIL, [Piece("fork", fork)], [pose], 8.0, KERF)
        assert sum(w.wall.name == "left" for w in made) == count


def test_a_piece_farther_off_than_its_clearance_asks_for_nothing_and_a_nearer_one_does() -> None:
    stub = Piece("stub", box([-40, -90, -15], [40, 0, 15]))  # stands before the inner wall at y = 370
    for gap, count in ((8.2, 0), (7.0, 1), (0.5, 1)):
        made = windows(RAIL, [stub], [Pose(np.eye(3), np.array([0.0, 370.0 - gap, 300.0]))], 8.0, KERF)
        assert [w.wall.name for w in made] == ["right"] * count
    # 7 mm before the wall a ball of 8 reaches sqrt(8^2 - 7^2) beyond the stub's sides
    (near,) = windows(RAIL, [stub], [Pose(np.eye(3), np.array([0.0, 363.0, 300.0]))], 8.0, KERF, round_mm=2.0)
    assert np.ptp(near.contour.polygon().bounds[1::2]) == pytest.approx(30.0 + 2.0 * np.sqrt(15.0), abs=0.4)


def test_what_is_no_clearance_and_no_place_is_told() -> None:
    with pytest.raises(ValueError, match="member rail_left: write its clearance"):
        windows(RAIL, [Piece("ear", EAR[0])], [Pose.identity()], -1.0, KERF)
    with pytest.raises(ValueError, match="member rail_left: a window wants the pose"):
        windows(RAIL, [Piece("ear", EAR[0])], [], 1.0, KERF)


def test_walls_lie_on_the_members_outside_and_look_out_of_it() -> None:
    channel = member_of("cross", Section("channel", 50.0, 80.0, 4.0, "down"), [[0, -300, 200], [0, 300, 200]], UP)
    walls = walls_of(channel)
    assert [w.name for w in walls] == ["left", "right", "up"]
    for wall in walls:
        middle = wall.outline.centroid
        for depth, inside in ((-wall.thickness_mm / 2.0, True), (wall.thickness_mm / 2.0, False)):
            spot = wall.pose.apply([middle.x, middle.y, depth])
            metal = channel.solid.kernel ^ manifold3d.Manifold.cube((0.2, 0.2, 0.2), True).translate(tuple(spot))
            assert (metal.volume() > 1e-6) == inside
        assert np.linalg.det(wall.pose.rotation) == pytest.approx(1.0)
        x0, _, x1, _ = wall.outline.bounds
        assert sorted((wall.along_mm(x0), wall.along_mm(x1))) == pytest.approx([0.0, 600.0])


@pytest.mark.parametrize(
    ("section", "line", "sides"),
    [
        (Section("channel", 60.0, 140.0, 4.0, "left"), [[-600, 400, 300], [600, 400, 300]], ["right"]),
        (Section("flat", 6.0, 140.0, 6.0), [[-600, 400, 300], [600, 400, 300]], ["left"]),
        (Section("tube", 80.0, 80.0, 3.0), [[-600, 400, 300], [600, 400, 300]], ["left", "right"]),
        (Section("box", 60.0, 140.0, 3.0), [[-600, 400, 250], [100, 400, 300], [600, 420, 420]], ["left", "right"]),
    ],
)
def test_members_of_every_section_are_cleared_through_the_walls_that_are_met(
    section: Section, line: list[list[float]], sides: list[str]
) -> None:
    member = member_of("member", section, line, UP)
    ear, clearance = [box([-20, -90, -8], [20, 90, 8])], 6.0
    pose = place((0.05, 0.1, 0.1), -100.0, 0.0 if line[0][2] == line[1][2] else -15.0)
    made = windows(member, [Piece("ear", ear[0])], [pose], clearance, KERF)
    ball = at(grown(ear, clearance - 0.05), pose)
    assert [w.wall.name for w in made] == sides
    assert (member.solid.kernel ^ ball).volume() > 100.0
    assert (cut(member, made) ^ ball).volume() < 1e-6
    if section.shape != "tube":  # a tube's wall is round and is cleared to the depth of its quarter
        assert (cut(member, made, -0.2) ^ ball).volume() > 1e-6
    assert all(min(w.edges_mm.values()) > 0.0 for w in made)
    assert all(0.0 < w.section.bending_kept < 1.0 for w in made)


def test_two_pieces_that_come_through_one_wall_close_together_share_a_window() -> None:
    pose = Pose(np.eye(3), np.array([0.0, 400.0, 305.0]))
    low, high = box([-40, -90, -25], [-10, 90, -5]), box([5, -90, -20], [40, 90, 5])
    pieces = [Piece("case", low), Piece("ear", high, sway_mm=2.0), Piece("pump", box([120, -90, -15], [150, 90, 10]))]
    made = windows(RAIL, pieces, [pose], 8.0, KERF)
    assert [(w.wall.name, w.piece) for w in made] == [
        ("left", "case and ear"), ("left", "pump"), ("right", "case and ear"), ("right", "pump"),
    ]  # fmt: skip
    assert [w.clearance_mm for w in made[:2]] == [10.0, 8.0]
    for piece in pieces:
        assert (cut(RAIL, made) ^ at(grown([piece.solid], 7.95 + piece.sway_mm), pose)).volume() < 1e-6
    assert made[0].edges_mm["upper edge"] == pytest.approx(70.0 - 10.0 - 10.0, abs=0.6)


@pytest.mark.parametrize("units", ["metric", "inch"])
def test_a_drawing_of_a_window_tells_its_sizes_and_stays_on_its_paper(units: str) -> None:
    (window, *_) = windows(RAIL, [Piece("ear", union(EAR))], [place((0.1, 0.2, 0.0), 20.0, 5.0)], 8.0, KERF)
    room = (100.0, 70.0)
    drawn = window_drawing(window, units, room)
    assert all(size <= most + 1e-6 for size, most in zip(drawn.size_mm, room, strict=True))
    x0, y0, x1, y1 = window.contour.polygon(0.01).bounds
    _, low, _, high = window.wall.outline.bounds
    told = [format_length(size, units).split(" ")[0] for size in (x1 - x0, y1 - y0, high - y1, y0 - low)]
    assert set(told) <= {words.split(" ")[0] for words in drawn.words}
    for mark in drawn.marks:
        spots = (
            [mark.at_mm]
            if isinstance(mark, Label)
            else [
                points @ mark.matrix.T + mark.shift_mm
                for shape in mark.shapes
                for _, points in run_parts(shape)
                if len(points)
            ]
        )
        for spot in spots:
            assert np.all(np.asarray(spot) >= -1e-6)
            assert np.all(np.asarray(spot) <= np.array(drawn.size_mm) + 1e-6)
