"""Work for a crew, in a process that has no threads: what came of each piece, as JSON. See test_crew.py."""

from __future__ import annotations

import json
import logging
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from shapely import box

from halfshaft.crew import Crew
from halfshaft.cut.nest.strip import Piece, pack
from halfshaft.memory import Memory
from halfshaft.progress import Progress, Stopped, silent, within
from halfshaft.study import work
from tests.study import small

SECOND = """
[sheet.thick]
thickness = 8
[bracket.second]
sheet = "thick"
folds = [{ between = ["web", "flange"] }]
[bracket.second.panel.web]
face = "web"
holes = [{ at = "W1", bolt = "M10" }, { at = "W2", bolt = "M10" }]
[bracket.second.panel.flange]
face = "flange"
holes = [{ at = "F1", bolt = "M10" }, { at = "F2", bolt = "M10" }]
"""


def who() -> int:
    return os.getpid()


def dies_elsewhere(here: int) -> str:
    if os.getpid() != here:
        os.kill(os.getpid(), signal.SIGKILL)
    return "worked here"


def fails(words: str) -> None:
    raise ValueError(words)


def goes_on(tell: Progress) -> None:
    for _ in range(10**7):  # some minutes
        tell(0.5, "on and on")


def handed_out(_: Path) -> Any:
    with Crew(3) as crew:
        for name in "abc":
            crew.ahead(name, who)
        mine, others = crew.mine("c"), [crew.take(name, who) for name in "ab"]
        return {"mine": mine, "others": others, "here": os.getpid(), "unasked": crew.take("d", who)}


def alone(_: Path) -> Any:
    with Crew(1) as crew:
        one = crew.alone, crew.take("a", who) == os.getpid()
    halt = threading.Event()
    thread = threading.Thread(target=halt.wait)
    thread.start()
    with Crew(2) as crew:
        crew.ahead("a", who)
        threads = crew.alone, crew.take("a", who) == os.getpid()
    halt.set()
    thread.join()
    return {"one core": one, "threads": threads}


def killed(_: Path) -> Any:
    heard: list[str] = []
    handler = logging.Handler()
    handler.emit = lambda record: heard.append(record.getMessage())  # type: ignore[method-assign]
    logging.getLogger("halfshaft.crew").addHandler(handler)
    with Crew(2) as crew:
        crew.ahead("bracket rear", partial(dies_elsewhere, os.getpid()))
        crew.ahead("waits", who)
        found = crew.take("bracket rear", partial(dies_elsewhere, os.getpid())), crew.take("waits", who) == os.getpid()
        return {"found": found, "heard": list(heard), "alone": crew.alone}


def failed(_: Path) -> Any:
    with Crew(2) as crew:
        crew.ahead("a", partial(fails, "no such hole"))
        crew.ahead("b", who)
        other = crew.take("b", who)
        try:
            crew.take("a", partial(fails, "never worked"))
        except ValueError as why:
            return {"said": str(why), "other": other > 0}


def in_this_process() -> Callable[[], int]:
    return lambda: 7  # does not pickle


def uncrossing(_: Path) -> Any:
    logging.getLogger("halfshaft.crew").addHandler(logging.NullHandler())
    with Crew(2) as crew:
        crew.ahead("result", in_this_process)
        result = crew.take("result", in_this_process)()
        crew.ahead("call", in_this_process())
        return {"result": result, "call": crew.take("call", in_this_process()), "alone": crew.alone}


def fresh(_: Path) -> Any:
    """As on systems where a process cannot be split off."""
    with Crew(2, method="spawn") as crew:
        crew.ahead("a", who)
        return crew.take("a", who) != os.getpid()


def stopped(_: Path) -> Any:
    told: list[tuple[float, str]] = []

    def tell(share: float, words: str) -> None:
        told.append((share, words))
        if words:
            raise Stopped

    with Crew(2) as crew:
        call = partial(goes_on, within(silent, 0.0, 0.5, "rear"))
        crew.ahead("endless", call)
        try:
            crew.take("endless", call, tell)
        except Stopped:
            crew.drop()
        for _ in range(6000):  # the other process gives up when it next tells how far it is
            crew.ahead("next", who)
            if not crew.mine("next"):
                break
            time.sleep(0.01)
        return {"told": told[-1], "next elsewhere": crew.take("next", who) != os.getpid()}


def studied(folder: Path) -> Any:
    memory, out = Memory(), {}
    first = small.write(folder / "first")
    with (first / "build.toml").open("a") as file:
        file.write(SECOND)
    with Crew(2) as crew:
        shapes: list[list[str]] = []
        study = work(
            first, crew=crew, memory=memory, meanwhile=lambda known: shapes.append(sorted(getattr(known, "shapes", ())))
        )
        out["worked"] = sorted(name for name, took in study.seconds.items() if took > 0.0)
        crew_files = _files(first / "out")
        again = work(first, crew=crew, memory=memory)
        out["again"] = [name for name, took in again.seconds.items() if took > 0.0]
        out["same objects"] = again.brackets["second"] is study.brackets["second"]
    alone = work(first)
    files = _files(first / "out")
    out["files"] = {name: files[name] == data for name, data in crew_files.items()}
    out["checks"] = [str(c) for c in alone.checks] == [str(c) for c in study.checks]
    out["shapes"] = shapes
    return out


def _files(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def beside_a_library(_: Path) -> Any:
    """A library's own threads are not known to Python; a process split off would wait for them for ever."""
    pack([Piece("square", box(0.0, 0.0, 10.0, 10.0), (0.0,), 2)], 30.0, seed=1)
    with Crew(2) as crew:
        return {"known": threading.active_count(), "alone": crew.alone}


PIECES: tuple[Callable[[Path], Any], ...] = (
    handed_out,
    alone,
    killed,
    failed,
    uncrossing,
    fresh,
    stopped,
    studied,
    beside_a_library,
)

if __name__ == "__main__":
    print(json.dumps({piece.__name__: piece(Path(sys.argv[1])) for piece in PIECES}))
