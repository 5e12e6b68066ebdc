"""Rows to begin a table of build.toml with: its name in, its rows of the starter or the demonstration out."""

from __future__ import annotations

import re
from importlib.resources import files

_HEAD = re.compile(r"\[\[?([\w-]+)[\w.\"-]*\]?\]")


def example(table: str) -> str:
    """Rows that read as they stand, with what they lean on by its name in the starter; of the demonstration where the
    starter has none.

    Raises KeyError where neither has such a table.
    """
    starter = files("halfshaft.build").joinpath("starter", "build.toml").read_text(encoding="utf-8")
    bare = [line.removeprefix("# ") if line.startswith("# ") else line.lstrip("#") for line in starter.splitlines()]
    demo = files("halfshaft.demo").joinpath("build.toml").read_text(encoding="utf-8")
    for words, lines in (("An example", bare), ("Of the invented demonstration", demo.splitlines())):
        found = _rows(lines, table)
        if found:
            return "\n".join([f"# {words}: put your own in its place.", *found, ""])
    raise KeyError(table)


def _rows(lines: list[str], table: str) -> list[str]:
    """Every line from a head of the table on, up to the next head of another or a rule."""
    found: list[str] = []
    inside = False
    for line in lines:
        head = _HEAD.match(line)
        if head:
            inside = head.group(1) == table
        elif line.lstrip("# ").startswith("----"):
            inside = False
        if inside:
            found.append(line)
    while found and not found[-1].strip():
        found.pop()
    return found
