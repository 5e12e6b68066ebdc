"""The way from flat to folded: its two ends are the panels and the flat pattern, and nothing stretches between."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.fold.model import Bracket
from halfshaft.fold.slab import figure, line_of
from halfshaft.fold.station import shaped
from halfshaft.fold.way import STRIPS, way_of
from halfshaft.geometry import mesh
from tests.fold.frames import bolts, build_of, measured_of

# a rail's web and bottom, and an ear square to both: every spot of it can be drawn with a square
_POINTS = {
    "car.W1": [0.0, 0.0, 40.0],
    "car.W2": [80.0, 0.0, 40.0],
    "car.W3": [40.0, 0.0, 70.0],
    "car.F1": [0.0, 50.0, 0.0],
    "car.F2": [80.0, 50.0, 0.0],
    "car.E1": [140.0, -50.0, 30.0],
    "car.E2": [140.0, -50.0, 80.0],
    "car.C1": [20.0, -10.0, 55.0],
    "car.C2": [60.0, -10.0, 55.0],
}
_FACES = {
    "car.web": ([0.0, 0.0, 40.0], [0.0, -1.0, 0.0]),
    "car.under": ([0.0, 50.0, 0.0], [0.0, 0.0, -1.0]),
    "car.ear": ([140.0, -50.0, 40.0], [0.5, 0.0, 0.0]),
}


def bracket_of(kind: str = "slit", cover: bool = False) -> Bracket:
    told: dict[str, object] = {
        "panel": {
            "web": {"face": "car.web", "holes": bolts("car.W1", "car.W2", "car.W3")},
            "under": {"face": "car.under", "holes": bolts("car.F1", "car.F2")},
            "ear": {"face": "car.ear", "holes": bolts("car.E1", "car.E2")},
        },
        "folds": [{"between": ["web", "under"], "kind": kind}, {"between": ["web", "ear"], "kind": kind}],
    }
    if cover:
        told["join"] = [{"on": "ear", "cover": "lid", "bolts": bolts("car.E1", "car.E2")}]
        told["panel"]["ear"]["holes"] = []  # type: ignore[index]
        told["panel"]["ear"]["outline"] = [[140, -20, 10], [140, -90, 10], [140, -90, 100], [140, -20, 100]]  # type: ignore[index]
    build = build_of(told, {"thickness": 5, "brake_radius": 6})
    return shaped(build, measured_of(_POINTS, _FACES), "piece")


@pytest.fixture(scope="module", params=["slit", "brake"])
def bracket(request: pytest.FixtureRequest) -> Bracket:
    found = bracket_of(request.param)
    assert found.parts, [c.do for c in found.checks if not c.ok]
    return found


def test_folded_all_the_way_every_panel_stands_on_its_face(bracket: Bracket) -> None:
    for name, pose in way_of(bracket).panel_poses(1.0).items():
        own = bracket.panels[name].pose
        np.testing.assert_allclose(pose.rotation, own.rotation, atol=1e-6)
        np.testing.assert_allclose(pose.shift_mm, own.shift_mm, atol=1e-6)


def test_unfolded_the_panels_lie_in_one_plane_as_the_flat_pattern_has_them(bracket: Bracket) -> None:
    part, flat = bracket.parts[0], way_of(bracket).panel_poses(0.0)
    # where the flat pattern's axes stand in the root's, by the panel that does not move
    turn, shift = part.placed["web"]
    for name, pose in flat.items():
        spots = bracket.panels[name].outline.points_mm
        in_root = pose.apply(np.column_stack([spots, np.zeros(len(spots))]))
        in_web = bracket.panels["web"].pose.inverse().apply(in_root)
        np.testing.assert_allclose(in_web[:, 2], 0.0, atol=1e-6)
        rotation, at = part.placed[name]
        np.testing.assert_allclose(in_web[:, :2] @ turn.T + shift, spots @ rotation.T + at, atol=1e-6)


@settings(max_examples=15, deadline=None)
@given(share=st.floats(0.0, 1.0))
def test_the_panel_with_the_most_bolts_stays_and_every_turn_is_its_share(bracket: Bracket, share: float) -> None:
    poses = way_of(bracket).panel_poses(share)
    np.testing.assert_allclose(poses["web"].shift_mm, bracket.panels["web"].pose.shift_mm, atol=1e-12)
    for fold in bracket.folds:
        cosine = float(poses[fold.a].rotation[:, 2] @ poses[fold.b].rotation[:, 2])
        assert np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))) == pytest.approx(share * fold.angle_deg, abs=1e-4)


def test_strips_of_a_brake_bend_close_the_room_between_the_two_panels() -> None:
    bent = bracket_of("brake")
    way = way_of(bent)
    for share in (0.0, 0.4, 1.0):
        poses = way.poses(share)
        for fold in bent.folds:
            depth = fold.pivot_depth_mm if fold.kind == "brake" else 0.0
            z = bent.thickness_mm - depth if fold.up else depth  # on the neutral layer nothing stretches
            edge = [poses[fold.a].apply([*line_of(fold, fold.a)[0], z])]
            for number in range(STRIPS):
                edge.append(poses[f"{fold.name}:{number}"].apply([0.0, 0.0, z]))
            edge.append(poses[fold.b].apply([*line_of(fold, fold.b)[0], z]))
            steps = np.linalg.norm(np.diff(edge, axis=0), axis=1)
            wide = fold.allowance_mm / STRIPS
            # a chord of a small arc is hardly shorter than the arc
            np.testing.assert_allclose(steps[1:-1], wide, rtol=2e-3)
            np.testing.assert_allclose(steps[[0, -1]], wide / 2.0, rtol=2e-3)


def test_meshes_close_and_hold_the_metal_with_holes_and_slits_taken_out() -> None:
    slit = bracket_of("slit")
    for piece in way_of(slit).pieces:
        panel = slit.panels[piece.panel]
        area = figure(panel, holes=True).area
        for fold in slit.folds:
            if panel.name in (fold.a, fold.b):
                bridged = sum(b.end_mm - b.start_mm for b in fold.bridges)
                area -= (fold.length_mm - bridged) * fold.slit_width_mm / 2.0
        solid = mesh.solid_of(piece.vertices_mm, piece.triangles)
        assert solid.volume_mm3 == pytest.approx(area * panel.thickness_mm, rel=1e-3)


def test_a_cover_rides_on_the_panel_it_is_bolted_to() -> None:
    lidded = bracket_of("slit", cover=True)
    assert "lid" in lidded.panels, [c.do for c in lidded.checks if not c.ok]
    flat, folded = way_of(lidded).panel_poses(0.0), way_of(lidded).panel_poses(1.0)
    for poses in (flat, folded):
        between = poses["ear"].inverse().after(poses["lid"])
        own = lidded.panels["ear"].pose.inverse().after(lidded.panels["lid"].pose)
        np.testing.assert_allclose(between.shift_mm, own.shift_mm, atol=1e-6)
    assert np.linalg.norm(flat["lid"].shift_mm - folded["lid"].shift_mm) > 10.0


def test_a_share_past_folded_is_refused() -> None:
    with pytest.raises(ValueError, match="from 0, flat, to 1, folded"):
        way_of(bracket_of()).panel_poses(1.2)
