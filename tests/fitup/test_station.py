"""The station and its command, on a frame with room enough and on one that the unit cannot leave alone."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from typer.testing import CliRunner

from halfshaft.book.entry_chapter import entry_lacking, entry_sections
from halfshaft.book.model import Book, Section
from halfshaft.book.model import told as told_in
from halfshaft.build import Build, load
from halfshaft.build.schema import About
from halfshaft.checks import Severity
from halfshaft.cli import app
from halfshaft.fitup.entry import Entry, entry_again, kept
from halfshaft.fitup.station import FitUp, fit_up, windows_of
from halfshaft.geometry.mesh import moved, overlap
from halfshaft.measure import measure
from halfshaft.stages.fit_up_kept import WORKED, known_entry
from halfshaft.stages.handed import nothing_known, only
from halfshaft.study import Study, work
from tests.fitup.test_scene import write_folder

WIDE = "[fitup.piece.wing]\nbox = [[-40, 170, 60], [40, 400, 140]]\n"
CLEARANCE_MM = 10.0 + 6.0  # catalogue: room beside a member, and sway


def _worked(folder: Path) -> FitUp:
    build = load(folder)
    return fit_up(build, measure(build), folder)


@pytest.fixture(scope="module")
def roomy(tmp_path_factory: pytest.TempPathFactory) -> FitUp:
    return _worked(write_folder(tmp_path_factory.mktemp("roomy")))


def test_with_room_enough_nothing_is_cut_and_the_unit_goes_in(roomy: FitUp) -> None:
    assert roomy.chosen is not None
    assert roomy.chosen.cuts == ()
    assert roomy.windows == ()
    assert roomy.way is not None
    assert roomy.way.found
    last = roomy.way.steps[-1].poses[-1]
    assert last.shift_mm == pytest.approx(roomy.chosen.pose.shift_mm, abs=1e-6)
    assert roomy.chosen.ground_mm >= 140.0 - 1e-6


def test_a_piece_that_reaches_through_the_rail_gets_a_window_that_lets_it_stand(tmp_path: Path) -> None:
    # a wing 80 x 80 that reaches from inside the rail, 375 mm from the middle, to beyond its inner wall
    folder = write_folder(tmp_path, f"{WIDE}[fitup.joint]\nangle = 40\ntravel_angle = 60\nstroke = 400\n")
    build = load(folder)
    measured = measure(build)
    found = fit_up(build, measured, folder)
    assert found.scene is not None
    assert found.hand is not None
    (cut,) = found.hand.cuts
    assert cut.member == "left_rail"
    assert found.chosen is not None
    assert found.chosen.removed_mm3 <= found.hand.removed_mm3 + 1.0
    for window in found.windows:
        metal = found.scene.members[window.member].solid
        opened = metal.kernel - window.cutter.kernel
        piece = next(p for p in found.scene.unit.pieces if p.name == window.piece)
        left = overlap(type(metal)(opened), moved(piece.solid, found.chosen.pose))
        assert left.empty or left.volume_mm3 < 1e-3

    # what is kept of it, as text, gives the same windows and judgements again: here of the place that cuts for sure
    wide = replace(found, chosen=found.hand, windows=windows_of(build, found.scene, found.hand))
    again = entry_again(build, measured, folder, json.loads(json.dumps(kept(wide))))
    assert again.windows
    for one, other in zip(again.windows, wide.windows, strict=True):
        assert one.wall.called == other.wall.called
        assert one.contour.polygon(0.01).symmetric_difference(other.contour.polygon(0.01)).area < 1e-6
        assert one.checks == other.checks
    assert again.checks == found.checks
    assert again.assumed == found.assumed
    told = " ".join(words for section in sections_of(build, again) for words in told_of(section))
    for window in again.windows:
        assert f"{window.removed_mm3 / 1000.0:.1f} cm³" in told
        assert f"{100.0 * window.section.area_kept:.0f} %" in told
    assert "Nobody under a car or a unit that hangs" in told


def sections_of(build: Build, entry: Entry | None) -> list[Section]:
    return entry_sections(SimpleNamespace(build=build, entry=entry), (178.0, 250.0))  # type: ignore[arg-type]


def told_of(section: Section) -> list[str]:
    return list(told_in(Book("", "", "", "metric", "A4", (), (section,))))


def test_the_book_says_how_to_come_by_windows_that_were_not_worked(tmp_path: Path) -> None:
    build = load(write_folder(tmp_path))
    assert sections_of(build, None) == []
    lacking = entry_lacking(SimpleNamespace(build=build, entry=None))  # type: ignore[arg-type]
    assert lacking is not None
    assert "'halfshaft fitup'" in lacking.text
    none = Entry("", False, (), None, (), ())
    lacking = entry_lacking(SimpleNamespace(build=build, entry=none))  # type: ignore[arg-type]
    assert lacking is not None
    assert "No place was found" in lacking.text
    bare = Build(build=About(name="no unit"))
    assert entry_lacking(SimpleNamespace(build=bare, entry=None)) is None  # type: ignore[arg-type]


def test_the_command_tells_places_and_steps(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    told = CliRunner().invoke(app, ["fitup", str(folder), "--json"])
    assert told.exit_code == 0, told.output
    out = json.loads(told.stdout)
    assert out["places"]
    assert out["way_in"][-1]["words"]
    assert np.linalg.det(np.array(out["places"][0]["rotation"])) == pytest.approx(1.0)
    steps = (folder / "out" / "fitup" / "way-in.txt").read_text()
    assert all(step["words"] in steps for step in out["way_in"])

    # what lies in out/fitup is of this very build, until the build changes
    def told_of_files(study: Study) -> list[tuple[str, Severity]]:
        return [(c.title, c.severity) for c in study.checks if c.about == "out/fitup"]

    study = work(folder)
    assert told_of_files(study) == []
    # and a run of its own, which works no fit-up, takes up what was found
    assert study.entry is not None
    assert study.entry.way is not None
    assert [step.words for step in study.entry.way.steps] == [step["words"] for step in out["way_in"]]
    # what a hand has spoiled of it is not taken up, and nothing breaks
    worked = folder / "out" / "fitup" / WORKED
    worked.write_text(json.dumps({"of": json.loads(worked.read_text())["of"], "cut": ["no_such_rail"], "way": 3}))
    wish = only(study.build, "shop", "body", "obstacle", "bracket", "fitup")
    assert known_entry((wish, study.measured, ()), folder, nothing_known) is None
    text = (folder / "build.toml").read_text()
    (folder / "build.toml").write_text(text.replace("ground = 140", "ground = 160"))
    study = work(folder)
    assert told_of_files(study) == [("Windows and way in are of an earlier build", Severity.CAUTION)]
    assert study.entry is None


def test_a_run_leaves_fit_up_alone_and_says_so(tmp_path: Path) -> None:
    study = work(write_folder(tmp_path))
    assert study.fit_up is None
    found = [(c.title, c.severity) for c in study.checks if c.about == "out/fitup"]
    assert found == [("Windows and way in have not been worked", Severity.NOTE)]


def test_a_place_that_is_taken_and_hits_is_stopped_with_what_it_hits(tmp_path: Path) -> None:
    folder = write_folder(tmp_path, "[fitup.place]\nshift = [-60, 0, 0]\n[fitup.trial.far]\nshift = [0, 0, -200]\n")
    text = (folder / "build.toml").read_text().replace("[[-600, -100, 400]", "[[-600, -100, 200]")
    (folder / "build.toml").write_text(text.replace("[-400, 100, 600]]", "[-100, 100, 600]]"))
    found = _worked(folder)
    assert found.taken
    assert found.chosen is not None
    assert not found.chosen.fits
    (stop,) = [c for c in found.checks if c.about == "the place taken"]
    assert stop.severity is Severity.STOP
    assert "tank" in stop.do
    (far,) = found.placing.tried
    assert not far.fits
    assert any("off the ground" in words for words in far.limits)


def test_without_the_table_the_command_says_what_to_write(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    text = (folder / "build.toml").read_text()
    (folder / "build.toml").write_text(text[: text.index("[fitup]")])
    told = CliRunner().invoke(app, ["fitup", str(folder)])
    assert told.exit_code == 1
    assert "[fitup]" in told.output
