"""Changes that keep the builder's own text. Folder and changes in; files changed whole or not at all."""

from __future__ import annotations

import contextlib
import csv
import io
import math
import re
from collections.abc import Mapping, MutableMapping
from pathlib import Path
from threading import Lock
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array
from tomlkit.toml_document import TOMLDocument

from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import BuildProblems, Problem, shown
from halfshaft.build.readings import COLUMNS, FILE
from halfshaft.build.tables import MAIN, read_tables, read_toml
from halfshaft.build.text import BOM, Text, read_text
from halfshaft.build.whole import write_whole


class _Documents:
    """Texts taken apart with every space in them, a tenth of a second each, for the next edit of that very text."""

    def __init__(self, room: int = 4) -> None:
        self._kept: dict[str, TOMLDocument] = {}
        self._room = room
        self._lock = Lock()

    def take(self, text: str) -> TOMLDocument:
        """The caller's own, to be changed. Raises as tomlkit does."""
        with self._lock:
            kept = self._kept.pop(text, None)
        return tomlkit.parse(text) if kept is None else kept

    def keep(self, text: str, document: TOMLDocument) -> None:
        with self._lock:
            self._kept.pop(text, None)
            self._kept[text] = document
            while len(self._kept) > self._room:
                del self._kept[next(iter(self._kept))]


_documents = _Documents()


def ready_to_save(folder: Path) -> None:
    """Take build.toml apart ahead of the edit that will want it; a text that cannot be is left to that edit."""
    told = read_text(Path(folder) / MAIN, MAIN)
    if isinstance(told, Text):
        text = told.text.replace("\r\n", "\n")
        with contextlib.suppress(TOMLKitError, ValueError, TypeError, RecursionError):
            _documents.keep(text, _documents.take(text))


def save_values(folder: Path, changes: Mapping[str | Keys, Any]) -> None:
    """Set values by dotted path ('sheet.plate.thickness') or by steps; None takes a key away.

    The number one past the end of a list adds to it. A key is changed in the file that tells it, or added to
    build.toml. Comments, order, line ends and byte order mark stay. Raises BuildProblems, with every file as it was,
    where a path cannot be set or a file cannot be read.
    """
    folder = Path(folder)
    tables = read_tables(folder)
    if tables.problems:
        raise BuildProblems(tables.problems)
    by_file: dict[str, dict[Keys, Any]] = {}
    for told, value in changes.items():
        path: Keys = tuple(told.split(".")) if isinstance(told, str) else tuple(told)
        if not path or not all(isinstance(step, (str, int)) and step != "" for step in path):
            raise BuildProblems(
                [Problem(MAIN, 0, f"the path {shown(told)} names no value", "Write for example: shop.kerf")]
            )
        file = tables.where[path][0] if path in tables.where else _home(tables.where, path)
        by_file.setdefault(file, {})[path] = value
    ready = {file: _changed(folder, file, wanted) for file, wanted in by_file.items()}
    for file, data in ready.items():
        _write(folder, file, data)


def add_reading(folder: Path, cells: Mapping[str, str], after_line: int | None = None) -> int:
    """Add a row to readings.csv, at the end or after a line; gives the new row's line number.

    `cells` maps column names to text. Every other line stays as it is. Raises BuildProblems.
    """
    text, lines, end = _rows(folder)
    at = _header(lines)
    row = _row(_columns(lines[at], _comma(lines[at])), cells, _comma(lines[at]))
    if after_line is None:
        place = len(lines)
        while place > at + 1 and not lines[place - 1].strip():
            place -= 1
    elif at < after_line <= len(lines):
        place = after_line
    else:
        raise _no_row(after_line)
    last = place == len(lines)
    if last and lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += end
        row_end = ""
    else:
        row_end = end
    lines.insert(place, row + row_end)
    _write(folder, FILE, _bytes(text, lines))
    return place + 1


def change_reading(folder: Path, line: int, cells: Mapping[str, str]) -> None:
    """Change cells of the row on `line`; other cells, their spacing and every other line stay. Raises BuildProblems."""
    text, lines, _ = _rows(folder)
    at = _header(lines)
    if not _is_row(lines, at, line):
        raise _no_row(line)
    comma = _comma(lines[at])
    columns = _columns(lines[at], comma)
    body = lines[line - 1].rstrip("\r\n")
    tail = lines[line - 1][len(body) :]
    parts = _raw_cells(body, comma)
    for name, value in cells.items():
        number = _place(columns, name)
        while len(parts) <= number:
            parts.append("")
        pad = re.match(r"\s*", parts[number])
        lead = pad.group(0) if pad and parts[number].strip() else (" " if number and not parts[number].strip() else "")
        parts[number] = lead + _cell(value, comma)
    while len(parts) > 3 and not parts[-1].strip():
        parts.pop()
    lines[line - 1] = comma.join(parts) + tail
    _write(folder, FILE, _bytes(text, lines))


