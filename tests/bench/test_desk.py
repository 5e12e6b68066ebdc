"""The desk's own promises, without a browser: undo, outside changes, refusals, whole files."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfshaft.bench.desk import Desk
from halfshaft.bench.workroom import Workroom
from halfshaft.build import BuildProblems, Problem, add_reading, change_reading, load, new_build, save_values
from tests.bench.conftest import run_alone, wait_until


@pytest.fixture
def desk(small_folder: Path, room: Workroom) -> Desk:
    return Desk(small_folder, room)


def _texts(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in ("build.toml", "readings.csv")}


def _done(desk: Desk) -> None:
    wait_until(lambda: desk.busy is None and desk._thread is None)


def test_undo_and_redo_bring_back_the_very_bytes(desk: Desk):
    first = _texts(desk.folder)
    assert desk.change("kerf", lambda f: save_values(f, {"shop.kerf": "1.8 mm"}))
    second = _texts(desk.folder)
    assert desk.change("tape", lambda f: add_reading(f, {"reading": "tape", "points": "A B", "value": "6 5/16 in"}))
    third = _texts(desk.folder)
    assert first != second != third
    assert (desk.can_undo, desk.can_redo) == ("tape", "")
    desk.undo()
    assert _texts(desk.folder) == second
    desk.undo()
    assert _texts(desk.folder) == first
    assert (desk.can_undo, desk.can_redo) == ("", "kerf")
    desk.redo()
    desk.redo()
    assert _texts(desk.folder) == third
    _done(desk)


def test_an_edit_that_would_not_read_is_not_taken(desk: Desk):
    before = _texts(desk.folder)
    heard: list[str] = []
    desk.subscribe(lambda word: heard.append(word.words), "word")
    assert not desk.change("bad", lambda f: add_reading(f, {"reading": "tape", "points": "A ZZ9", "value": "412"}))
    assert _texts(desk.folder) == before
    assert any("ZZ9" in str(problem) for problem in desk.refused)
    assert heard
    assert desk.can_undo == ""


class _Kerf:
    """An edit that counts how often it is done."""

    def __init__(self, value: str) -> None:
        self.value, self.done = value, 0

    def __call__(self, folder: Path) -> None:
        self.done += 1
        save_values(folder, {"shop.kerf": self.value})


def test_a_foreseen_edit_is_done_once_and_shows_nothing_before_it_is_made(desk: Desk):
    desk.work()
    _done(desk)
    before, edit = _texts(desk.folder), _Kerf("1.8 mm")
    desk.foresee(edit)
    wait_until(lambda: edit.done == 1)
    assert _texts(desk.folder) == before
    assert (desk.busy, desk.can_undo) == (None, "")
    assert desk.change("kerf", edit)
    assert edit.done == 1
    assert desk.build_now().shop.kerf_mm == pytest.approx(1.8)
    _done(desk)
    assert desk.study is not None
    assert desk.study.build.shop.kerf_mm == pytest.approx(1.8)


def test_an_edit_foreseen_before_a_change_from_outside_is_done_on_top_of_that(desk: Desk):
    desk.work()
    _done(desk)
    edit = _Kerf("1.8 mm")
    desk.foresee(edit)
    wait_until(lambda: edit.done == 1)
    change_reading(desk.folder, _line(desk, "tape A B"), {"value": "161"})
    outside = _texts(desk.folder)["readings.csv"]
    assert desk.change("kerf", edit)
    assert edit.done == 2
    assert _texts(desk.folder)["readings.csv"] == outside
    assert desk.build_now().shop.kerf_mm == pytest.approx(1.8)
    _done(desk)


def test_a_foreseen_edit_that_may_not_be_made_is_told_once_it_is_asked_for(desk: Desk):
    desk.work()
    _done(desk)
    heard: list[str] = []
    desk.subscribe(lambda word: heard.append(word.words), "word")
    edit = _Kerf("thick")
    desk.foresee(edit)
    wait_until(lambda: edit.done == 1)
    assert not heard
    assert not desk.change("kerf", edit)
    assert any("thick" in words for words in heard)


def test_a_change_from_outside_is_taken_in_and_never_overwritten(desk: Desk):
    path = desk.folder / "readings.csv"
    assert desk.change("bench", lambda f: change_reading(f, _line(desk, "tape A B"), {"value": "161"}))
    outside = path.read_text().replace("tape, C D, 160.5", "tape, C D, 160.7")
    path.write_text(outside)
    # undo asked before the bench had looked: the editor's words stand, nothing is taken back
    desk.undo()
    assert path.read_text() == outside
    assert desk.changed_outside
    assert "changed outside" in desk.can_undo
    # a bench edit goes on top of them
    assert desk.change("again", lambda f: change_reading(f, _line(desk, "tape A B"), {"value": "160.2"}))
    text = path.read_text()
    assert "tape, C D, 160.7" in text
    assert "tape, A B, 160.2" in text
    desk.undo()
    desk.undo()
    assert "tape, C D, 160.5" in path.read_text()
    desk.redo()
    assert "tape, C D, 160.7" in path.read_text()
    _done(desk)


def test_undo_never_overwrites_what_lands_between_look_and_write(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    assert desk.change("kerf", lambda f: save_values(f, {"shop.kerf": "1.8 mm"}))
    text = (desk.folder / "build.toml").read_text().replace('name = "my build"', 'name = "from the editor"')
    monkeypatch.setattr(desk, "look", lambda: False)  # as if the editor saved just after the look
    (desk.folder / "build.toml").write_text(text)
    desk.undo()
    assert (desk.folder / "build.toml").read_text() == text
    _done(desk)


def test_a_folder_that_cannot_be_read_keeps_the_last_good_study(desk: Desk):
    heard: list[str] = []
    desk.subscribe(lambda word: heard.append(word.words), "word")
    desk.work()
    _done(desk)
    good = desk.study
    assert good is not None, (desk.problems, heard, desk.stopped)
    assert len(good.brackets) == 1
    text = (desk.folder / "build.toml").read_text()
    (desk.folder / "build.toml").write_text(text.replace('units = "metric"', 'units = "cubits"'))
    assert desk.look()
    _done(desk)
    assert any("cubits" in str(problem) for problem in desk.problems)
    assert desk.study is good
    # the bench may still mend it
    assert desk.change("mended", lambda f: save_values(f, {"build.units": "inch"}))
    _done(desk)
    assert desk.problems == ()
    assert desk.units == "inch"


def test_an_edit_works_again_only_what_depends_on_it(desk: Desk):
    desk.work()
    _done(desk)
    assert desk.change("kerf", lambda f: save_values(f, {"shop.kerf": "1.83 mm"}))
    _done(desk)
    assert desk.study is not None
    assert desk.study.seconds["survey"] == 0.0
    assert desk.study.seconds["measure"] == 0.0
    assert desk.study.seconds["fold corner"] > 0.0


def test_work_is_stopped_and_begun_again(desk: Desk):
    def stop_at_once() -> None:
        desk.stop()

    desk.subscribe(stop_at_once, "progress")
    desk.work()
    desk.stop()
    _done(desk)
    assert desk.stopped
    assert desk.study is None
    desk._telling._calls["progress"].clear()
    desk.work()
    _done(desk)
    assert desk.study is not None
    assert not desk.stopped


def test_cut_files_are_written_and_handed_out_from_out_only(desk: Desk):
    desk.work()
    _done(desk)
    files = run_alone(desk.cut())
    assert files is not None
    drawn = [file.path for file in files.files if file.path.endswith(".dxf")]
    assert drawn
    assert desk.out_file(drawn[0]).read_bytes()
    for other in ("../build.toml", "/etc/hostname", "nothing.dxf", ""):
        with pytest.raises(ValueError, match="no file of this build's out folder"):
            desk.out_file(other)
    (desk.folder / "out" / "leak").symlink_to("/etc/hostname")
    with pytest.raises(ValueError, match="no file of this build's out folder"):
        desk.out_file("leak")


def test_an_edit_that_fails_half_way_says_so(desk: Desk):
    def edit(folder: Path) -> None:
        raise BuildProblems([Problem("build.toml", 3, "it is locked", "Unlock it")])

    assert not desk.change("locked", edit)
    assert desk.refused[0].found == "it is locked"
    load(desk.folder)


def _line(desk: Desk, label: str) -> int:
    kind, a, b = label.split()
    rows = (desk.folder / "readings.csv").read_text().splitlines()
    return next(n for n, row in enumerate(rows, 1) if row.startswith(f"{kind}, {a} {b},"))


def test_the_demonstration_with_the_files_it_names_can_be_changed(tmp_path: Path, room: Workroom):
    """A build may name tables and meshes beside it: an edit is tried with them at hand."""
    folder = tmp_path / "demo"
    new_build(folder, demo=True)
    desk = Desk(folder, room)
    desk.work = lambda: None  # type: ignore[method-assign]
    assert desk.change("kerf", lambda f: save_values(f, {"shop.kerf": "1.83 mm"})), desk.refused
    named = [path for path in folder.iterdir() if path.suffix in (".csv", ".stl") and path.name != "readings.csv"]
    assert named
    named[0].write_bytes(named[0].read_bytes() + b"\n")
    assert desk.look()
