"""What a second core brings: `halfshaft run` of the demonstration on one core, then on two, from start to prompt.

Run: python benchmarks/cores_speed.py [ROUNDS]. The wall clock of the best round of each, their ratio, and whether the
files are the same to the last byte; the bar is ten seconds on two cores of a machine with nothing else to do.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from halfshaft.build import new_build

RUN = "import os, sys; os.sched_setaffinity(0, {cores}); from halfshaft.cli import main; main()"


def run(folder: Path, cores: set[int]) -> tuple[float, float]:
    """Seconds by the clock, and of processor time."""
    start, before = time.perf_counter(), _worked()
    command = [sys.executable, "-c", RUN.format(cores=cores), "run", str(folder)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start, _worked() - before


def _worked() -> float:
    told = resource.getrusage(resource.RUSAGE_CHILDREN)
    return told.ru_utime + told.ru_stime


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def main(rounds: int = 2) -> None:
    cores = sorted(os.sched_getaffinity(0))[:2]
    if len(cores) < 2:
        print("there is one core only: nothing to compare")
        return
    with tempfile.TemporaryDirectory() as name:
        found: list[list[tuple[float, float]]] = [[], []]
        files = []
        for _ in range(rounds):
            for count in (1, 2):  # one after the other, so that a busy spell falls on both
                folder = Path(name) / f"{count}" / "demo"
                if not folder.exists():
                    new_build(folder, demo=True)
                found[count - 1].append(run(folder, set(cores[:count])))
        files = [files_of(Path(name) / f"{count}" / "demo") for count in (1, 2)]
    (one, one_worked), (two, two_worked) = (min(rows) for rows in found)
    print(f"one core   {one:6.1f} s by the clock   {one_worked:6.1f} s of processor time")
    print(
        f"two cores  {two:6.1f} s by the clock   {two_worked:6.1f} s of processor time   {two / one:5.2f} of one core's"
    )
    print("the files are the same" if files[0] == files[1] else "THE FILES DIFFER")
    print("within its ten seconds" if two <= 10.0 else "OVER ITS TEN SECONDS, on this machine as it is now")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
