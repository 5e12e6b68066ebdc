"""What is wrong with a build folder, told to the builder: file, line, what was found and what to write."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rapidfuzz import process


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault. `line` counts from 1 and is 0 where the fault is of the whole file."""

    file: str
    line: int
    found: str
    write: str

    def __str__(self) -> str:
        where = f"{self.file} line {self.line}" if self.line else self.file
        return f"{where}: {self.found}. {self.write}" if self.write else f"{where}: {self.found}"


class BuildProblems(Exception):
    """Every fault of a build folder at once, in the order of files and lines."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        unique = dict.fromkeys(_printable(problem) for problem in problems)
        self.problems = tuple(sorted(unique, key=lambda p: (p.file != "build.toml", p.file, p.line)))
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[BuildProblems], tuple[tuple[Problem, ...]]]:
        """An exception is sent to another process by its text alone: the problems themselves shall arrive."""
        return type(self), (self.problems,)


def _printable(problem: Problem) -> Problem:
    """Without signs that move the cursor or colour the screen, and never longer than a screen."""

    def clean(text: str) -> str:
        text = "".join(sign if sign.isprintable() else "?" for sign in text)
        return text if len(text) <= 500 else text[:497] + "..."

    return Problem(clean(problem.file), problem.line, clean(problem.found), clean(problem.write))


def nearest(name: str, known: Iterable[str], limit: int = 1) -> list[str]:
    """The known names that look most like `name`, best first; none where nothing is like it."""
    return [found for found, _, _ in process.extract(name, list(known), limit=limit, score_cutoff=60)]


def shown(value: object, most: int = 60) -> str:
    """A value as it may stand in a message: never long, never more than one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = repr(value) if isinstance(value, str) else str(value)
    except ValueError:  # an integer of more digits than Python prints
        text = "a huge number"
    text = " ".join(text.split())
    return text if len(text) <= most else text[: most - 3] + "..."
