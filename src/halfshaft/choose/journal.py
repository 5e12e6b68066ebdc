"""What of a sweep is done already: a file that grows by a line a job. A killed sweep goes on from it.

A line is written whole and safe on disk before the next; one that was torn is worked again.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType

from halfshaft.choose.model import Driven

_FORM = 1  # of the lines: another form is another journal


def journal_path(folder: Path, of: str) -> Path:
    """The journal of one sweep, by the digest of all that it hangs on."""
    return folder / f"journal-{_FORM}-{of[:16]}.jsonl"


def read_journal(path: Path, of: str) -> dict[int, list[Driven]]:
    """Jobs done by number; what is torn, or of another sweep, is passed over."""
    done: dict[int, list[Driven]] = {}
    try:
        lines = path.read_bytes().split(b"\n")
    except OSError:
        return done
    for line in lines:
        try:
            told = json.loads(line)
            if told["of"] == of:
                done[int(told["job"])] = [_row(row) for row in told["rows"]]
        except (ValueError, KeyError, TypeError):
            continue
    return done


def _row(told: list[object]) -> Driven:
    *numbers, why = told
    if len(numbers) != len(Driven._fields) - 1 or not all(isinstance(one, (int, float)) for one in numbers):
        raise ValueError("a row of another form")
    return Driven._make([*(float(str(one)) for one in numbers), str(why)])


class Journal:
    """Open for more lines. A torn last line is closed first, so that the next stands by itself."""

    def __init__(self, path: Path, of: str) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._of = of
        self._file = path.open("ab+")
        if self._file.tell():
            self._file.seek(-1, os.SEEK_END)
            if self._file.read(1) != b"\n":
                self._file.write(b"\n")

    def add(self, job: int, rows: Sequence[Driven]) -> None:
        """One job done. Raises OSError where the disk is full."""
        told: Mapping[str, object] = {"of": self._of, "job": job, "rows": [list(row) for row in rows]}
        self._file.write(json.dumps(told).encode() + b"\n")
        self._file.flush()
        os.fsync(self._file.fileno())

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, kind: type[BaseException] | None, why: BaseException | None, at: TracebackType | None) -> None:
        self._file.close()
