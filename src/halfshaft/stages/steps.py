"""Steps of a study: each worked once for its inputs, here or on another core before its turn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from importlib import import_module
from time import perf_counter
from typing import Any, TypeAlias, TypeVar

from halfshaft.crew import ALONE, Crew
from halfshaft.memory import Memory
from halfshaft.progress import Progress

S = TypeVar("S")
T = TypeVar("T")
_SOON = ("road.station", "road.band", "geometry.mesh")
# libraries of these take a second to load
_LATER = {"bench": _SOON, "cut": (*_SOON, "mounts.station", "cut.nest.station", "cut.path.station", "cut.dxf")}
Part: TypeAlias = tuple[str, tuple[Any, ...], Callable[[], T]]
"""A step's name, all that it hangs on, and the call; the name's first word is what it is remembered by."""


@dataclass(frozen=True)
class Steps:
    """`seconds` are those for which each step held up the study, nought where it was remembered."""

    memory: Memory
    crew: Crew = ALONE
    progress: Progress | None = None  # told while a step that another core works is waited for
    seconds: dict[str, float] = field(default_factory=dict)

    def __call__(self, name: str, inputs: tuple[Any, ...], call: Callable[[], T]) -> T:
        """The step's result. Raises what the call raises."""
        start = perf_counter()

        def work() -> T:
            return self.crew.take(name, call, self.progress)

        result, remembered = self.memory.recall(name.split(" ")[0], inputs, work)
        self.seconds[name] = 0.0 if remembered else perf_counter() - start
        return result

    def ahead(self, name: str, inputs: tuple[Any, ...], call: Callable[[], object]) -> None:
        """Have it begun where a core is free, unless it is remembered."""
        if not self.crew.alone and not self.known(name, inputs):
            self.crew.ahead(name, call)

    def both(
        self,
        name: str,
        first: tuple[str, tuple[Any, ...]],
        then: tuple[str, tuple[Any, ...]],
        call: Callable[[], tuple[S, T]],
    ) -> tuple[S, T] | None:
        """Two steps that another core works in one go under `name`; None where nobody has begun it.

        `first` and `then` are their names and all that they hang on.
        """
        if self.crew.mine(name):
            return None
        found = self.crew.take(name, call, self.progress)
        return self(*first, lambda: found[0]), self(*then, lambda: found[1])

    def known(self, name: str, inputs: tuple[Any, ...]) -> bool:
        """Whether it is remembered."""
        return self.memory.remembered(name.split(" ")[0], inputs) is not None

    def load_libraries(self, until: str) -> None:
        """Have other cores load modules that later steps want, beside the points, which all else waits for."""
        if until in _LATER:
            for hand in range(self.crew.hands):
                self.crew.ahead(f"libraries {hand}", partial(_load, _LATER[until]))


def _load(rooms: tuple[str, ...]) -> None:
    for room in rooms:
        load = getattr(import_module(f"halfshaft.{room}"), "load_library", None)
        if load is not None:
            load()
