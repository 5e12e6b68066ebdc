"""Jobs of a sweep on a Dask cluster, by the address of its scheduler. Only door to `distributed`, which is optional."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib import import_module
from typing import Any

from halfshaft.choose.drive import driven
from halfshaft.choose.model import Driven, Sweep
from halfshaft.choose.workers import Job

WAIT_S = 20.0


class NoCluster(Exception):
    """The cluster cannot be used, in words."""


def on_cluster(sweep: Sweep, jobs: Sequence[Job], address: str) -> Iterator[tuple[Job, list[Driven]]]:
    """Each job as it is done, in any order. Raises NoCluster where there is none at the address."""
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise NoCluster("a cluster wants the package distributed: pip install 'halfshaft[cluster]'") from None
    try:
        client = distributed.Client(address, timeout=WAIT_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as why:
        raise NoCluster(f"no cluster answers at {address} ({why}): write tcp://its-machine:8786") from None
    try:
        with client:
            everywhere = client.scatter(sweep, broadcast=True)
            ahead = {client.submit(_work, everywhere, job, pure=False): job for job in jobs}
            for one, rows in distributed.as_completed(ahead, loop=client.loop, with_results=True):
                yield ahead[one], rows
    except (OSError, distributed.KilledWorker) as why:
        raise NoCluster(f"the cluster at {address} went away ({why})") from None


def _work(sweep: Sweep, job: Job) -> list[Driven]:
    return driven(sweep, job.begin, job.end)
