"""Members of the frame: what a swept section weighs, closes and looks like, by elementary geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.fitup.member import frame_at, length_mm, member_of, metal_of, runs_of, station_of
from halfshaft.fitup.model import Section
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import box, overlap, slice_of, without

BOX = Section("box", 60.0, 100.0, 3.0)
CHANNEL = Section("channel", 50.0, 120.0, 4.0, "right")
TUBE = Section("tube", 50.0, 50.0, 2.5)
FLAT = Section("flat", 80.0, 6.0, 6.0)
UP = np.array([0.0, 0.0, 1.0])
KICKED = np.array([[0.0, 0.0, 0.0], [500.0, 0.0, 0.0], [800.0, 0.0, 180.0], [1400.0, 0.0, 180.0]])


@pytest.mark.parametrize(
    ("section", "area"),
    [
        (BOX, 60 * 100 - 54 * 94),
        (CHANNEL, 50 * 120 - 46 * 112),
        (FLAT, 80 * 6),
    ],
)
def test_a_straight_member_weighs_its_area_times_its_length(section: Section, area: float) -> None:
    made = member_of("rail", section, [[10, 20, 30], [10 + 640, 20, 30 + 480]], UP)
    assert made.solid.volume_mm3 == pytest.approx(area * 800.0, rel=1e-9)


def test_a_round_tube_weighs_its_ring_within_what_its_flats_add() -> None:
    made = member_of("tube", TUBE, [[0, 0, 0], [0, 700, 0]], UP)
    ring = np.pi * (25.0**2 - 22.5**2)
    assert made.solid.volume_mm3 == pytest.approx(ring * 700.0, rel=6e-4)
    assert made.solid.volume_mm3 > ring * 700.0


def test_mitres_add_and_take_alike_where_the_line_runs_through_the_middle() -> None:
    # a prism cut by slanting planes fills area times the length of its centre line
    made = member_of("rail", BOX, KICKED, UP)
    length = 500.0 + np.hypot(300.0, 180.0) + 600.0
    assert length_mm(made) == pytest.approx(length)
    assert made.solid.volume_mm3 == pytest.approx(924.0 * length, rel=1e-9)
    assert made.hull.volume_mm3 == pytest.approx(6000.0 * length, rel=1e-9)


@settings(max_examples=25)
@given(
    st.lists(st.tuples(*[st.floats(-0.5, 0.5)] * 2), min_size=1, max_size=4),
    st.sampled_from([BOX, CHANNEL, TUBE, FLAT]),
)
def test_any_bent_line_gives_closed_metal_inside_its_outside(
    bends: list[tuple[float, float]], section: Section
) -> None:
    line = [np.zeros(3)]
    for side, rise in bends:
        line.append(line[-1] + 400.0 * np.array([1.0, side, rise]))
    line.append(line[-1] + np.array([400.0, 0.0, 0.0]))
    made = member_of("rail", section, np.array(line), UP)
    _, triangles = made.solid.triangles
    edges = np.sort(np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    _, uses = np.unique(edges, axis=0, return_counts=True)
    assert np.all(uses == 2)
    assert without(made.solid, made.hull).volume_mm3 == pytest.approx(0.0, abs=1e-3)
    # square cuts in the middle of every run show the section itself
    for pose, run in runs_of(made):
        middle = Pose(pose.rotation, pose.apply([0.0, 0.0, run / 2.0]))
        assert slice_of(made.solid, middle).symmetric_difference(metal_of(section)).area < 1e-3
        assert pose.rotation @ pose.rotation.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(pose.rotation) == pytest.approx(1.0)


def test_a_line_bent_in_one_upright_plane_keeps_v_square_to_the_side() -> None:
    for pose, _ in runs_of(member_of("rail", BOX, KICKED, UP)):
        assert pose.rotation[:, 0] == pytest.approx([0.0, 1.0, 0.0])


@pytest.mark.parametrize(
    ("opens", "at"), [("left", (0, 20, 0)), ("right", (0, -20, 0)), ("up", (0, 0, 45)), ("down", (0, 0, -45))]
)
def test_a_channel_opens_to_the_hand_that_it_says(opens: str, at: tuple[float, float, float]) -> None:
    section = Section("channel", 50.0, 100.0, 5.0, opens)  # type: ignore[arg-type]
    made = member_of("rail", section, [[-100, 0, 0], [100, 0, 0]], UP)
    wall = np.sign(np.array(at)) * np.array([0.0, 24.0, 49.0])
    probe = box(wall - 0.5, wall + 0.5)
    assert overlap(made.solid, probe).empty
    assert overlap(made.solid, box(-wall - 0.5, -wall + 0.5)).volume_mm3 == pytest.approx(1.0)


@given(st.floats(-50.0, 1500.0), st.floats(-20.0, 20.0), st.floats(-20.0, 20.0))
def test_a_spot_put_at_a_station_is_found_there(along: float, u: float, v: float) -> None:
    made = member_of("rail", BOX, [[0, 300, 400], [600, 300, 400], [1400, 420, 400]], UP)
    length = length_mm(made)
    if min(abs(along - 600.0), abs(along - length)) < 30.0:
        return  # near a joint the foot may fall on the other run
    spot = frame_at(made, along).apply([u, v, 0.0])
    found = station_of(made, spot)
    assert (found.along_mm, found.u_mm, found.v_mm) == pytest.approx((along, u, v), abs=1e-6)


@pytest.mark.parametrize(
    ("section", "line", "up", "words"),
    [
        (BOX, [[0, 0, 0]], UP, "two points"),
        (BOX, [[0, 0, 0], [0, 0, 0.2]], [1, 0, 0], "less than 1 mm"),
        (BOX, [[0, 0, 0], [0, 0, 500]], UP, "along its 'up'"),
        (BOX, [[0, 0, 0], [500, 0, 0], [0, 0, 0]], UP, "straight back"),
        (BOX, [[0, 0, 0], [500, 0, 0], [500, 0, 60], [900, 0, 60]], UP, "too short for its bends"),
        (Section("box", 60, 100, 40), [[0, 0, 0], [500, 0, 0]], UP, "does not go into"),
        (Section("channel", 60, 100, 4), [[0, 0, 0], [500, 0, 0]], UP, "left, right, up or down"),
        (Section("flat", 60, 0, 0), [[0, 0, 0], [500, 0, 0]], UP, "above 0"),
    ],
)
def test_what_is_no_member_is_refused_by_name(section: Section, line: object, up: object, words: str) -> None:
    with pytest.raises(ValueError, match=f"member rail_left: .*{words}"):
        member_of("rail_left", section, line, up)  # type: ignore[arg-type]
