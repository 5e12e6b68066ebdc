"""Revisions: the build frozen with a note, every file of each looked over, two of them compared."""

from __future__ import annotations

import asyncio
from functools import partial

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.book_view import add_style, draw_paper
from halfshaft.bench.bound import compared, keep
from halfshaft.bench.desk import Desk
from halfshaft.bench.page import Page
from halfshaft.bench.region import apart
from halfshaft.revisions.freeze import FOLDER, Revision, revisions
from halfshaft.study import Study


class RevisionsPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.found: list[Revision] = []
        self.picked: list[str] = []
        add_style()
        with look.panel("Freeze the build as it stands"):
            ui.label(
                "Inputs, results and every file are kept under their hashes; what is damaged later is found and named. "
                "Where nothing changed since the last one, nothing is frozen."
            ).classes("hs-text")
            with look.row():
                self.note = ui.input("a note to keep with it").props("outlined maxlength=300").classes("hs-grow")
                self.freeze = look.button("Freeze", self._frozen, "main")
        with look.panel("Revisions"):
            self.table = apart()
            with look.row():
                self.compare = look.button("Compare the two picked", self._compared)
                look.button("Look them over again", self._looked)
        self.paper = apart()
        self.show()
        look.follow(desk, self.show)
        ui.timer(0.0, self._looked, once=True)

    def show(self) -> None:
        """Bring the buttons up to what can be pressed."""
        ready = self.desk.study is not None and not self.desk.problems
        self.freeze.set_enabled(ready)
        self.compare.set_enabled(ready and len(self.picked) == 2)

    async def _looked(self) -> None:
        found = await asyncio.to_thread(revisions, self.desk.folder)
        if self.table.is_deleted:
            return
        self.found = found
        names = [one.folder.name for one in found]
        self.picked = [name for name in self.picked if name in names] or names[-2:]
        self.table.clear()
        with self.table:
            self._rows()
        self.show()

    def _rows(self) -> None:
        if not self.found:
            ui.label("None yet.").classes("hs-faint")
        with ui.element("div").classes("hk-pick"):
            for one in reversed(self.found):
                name = one.folder.name
                ui.checkbox(name, value=name in self.picked, on_change=partial(self._pick, name))
                if one.whole:
                    look.mark("good", "whole")
                else:
                    look.mark("bad", "damaged")
                with look.column():
                    ui.label(one.note or "no note").classes("hs-text")
                    told = f"{one.when} UTC, " if one.when else ""
                    told += f"{len(one.hashes)} files, fingerprint {one.fingerprint[:12]}"
                    for damage in one.damage[:6]:
                        told += f"; {damage.path} {damage.what}"
                    ui.label(told).classes("hs-faint hs-small hs-text")

    def _pick(self, name: str, event: object) -> None:
        if getattr(event, "value", False):
            self.picked = [*self.picked, name]
        else:
            self.picked = [other for other in self.picked if other != name]
        self.show()

    async def _frozen(self) -> None:
        before = len(self.found)
        if await self.desk.finish(partial(keep, str(self.note.value or "")), "nothing was frozen"):
            await self._looked()
            new = len(self.found) > before
            told = f"Frozen as {self.found[-1].folder.name}" if new else "Nothing changed since the last revision"
            self.desk.say(told, "good" if new else "note")
            if new:
                self.note.set_value("")
                self.picked = [one.folder.name for one in self.found[-2:]]
                await self._looked()

    async def _compared(self) -> None:
        order = [one.folder.name for one in self.found if one.folder.name in self.picked]
        if len(order) != 2:
            return
        if await self.desk.finish(partial(compared, order[0], order[1]), "nothing was compared"):
            await draw_paper(self.desk, f"compared/{order[0]}-to-{order[1]}/compared.html", self.paper)


def _told(study: Study) -> str:
    folder = study.folder / FOLDER
    count = sum(1 for one in folder.iterdir() if not one.name.startswith(".")) if folder.is_dir() else 0
    return str(count) if count else ""


def _draw(desk: Desk) -> None:
    RevisionsPage(desk)


PAGE = Page("/revisions", "Revisions", "M6 3 V21 M6 7 H14 a4 4 0 0 1 4 4 V21 M3 7 H9 M15 21 H21", _draw, _told)
