"""The state of one open build: what is worked out, what is busy, what can be undone. Edits in, a fresh study out."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Callable
from pathlib import Path

from halfshaft.bench.ahead import Edit
from halfshaft.bench.standing import Standing
from halfshaft.bench.steps import Steps
from halfshaft.bench.telling import Mood, Telling, Topic, Unsubscribe, Word
from halfshaft.bench.workroom import Ended, Failed, Workroom
from halfshaft.build import Build, BuildProblems, ready_to_save
from halfshaft.build.problems import Problem
from halfshaft.build.value import UnitSystem
from halfshaft.crew import Crew
from halfshaft.cut import CutFiles, Unwritable
from halfshaft.progress import Stopped
from halfshaft.study import Study, Until

LOOK_SECONDS = 1.0  # how often the files are looked at
log = logging.getLogger(__name__)


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
        self._telling = Telling()
        self.standing = Standing()
        self._steps = Steps(self.folder)
        self._lock = threading.Lock()
        self._working = threading.Lock()  # one piece of work at a time
        self._thread: threading.Thread | None = None
        self._asked = 0
        self._halt = False

    # what stands on the bench

    @property
    def study(self) -> Study | None:
        return self.standing.study

    @property
    def empty(self) -> bool:
        """Nothing to open yet: the folder is missing or has no build.toml and no readings.csv."""
        return not self._steps.texts

    @property
    def units(self) -> UnitSystem:
        """What lengths are shown in: as switched on the bench, else as the build says."""
        if self._units:
            return self._units
        return self.build.build.units if self.build else "metric"

    @units.setter
    def units(self, units: UnitSystem) -> None:
        self._units = units
        self._telling.tell("change")

    @property
    def can_undo(self) -> str:
        """Title of the step that undo takes back; empty when there is none."""
        return self._steps.undo_title

    @property
    def can_redo(self) -> str:
        return self._steps.redo_title

    def build_now(self) -> Build:
        """The build as its files stand now; `study` may still be of a moment before. Raises BuildProblems."""
        return self._steps.build_now()

    # changes

    def foresee(self, edit: Edit) -> None:
        """Try an edit that is being typed and work it, so that it stands at once when it is made. Nothing is changed
        or shown by it; nothing happens while the bench is at other work."""
        if not self.problems and not self.empty and self.busy is None:
            self._steps.foresee(edit, self._work_ahead)

    def change(self, title: str, edit: Edit) -> bool:
        """Run an edit that writes through halfshaft.build, keep a step to undo, work again.

        False when the edit is not taken: then `refused` says why, the files are as they were and everyone is told.
        It is tried on a copy first, so that the bench never turns a folder that reads into one that does not.
        """
        self.refused = ()
        before = self._steps.texts
        try:
            build = self._steps.edit(title, edit, self.look, lambda: bool(self.problems) or self.empty)
        except BuildProblems as faults:
            self.refused = faults.problems
            self.say(f"Not changed. {faults.problems[0]}", "bad")
            self._telling.tell("change")
            return False
        except OSError as why:
            self.say(f"Not changed: {why.strerror or why}", "bad")
            return False
        self.build = build or self.build
        if self._steps.texts != before:
            self.changed_outside = False
            self.work()
        self._telling.tell("change")
        return True

    def undo(self) -> None:
        """Take the last step back, whoever made it. Nothing happens when the files have just changed outside."""
        self._step(self._steps.undo, "Undone")

    def redo(self) -> None:
        """Do again what was taken back last."""
        self._step(self._steps.redo, "Done again")

    def look(self) -> bool:
        """Look at the files: a change from outside is taken in, told, kept as a step, worked. True if there was one."""
        names = self._steps.changed_outside()
        if not names:
            return False
        self.changed_outside = True
        self.say(f"{', '.join(names)} {'was' if len(names) == 1 else 'were'} changed outside: taken in", "care")
        self.work()
        self._telling.tell("change")
        return True

    def opened(self) -> None:
        """The folder was filled by the start page: begin with it anew."""
        self._steps.begin()
        self.standing = Standing()
        self.build, self.problems, self._units = None, (), None
        self.work()
        self._telling.tell("change")

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

    async def finish(self, then: Callable[[Study, Crew], object], when_stopped: str) -> bool:
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
        return self._telling.subscribe(callback, topic)

    def say(self, words: str, mood: Mood = "note") -> None:
        """A sentence for every browser that is open."""
        self._telling.tell("word", Word(words, mood))

    async def attend(self) -> None:
        """Begin: work the folder, then look at its files every second until cancelled."""
        self._telling.loop = asyncio.get_running_loop()
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

    def _step(self, take: Callable[[], str], word: str) -> None:
        """Take a step back or forward; nothing happens when the files have just changed outside."""
        if self.look():
            return
        try:
            title = take()
        except FileExistsError:
            self.look()
        except OSError as why:
            self.say(f"Not changed: {why.strerror or why}", "bad")
        else:
            if not title:
                return
            self.say(f"{word}: {title}", "note")
            self.work()
        self._telling.tell("change")

    def _progress(self, share: float, words: str) -> None:
        self.busy = (share, words)
        self._telling.post(lambda: self._telling.tell("progress"))

    def _work(
        self,
        until: Until,
        given_up: Callable[[], bool],
        meanwhile: Callable[[Build | Study], None],
        then: Callable[[Study, Crew], object] | None = None,
    ) -> Study:
        """One study, in the other process; begun again once where that is killed. Raises as Workroom.work."""
        for again in (False, True):
            try:
                return self.room.work(
                    self.folder, until=until, build=self._steps.build_known(), first=self.first, halt=given_up,
                    progress=self._progress, meanwhile=meanwhile, then=then,
                )  # fmt: skip
            except Ended as why:
                if again or given_up():
                    raise
                words = f"What works the build was ended: {why}. It is begun again."
                self._telling.post(lambda words=words: self.say(words, "care"))  # type: ignore[misc]
        raise AssertionError("it is tried at least once")

    async def _asked_for(
        self, until: Until, when_stopped: str, then: Callable[[Study, Crew], object] | None = None
    ) -> Study | None:
        """The study worked up to a station because somebody asked for it; None where that failed, which is told."""
        self._halt = False
        self.busy = (0.0, "begun")
        self._telling.tell("progress")
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
                self.standing.take_asked(study, until)
            self._telling.tell("change")
            return study
        finally:
            if self._thread is None:
                self.busy = None
            self._telling.tell("progress")
        return None

    def _worked(self, until: Until, then: Callable[[Study, Crew], object] | None = None) -> Study:
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
                    self._telling.post(lambda study=folded, asked=asked: self._have(study, asked))  # type: ignore[misc]
                ready_to_save(self.folder)
            except Stopped:
                if self._halt:
                    self._telling.post(self._have_stopped)
            except BuildProblems as faults:
                self._telling.post(lambda problems=faults.problems: self._have_problems(problems))  # type: ignore[misc]
            except Ended as why:
                self._telling.post(lambda words=str(why): self._have_ended(words))  # type: ignore[misc]
            except Failed as error:
                fault = Problem(str(self.folder), 0, f"the bench could not work it ({error})", "Undo the last change")
                self._telling.post(lambda problems=(fault,): self._have_problems(problems))  # type: ignore[misc]
            except Exception:
                log.exception("working the build")
            with self._lock:
                if self._halt or asked == self._asked:
                    self._thread = None
                    break
        self._telling.post(self._rest)

    def _rest(self) -> None:
        """Busy no more: told only after all that the work has told, so that who waits for it sees the newest."""
        if self._thread is None:
            self.busy = None
        self._telling.tell("progress")

    def _meanwhile(self, known: Build | Study) -> None:
        if isinstance(known, Study):
            self._telling.post(lambda: self._have_so_far(known))
        else:
            self._telling.post(lambda: self._have_build(known))

    def _have_build(self, build: Build) -> None:
        self.build, self.problems = build, ()
        self._telling.tell("change")

    def _have_so_far(self, study: Study) -> None:
        """What is known at once; other brackets stay to be seen as they were until they are worked again."""
        self.problems = ()
        self.waiting = self.standing.take_so_far(study)
        self._telling.tell("change")

    def _have(self, study: Study, asked: int) -> None:
        self.standing.take(study)
        self.problems, self.waiting = (), frozenset()
        self.behind = asked != self._asked
        self._telling.tell("change")

    def _have_stopped(self) -> None:
        self.stopped = True
        self.say("Stopped: what you see is from before the last change", "care")
        self._telling.tell("change")

    def _have_ended(self, words: str) -> None:
        self.stopped = True
        self.say(f"What works the build was ended again: {words}. What you see is from before the last change", "bad")
        self._telling.tell("change")

    def _have_problems(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        self._telling.tell("change")