def remove_reading(folder: Path, line: int) -> None:
    """Take the row on `line` away; every other line stays. Raises BuildProblems."""
    text, lines, _ = _rows(folder)
    if not _is_row(lines, _header(lines), line):
        raise _no_row(line)
    del lines[line - 1]
    _write(folder, FILE, _bytes(text, lines))


def rows_by_line(folder: Path) -> dict[int, tuple[str, dict[str, str]]]:
    """Line -> (its text, cells by column) of every row of readings.csv as it stands. Raises BuildProblems."""
    _, lines, _ = _rows(folder)
    at = _header(lines)
    comma = _comma(lines[at])
    columns = _columns(lines[at], comma)
    out = {}
    for number in range(at + 2, len(lines) + 1):
        if _is_row(lines, at, number):
            text = lines[number - 1].strip()
            try:
                cells = next(csv.reader([text], delimiter=comma, skipinitialspace=True))
            except (csv.Error, StopIteration):
                cells = [text]
            out[number] = (text, dict(zip(columns, (cell.strip() for cell in cells), strict=False)))
    return out


def _home(where: Mapping[Keys, tuple[str, int]], path: Keys) -> str:
    """The file that a new key goes to: that of its table where one tells it, else build.toml."""
    for end in range(len(path) - 1, 1, -1):
        if path[:end] in where:
            return where[path[:end]][0]
    return MAIN


def _changed(folder: Path, file: str, wanted: Mapping[Keys, Any]) -> bytes:
    told = read_text(folder / file, file)
    if isinstance(told, Problem):
        raise BuildProblems([told])
    crlf = "\r\n" in told.text
    text = told.text.replace("\r\n", "\n") if crlf else told.text
    if crlf and (text.replace("\n", "\r\n") != told.text):
        raise BuildProblems([Problem(file, 0, "line ends of two kinds", "Save the file once with one kind")])
    try:
        document = _documents.take(text)
        if tomlkit.dumps(document) != text:
            raise BuildProblems([Problem(file, 0, "the text would not stay as it is", "Change the value by hand")])
        expected, _ = read_toml(text)
        plain = all(_is_plain(value) and _is_plain(_told(expected, path)) for path, value in wanted.items())
        for path, value in wanted.items():
            _set(document, path, _laid(value), file)
            _set(expected, path, value, file)
        out = tomlkit.dumps(document)
        there, _ = read_toml(out)
        for path in (path for path, value in wanted.items() if value is None):
            _drop_hollow(expected, there, path)
        if there != expected:
            raise BuildProblems([Problem(file, 0, "the values would not be what was asked", "Change them by hand")])
        if plain:  # values in the place of values: the document is as it would be read from its text
            _documents.keep(out, document)
    except (TOMLKitError, ValueError, TypeError, RecursionError) as error:
        found = f"the values cannot be set ({shown(str(error))})"
        raise BuildProblems([Problem(file, 0, found, "Change them by hand")]) from None
    return ((BOM if told.bom else "") + (out.replace("\n", "\r\n") if crlf else out)).encode("utf-8")


def _is_plain(value: Any) -> bool:
    return isinstance(value, (str, int, float))


def _told(root: Any, path: Keys) -> Any:
    """The value at a path; None where there is none."""
    for step in path:
        try:
            root = root[step]
        except (KeyError, IndexError, TypeError):
            return None
    return root


def _set(root: Any, path: Keys, value: Any, file: str) -> None:
    name = ".".join(str(step) for step in path)
    here = root
    for number, step in enumerate(path[:-1]):
        if isinstance(here, MutableMapping) and isinstance(step, str):
            if step not in here:
                if value is None:
                    raise BuildProblems([Problem(file, 0, f"there is no '{name}' to take away", "")])
                deeper = number < len(path) - 2 or isinstance(value, Mapping)
                here[step] = tomlkit.table(is_super_table=deeper) if here is root or hasattr(here, "as_string") else {}
            here = here[step]
        elif isinstance(here, list) and isinstance(step, int) and 0 <= step < len(here):
            here = here[step]
        else:
            raise BuildProblems(
                [Problem(file, 0, f"'{name}' goes through a value that is no table", "Name another path")]
            )
    last = path[-1]
    inside = isinstance(here, MutableMapping) and isinstance(last, str)
    most = len(here) - (value is None) if isinstance(here, list) else -1
    inside = inside or (isinstance(last, int) and 0 <= last <= most)
    if not inside:
        raise BuildProblems([Problem(file, 0, f"'{name}' goes through a value that is no table", "Name another path")])
    if value is None:
        if isinstance(here, MutableMapping) and last not in here:
            raise BuildProblems([Problem(file, 0, f"there is no '{name}' to take away", "")])
        del here[last]
        return
    if isinstance(here, list) and last == len(here):
        here.append(tomlkit.value(_line(value)) if isinstance(here, Array) and isinstance(value, Mapping) else value)
        return
    if isinstance(value, float) and not math.isfinite(value):
        raise BuildProblems([Problem(file, 0, f"'{name}' would be {value}", "Write a number")])
    here[last] = value


