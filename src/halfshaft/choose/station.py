"""The choosing station: a sweep in; all variants driven, here or on a cluster, and what none beats, out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from halfshaft import __version__
from halfshaft.choose.cluster import on_cluster
from halfshaft.choose.journal import Journal, journal_path, read_journal
from halfshaft.choose.judge import judged
from halfshaft.choose.model import Choice, Driven, Sweep
from halfshaft.choose.workers import Job, here, jobs_of
from halfshaft.digest import digest
from halfshaft.progress import Progress, silent

SIZE = 256  # variants in a job
Works = Callable[[Sweep, Sequence[Job]], Iterator[tuple[Job, list[Driven]]]]


def chosen(
    sweep: Sweep,
    folder: Path | None = None,
    *,
    cluster: str = "",
    processes: int = 0,
    progress: Progress = silent,
    size: int = SIZE,
) -> Choice:
    """Every variant of a sweep driven. `folder` holds the journal by which a killed sweep goes on; none where None.

    `cluster` is the address of a Dask scheduler; else `processes` on this machine, one for each processor where nought.
    The numbers are the same either way. Raises NoCluster, OSError where the journal cannot be written, and what
    `progress` raises to stop the work: jobs done are then kept.
    """
    jobs = jobs_of(sweep.count, size)
    of = digest(__version__, size, sweep)
    done = read_journal(journal_path(folder, of), of) if folder is not None else {}
    done = {job.number: rows for job in jobs if len(rows := done.get(job.number, [])) == job.end - job.begin}
    left = [job for job in jobs if job.number not in done]
    works: Works = partial(on_cluster, address=cluster) if cluster else partial(here, processes=processes)

    def tell() -> None:
        progress(len(done) / max(len(jobs), 1), f"{min(len(done) * size, sweep.count)} of {sweep.count}")

    tell()
    if left and folder is not None:
        with Journal(journal_path(folder, of), of) as journal:
            for job, rows in works(sweep, left):
                journal.add(job.number, rows)
                done[job.number] = rows
                tell()
    else:
        for job, rows in works(sweep, left):
            done[job.number] = rows
            tell()
    return judged(sweep, tuple(row for job in jobs for row in done[job.number]))
