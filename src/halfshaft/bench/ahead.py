"""An edit that is still being typed, tried before it is asked for: texts and an edit in, what it would give out."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from halfshaft.bench.texts import Texts
from halfshaft.build import Build, BuildProblems

Edit = Callable[[Path], object]  # two that do the same compare equal, where they shall be known again
Tried = tuple[Texts, Build]
Try = Callable[[Texts, Edit], Tried]


@dataclass
class _Foreseen:
    of: Texts
    edit: Edit
    thread: threading.Thread | None = None
    gives: Tried | None = None


class Ahead:
    """Tries the last edit that was foreseen, off the page; `try_edit` raises BuildProblems or OSError where it may not
    be made."""

    def __init__(self, try_edit: Try) -> None:
        self._try = try_edit
        self._last: _Foreseen | None = None

    def foresee(self, texts: Texts, edit: Edit, then: Callable[[Build], object]) -> None:
        """Try the edit of these texts; `then` is told the build that it gives, in a thread of its own.

        Nothing comes of an edit that may not be made, that changes nothing, or that another follows meanwhile.
        """
        if self._last is not None and (self._last.of, self._last.edit) == (texts, edit):
            return
        told = self._last = _Foreseen(texts, edit)

        def run() -> None:
            with contextlib.suppress(BuildProblems, OSError):  # told once it is asked for
                told.gives = self._try(texts, edit)
            if told.gives is not None and told is self._last and told.gives[0] != texts:
                then(told.gives[1])

        told.thread = threading.Thread(target=run, name="edit ahead", daemon=True)
        told.thread.start()

    def take(self, texts: Texts, edit: Edit) -> Tried | None:
        """What this edit of these texts gives where it is the one foreseen and may be made; else None."""
        told, self._last = self._last, None
        if told is None or told.thread is None or (told.of, told.edit) != (texts, edit):
            return None
        told.thread.join()
        return told.gives
