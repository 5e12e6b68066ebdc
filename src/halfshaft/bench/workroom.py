"""The study in a process of its own: a build folder in, studies out, while the pages go on answering.

One process is begun early and kept, so that what it has worked once is remembered. It ends with the server, however
that ends: it watches the pipe between them. Of a study only the parts that are new cross the pipe.
"""

from __future__ import annotations

import atexit
import logging
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from queue import SimpleQueue
from typing import Any, TypeAlias

from halfshaft.build import Build, BuildProblems
from halfshaft.crew import Crew, threads
from halfshaft.cut import Unwritable
from halfshaft.fold import Bracket
from halfshaft.memory import Memory
from halfshaft.progress import Progress, Stopped, silent
from halfshaft.study import Study, Until, work

TELL_SECONDS = 0.1  # progress is not told more often
LOOK_SECONDS = 0.05  # how soon a halt is seen

Parts: TypeAlias = dict[str, Any]
_OF_MANY = ("brackets", "measure_next")  # fields of a study with a part for each name

log = logging.getLogger(__name__)


class Ended(Exception):
    """The process ended in the middle of its work; the text says how."""


class Failed(Exception):
    """The study failed in a way that it should not; the text is the error's own."""


@dataclass(frozen=True, slots=True)
class _Same:
    """Stands for a part that is the very one sent last time."""


@dataclass(frozen=True, slots=True)
class _Changed:
    """Stands for a bracket by the fields in which it differs from the one sent last time."""

    fields: dict[str, Any]


class Workroom:
    """One process that works studies, one at a time: who asks while another waits for an answer waits for its turn.

    `memory` is what this process has worked already: the other one begins with it where it can be handed over.
    """

    def __init__(self, memory: Memory | None = None) -> None:
        self._memory = memory
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._number = 0
        self._parts: Parts = {}
        self._closed = False
        self._turn = threading.Lock()

    @property
    def process_id(self) -> int | None:
        """Of the process, while there is one."""
        return self._process.pid if self._process is not None and self._process.is_alive() else None

    def begin(self) -> None:
        """Start the process where none runs: at once where this one is still single, else with fresh libraries.

        Raises Ended once the room is closed.
        """
        if self._closed:
            raise Ended("it was closed")
        if self._pipe is not None and self._process is not None and self._process.is_alive():
            return
        self._put_away()
        single = sys.platform == "linux" and threads() == 1
        context: Any = multiprocessing.get_context("fork" if single else "spawn")
        ours, theirs = context.Pipe()
        handed = (theirs, ours, self._memory) if single else (theirs, None, None)
        process = context.Process(target=_live, args=handed, name="study")  # no daemon: those may have no crew
        atexit.register(self._put_away)  # before the library waits for it to end
        process.start()
        theirs.close()
        self._process, self._pipe, self._parts = process, ours, {}

    def work(
        self,
        folder: Path,
        *,
        until: Until = "cut",
        build: Build | None = None,
        first: str = "",
        halt: Callable[[], bool] = lambda: False,
        progress: Progress = silent,
        meanwhile: Callable[[Build | Study], None] = lambda _: None,
        then: Callable[[Study, Crew], object] | None = None,
    ) -> Study:
        """As `study.work`, there; `then` is called there with the study and the crew, before it is handed back.
        Parts of a study that have not changed are the very objects of the study before.

        `halt` is asked again and again: once it says so the work there is given up and Stopped raised here. Raises what
        `study.work` and `then` do, Failed for any other error of them, and Ended where the process is gone: the next
        call begins a fresh one.
        """
        with self._turn:
            self.begin()
            pipe = self._pipe
            assert pipe is not None
            self._number += 1
            try:
                pipe.send(("work", self._number, (folder, until, build, first, then)))
                return self._answered(pipe, folder, halt, progress, meanwhile)
            except (EOFError, OSError, pickle.UnpicklingError):
                raise Ended(self._how_it_ended()) from None

    def foresee(self, folder: Path, build: Build, until: Until, first: str = "") -> None:
        """Have a build worked there that may be asked for next: nothing is told of it, and it is given up as soon as
        another one is asked for, and not begun while one is worked. Raises Ended where no process can be begun."""
        if not self._turn.acquire(blocking=False):
            return
        try:
            self.begin()
            assert self._pipe is not None
            self._number += 1
            with suppress(OSError):  # told to who asks for work
                self._pipe.send(("ahead", self._number, (folder, until, build, first)))
        finally:
            self._turn.release()

    def close(self) -> None:
        """End the process, for good."""
        self._closed = True
        self._put_away()

    def _answered(
        self,
        pipe: Connection,
        folder: Path,
        halt: Callable[[], bool],
        progress: Progress,
        meanwhile: Callable[[Build | Study], None],
    ) -> Study:
        while True:
            if halt():
                pipe.send(("stop", self._number, None))
                raise Stopped
            if not pipe.poll(LOOK_SECONDS):
                continue
            kind, number, told = pipe.recv()
            if kind in ("study", "done"):  # taken in even when nobody waits for it: the next may be told as the same
                told = self._put_together(told, folder)
            if number != self._number:
                continue
            if kind == "progress":
                progress(*told)
            elif kind == "done":
                return told  # type: ignore[no-any-return]
            elif kind == "fault":
                raise told
            else:
                meanwhile(told)

    def _put_together(self, told: Parts, folder: Path) -> Study:
        parts = {key: _full(value, self._parts.get(key)) for key, value in told.items()}
        self._parts |= parts
        values: dict[str, Any] = {name: {} for name in _OF_MANY}
        for key, value in parts.items():
            name, colon, one = key.partition(":")
            if colon:
                values[name][one] = value
            else:
                values[name] = value
        return Study(folder=folder, **values)

    def _how_it_ended(self) -> str:
        process = self._process
        if process is None:
            return "it was closed"
        process.join(5.0)
        code = process.exitcode
        self._put_away()
        if code is not None and code < 0:
            with suppress(ValueError):
                name = signal.Signals(-code).name
                return "it was killed: is the memory full?" if name == "SIGKILL" else f"it was ended by {name}"
        return f"it ended with code {code}"

    def _put_away(self) -> None:
        atexit.unregister(self._put_away)
        process, pipe, self._process, self._pipe, self._parts = self._process, self._pipe, None, None, {}
        if pipe is not None:
            pipe.close()
        if process is not None:
            process.join(1.0)
            if process.is_alive():
                process.kill()
                process.join(5.0)


