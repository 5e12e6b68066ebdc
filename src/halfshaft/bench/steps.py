"""The builder's own files on the bench: edits tried on a copy first, each a step that can be taken back."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from halfshaft.bench.ahead import Ahead, Edit, Tried
from halfshaft.bench.texts import Texts, different, put_texts, read_others, read_texts
from halfshaft.build import Build, load
from halfshaft.build.whole import passing

STEPS = 200  # edits that can be undone
_TRIES = 3  # of an edit, when an editor saves at the same moment


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the folder's files, from the bench or from outside."""

    title: str
    before: Texts
    after: Texts


class Steps:
    """The files as they were last read, and the steps that led there; `undo_title` and `redo_title` name the next two.

    Nothing that somebody else has written is ever written over: then FileExistsError is raised.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._ahead = Ahead(self._tried)
        self._read: tuple[Texts, Build] | None = None  # the files as last tried, and the build that they are
        self.begin()

    def begin(self) -> None:
        """Read the files anew; no step led here."""
        self.texts, self._others = read_texts(self.folder), read_others(self.folder)
        self._done: list[Step] = []
        self._undone: list[Step] = []

    @property
    def undo_title(self) -> str:
        return self._done[-1].title if self._done else ""

    @property
    def redo_title(self) -> str:
        return self._undone[-1].title if self._undone else ""

    def build_now(self) -> Build:
        """The build as its files stand now. Raises BuildProblems."""
        texts = read_texts(self.folder)
        if self._read is None or self._read[0] != texts:
            self._read = (texts, load(self.folder))
        return self._read[1]

    def build_known(self) -> Build | None:
        """The build that the files are, where it has been read already."""
        read = self._read
        return read[1] if read is not None and read[0] == self.texts else None

    def changed_outside(self) -> list[str]:
        """Names of files that somebody else has changed; what they hold now is taken in, as a step."""
        texts, others = read_texts(self.folder), read_others(self.folder)
        own = different(self.texts, texts)
        names = own + different(self._others, others)
        if own:
            self._keep(Step(f"{', '.join(own)} changed outside", self.texts, texts))
        self.texts, self._others = texts, others
        return names

    def foresee(self, edit: Edit, then: Callable[[Build], object]) -> None:
        """Try an edit that may soon be made; `then` is told the build that it gives, in a thread of its own."""
        self._ahead.foresee(self.texts, edit, then)

    def edit(self, title: str, edit: Edit, look: Callable[[], object], may_spoil: Callable[[], bool]) -> Build | None:
        """Make an edit and keep it as a step; the build that it gives, None where the files did not read before it.

        `look` takes in what has changed outside and is called before each try; `may_spoil` says whether the files do
        not read anyhow. Raises BuildProblems, OSError or FileExistsError, the files then untouched.
        """
        for tries_left in reversed(range(_TRIES)):
            look()
            before = self.texts
            build: Build | None = None
            if may_spoil():
                edit(self.folder)
                after = read_texts(self.folder)
            else:
                after, build = self._ahead.take(before, edit) or self._tried(before, edit)
                try:
                    put_texts(self.folder, before, after)
                except FileExistsError:  # an editor saved meanwhile: the edit is done on top of that
                    if not tries_left:
                        raise
                    continue
                self._read = (after, build)
            self.texts = after
            if different(before, after):
                self._keep(Step(title, before, after))
            return build
        raise AssertionError("it is tried at least once")

    def undo(self) -> str:
        """Take the last step back, whoever made it; its title, empty where there is none. Raises OSError."""
        if self._done:
            step = self._done[-1]
            self._put(step.after, step.before)
            self._undone.append(self._done.pop())
            return step.title
        return ""

    def redo(self) -> str:
        """Do again what was taken back last; as `undo`."""
        if self._undone:
            step = self._undone[-1]
            self._put(step.before, step.after)
            self._done.append(self._undone.pop())
            return step.title
        return ""

    def _keep(self, step: Step) -> None:
        self._done = [*self._done[-STEPS + 1 :], step]
        self._undone = []

    def _put(self, now: Texts, wanted: Texts) -> None:
        put_texts(self.folder, now, wanted)
        self.texts = read_texts(self.folder)

    def _tried(self, texts: Texts, edit: Edit) -> Tried:
        """The edit on a copy of the folder, and what it then reads as. Raises BuildProblems where it does not."""
        with tempfile.TemporaryDirectory(prefix="halfshaft-") as name:
            copy = Path(name)
            (copy / "parts").mkdir()
            for file, text in texts.items():
                (copy / file).write_bytes(text)
            for beside in self.folder.iterdir():  # whatever the build may name
                own = beside.name in ("build.toml", "readings.csv", "parts", "out")
                if not own and not beside.name.startswith("."):
                    (copy / beside.name).symlink_to(beside.absolute())
            with passing():
                edit(copy)
            return read_texts(copy), load(copy)
