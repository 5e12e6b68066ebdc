"""Head of a station's page: what the build must say first, and work that is done only when somebody asks for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.study import Study


def worked(desk: Desk) -> Study | None:
    """The study; where nothing is worked yet None, and that is told."""
    if desk.study is None and not desk.problems:
        ui.label("The build is being worked for the first time.").classes("hs-title")
    return desk.study


def unsaid(title: str, words: str, table: str) -> None:
    """What the build does not say yet, what to write, and the way to where rows of that table can be written."""
    with look.panel(title):
        ui.label(words).classes("hs-text")
        with look.row():
            look.link(f"Write [{table}]", f"/start?write={table}")


@dataclass(frozen=True, slots=True)
class Asked:
    """Work that takes long enough to be asked for: what it gives and how long it takes, and the words on its button."""

    title: str
    words: str
    first: str
    again: str
    caution: str

    def draw(
        self,
        act: Callable[[], Any],
        done: bool,
        behind: bool,
        stands: Callable[[], None] | None = None,
        more: Callable[[], None] | None = None,
    ) -> None:
        """`done`: it has been worked; `behind`: of a build that has changed since.

        `stands` tells of it where it is not behind, `more` puts further buttons beside its own.
        """
        with look.panel(self.title):
            if not done:
                ui.label(self.words).classes("hs-text")
            elif behind:
                look.mark("care", "the build has changed since: what stands here is from before")
            elif stands is not None:
                stands()
            with look.row():
                look.button(self.again if done else self.first, act, "" if done and not behind else "main")
                if more is not None:
                    more()
                ui.label(self.caution).classes("hs-faint hs-small hs-grow hs-text")
