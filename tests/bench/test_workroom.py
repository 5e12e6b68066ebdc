"""The process in which studies are worked: what crosses to it and back, what happens when either side is killed."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page as Tab
from playwright.sync_api import expect

from halfshaft.bench.desk import Desk
from halfshaft.bench.workroom import Ended, Workroom
from halfshaft.build import Build, BuildProblems, load, save_values
from halfshaft.cut import Unwritable
from halfshaft.progress import Stopped
from halfshaft.study import Study, work
from tests.bench.conftest import WORK_MS, Bench, settled, wait_until

# asks for a small file again and again, and counts the answers
HEARTBEAT = """() => { window.beats = 0; const beat = async () => {
  await fetch("/favicon.ico", {cache: "no-store"}); window.beats += 1; setTimeout(beat, 20); }; beat(); }"""


def _alive(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def _children(process: int) -> list[int]:
    """Processes whose parent this one is."""
    found = []
    for told in Path("/proc").glob("[0-9]*/stat"):
        try:
            parent = int(told.read_text().rsplit(")", 1)[1].split()[1])
        except (FileNotFoundError, ProcessLookupError):
            continue
        if parent == process:
            found.append(int(told.parent.name))
    return found


def test_a_study_from_the_other_process_is_the_one_worked_here(small_folder: Path, room: Workroom):
    there, here = room.work(small_folder, until="fold"), work(small_folder, until="fold")
    assert [str(check) for check in there.checks] == [str(check) for check in here.checks]
    assert there.assumed == here.assumed
    assert {n: p.xyz_mm.tolist() for n, p in there.measured.points.items()} == {
        n: p.xyz_mm.tolist() for n, p in here.measured.points.items()
    }
    fit = here.brackets["corner"].fit
    assert fit is not None
    assert there.brackets["corner"].fit.passes == fit.passes  # type: ignore[union-attr]


def test_the_shape_is_told_before_the_chance_of_fit_and_stays_the_same_object(small_folder: Path, room: Workroom):
    save_values(small_folder, {"shop.kerf": "1.37 mm"})
    told: list[Build | Study] = []
    study = room.work(small_folder, until="fold", meanwhile=told.append)
    shapes = [known for known in told if isinstance(known, Study) and "corner" in known.shapes]
    assert len(shapes) == 1
    shape = shapes[0].brackets["corner"]
    assert shape.fit is None
    assert study.shapes == frozenset()
    assert study.brackets["corner"].fit is not None
    assert study.brackets["corner"].parts is shape.parts


def test_what_has_not_changed_is_not_sent_again(small_folder: Path, room: Workroom):
    first = room.work(small_folder, until="fold")
    second = room.work(small_folder, until="fold")
    assert second.measured is first.measured
    assert second.brackets["corner"] is first.brackets["corner"]
    save_values(small_folder, {"shop.kerf": "1.41 mm"})
    third = room.work(small_folder, until="fold")
    assert third.measured is first.measured
    assert third.brackets["corner"] is not first.brackets["corner"]


def test_faults_cross_whole(small_folder: Path, room: Workroom):
    text = (small_folder / "build.toml").read_text()
    (small_folder / "build.toml").write_text(text.replace('units = "metric"', 'units = "cubits"'))
    with pytest.raises(BuildProblems) as there:
        room.work(small_folder)
    with pytest.raises(BuildProblems) as here:
        work(small_folder)
    assert there.value.problems == here.value.problems
    (small_folder / "build.toml").write_text(text)
    (small_folder / "out").write_text("a file where the folder out should be")
    with pytest.raises(Unwritable):
        room.work(small_folder, until="cut")


def test_a_halt_gives_up_and_the_next_work_is_done(small_folder: Path, room: Workroom):
    with pytest.raises(Stopped):
        room.work(small_folder, until="fold", halt=lambda: True)
    assert room.work(small_folder, until="fold").brackets["corner"].parts


def test_what_was_foreseen_is_remembered_when_it_is_asked_for(small_folder: Path, room: Workroom):
    room.work(small_folder, until="fold")
    save_values(small_folder, {"shop.kerf": "1.43 mm"})
    build = load(small_folder)
    room.foresee(small_folder, build, "fold", "corner")
    study = room.work(small_folder, until="fold", build=build)
    assert study.seconds["shape corner"] == 0.0
    assert [str(check) for check in study.checks] == [str(check) for check in work(small_folder, until="fold").checks]


def test_what_was_foreseen_in_vain_changes_nothing(small_folder: Path, room: Workroom):
    before = room.work(small_folder, until="fold")
    stands = load(small_folder)
    save_values(small_folder, {"shop.kerf": "1.47 mm"})
    other = load(small_folder)
    save_values(small_folder, {"shop.kerf": "1.49 mm"})
    room.foresee(small_folder, other, "fold")
    room.foresee(small_folder, load(small_folder), "fold")
    after = room.work(small_folder, until="fold", build=stands)
    assert after.brackets["corner"] is before.brackets["corner"]


def test_a_desk_whose_work_is_killed_says_so_and_begins_again(small_folder: Path):
    room = Workroom()
    desk = Desk(small_folder, room)
    heard: list[str] = []
    desk.subscribe(lambda word: heard.append(word.words), "word")
    first: list[int] = []

    def kill() -> None:
        if not first and room.process_id and desk.busy and desk.busy[1] != "reading the folder":
            first.append(room.process_id)
            os.kill(room.process_id, signal.SIGKILL)

    desk.subscribe(kill, "progress")
    desk.work()
    wait_until(lambda: first and desk._thread is None, 300)
    assert desk.study is not None
    assert desk.study.brackets
    assert room.process_id not in (None, first[0])
    assert any("begun again" in words for words in heard)
    other = room.process_id
    desk.close()
    assert other is not None
    wait_until(lambda: not _alive(other), 20)
    with pytest.raises(Ended):
        room.work(small_folder)


def test_pages_answer_while_a_study_is_worked_and_tell_when_it_is_killed(
    page: Tab, demo_folder: Path, open_bench: Callable[..., Bench]
):
    demo_bench = open_bench(demo_folder, remembered=False)
    page.set_default_timeout(WORK_MS)
    page.goto(demo_bench.address + "start")
    page.wait_for_function("() => window.socket && window.socket.connected")
    page.locator(".hs-busy").wait_for(state="visible")
    page.evaluate(HEARTBEAT)
    page.wait_for_function("() => window.beats > 20")
    expect(page.locator(".hs-busy")).to_be_visible()  # all that while it was being worked
    (child,) = _children(demo_bench.process)
    os.kill(child, signal.SIGKILL)
    expect(page.get_by_text("It is begun again")).to_be_visible()
    settled(page)
    page.goto(demo_bench.address + "brackets")
    expect(page.locator(".hb-card", has_text="front_right")).to_contain_text("fits")


def test_nothing_is_left_when_the_server_is_killed(demo_folder: Path, open_bench: Callable[..., Bench]):
    bench = open_bench(demo_folder)
    wait_until(lambda: _children(bench.process))
    (child,) = _children(bench.process)
    assert _alive(child)
    bench.kill()
    wait_until(lambda: not _alive(child), 30)
