"""The state of one open build: what is worked out, what is busy, what can be undone. Edits in, a fresh study out."""

from __future__ import annotations

import asyncio
import logging
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from halfshaft.bench.ahead import Ahead, Edit
from halfshaft.bench.texts import Texts, different, put_texts, read_others, read_texts
from halfshaft.bench.workroom import Ended, Failed, Workroom
from halfshaft.build import Build, BuildProblems, load, ready_to_save
from halfshaft.build.problems import Problem
from halfshaft.build.value import UnitSystem
from halfshaft.build.whole import passing
from halfshaft.cut import CutFiles, Unwritable
from halfshaft.progress import Stopped
from halfshaft.study import Study, Until

if TYPE_CHECKING:
    from halfshaft.pack.model import Pack

Unsubscribe = Callable[[], None]
Topic = Literal["change", "progress", "word"]
Mood = Literal["good", "note", "care", "bad"]

LOOK_SECONDS = 1.0  # how often the files are looked at
STEPS = 200  # edits that can be undone
_TRIES = 3  # of an edit, when an editor saves at the same moment

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the folder's files, from the bench or from outside."""

    title: str
    before: Texts
    after: Texts


@dataclass(frozen=True, slots=True)
class Word:
    """A sentence for everyone at the bench."""

    words: str
    mood: Mood


