"""Jobs of a sweep on this machine: here where they are few, else in processes of their own."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait as wait_for
from typing import NamedTuple

from halfshaft.choose.drive import driven
from halfshaft.choose.model import Driven, Sweep

FEW = 4  # jobs that are sooner done than processes begun

_own: Sweep | None = None


class Ended(Exception):
    """A process that drove cars was ended from outside, in words."""


class Job(NamedTuple):
    """Variants from `begin` to before `end`."""

    number: int
    begin: int
    end: int


def jobs_of(count: int, size: int) -> list[Job]:
    """A sweep cut into jobs: always alike, whoever works them, so that last digits are."""
    return [Job(n, begin, min(begin + size, count)) for n, begin in enumerate(range(0, count, size))]


def here(sweep: Sweep, jobs: Sequence[Job], processes: int = 0) -> Iterator[tuple[Job, list[Driven]]]:
    """Each job as it is done, in any order; `processes` nought is one for each processor.

    Raises Ended where one of the processes was killed; jobs done stay done.
    """
    count = min(processes or _processors(), len(jobs))
    if count <= 1 or len(jobs) <= FEW:
        for job in jobs:
            yield job, driven(sweep, job.begin, job.end)
        return
    # begun afresh and not split off: a process that is split off while others hold its locks may hang
    pool = ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_begin, initargs=(sweep,))
    try:
        ahead: dict[Future[list[Driven]], Job] = {}
        left = iter(jobs)
        for job in left:
            ahead[pool.submit(_work, job)] = job
            if len(ahead) >= 2 * count:
                break
        while ahead:
            done, _ = wait(ahead, return_when=FIRST_COMPLETED)
            for one in done:
                yield ahead.pop(one), one.result()
                job_next = next(left, None)
                if job_next is not None:
                    ahead[pool.submit(_work, job_next)] = job_next
    except BrokenProcessPool:
        raise Ended("a process that drove cars was ended from outside, for want of memory perhaps") from None
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _begin(sweep: Sweep) -> None:
    global _own  # each process holds its sweep, which is sent to it once
    _own = sweep
    threading.Thread(target=_go_with_parent, daemon=True).start()


def _go_with_parent() -> None:
    """End this process when the one that began it is gone, killed perhaps: it would wait for work for ever."""
    parent = parent_process()
    if parent is not None:
        wait_for([parent.sentinel])
        os._exit(1)


def _work(job: Job) -> list[Driven]:
    assert _own is not None
    return driven(_own, job.begin, job.end)
