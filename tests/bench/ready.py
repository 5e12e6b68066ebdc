"""Benches that are there at once: a folder a line in, the line that a bench of its own prints out.

Loading the libraries takes longer than most tests. This process loads them once and forks itself for each folder, so
that every test still has a server of its own, untouched by any other, which can be ended the hard way. It has also
worked the two builds that most tests begin with, once, and each server begins with what that gave.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from halfshaft.bench.app import PortTaken, serve
from halfshaft.build import new_build
from halfshaft.memory import Memory
from halfshaft.study import work

SIGN = "the bench is at "


class Stable:
    """The process that forks; used from one thread."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.ready"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).resolve().parents[2],
        )

    def serve(self, folder: Path, port: int = 0, remembered: bool = True) -> tuple[str, int]:
        """Address and process number of a new bench; AssertionError where none comes up.

        Where not `remembered`, it has everything to work yet.
        """
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(port, int(remembered), folder, file=self._process.stdin, flush=True)
        number = 0
        told = []
        while line := self._process.stdout.readline():
            if line.startswith("process "):
                number = int(line.split()[1])
            elif line.startswith(SIGN):
                return line.removeprefix(SIGN).strip(), number
            elif line.startswith("none: "):
                if port:
                    return self.serve(folder, 0, remembered)  # somebody else has taken it meanwhile
                break
            told.append(line)
        raise AssertionError(f"the bench did not start: {''.join(told)}{line}")

    def close(self) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(10)


def main() -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # an ended bench leaves nothing behind to be waited for
    memory: Memory | None = None
    for line in iter(sys.stdin.readline, ""):
        port, remembered, folder = line.rstrip("\n").split(" ", 2)
        if remembered == "1" and memory is None:
            memory = _worked()
        number = os.fork()
        if number:
            print("process", number, flush=True)
            continue
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        try:
            serve(Path(folder), int(port), show=False, memory=memory if remembered == "1" else None)
        except PortTaken as why:
            print("none:", why, flush=True)
        finally:
            os._exit(0)


def _worked() -> Memory:
    """What the starter build and the demonstration give, as far as every page shows it."""
    memory = Memory()
    for demo in (False, True):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "build"
            new_build(folder, demo=demo)
            work(folder, until="bench", memory=memory)
    return memory


if __name__ == "__main__":
    main()