class Desk:
    """One build folder on the bench, shared by every browser that is open on it.

    Fields to read: `folder`, `build` (the last that could be read), `study` (the last that could be worked),
    `problems` (why the folder cannot be read now), `refused` (why the last edit was not taken), `busy` (share, words),
    `units`, `changed_outside`, `behind` (what is shown may be from before the last change), `waiting` (brackets shown
    that are), `stopped`. To set: `first`, the bracket that is looked at and so worked before the others.
    Methods other than `work` are called in the event loop's thread. `room` is where studies are worked; without one
    the desk has its own.
    """

    def __init__(self, folder: Path, room: Workroom | None = None) -> None:
        self.folder = Path(folder)
        self.room = room or Workroom()
        self.build: Build | None = None
        self.study: Study | None = None
        self.problems: tuple[Problem, ...] = ()
        self.refused: tuple[Problem, ...] = ()
        self.busy: tuple[float, str] | None = None
        self.changed_outside = False
        self.behind = False
        self.waiting: frozenset[str] = frozenset()
        self.first = ""
        self.stopped = False
        self.dark: bool | None = None  # as the browser says
        self._units: UnitSystem | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._calls: dict[Topic, list[Callable[..., None]]] = {"change": [], "progress": [], "word": []}
        self._held: Build | None = None  # the build that the mounts in `study` are of
        self._sheeted: Build | None = None  # the build that the sheets in `study` are of
        self._laid: object = None  # what the layouts in `study` hang on
        self._texts = read_texts(self.folder)
        self._others = read_others(self.folder)
        self._done: list[Step] = []
        self._undone: list[Step] = []
        self._read: tuple[Texts, Build] | None = None  # the files as last tried, and the build that they are
        self._ahead = Ahead(self._tried)
        self._lock = threading.Lock()
        self._working = threading.Lock()  # one piece of work at a time
        self._thread: threading.Thread | None = None
        self._asked = 0
        self._halt = False

    # what stands on the bench

    @property
    def empty(self) -> bool:
        """Nothing to open yet: the folder is missing or has no build.toml and no readings.csv."""
        return not self._texts

    @property
    def units(self) -> UnitSystem:
        """What lengths are shown in: as switched on the bench, else as the build says."""
        if self._units:
            return self._units
        return self.build.build.units if self.build else "metric"

    @units.setter
    def units(self, units: UnitSystem) -> None:
        self._units = units
        self._tell("change")

    @property
    def can_undo(self) -> str:
        """Title of the step that undo takes back; empty when there is none."""
        return self._done[-1].title if self._done else ""

    @property
    def can_redo(self) -> str:
        return self._undone[-1].title if self._undone else ""

    def build_now(self) -> Build:
        """The build as its files stand now; `study` may still be of a moment before. Raises BuildProblems."""
        texts = read_texts(self.folder)
        if self._read is None or self._read[0] != texts:
            self._read = (texts, load(self.folder))
        return self._read[1]

    # changes

    def foresee(self, edit: Edit) -> None:
        """Try an edit that is being typed and work it, so that it stands at once when it is made. Nothing is changed
        or shown by it; nothing happens while the bench is at other work."""
        if not self.problems and not self.empty and self.busy is None:
            self._ahead.foresee(self._texts, edit, self._work_ahead)

    def change(self, title: str, edit: Edit) -> bool:
        """Run an edit that writes through halfshaft.build, keep a step to undo, work again.

        False when the edit is not taken: then `refused` says why, the files are as they were and everyone is told.
        It is tried on a copy first, so that the bench never turns a folder that reads into one that does not.
        """
        self.refused = ()
        try:
            before = self._edited(edit)
        except BuildProblems as faults:
            self.refused = faults.problems
            self.say(f"Not changed. {faults.problems[0]}", "bad")
            self._tell("change")
            return False
        except OSError as why:
            self.say(f"Not changed: {why.strerror or why}", "bad")
            return False
        if different(before, self._texts):
            self._keep(Step(title, before, self._texts))
            self.changed_outside = False
            self.work()
        self._tell("change")
        return True

    def undo(self) -> None:
        """Take the last step back, whoever made it. Nothing happens when the files have just changed outside."""
        if self.look() or not self._done:
            return
        step = self._done[-1]
        if self._put(step.after, step.before):
            self._undone.append(self._done.pop())
            self.say(f"Undone: {step.title}", "note")
            self.work()
        self._tell("change")

    def redo(self) -> None:
        if self.look() or not self._undone:
            return
        step = self._undone[-1]
        if self._put(step.before, step.after):
            self._done.append(self._undone.pop())
            self.say(f"Done again: {step.title}", "note")
            self.work()
        self._tell("change")

    def look(self) -> bool:
        """Look at the files: a change from outside is taken in, told, kept as a step, worked. True if there was one."""
        texts, others = read_texts(self.folder), read_others(self.folder)
        names = different(self._texts, texts) + different(self._others, others)
        if not names:
            return False
        if different(self._texts, texts):
            self._keep(Step(f"{', '.join(different(self._texts, texts))} changed outside", self._texts, texts))
        self._texts, self._others = texts, others
        self.changed_outside = True
        self.say(f"{', '.join(names)} {'was' if len(names) == 1 else 'were'} changed outside: taken in", "care")
        self.work()
        self._tell("change")
        return True

    def opened(self) -> None:
        """The folder was filled by the start page: begin with it anew."""
        self._texts, self._others = read_texts(self.folder), read_others(self.folder)
        self._done, self._undone = [], []
        self.build, self.study, self.problems, self._units = None, None, (), None
        self.work()
        self._tell("change")

    # work

    def work(self) -> None:
        """Work the folder again, off the page; what runs on older files is given up at its next step."""
        with self._lock:
            self._asked += 1
            self.stopped = self._halt = False
            if self.empty:
                return
            self.behind = True
            self.busy = self.busy or (0.0, "begun")  # at once: nobody shall take what is shown for the newest
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="bench work", daemon=True)
                self._thread.start()

    def stop(self) -> None:
        """Give up what is being worked; what was shown before stays."""
        self._halt = True

    async def cut(self) -> CutFiles | None:
        """Work everything and write the cut files into folder/out, off the page.

        None when it was stopped or nothing could be written; everyone is told why.
        """
        study = await self._asked_for("cut", "no cut file was changed")
        return study.files if study else None

    async def finish(self, then: Callable[[Study], object], when_stopped: str) -> bool:
        """Work everything, write the cut files, and call `then` with the study where it was worked, off the page.

        False when it was stopped or something could not be written; everyone is told why.
        """
        return await self._asked_for("cut", when_stopped, then) is not None

    async def fit_up(self) -> None:
        """Work where the unit can sit, off the page; it stands in `study` afterwards."""
        await self._asked_for("fitup", "places are as before")

    async def hold(self) -> None:
        """Work what the mounts carry and whether they hold, off the page; it stands in `study` afterwards."""
        await self._asked_for("mounts", "mounts are as before")

    async def thin_down(self) -> None:
        """As `hold`, and the thinnest sheet in which each mount's bracket still holds."""
        await self._asked_for("thinnest", "mounts are as before")

    async def lay_out(self) -> None:
        """Work where the pack's modules go, off the page; it stands in `study` afterwards."""
        await self._asked_for("pack", "layouts are as before")

    async def lay_sheets(self) -> None:
        """Lay all parts on sheets and write their files, off the page; they stand in `study` afterwards."""
        await self._asked_for("sheets", "sheets are as before")

    @property
    def sheets_behind(self) -> bool:
        """Whether the sheets that stand in `study` are of a build before the last change."""
        return self.study is not None and self.study.sheets is not None and self._sheeted != self.study.build

    @property
    def layouts_behind(self) -> bool:
        """Whether the layouts that stand in `study` are of a build before a change of what they hang on."""
        study = self.study
        laid = study is not None and study.pack is not None and study.pack.laid is not None
        return laid and study is not None and self._laid != _around_pack(study.build)

    @property
    def mounts_behind(self) -> bool:
        """Whether the mounts that stand in `study` are of a build before the last change."""
        return self.study is not None and self.study.mounts is not None and self._held != self.study.build

    def out_file(self, relative: str) -> Path:
        """A file under folder/out to be handed to the browser. Raises ValueError for anything else."""
        out = (self.folder / "out").resolve()
        path = (out / relative).resolve()
        if not path.is_relative_to(out) or not path.is_file():
            raise ValueError(f"'{relative}' is no file of this build's out folder")
        return path

    # telling

    def subscribe(self, callback: Callable[..., None], topic: Topic = "change") -> Unsubscribe:
        """Be called in the event loop: without arguments after any change or progress, with a Word for 'word'."""
        self._calls[topic].append(callback)

        def unsubscribe() -> None:
            if callback in self._calls[topic]:
                self._calls[topic].remove(callback)

        return unsubscribe

    def say(self, words: str, mood: Mood = "note") -> None:
        """A sentence for every browser that is open."""
        self._tell("word", Word(words, mood))

    async def attend(self) -> None:
        """Begin: work the folder, then look at its files every second until cancelled."""
        self._loop = asyncio.get_running_loop()
        self.work()
        while True:
            await asyncio.sleep(LOOK_SECONDS)
            try:
                self.look()
            except Exception:
                log.exception("looking at the files of the build")

    def close(self) -> None:
        """End the work and where it is done."""
        self._halt = True
        self.room.close()

    # inside

    def _work_ahead(self, build: Build) -> None:
        """Called off the page."""
        if self._working.acquire(blocking=False):
            try:
                self.room.foresee(self.folder, build, "bench", self.first)
            except Ended:
                return
            finally:
                self._working.release()
            ready_to_save(self.folder)  # the edit that was tried has used up what was made ready

    def _edited(self, edit: Edit) -> Texts:
        """Do the edit; the texts as they were before it. Raises BuildProblems or OSError, the files then untouched."""
        for tries_left in reversed(range(_TRIES)):
            self.look()
            before = self._texts
            if self.problems or self.empty:  # there is nothing to spoil
                edit(self.folder)
                self._texts = read_texts(self.folder)
                return before
            after, build = self._ahead.take(before, edit) or self._tried(before, edit)
            try:
                put_texts(self.folder, before, after)
            except FileExistsError:  # an editor saved meanwhile: the edit is done on top of that
                if not tries_left:
                    raise
                continue
            self._texts, self._read, self.build = after, (after, build), build
            return before
        raise AssertionError("it is tried at least once")

    def _tried(self, texts: Texts, edit: Edit) -> tuple[Texts, Build]:
        """The edit on a copy of the folder, and what it then reads as. Raises BuildProblems where it does not."""
        with tempfile.TemporaryDirectory(prefix="halfshaft-") as name:
            copy = Path(name)
            (copy / "parts").mkdir()
            for file, text in texts.items():
                (copy / file).write_bytes(text)
            for beside in self.folder.iterdir():  # whatever the build may name
                own = beside.name in ("build.toml", "readings.csv", "parts", "out")
                if not own and not beside.name.startswith("."):
                    (copy / beside.name).symlink_to(beside.absolute())
            with passing():
                edit(copy)
            return read_texts(copy), load(copy)

    def _keep(self, step: Step) -> None:
        self._done = [*self._done[-STEPS + 1 :], step]
        self._undone = []

    def _put(self, now: Texts, wanted: Texts) -> bool:
        try:
            put_texts(self.folder, now, wanted)
        except FileExistsError:
            self.look()
            return False
        except OSError as why:
            self.say(f"Not changed: {why.strerror or why}", "bad")
            return False
        self._texts = read_texts(self.folder)
        return True

    def _post(self, call: Callable[[], None]) -> None:
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(call)
        else:
            call()

    def _tell(self, topic: Topic, *told: object) -> None:
        for call in list(self._calls[topic]):
            try:
                call(*told)
            except Exception:
                log.exception("telling a page about a %s", topic)

    def _progress(self, share: float, words: str) -> None:
        self.busy = (share, words)
        self._post(lambda: self._tell("progress"))

    def _work(
        self,
        until: Until,
        given_up: Callable[[], bool],
        meanwhile: Callable[[Build | Study], None],
        then: Callable[[Study], object] | None = None,
    ) -> Study:
        """One study, in the other process; begun again once where that is killed. Raises as Workroom.work."""
        for again in (False, True):
            texts, read = self._texts, self._read
            build = read[1] if read is not None and read[0] == texts else None
            try:
                return self.room.work(
                    self.folder, until=until, build=build, first=self.first, halt=given_up, progress=self._progress,
                    meanwhile=meanwhile, then=then,
                )  # fmt: skip
            except Ended as why:
                if again or given_up():
                    raise
                words = f"What works the build was ended: {why}. It is begun again."
                self._post(lambda words=words: self.say(words, "care"))  # type: ignore[misc]
        raise AssertionError("it is tried at least once")

    async def _asked_for(
        self, until: Until, when_stopped: str, then: Callable[[Study], object] | None = None
    ) -> Study | None:
        """The study worked up to a station because somebody asked for it; None where that failed, which is told."""
        self._halt = False
        self.busy = (0.0, "begun")
        self._tell("progress")
        try:
            study = await asyncio.to_thread(self._worked, until, then)
        except Stopped:
            self.say(f"Stopped: {when_stopped}", "care")
        except BuildProblems as faults:
            self.say(str(faults.problems[0]), "bad")
        except (Unwritable, Ended, Failed) as why:
            self.say(f"It could not all be done: {why}", "bad")
        else:
            if not self.behind:
                before = self.study
                if before is not None and not study.brackets:  # it was not asked to go so far
                    study = replace(study, brackets=before.brackets, files=before.files)
                if until in ("mounts", "thinnest"):
                    self._held = study.build
                elif before is not None and before.mounts is not None and study.mounts is not None:
                    study = replace(study, mounts=before.mounts)  # with the stress, which others do not work
                self.study = self._with_places(study)
            self._tell("change")
            return study
        finally:
            if self._thread is None:
                self.busy = None
            self._tell("progress")
        return None

    def _worked(self, until: Until, then: Callable[[Study], object] | None = None) -> Study:
        with self._working:
            return self._work(until, lambda: self._halt, lambda _: None, then)

    def _run(self) -> None:
        while True:
            asked = self._asked

            def given_up(asked: int = asked) -> bool:
                return self._halt or asked != self._asked

            try:
                with self._working:
                    self._progress(0.0, "reading the folder")
                    folded = self._work("bench", given_up, self._meanwhile)
                    self._post(lambda study=folded, asked=asked: self._have(study, asked))  # type: ignore[misc]
                ready_to_save(self.folder)
            except Stopped:
                if self._halt:
                    self._post(self._have_stopped)
            except BuildProblems as faults:
                self._post(lambda problems=faults.problems: self._have_problems(problems))  # type: ignore[misc]
            except Ended as why:
                self._post(lambda words=str(why): self._have_ended(words))  # type: ignore[misc]
            except Failed as error:
                fault = Problem(str(self.folder), 0, f"the bench could not work it ({error})", "Undo the last change")
                self._post(lambda problems=(fault,): self._have_problems(problems))  # type: ignore[misc]
            except Exception:
                log.exception("working the build")
            with self._lock:
                if self._halt or asked == self._asked:
                    self._thread = None
                    break
        self._post(self._rest)

    def _rest(self) -> None:
        """Busy no more: told only after all that the work has told, so that who waits for it sees the newest."""
        if self._thread is None:
            self.busy = None
        self._tell("progress")

    def _meanwhile(self, known: Build | Study) -> None:
        if isinstance(known, Study):
            self._post(lambda: self._have_so_far(known))
        else:
            self._post(lambda: self._have_build(known))

    def _have_build(self, build: Build) -> None:
        self.build, self.problems = build, ()
        self._tell("change")

    def _have_so_far(self, study: Study) -> None:
        """What is known at once; other brackets stay to be seen as they were until they are worked again."""
        self.problems = ()
        before = self.study.brackets if self.study else {}
        self.waiting = frozenset(name for name in study.build.bracket if name in before and name not in study.brackets)
        kept = {name: before[name] for name in self.waiting}
        self.study = self._with_places(replace(study, brackets={**kept, **study.brackets}))
        self._tell("change")

    def _have(self, study: Study, asked: int) -> None:
        self.study, self.problems, self.waiting = self._with_places(study), (), frozenset()
        self.behind = asked != self._asked
        self._tell("change")

    def _with_places(self, study: Study) -> Study:
        """What is worked only when asked for, or not yet again, stays to be seen as it was before."""
        before, build = self.study, study.build
        if before is None:
            return study
        if study.weights is None and build.weights is not None:
            study = replace(study, weights=before.weights)
        if study.road is None and build.car is not None:
            study = replace(study, road=before.road)
        if build.pack is not None:
            study = replace(study, pack=self._with_layouts(study.pack, before.pack, build))
            if study.boxes is None and before.boxes is not None and _one_layout(study.pack, before.pack):
                study = replace(study, boxes=before.boxes, box_files=before.box_files)
        if study.fit_up is None and build.fitup is not None:
            study = replace(study, fit_up=before.fit_up, fit_up_files=before.fit_up_files)
        if study.mounts is None and build.mounts is not None:
            study = replace(study, mounts=before.mounts)
        if study.sheets is None:
            study = replace(study, sheets=before.sheets, paths=before.paths, sheet_files=before.sheet_files)
        else:
            self._sheeted = build
        return study

    def _with_layouts(self, pack: Pack | None, before: Pack | None, build: Build) -> Pack | None:
        """Layouts of before with the numbers of now, and with their checks where they still hold."""
        if pack is None:
            return before
        around = _around_pack(build)
        if pack.laid is not None:
            self._laid = around
        if pack.laid is not None or before is None or before.laid is None or build.pack is None:
            return pack
        from halfshaft.pack.station import as_built  # loads half a second of libraries

        if self._laid != around:
            return replace(pack, laid=before.laid)
        return before if before.laid.number == build.pack.layout else as_built(before, build.pack)

    def _have_stopped(self) -> None:
        self.stopped = True
        self.say("Stopped: what you see is from before the last change", "care")
        self._tell("change")

    def _have_ended(self, words: str) -> None:
        self.stopped = True
        self.say(f"What works the build was ended again: {words}. What you see is from before the last change", "bad")
        self._tell("change")

    def _have_problems(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        self._tell("change")


def _around_pack(build: Build) -> object:
    """What a build says that the pack's places hang on."""
    pack = build.pack and build.pack.model_copy(update={"layout": 1})
    return pack, build.body, build.obstacle, build.readings, build.car and build.car.motor


def _one_layout(one: Pack | None, other: Pack | None) -> bool:
    """Whether both build the same layout, whose boxes are then the same too."""
    mine, theirs = (pack.laid.number if pack is not None and pack.laid is not None else 0 for pack in (one, other))
    return mine == theirs