def _drop_hollow(expected: Any, found: Any, path: Keys) -> None:
    """A table that stood only as part of a longer header goes with the last thing in it."""
    for end in range(len(path) - 1, 0, -1):
        *above, last = path[:end]
        here, there = expected, found
        for step in above:
            if not isinstance(here, dict) or not isinstance(there, dict) or step not in here or step not in there:
                return
            here, there = here[step], there[step]
        if isinstance(here, dict) and isinstance(there, dict) and here.get(last) == {} and last not in there:
            del here[last]


def _laid(value: Any, ends: bool = True) -> Any:
    """A value as it is best written: tables as tables, a list of tables as one list of one-line tables.

    The last table `ends` with an empty line, as a writer by hand would leave one.
    """
    if isinstance(value, Mapping):
        table = tomlkit.table()
        tables = [key for key, inner in value.items() if isinstance(inner, Mapping)]
        for key, inner in value.items():
            table[key] = _laid(inner, ends and key == tables[-1]) if tables else _laid(inner)
        if ends and not tables:
            table.add(tomlkit.nl())
        return table
    if isinstance(value, (list, tuple)) and any(isinstance(inner, Mapping) for inner in value):
        return tomlkit.value(_line(value))
    return value


def _line(value: Any) -> str:
    """A value in one line, tables as { key = value }."""
    if isinstance(value, Mapping):
        pairs = [f"{tomlkit.key(str(key)).as_string()} = {_line(inner)}" for key, inner in value.items()]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_line(inner) for inner in value)}]"
    return str(tomlkit.item(value).as_string())


def _rows(folder: Path) -> tuple[Text, list[str], str]:
    told = read_text(Path(folder) / FILE, FILE)
    if isinstance(told, Problem):
        raise BuildProblems([told])
    lines = [line for line in re.split(r"(?<=\n)|(?<=\r)(?!\n)", told.text) if line]
    end = "\r\n" if any(line.endswith("\r\n") for line in lines) else "\n"
    return told, lines, end


def _header(lines: list[str]) -> int:
    for number, line in enumerate(lines):
        if line.strip() and not line.lstrip().startswith("#"):
            return number
    raise BuildProblems([Problem(FILE, 1, "there is no header row", f"Write as first row: {', '.join(COLUMNS)}")])


def _is_row(lines: list[str], header: int, line: int) -> bool:
    if not header + 1 < line <= len(lines):
        return False
    return bool(lines[line - 1].strip()) and not lines[line - 1].lstrip().startswith("#")


def _no_row(line: int | None) -> BuildProblems:
    return BuildProblems([Problem(FILE, line or 0, "there is no reading on this line", "Name the line of a reading")])


def _comma(header: str) -> str:
    return next((c for c in (";", "\t") if c in header and "," not in header), ",")


def _columns(header: str, comma: str) -> list[str]:
    return [cell.strip().lower() for cell in next(csv.reader([header], delimiter=comma, skipinitialspace=True))]


def _place(columns: list[str], name: str) -> int:
    if name not in columns:
        raise BuildProblems(
            [Problem(FILE, 0, f"there is no column {shown(name)}", f"The columns are: {', '.join(columns)}")]
        )
    return columns.index(name)


def _cell(value: str, comma: str) -> str:
    """One cell as text, in quotes where it must be. Raises BuildProblems for text of more than one line."""
    if any(sign in value for sign in "\r\n\x00"):
        raise BuildProblems([Problem(FILE, 0, f"a cell of more than one line: {shown(value)}", "Write it in one line")])
    out = io.StringIO()
    csv.writer(out, delimiter=comma, lineterminator="").writerow([value])
    written = out.getvalue()
    return '""' if written == '""' and value else ("" if not value else written)


def _row(columns: list[str], cells: Mapping[str, str], comma: str) -> str:
    parts = [""] * len(columns)
    for name, value in cells.items():
        parts[_place(columns, name)] = _cell(value, comma)
    while len(parts) > 3 and not parts[-1]:
        parts.pop()
    return f"{comma} ".join(parts) if comma != "\t" else comma.join(parts)


def _raw_cells(line: str, comma: str) -> list[str]:
    """Cells of a row exactly as they stand, spaces and quotes and all."""
    parts: list[str] = []
    start = 0
    quoted = False
    for at, sign in enumerate(line):
        if sign == '"':
            # a quote opens a cell only at its start; inside a bare cell it is an inch mark
            if quoted or not line[start:at].strip() or line[start:at].lstrip().startswith('"'):
                quoted = not quoted
        elif sign == comma and not quoted:
            parts.append(line[start:at])
            start = at + 1
    parts.append(line[start:])
    return parts


def _bytes(told: Text, lines: list[str]) -> bytes:
    return ((BOM if told.bom else "") + "".join(lines)).encode("utf-8")


def _write(folder: Path, file: str, data: bytes) -> None:
    try:
        write_whole(Path(folder) / file, data)
    except OSError as error:
        found = f"it cannot be written ({error.strerror or 'no reason given'}); the old file is as it was"
        raise BuildProblems([Problem(file, 0, found, "Make the folder writable or free some room")]) from None
