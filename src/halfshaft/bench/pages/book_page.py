"""Book: the build book as it was made last, made anew, taken away as a PDF or as one page; the kit for another car."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from pathlib import Path

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.book_view import add_style, draw_paper
from halfshaft.bench.bound import make_book
from halfshaft.bench.desk import Desk
from halfshaft.bench.page import Page
from halfshaft.bench.region import Region, apart
from halfshaft.book.kit import FOLDER as KIT
from halfshaft.book.station import FOLDER, PDF
from halfshaft.book.station import PAGE as WEB
from halfshaft.cut.files import LIST_NAME, safe_name
from halfshaft.study import Study

_SHEET, _WEB = f"{FOLDER}/{PDF}", f"{FOLDER}/{WEB}"


class BookPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        add_style()
        with look.panel():
            with look.row():
                self.make = look.button("Make the book", self._made, "main")
                self.sheet = look.button("Take the PDF", lambda: self._take(_SHEET))
                self.web = look.button("Take it as one page", lambda: self._take(_WEB))
                self.kit = look.button("Take the kit, zipped", self._kit)
            self.state = ui.label().classes("hs-text")
        self.box = apart()
        self.region = Region(self.box, self._key, self._paper)
        self.show()
        look.follow(desk, self.show)
        look.follow(desk, self.show, "progress")

    def _key(self) -> float:
        return _when(self.desk, _WEB)

    def show(self) -> None:
        """Bring the page up to the files that lie in the out folder."""
        made = _when(self.desk, _WEB)
        for button in (self.sheet, self.web, self.kit):
            button.set_enabled(made > 0.0)
        self.make.set_enabled(self.desk.study is not None and not self.desk.problems)
        self.state.set_text(_state(self.desk.folder, made))
        self.region.show()

    def _paper(self) -> None:
        if _when(self.desk, _WEB) <= 0.0:
            ui.label("No book yet. It takes what every page of the bench shows, and puts it on paper.").classes(
                "hs-text"
            )
            return
        inside = look.column()
        with inside:
            ui.label("The book is being opened.").classes("hs-faint")
        ui.timer(0.0, lambda: draw_paper(self.desk, _WEB, inside), once=True)

    async def _made(self) -> None:
        if await self.desk.finish(make_book, "the book is as before"):
            self.desk.say("The book and the kit are made", "good")
        self.show()

    def _take(self, relative: str) -> None:
        path = self.desk.out_file(relative)
        build = self.desk.build
        stem = safe_name(build.build.name if build else "build")
        ui.download.content(path.read_bytes(), f"{stem}-book{path.suffix}")

    def _kit(self) -> None:
        held = io.BytesIO()
        root = self.desk.folder / "out" / KIT
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
            for path in sorted(root.rglob("*")):
                if path.is_file() and not path.is_symlink() and path.name != LIST_NAME:
                    inside = path.relative_to(root).as_posix()
                    packed.writestr(inside, self.desk.out_file(f"{KIT}/{inside}").read_bytes())
        ui.download.content(held.getvalue(), "kit.zip")


def _when(desk: Desk, relative: str) -> float:
    """When a file of the out folder was written; nought where there is none."""
    try:
        return desk.out_file(relative).stat().st_mtime
    except (OSError, ValueError):
        return 0.0


def _state(folder: Path, made: float) -> str:
    if made <= 0.0:
        return "Not made yet."
    told = datetime.fromtimestamp(made).strftime("%Y-%m-%d %H:%M")
    changed = [name for name in ("build.toml", "readings.csv", "as_built.csv") if _changed(folder / name) > made]
    if changed:
        return f"Made {told}; {' and '.join(changed)} changed since: make it anew before anything is cut from it."
    return f"Made {told}; nothing changed since."


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _told(study: Study) -> str:
    return study.build.book.revision and f"rev. {study.build.book.revision[:8]}"


def _draw(desk: Desk) -> None:
    BookPage(desk)


PAGE = Page(
    "/book", "Book", "M4 4 H11 V20 H4 Z M13 4 H20 V20 H13 Z M6 8 H9 M6 11 H9 M15 8 H18 M15 11 H18", _draw, _told,
    ("book", "control"),
)  # fmt: skip
