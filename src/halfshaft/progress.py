"""How long work tells how far it is, and how it is stopped."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being worked; it may raise Stopped."""


class Stopped(Exception):
    """Raised out of a progress call to give up the work; nothing half-done is kept."""


def silent(share: float, words: str) -> None:
    """Progress for those who do not look."""


def within(progress: Progress | None, start: float, end: float, name: str = "") -> Progress:
    """Progress of one step, told as the part from `start` to `end` of the whole, its words led by `name`."""

    def tell(share: float, words: str) -> None:
        if progress is not None:
            progress(start + (end - start) * min(max(share, 0.0), 1.0), f"{name}: {words}" if name else words)

    return tell
