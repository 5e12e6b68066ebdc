"""The .toml files of a build folder as one table. A folder in, merged values with file and line of every key out."""

from __future__ import annotations

import pickle
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from halfshaft.build.lines import Path as Keys
from halfshaft.build.lines import line_index
from halfshaft.build.problems import Problem
from halfshaft.build.text import Text, read_text

MAIN = "build.toml"
MOST_PARTS = 500


@dataclass
class Tables:
    """Merged values, and where each path was written."""

    values: dict[str, Any] = field(default_factory=dict)
    where: dict[Keys, tuple[str, int]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def at(self, path: Keys) -> tuple[str, int]:
        """File and line of a path, or of the nearest thing round it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.where:
                return self.where[path[:end]]
        return MAIN, 0

    def fault(self, path: Keys, found: str, write: str) -> None:
        file, line = self.at(path)
        self.problems.append(Problem(file, line, found, write))


def read_tables(folder: Path) -> Tables:
    """build.toml, then parts/*.toml in the order of their names; faults are collected in `problems`."""
    tables = Tables()
    names = [MAIN]
    parts = folder / "parts"
    try:
        more = (
            sorted(f"parts/{path.name}" for path in parts.iterdir() if path.suffix.lower() == ".toml")
            if parts.is_dir()
            else []
        )
    except OSError as error:
        more = []
        tables.problems.append(Problem("parts", 0, f"it cannot be read ({error.strerror})", "Make the folder readable"))
    if len(more) > MOST_PARTS:
        tables.problems.append(Problem("parts", 0, f"{len(more)} files", f"Keep to {MOST_PARTS} or fewer"))
        more = more[:MOST_PARTS]
    for name in names + more:
        text = read_text(folder / name, name)
        if isinstance(text, Problem):
            tables.problems.append(text)
        else:
            _add(tables, name, text)
    return tables


def _add(tables: Tables, name: str, text: Text) -> None:
    try:
        values, lines = read_toml(text.text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        at = re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", message)
        line = int(at.group(1)) if at and at.group(1) else text.text.count("\n") + 1
        found = message[: at.start()].strip() if at else message
        tables.problems.append(
            Problem(name, line, f"the text cannot be read: {found[:1].lower()}{found[1:]}", _advice(found))
        )
        return
    except (ValueError, RecursionError, OverflowError):
        tables.problems.append(
            Problem(name, 0, "a number or a nest of brackets beyond reason", "Keep to what a hand writes")
        )
        return
    own = {path: (name, line) for path, line in lines.items()}
    _merge(tables, tables.values, values, (), own, name)


def read_toml(text: str) -> tuple[dict[str, Any], Mapping[Keys, int]]:
    """Values, the caller's own, and the line of each path. Raises as tomllib does."""
    written, lines = _remembered(text)
    return pickle.loads(written), lines


@lru_cache(maxsize=16)
def _remembered(text: str) -> tuple[bytes, Mapping[Keys, int]]:
    """Values as bytes, for they may be changed by who gets them. An edit reads the same text again and again."""
    return pickle.dumps(tomllib.loads(text)), line_index(text.replace("\r\n", "\n"))


def _advice(found: str) -> str:
    low = found.lower()
    if "overwrite" in low or "declare" in low or "mutate" in low or "duplicate" in low:
        return "Keep one of the two: a key or table may be told only once"
    if "invalid value" in low:
        return 'Put words and units in quotes: thickness = "3/16 in"'
    if "after a key" in low or "invalid statement" in low:
        return "Write a line as: key = value, or start a table as: [body.car]"
    return "Check quotes and brackets about this line"


def _merge(
    tables: Tables,
    into: dict[str, Any],
    values: Mapping[str, Any],
    path: Keys,
    own: Mapping[Keys, tuple[str, int]],
    name: str,
) -> None:
    for key, value in values.items():
        here: Keys = (*path, key)
        if key not in into:
            into[key] = value
            tables.where.update({p: at for p, at in own.items() if p[: len(here)] == here})
        elif isinstance(into[key], dict) and isinstance(value, dict):
            _merge(tables, into[key], value, here, own, name)
        else:
            file, line = tables.at(here)
            mine = own.get(here, (name, 0))
            told = ".".join(str(step) for step in here)
            found = f"'{told}' is already told in {file} line {line}"
            tables.problems.append(Problem(name, mine[1], found, "Keep one of the two"))
