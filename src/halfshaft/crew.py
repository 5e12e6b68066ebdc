"""Calls begun on other cores before their turn. Calls in, their results out when the list of the study comes to them.

What is worked, and so every result, is the same on any number of cores: only who works it differs. Processes are split
off before a thread is begun, so that none is left with a lock that another held. Each lasts as long as the crew.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from ctypes import c_ulonglong
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from multiprocessing.sharedctypes import RawValue
from types import TracebackType
from typing import Any, Literal, TypeVar, cast

from halfshaft import progress as telling
from halfshaft.progress import Progress, Stopped, silent
from halfshaft.sums import one_thread

T = TypeVar("T")
TELL_SECONDS = 0.1  # progress is not told more often
LOOK_SECONDS = 0.05  # how soon a stop is seen by who waits
_LOOKS, _LOOK_AGAIN_SECONDS = 20, 0.002
MOST = 6  # processes in all; more would find nothing to do

log = logging.getLogger(__name__)


def free_cores() -> int:
    """How many a crew would use of those that this process may."""
    return min(len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1, MOST)


def threads() -> int:
    """How many this process has, those that a library began by itself among them: a fork would be without them, and
    wait for them for ever."""
    for _ in range(_LOOKS):
        try:
            found = len(os.listdir("/proc/self/task"))
        except OSError:  # no Linux
            return threading.active_count()
        if found <= threading.active_count():
            break
        time.sleep(_LOOK_AGAIN_SECONDS)  # one that was joined goes a moment later
    return found


@dataclass(eq=False)
class _Job:
    number: int
    name: str
    call: Callable[[], Any]
    state: Literal["waits", "begun", "done", "fault", "lost"] = "waits"
    answer: Any = None  # a value, or bytes of it as they came
    said: tuple[float, str] = (0.0, "")


@dataclass(eq=False)
class _Hand:
    """One process, and the job it works."""

    process: BaseProcess
    pipe: Connection
    job: _Job | None = None
    alive: bool = True


@dataclass(eq=False)
class Crew:
    """Processes for the cores beside this one's; with one core, or in a process that has threads already, none.

    Used from one thread. `not_theirs` are ends of pipes that the processes shall not hold open. `method` is how they
    are begun: 'fork' where None on Linux, else 'spawn', which takes fresh libraries.
    """

    cores: int = field(default_factory=free_cores)
    not_theirs: Sequence[Connection] = ()
    method: str | None = None

    def __post_init__(self) -> None:
        self._hands: list[_Hand] = []
        self._jobs: dict[str, _Job] = {}
        self._queue: deque[_Job] = deque()
        self._wake = threading.Condition()
        self._number = 0
        self._given_up: Any = RawValue(c_ulonglong, 0)  # jobs up to this number are not wanted any more
        method = self.method or ("fork" if sys.platform == "linux" else "spawn")
        if method == "fork" and threads() > 1:
            return
        for _ in range(self.cores - 1):
            self._begin(multiprocessing.get_context(method), method == "fork")
        self._thread = threading.Thread(target=self._tend, name="crew", daemon=True)
        if self._hands:
            self._thread.start()

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    @property
    def hands(self) -> int:
        """How many processes there are beside this one."""
        return sum(hand.alive for hand in self._hands)

    @property
    def alone(self) -> bool:
        """Whether all is worked here."""
        return self.hands == 0

    def ahead(self, name: str, call: Callable[[], Any]) -> None:
        """Have the call begun where a core is free; its result is had by `take` under this name.

        The call and its result must pickle. Nothing is done where there is no other core, or the name is begun.
        """
        with self._wake:
            if self.alone or name in self._jobs:
                return
            self._number += 1
            self._jobs[name] = job = _Job(self._number, name, call)
            self._queue.append(job)
            self._hand_out()

    def mine(self, name: str) -> bool:
        """Whether nobody has begun it: it is then left to who asks, and nobody else begins it."""
        with self._wake:
            job = self._jobs.get(name)
            if job is None:
                return True
            if job.state == "waits":
                self._queue.remove(job)
                del self._jobs[name]
                return True
            return False

    def take(self, name: str, call: Callable[[], T], progress: Progress | None = None) -> T:
        """The result of the call, worked here unless it was begun elsewhere; while it is waited for others are worked.

        Raises what the call raises, and what `progress` raises, which is called again and again while waiting.
        """
        if self.mine(name):
            return call()
        job, tell = self._jobs[name], progress or silent
        while True:
            with self._wake:
                if job.state == "begun" and not self._queue:
                    self._wake.wait(LOOK_SECONDS)
                state, said, other = job.state, job.said, None
                if state == "begun" and self._queue:
                    other = self._queue.popleft()
                    other.state = "begun"
            if state != "begun":
                break
            tell(*said)
            if other is not None:
                self._work_here(other)
        with self._wake:
            del self._jobs[name]
        if state == "lost":
            return call()
        answer = pickle.loads(job.answer) if isinstance(job.answer, bytes) else job.answer
        if state == "fault":
            raise answer
        return cast(T, answer)

    def drop(self) -> None:
        """Give up all that was begun; nobody wants it any more."""
        with self._wake:
            self._given_up.value = self._number
            self._queue.clear()
            self._jobs.clear()

    def close(self) -> None:
        """End the processes, for good."""
        self.drop()
        with self._wake:
            hands, self._hands = self._hands, []
        for hand in hands:
            hand.alive = False
            hand.process.terminate()
        for hand in hands:
            hand.process.join()
        if hands:
            self._thread.join()  # it sees that they are gone; an end that is closed could not be waited on
        for hand in hands:
            hand.pipe.close()

    def _begin(self, context: Any, forked: bool) -> None:
        ours, theirs = context.Pipe()
        # what is inherited and held open would hide that its other end is gone
        others = (ours, *(hand.pipe for hand in self._hands), *self.not_theirs) if forked else ()
        process = context.Process(target=_work, args=(theirs, others, self._given_up), name="crew", daemon=True)
        process.start()
        theirs.close()
        self._hands.append(_Hand(process, ours))

    def _hand_out(self) -> None:
        """Jobs that wait to hands that are free; the lock is held."""
        for hand in self._hands:
            if not self._queue:
                return
            if not hand.alive or hand.job is not None:
                continue
            job = self._queue.popleft()
            try:
                written = pickle.dumps(job.call)
            except Exception as why:  # whatever it is made of is no reason to lose it
                log.warning("'%s' is worked here, for it cannot be handed to another process: %s", job.name, why)
                self._jobs.pop(job.name, None)
                continue
            job.state, hand.job = "begun", job
            try:
                hand.pipe.send((job.number, written))
            except OSError:
                self._gone(hand)

    def _work_here(self, job: _Job) -> None:
        try:
            state, answer = "done", job.call()
        except Stopped:
            raise
        except Exception as error:  # raised where its own turn comes
            state, answer = "fault", error
        with self._wake:
            job.state, job.answer = cast(Any, state), answer

    def _tend(self) -> None:
        """Take in what the hands tell, hand out what waits."""
        while True:
            with self._wake:
                pipes = {hand.pipe: hand for hand in self._hands if hand.alive}
            if not pipes:
                return
            for pipe in wait(list(pipes), 1.0):
                hand = pipes[cast(Connection, pipe)]
                try:
                    kind, number, told = hand.pipe.recv()
                except (EOFError, OSError, pickle.UnpicklingError):
                    with self._wake:
                        self._gone(hand)
                        self._hand_out()
                    continue
                with self._wake:
                    job = hand.job
                    if job is None or job.number != number:
                        continue
                    if kind == "progress":
                        job.said = told
                    else:
                        job.state, job.answer, hand.job = kind, told, None
                        self._hand_out()
                    self._wake.notify_all()

    def _gone(self, hand: _Hand) -> None:
        """A process has ended: what it worked is worked here in its turn. The lock is held."""
        if not hand.alive:
            return
        hand.alive, job, hand.job = False, hand.job, None
        if job is not None and self._jobs.get(job.name) is job:
            job.state = "lost"
            hand.process.join(5.0)
            log.warning("the process that worked '%s' %s; it is worked again here", job.name, _how(hand.process))
        if self.alone:
            for one in self._queue:
                self._jobs.pop(one.name, None)
            self._queue.clear()
        self._wake.notify_all()


ALONE = Crew(1)
"""Nobody beside this process."""


def _how(process: BaseProcess) -> str:
    code = process.exitcode
    if code is not None and code < 0:
        with suppress(ValueError):
            name = signal.Signals(-code).name
            return "was killed (is the memory full?)" if name == "SIGKILL" else f"was ended by {name}"
    return f"ended with code {code}"


# in the other process


def _work(pipe: Connection, others: Sequence[Connection], given_up: Any) -> None:
    """Work what comes until the other end is gone."""
    for other in others:
        other.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the other end is told, and ends this
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    with one_thread():
        while True:
            try:
                number, written = pipe.recv()
                telling.home = _Home(pipe, number, given_up)
                pipe.send((*_answer(number, written),))
            except (EOFError, OSError):
                os._exit(0)


def _answer(number: int, written: bytes) -> tuple[str, int, bytes]:
    try:
        found = pickle.loads(written)()
        try:
            return "done", number, pickle.dumps(found)
        except Exception:  # what cannot cross is worked where it is wanted
            return "lost", number, b""
    except Exception as error:
        try:
            told = pickle.dumps(error)
            pickle.loads(told)
        except Exception:  # an error that cannot cross
            told = pickle.dumps(RuntimeError(f"{type(error).__name__}: {error}"))
        return "fault", number, told


class _Home:
    """Progress told to the process that waits; raises Stopped once nobody does."""

    def __init__(self, pipe: Connection, number: int, given_up: Any) -> None:
        self._pipe, self._number, self._given_up, self._told = pipe, number, given_up, 0.0

    def __call__(self, share: float, words: str) -> None:
        if self._given_up.value >= self._number:
            raise Stopped
        now = time.monotonic()
        if now - self._told >= TELL_SECONDS:
            self._told = now
            self._pipe.send(("progress", self._number, (share, words)))
