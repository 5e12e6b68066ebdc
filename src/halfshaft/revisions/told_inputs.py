"""What a builder changed between two sets of inputs. Two folders of inputs in; rows in the builder's words out."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfshaft.build.readings import COLUMNS
from halfshaft.build.tables import read_tables


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that was said otherwise: `where` is a key ('shop.kerf') or a reading ('tape WL1 WR1')."""

    file: str
    where: str
    old: str  # empty where it is new
    new: str  # empty where it is gone
    line: int = 0  # in the newer file, else in the older

    @property
    def words(self) -> str:
        if not self.old:
            return f"new: {self.new}"
        if not self.new:
            return f"gone: {self.old}"
        return f"{self.old} -> {self.new}"


def changes(old: Path, new: Path) -> tuple[Said, ...]:
    """Every key and reading that differs, and every other file that does."""
    return (
        *_keys(old, new),
        *_readings(old, new, "readings.csv"),
        *_readings(old, new, "as_built.csv"),
        *_files(old, new),
    )


def _keys(old: Path, new: Path) -> list[Said]:
    one, other = read_tables(old), read_tables(new)
    before, after = _flat(one.values), _flat(other.values)
    out = []
    for key in sorted(before.keys() | after.keys(), key=str):
        if before.get(key) == after.get(key) and (key in before) == (key in after):
            continue
        tables = other if key in after else one
        file, line = tables.at(key)
        told = [_shown(side[key]) if key in side else "" for side in (before, after)]
        out.append(Said(file, ".".join(str(step) for step in key), told[0], told[1], line))
    return sorted(out, key=lambda said: (said.file, said.line, said.where))


def _flat(value: Any, path: tuple[Any, ...] = ()) -> dict[tuple[Any, ...], Any]:
    """Values by their path; a list that holds tables or lists is gone into, a plain list is one value."""
    if isinstance(value, Mapping):
        return {key: leaf for step, item in value.items() for key, leaf in _flat(item, (*path, step)).items()}
    if isinstance(value, list) and any(isinstance(item, (Mapping, list)) for item in value):
        return {key: leaf for at, item in enumerate(value) for key, leaf in _flat(item, (*path, at)).items()}
    return {path: value}


def _shown(value: Any) -> str:
    return str(value) if value != "" else '""'


def _readings(old: Path, new: Path, name: str) -> list[Said]:
    before, after = _rows(old / name), _rows(new / name)
    out = []
    for key in dict.fromkeys([*before, *after]):
        a, b = before.get(key), after.get(key)
        if a is not None and b is not None and a[0] == b[0]:
            continue
        where = " ".join(key[:2]) + (f" ({key[2] + 1}.)" if key[2] else "")
        out.append(Said(name, where, a[0] if a else "", b[0] if b else "", (b or a or ("", 0))[1]))
    return out


def _rows(path: Path) -> dict[tuple[str, str, int], tuple[str, int]]:
    """Value, instrument, spread and frame with the line, by kind, points and how often the two stood before."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return {}
    out: dict[tuple[str, str, int], tuple[str, int]] = {}
    columns: list[str] | None = None
    for number, line in enumerate(io.StringIO(text), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        comma = next((c for c in (";", "\t") if c in line and "," not in line), ",")
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=comma, skipinitialspace=True), [])]
        if columns is None:
            columns = [cell.lower() for cell in cells]
            continue
        row = dict.fromkeys(COLUMNS, "") | dict(zip(columns, cells, strict=False))
        told = " ".join(row[c] for c in ("value", "with", "spread", "frame") if row[c]) or "told"
        again = sum(1 for kind, points, _ in out if (kind, points) == (row["reading"], row["points"]))
        out[(row["reading"], row["points"], again)] = (told, number)
    return out


def _files(old: Path, new: Path) -> list[Said]:
    """Other files, by their bytes."""

    def others(folder: Path) -> dict[str, bytes]:
        return {
            path.relative_to(folder).as_posix(): path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file() and path.name not in ("readings.csv", "as_built.csv") and path.suffix != ".toml"
        }

    before, after = others(old), others(new)
    return [
        Said(name, "", "as it was" if name in before else "", "another content" if name in after else "")
        for name in sorted(before.keys() | after.keys())
        if before.get(name) != after.get(name)
    ]