def _short(value: Any, before: Any) -> Any:
    """A part as it is sent to who has `before`."""
    if value is before and value is not None:
        return _Same()
    if isinstance(value, Bracket) and isinstance(before, Bracket):
        own = {one.name: getattr(value, one.name) for one in fields(Bracket)}
        return _Changed({name: told for name, told in own.items() if told is not getattr(before, name)})
    return value


def _full(told: Any, before: Any) -> Any:
    """The part that was sent as `told` to who has `before`."""
    if isinstance(told, _Same):
        return before
    return replace(before, **told.fields) if isinstance(told, _Changed) else told


# in the other process


class _Asked:
    """What is asked of the process, read as it comes, so that a stop is seen in the middle of work."""

    def __init__(self, pipe: Connection) -> None:
        self.latest = self.stopped = 0
        self.waiting: SimpleQueue[tuple[str, int, Any]] = SimpleQueue()
        self._newest: Any = None
        self._pipe = pipe
        threading.Thread(target=self._read, name="asked", daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                kind, number, told = self._pipe.recv()
            except (EOFError, OSError):
                os._exit(0)  # the server is gone
            if kind == "stop":
                self.stopped = max(self.stopped, number)
            else:
                self._newest = told
                self.latest = number
                self.waiting.put((kind, number, told))

    def given_up(self, number: int) -> bool:
        return number < self.latest or number <= self.stopped

    def wanted(self, folder: Path, build: Build) -> bool:
        """Whether what is asked for by now is this very build."""
        asked_folder, _, asked_build, *_ = self._newest
        return self.stopped < self.latest and asked_folder == folder and bool(asked_build == build)


def _live(pipe: Connection, other_end: Connection | None, memory: Memory | None) -> None:
    """Work what is asked until the server is gone."""
    if other_end is not None:
        other_end.close()  # inherited: held here, it would never be seen that the server is gone
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server is told, and tells
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    crew = Crew(not_theirs=(pipe,))  # before the thread that hears what is asked
    memory, asked = memory or Memory(), _Asked(pipe)
    sent: Parts = {}
    while True:
        kind, number, told = asked.waiting.get()
        if kind == "ahead":
            _work_ahead(asked, number, memory, *told)
            continue
        folder, until, build, first, then = told
        send = _Sender(pipe, number, asked, sent)
        try:
            study = work(
                folder, until=until, memory=memory, progress=send.progress, meanwhile=send.meanwhile,
                build=build, first=first, crew=crew,
            )  # fmt: skip
            if then is not None:
                then(study, crew)
            send.study("done", study)
        except (BuildProblems, Unwritable, Stopped) as fault:
            send("fault", fault)
        except Exception as error:
            log.exception("working the build")
            send("fault", Failed(str(error) or type(error).__name__))


def _work_ahead(
    asked: _Asked, number: int, memory: Memory, folder: Path, until: Until, build: Build, first: str
) -> None:
    """Work what may be asked for next, to be remembered; once it is asked for, no further than its next shape."""

    def go_on(_share: float, _words: str) -> None:
        if asked.given_up(number) and not asked.wanted(folder, build):
            raise Stopped

    def known(so_far: Build | Study) -> None:
        shaped = isinstance(so_far, Study) and bool(so_far.shapes)
        if asked.given_up(number) and (shaped or not asked.wanted(folder, build)):
            raise Stopped

    with suppress(Exception):  # it comes again, and is told, once it is asked for
        work(folder, until=until, memory=memory, progress=go_on, meanwhile=known, build=build, first=first)


class _Sender:
    """Sends what one piece of work tells; `sent` holds the parts that the server has."""

    def __init__(self, pipe: Connection, number: int, asked: _Asked, sent: Parts) -> None:
        self._pipe, self._number, self._asked, self._sent = pipe, number, asked, sent
        self._told = 0.0

    def __call__(self, kind: str, told: object) -> None:
        try:
            self._pipe.send((kind, self._number, told))
        except OSError:
            os._exit(0)

    def progress(self, share: float, words: str) -> None:
        if self._asked.given_up(self._number):
            raise Stopped
        now = time.monotonic()
        if now - self._told >= TELL_SECONDS:
            self._told = now
            self("progress", (share, words))

    def meanwhile(self, known: Build | Study) -> None:
        if isinstance(known, Study):
            self.study("study", known)
        else:
            self("build", known)

    def study(self, kind: str, study: Study) -> None:
        parts = _parts_of(study)
        self(kind, {key: _short(value, self._sent.get(key)) for key, value in parts.items()})
        self._sent |= parts


def _parts_of(study: Study) -> Parts:
    """Fields of a study by name, those of many things as 'brackets:rear'."""
    out: Parts = {}
    for one in fields(study):
        value = getattr(study, one.name)
        if one.name in _OF_MANY and isinstance(value, Mapping):
            out |= {f"{one.name}:{name}": part for name, part in value.items()}
        elif one.name != "folder":
            out[one.name] = value
    return out
