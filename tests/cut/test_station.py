"""The whole set of files of a bracket, read back by other eyes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from shapely.geometry import Point, Polygon

from halfshaft.checks import Severity
from halfshaft.cut.files import Unwritable
from halfshaft.cut.folded_view import folded_view
from halfshaft.cut.shop_sheet import weld_runs_mm
from halfshaft.cut.station import cut_files
from halfshaft.fold.solid import bracket_solid
from halfshaft.fold.station import shaped
from halfshaft.fold.twin import mirrored
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from halfshaft.geometry.solids import read_step, volume_mm3
from halfshaft.measure.model import GlobalTest, Measured
from halfshaft.progress import Stopped
from tests.cut.brackets import bracket, build, refused
from tests.fold.builders import plate
from tests.fold.frames import bolts, build_of, measured_of

NONE = Measured({}, {}, {}, np.zeros(0), np.zeros((0, 0)), {}, (), (), (), GlobalTest(0, 0, 0, 0, 1))


def words(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    return " ".join(text.split())


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out")
    one = bracket()
    one = replace(one, parts=(*one.parts, mirrored(one.parts[0])))
    cut_files(build(), NONE, (one, refused()), folder)
    return folder


def test_every_part_gets_its_four_files_and_the_bracket_its_sheet(out: Path) -> None:
    made = {p.name for p in (out / "front_left").iterdir()}
    for stem in ("front_left", "front_left.twin"):
        assert {f"{stem}.dxf", f"{stem}.svg", f"{stem}-paper.pdf", f"{stem}.step"} <= made
    assert "shop-sheet.pdf" in made


def test_a_refused_bracket_leaves_a_reason_and_nothing_to_cut(out: Path) -> None:
    assert [p.name for p in (out / "rear").iterdir()] == ["refused.pdf"]
    told = words(out / "rear" / "refused.pdf")
    assert "not to be cut" in told
    assert "panels overlap in the flat" in told
    assert "second plate bolted on" in told


def test_a_check_that_says_stop_withholds_every_cut_file_and_takes_the_old_ones_away(tmp_path: Path) -> None:
    one = bracket()
    cut_files(build(), NONE, (one,), tmp_path)
    assert (tmp_path / "front_left" / "front_left.dxf").exists()
    stop = replace(one.checks[0], severity=Severity.STOP)
    files = cut_files(build(), NONE, (replace(one, checks=(stop,)),), tmp_path)
    assert [f.kind for f in files.files if f.part == "front_left"] == ["refusal"]
    assert not list(tmp_path.rglob("front_left*.dxf"))
    assert "front_left/front_left.dxf" in files.gone


def test_the_shop_sheet_tells_ways_angles_order_welds_and_cautions(out: Path) -> None:
    told = words(out / "front_left" / "shop-sheet.pdf")
    # the angle finder shows the supplement of the turn
    assert "78.4" in told
    assert f"{180 - 78.4:.1f}" in told
    assert f"{180 - 31.25:.1f}" in told
    for piece in ("down", "up", "96.2 %", "1.87 kg", "256.0 mm of weld", "qualified welder", "Local code", "shop.kerf"):
        assert piece in told
    assert told.index("shelf-ear") < told.index("web-shelf")


def test_weld_runs_and_bridges_make_up_the_fold() -> None:
    for fold in bracket().folds:
        bridges = sum(b.end_mm - b.start_mm for b in fold.bridges)
        assert sum(weld_runs_mm(fold)) + bridges == pytest.approx(fold.length_mm)


def test_the_twin_solid_is_as_large_and_lies_on_the_other_side(out: Path) -> None:
    one = read_step(out / "front_left" / "front_left.step")
    twin = read_step(out / "front_left" / "front_left.twin.step")
    assert volume_mm3(twin) == pytest.approx(volume_mm3(one), rel=1e-6)


def test_equal_runs_give_equal_files(out: Path, tmp_path: Path) -> None:
    one = bracket()
    one = replace(one, parts=(*one.parts, mirrored(one.parts[0])))
    cut_files(build(), NONE, (one, refused()), tmp_path)
    for path in out.rglob("*.*"):
        again = tmp_path / path.relative_to(out)
        assert again.read_bytes() == path.read_bytes(), path.name


def test_a_build_in_inches_gets_inch_drawings_that_say_so(tmp_path: Path) -> None:
    cut_files(build("inch"), NONE, (bracket(),), tmp_path)
    assert (tmp_path / "front_left" / "front_left-inch.dxf").exists()


def test_names_that_lead_elsewhere_stay_in_the_folder(tmp_path: Path) -> None:
    one = bracket()
    part = replace(one.parts[0], name="../../escape")
    cut_files(build(), NONE, (replace(one, name="../up", parts=(part,)),), tmp_path / "out")
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_stopping_on_the_way_writes_nothing(tmp_path: Path) -> None:
    def stop(share: float, _: str) -> None:
        if share > 0.5:
            raise Stopped

    with pytest.raises(Stopped):
        cut_files(build(), NONE, (bracket(),), tmp_path / "out", stop)
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(Unwritable, match="out"):
        cut_files(build(), NONE, (refused(),), tmp_path / "out")


def test_front_left_and_up_are_right_handed_on_the_picture() -> None:
    view = folded_view(bracket().panels, bracket().folds)
    front, left, up = view.axes
    assert up[1] > 0.5
    assert abs(up[0]) < 1e-9
    turn = front[0] * left[1] - front[1] * left[0]
    assert (turn > 0) == (view.toward[2] > 0)


@pytest.mark.parametrize("angle", [0.0, 0.7, 1.9, 3.0, 4.4])
def test_what_is_painted_last_is_what_a_ray_from_the_eye_meets_first(angle: float) -> None:
    # ray casting against the middle planes, away from edges
    around = Pose(turn([0.0, 0.0, angle]) @ turn([0.3 * angle, 0.0, 0.0]), np.zeros(3))
    panels = {name: replace(panel, pose=around.after(panel.pose), holes=()) for name, panel in bracket().panels.items()}
    view = folded_view(panels, bracket().folds)
    screen = np.array(view.axes).T
    fills = [(p.panel, Polygon(p.rings_mm[0], p.rings_mm[1:])) for p in view.paints if p.fill]
    generator, tried = np.random.default_rng(3), 0
    low, high = (f(np.vstack([p.rings_mm[0] for p in view.paints]), axis=0) for f in (np.min, np.max))
    for spot in generator.uniform(low, high, (400, 2)):
        met = []
        for name, panel in panels.items():
            normal = panel.pose.rotation[:, 2]
            slant = float(normal @ view.toward)
            base = screen.T @ spot
            reach = float(normal @ (panel.pose.shift_mm + normal * panel.thickness_mm / 2.0 - base)) / slant
            inside = panel.pose.inverse().apply(base + reach * view.toward)[:2]
            shape = panel.outline.polygon()
            rim = panel.thickness_mm / max(abs(slant), 0.1)
            if shape.exterior.distance(Point(inside)) < rim:
                met = []
                break
            if shape.contains(Point(inside)):
                met.append((reach, name))
        painted = [name for name, shape in fills if shape.contains(Point(spot))]
        if met:
            tried += 1
            assert painted[-1] == max(met)[1]
    assert tried > 40


def test_a_panel_that_no_one_sees_gets_no_name_in_the_picture() -> None:
    large = [(0, 0), (400, 0), (400, 400), (0, 400)]
    small = [(180, 180), (220, 180), (220, 220), (180, 220)]
    panels = {
        name: plate(name, corners, pose=Pose(np.eye(3), np.array([0.0, 0.0, height])))
        for name, corners, height in (("under", large, 0.0), ("between", small, 10.0), ("over", large, 20.0))
    }
    assert set(folded_view(panels, ()).panels) in ({"under", "over"}, {"over"}, {"under"})
    assert set(folded_view({"between": panels["between"]}, ()).panels) == {"between"}


def test_a_gusset_gets_files_of_its_own_and_its_fillets_stand_on_the_sheet(tmp_path: Path) -> None:
    foot = {"face": "car.floor", "holes": bolts("car.A", "car.B")}
    back = {"face": "car.wall", "holes": bolts("car.C", "car.D")}
    told = {
        "panel": {"foot": foot, "back": back},
        "folds": [{"between": ["foot", "back"]}],
        "gusset": [{"between": ["foot", "back"], "reach": [62, 50]}],
    }
    points = {"car.A": (-90, -60, 0), "car.B": (-90, 60, 0), "car.C": (0, -60, 100), "car.D": (0, 60, 100)}
    faces = {"car.floor": ((0, 0, 0), (0, 0, 1)), "car.wall": ((0, 0, 0), (-1, 0, 0))}
    made = build_of(told, {"thickness": 5.0})
    one = shaped(made, measured_of(points, faces), "piece")
    cut_files(made, NONE, (one,), tmp_path)
    names = {p.name for p in (tmp_path / "piece").iterdir()}
    assert {f"piece.gusset1{end}" for end in (".dxf", ".svg", "-paper.pdf", ".step")} <= names
    sheet = words(tmp_path / "piece" / "shop-sheet.pdf")
    # nip 10 mm: feet of 52 and 40 mm, a fillet each side; legs of 4.3 mm
    assert "Gussets" in sheet
    assert "2 \u00d7 52.0 mm" in sheet
    assert "2 \u00d7 40.0 mm" in sheet
    assert "184.0 mm of fillet" in sheet
    # the fold is 153 mm long, the plate stands in its middle
    assert "76.5 mm from the" in sheet
    plate = volume_mm3(read_step(tmp_path / "piece" / "piece.gusset1.step"))
    area = (62 * 5 + (62 * 50 - 5 * 5) + 5 * 50) / 2.0 - np.pi * 100.0 / 4.0
    assert plate == pytest.approx(5.0 * area, rel=1e-6)
    # the folded part is drawn with its plate
    bare = shaped(build_of(told | {"gusset": []}, {"thickness": 5.0}), measured_of(points, faces), "piece")
    whole = volume_mm3(read_step(tmp_path / "piece" / "piece.step"))
    assert whole - volume_mm3(bracket_solid(bare, "piece")) == pytest.approx(plate, rel=1e-3)
