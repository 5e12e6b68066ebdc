"""The build's files as they are written: for what no form asks for, to mend what does not read. One step to undo."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.texts import read_texts
from halfshaft.build import BuildProblems, Problem
from halfshaft.build.examples import example
from halfshaft.build.text import LARGEST_BYTES
from halfshaft.build.whole import write_whole

FILE = "build.toml"
# table -> what its rows are for, in the order of the work
TABLES = {
    "obstacle": "what is in the way",
    "fitup": "place",
    "mounts": "mounts",
    "pack": "pack",
    "weights": "weights",
    "car": "car",
    "road": "road",
    "choose": "choices",
    "stock": "stock",
    "offcut": "offcuts",
    "cutter": "cutting table",
    "book": "book",
    "buy": "things to buy",
}


def write_text(folder: Path, file: str, began: str, text: str) -> None:
    """Put a text in the place of the one it was begun from. Raises BuildProblems where that is no longer there."""
    path = folder / file
    now = path.read_bytes() if path.exists() else b""
    data = text.encode("utf-8")
    problems = []
    if now != began.encode("utf-8"):
        found = "it has been changed since you began to write"
        problems.append(Problem(file, 0, found, "Copy your rows, read the text anew and put them in"))
    if len(data) > LARGEST_BYTES:
        problems.append(Problem(file, 0, f"it is larger than {LARGEST_BYTES // 1000} kB", "Write less of it"))
    if problems:
        raise BuildProblems(problems)
    write_whole(path, data)


def _shown(text: str) -> str:
    """A text as a browser holds it, whose lines end in one letter."""
    return text.replace("\r\n", "\n")


class BuildText:
    """The text in one browser; `table` names rows to begin with, put in at once where there are none.

    The file that does not read is opened first.
    """

    def __init__(self, desk: Desk, table: str = "") -> None:
        self._desk = desk
        files = list(read_texts(desk.folder)) or [FILE]
        faulty = [problem.file for problem in desk.problems if problem.file in files]
        self._file = (faulty or [FILE])[0]
        self._others: dict[str, tuple[str, str]] = {}  # file -> what it was begun from, and what is written of it
        self._began = self._now()
        self._saving = False
        self._buttons: dict[str, ui.button] = {}
        with look.panel("The build as it is written"):
            ui.label(
                "Every key can be written here, comments stay. It is tried before it is saved; what does not read is "
                "told by its line. docs/build.md lists all keys."
            ).classes("hs-faint hs-text")
            if len(files) > 1:
                with look.row().props('role="radiogroup" aria-label="file"'):
                    for file in files:
                        button = look.button(file, partial(self._turn_to, file)).props('role="radio"')
                        self._buttons[file] = button
            self._area = ui.textarea(value=_shown(self._began)).props('outlined debounce=400 spellcheck="false"')
            self._area.classes("hs-build-text")
            self._told = look.column().props('role="status"')
            with look.row():
                look.button("Save the text", self._save, "main")
                look.button("Read it anew", self._anew)
            with look.column() as self._rows:
                ui.label("Rows to begin with, put at the end:").classes("hs-faint")
                with look.row():
                    for key, words in TABLES.items():
                        look.button(f"[{key}]", partial(self._add, key), say=f"add rows for {words}")
        self._name()
        if table in TABLES and f"\n[{table}" not in self._began:
            self._add(table)
        look.follow(desk, self._changed)

    def _name(self) -> None:
        self._area.props["aria-label"] = f"text of {self._file}"
        self._rows.set_visibility(self._file == FILE)
        for file, button in self._buttons.items():
            look.press(button, file == self._file, "aria-checked")

    def _turn_to(self, file: str) -> None:
        """Another file; what has been written of this one is kept meanwhile."""
        self._others[self._file] = (self._began, str(self._area.value or ""))
        self._file = file
        self._began, text = self._others.get(file, ("", ""))
        if text == _shown(self._began):
            self._began = self._now()
            text = _shown(self._began)
        self._area.set_value(text)
        self._name()
        self._tell((), "")

    def _now(self) -> str:
        try:
            return (self._desk.folder / self._file).read_bytes().decode("utf-8")
        except (OSError, UnicodeDecodeError):
            return ""

    def _add(self, table: str) -> None:
        text = str(self._area.value or "").rstrip("\n")
        self._area.set_value(f"{text}\n\n{example(table)}")
        self._tell((), f"Rows for {TABLES[table]} are at the end, not saved yet: put your own in their place.")
        ui.run_javascript(
            "setTimeout(() => { const area = document.querySelector('.hs-build-text textarea');"
            "const at = area.value.lastIndexOf('\\n# ', area.value.length - 2);"
            "area.focus(); area.setSelectionRange(at + 1, at + 1);"
            "area.scrollIntoView({ block: 'end' }); }, 100)"
        )

    def _save(self) -> None:
        text = str(self._area.value or "")
        if not text.endswith("\n"):
            text += "\n"
        began, written = self._began, text.replace("\n", "\r\n") if "\r\n" in self._began else text
        self._saving = True
        file = self._file
        saved = self._desk.change(f"{file} written", lambda folder: write_text(folder, file, began, written))
        self._saving = False
        if saved:
            self._began = written
            self._area.set_value(text)
            self._tell((), "Saved.")
        else:
            self._tell(self._desk.refused, "Not saved: what you wrote stays here until it reads.")

    def _anew(self) -> None:
        self._began = self._now()
        self._area.set_value(_shown(self._began))
        self._tell((), "")

    def _changed(self) -> None:
        """Somebody else's text is taken in where nothing has been written here, else told."""
        now = self._now()
        if now == self._began or self._saving:
            return
        if self._area.value == _shown(self._began):
            self._began = now
            self._area.set_value(_shown(now))
        elif not self._desk.refused:
            self._tell((), f"{self._file} has changed meanwhile: copy your rows, then read it anew.")

    def _tell(self, problems: Sequence[Problem], words: str) -> None:
        self._told.clear()
        with self._told:
            if problems:
                look.mark("bad", words)
            elif words:
                ui.label(words).classes("hs-text")
            for problem in problems[:20]:
                where = f"line {problem.line}: " if problem.line else ""
                ui.label(f"{where}{problem.found}. {problem.write}").classes("hs-text")
