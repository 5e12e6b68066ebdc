"""Head of a station's page: what the build must say first, and work that is done only when somebody asks for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.region import Region
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


class Head:
    """The sheet on top of a page whose work is asked for. Its buttons stay while what it tells changes.

    `stands` tells of what has been worked, where that is not of a build that has changed since; `more` puts further
    buttons beside its own; both are drawn again when `key` gives another value.
    """

    def __init__(
        self,
        asked: Asked,
        act: Callable[[], Any],
        key: Callable[[], Any] = lambda: None,
        stands: Callable[[], object] = lambda: None,
        more: Callable[[], object] = lambda: None,
    ) -> None:
        self._asked, self._stands = asked, stands
        self._done = self._behind = False
        with look.panel(asked.title) as self._panel:
            told = look.column()
            with look.row():
                self._button = look.button(asked.first, act, "main")
                beside = ui.element("div").classes("hs-row")
                ui.label(asked.caution).classes("hs-faint hs-small hs-grow hs-text")
        self._regions = (
            Region(told, lambda: (self._done, self._behind, key()), self._tell),
            Region(beside, key, more),
        )

    def show(self, here: bool, done: bool, behind: bool) -> None:
        """`done`: it has been worked; `behind`: of a build that has changed since; hidden where not `here`."""
        self._panel.set_visibility(here)
        if not here:
            return
        self._done, self._behind = done, behind
        for region in self._regions:
            region.show()
        look.words_of(self._button).set_text(self._asked.again if done else self._asked.first)
        main = behind or not done
        self._button.classes(add="hs-main" if main else "", remove="" if main else "hs-main")

    def _tell(self) -> None:
        if not self._done:
            ui.label(self._asked.words).classes("hs-text")
        elif self._behind:
            look.mark("care", "the build has changed since: what stands here is from before")
        else:
            self._stands()
