"""Overlaps, gaps and placing of solids against closed forms of elementary geometry."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from halfshaft.geometry import Contour, Pose, mesh, solids
from halfshaft.geometry.pose import turn

corner = st.tuples(*[st.floats(-50, 50)] * 3)
size = st.tuples(*[st.floats(1, 60)] * 3)


@given(corner, size, corner, size)
def test_two_boxes_overlap_by_the_product_of_their_common_spans(a, sa, b, sb) -> None:
    a, sa, b, sb = (np.array(v) for v in (a, sa, b, sb))
    common = np.minimum(a + sa, b + sb) - np.maximum(a, b)
    one, other = mesh.box(a, a + sa), mesh.box(b + sb, b)
    if np.all(common > 1e-3):
        assert mesh.overlap(one, other).volume_mm3 == pytest.approx(float(np.prod(common)), rel=1e-6, abs=1e-6)
        assert mesh.gap_mm(one, other, 10.0) == 0.0
    elif np.any(common < -1e-3):
        apart = float(np.linalg.norm(np.maximum(-common, 0.0)))
        assert mesh.overlap(one, other).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        assert mesh.gap_mm(one, other, 500.0) == pytest.approx(apart, abs=1e-6)


def test_a_turned_prism_keeps_area_times_thickness_and_casts_its_own_figure() -> None:
    shape = Polygon([(0, 0), (80, 0), (80, 50), (0, 50)]).difference(Point(30, 20).buffer(8))
    pose = Pose(turn([0.3, -0.7, 1.1]), np.array([5.0, -40.0, 12.0]))
    solid = mesh.prism(shape, 0.0, 4.0, pose)
    assert solid.volume_mm3 == pytest.approx(shape.area * 4.0, rel=1e-9)
    assert mesh.shadow(solid, pose).symmetric_difference(shape).area < 1e-3


def test_the_nearest_spots_of_two_boxes_lie_on_the_facing_corners() -> None:
    one, other = mesh.nearest_spot(mesh.box([0, 0, 0], [10, 10, 10]), mesh.box([13, 14, 10], [20, 20, 20]))
    assert one == pytest.approx([10, 10, 10], abs=1e-9)
    assert other == pytest.approx([13, 14, 10], abs=1e-9)


def test_a_cylinder_is_never_smaller_than_asked() -> None:
    solid = mesh.cylinder([1, 2, 3], [0, 1, 1], 12.0, 40.0)
    assert np.pi * 144 * 40 <= solid.volume_mm3 <= 1.004 * np.pi * 144 * 40


def test_stl_comes_in_and_three_spots_place_it(tmp_path: Path) -> None:
    trimesh.creation.box((10, 20, 30)).export(tmp_path / "block.stl")
    solid = mesh.read_mesh(tmp_path / "block.stl")
    assert solid.volume_mm3 == pytest.approx(6000.0)
    pose = Pose(turn([0.2, 0.4, -0.9]), np.array([100.0, 200.0, 300.0]))
    spots = np.array([[5.0, 10, 15], [-5, 10, 15], [5, -10, 15]])
    found, miss = mesh.placing(spots, pose.apply(spots))
    assert miss < 1e-9
    assert found.rotation == pytest.approx(pose.rotation, abs=1e-9)
    assert found.shift_mm == pytest.approx(pose.shift_mm, abs=1e-9)


@pytest.mark.parametrize("text", ["no step", "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=BOX(", ""])
def test_a_step_file_that_is_none_is_told_in_words_and_nothing_else_is_printed(
    tmp_path: Path, text: str, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.step").write_text(text)
    with pytest.raises(ValueError, match=r"'bad\.step' is not a STEP file that can be read; export"):
        mesh.read_mesh(tmp_path / "bad.step")
    assert capfd.readouterr() == ("", "")


def test_step_comes_in(tmp_path: Path) -> None:
    block = solids.plate(Contour.of_points([[0, 0], [40, 0], [40, 20], [0, 20]]), (), Pose.identity(), 0, 10)
    solid = solids.less(block, solids.bar([20, 10, -5], [0, 0, 1], 30, 6))
    solids.write_step(solid, tmp_path / "block.step")
    read = mesh.read_mesh(tmp_path / "block.step")
    # chords stand for the bore's circle, so a little more metal than 40 x 20 x 10 less pi 6² 10
    assert read.volume_mm3 == pytest.approx(8000 - np.pi * 36 * 10, rel=0.02)
    assert read.volume_mm3 > 8000 - np.pi * 36 * 10
    (tmp_path / "bad.step").write_text("no step")
    with pytest.raises(ValueError, match=r"bad\.step"):
        mesh.read_mesh(tmp_path / "bad.step")


def test_an_open_surface_still_stops_a_panel(tmp_path: Path) -> None:
    sheet = trimesh.Trimesh([[0, 0, 0], [100, 0, 0], [100, 100, 0], [0, 100, 0]], [[0, 1, 2], [0, 2, 3]])
    sheet.export(tmp_path / "skin.stl")
    hit = mesh.overlap(mesh.read_mesh(tmp_path / "skin.stl"), mesh.box([40, 40, -5], [60, 60, 5]))
    assert hit.volume_mm3 == pytest.approx(20 * 20 * 0.2, rel=1e-6)


def test_files_that_cannot_be_read_are_named(tmp_path: Path) -> None:
    (tmp_path / "bad.stl").write_text("not a mesh")
    for name in ("missing.stl", "bad.stl", "bad.obj"):
        with pytest.raises(ValueError, match=name.split(".")[0]):
            mesh.read_mesh(tmp_path / name)


def test_spots_in_one_line_place_nothing() -> None:
    with pytest.raises(ValueError, match="one line"):
        mesh.placing([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 0, 0], [1, 0, 0], [2, 0, 0]])


def test_a_solid_comes_whole_out_of_a_pickle() -> None:
    hollow = mesh.without(mesh.box([0, 0, 0], [60, 40, 30]), mesh.cylinder([20, 20, -1], [0, 0, 1], 8.0, 40.0))
    again = pickle.loads(pickle.dumps(hollow))
    assert again.volume_mm3 == pytest.approx(hollow.volume_mm3, rel=1e-12)
    assert mesh.overlap(again, hollow).volume_mm3 == pytest.approx(hollow.volume_mm3, rel=1e-9)
    nothing = mesh.overlap(hollow, mesh.box([100, 0, 0], [110, 10, 10]))
    assert pickle.loads(pickle.dumps(nothing)).empty
