"""How long work tells how far it is, and how it is stopped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being worked; it may raise Stopped."""


class Stopped(Exception):
    """Raised out of a progress call to give up the work; nothing half-done is kept."""


def silent(share: float, words: str) -> None:
    """Progress for those who do not look."""


def again(progress: Progress | None) -> Progress | None:
    """The same, telling once more what was told last where it is called without words."""
    last = (0.0, "")

    def tell(share: float, words: str) -> None:
        nonlocal last
        last = (share, words) if words else last
        if progress is not None:
            progress(*last)

    return tell if progress is not None else None


home: Progress = silent
"""Where work that was handed to another process tells how far it is; crew sets it there."""


def _to_home(share: float, words: str) -> None:
    home(share, words)


@dataclass(frozen=True, slots=True)
class _Within:
    progress: Progress | None
    start: float
    end: float
    name: str

    def __call__(self, share: float, words: str) -> None:
        if self.progress is not None:
            done = self.start + (self.end - self.start) * min(max(share, 0.0), 1.0)
            self.progress(done, f"{self.name}: {words}" if self.name else words)

    def __reduce__(self) -> tuple[Any, ...]:
        # in another process the one who looks is not there: it is told by way of home
        told = self.progress if isinstance(self.progress, _Within) or self.progress is None else _to_home
        return _Within, (told, self.start, self.end, self.name)


def within(progress: Progress | None, start: float, end: float, name: str = "") -> Progress:
    """Progress of one step, told as the part from `start` to `end` of the whole, its words led by `name`."""
    return _Within(progress, start, end, name)
