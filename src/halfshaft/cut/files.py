"""Files written whole or not at all. Contents by relative path in, the folder brought to hold just them.

Everything is made before anything is written; each file lands by a rename. What an earlier run wrote and this one does
not is taken away, so that a bracket that is refused now leaves no cut file from before; a file the builder put there
stays.
"""

from __future__ import annotations

import json
import os
import re
import unicodedata
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from tempfile import NamedTemporaryFile

LIST_NAME = "written.json"

# reserved by Windows file systems, Microsoft's "Naming Files, Paths, and Namespaces"
_RESERVED = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}


class Unwritable(Exception):
    """A folder or file that cannot be written; the text says which and why."""


def safe_name(name: str) -> str:
    """A name that is a file name on any system: letters, digits, '.', '-', '_'; never empty, hidden or reserved."""
    bare = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    clean = re.sub(r"[^A-Za-z0-9._-]+", "-", bare)
    clean = re.sub(r"\.{2,}", ".", clean).strip("-. ")[:80].strip("-. ") or "part"
    return f"{clean}_" if clean.split(".")[0].lower() in _RESERVED else clean


class Names:
    """Hands out safe names, each once, whatever the case the file system keeps."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def take(self, name: str) -> str:
        safe, number = safe_name(name), 1
        chosen = safe
        while chosen.lower() in self._taken:
            number += 1
            chosen = f"{safe}-{number}"
        self._taken.add(chosen.lower())
        return chosen


def write_all(folder: Path, contents: Mapping[str, bytes], once: Mapping[str, bytes] | None = None) -> tuple[str, ...]:
    """Write every file; returns the relative paths of earlier files that were taken away.

    Files in `once` are for the builder to fill in: they are written where there is none, and never touched again.
    Raises Unwritable; no file is then left half-written.
    """
    root = Path(folder)
    for relative in (*contents, *(once or {})):
        _inside(relative)
    fresh = {relative: data for relative, data in (once or {}).items() if not (root / relative).exists()}
    temporary: list[tuple[str, Path]] = []
    try:
        root.mkdir(parents=True, exist_ok=True)
        before = _listed(root)
        for relative, data in {**contents, **fresh}.items():
            target = root / relative
            target.parent.mkdir(parents=True, exist_ok=True)
            if not target.parent.resolve().is_relative_to(root.resolve()):
                raise Unwritable(f"'{relative}' would be written outside {root}: a link leads out of the folder")
            if target.is_dir():  # found out here, not when half of the files have landed
                raise Unwritable(f"cannot write to {target}: there is a folder of that name")
            with NamedTemporaryFile(dir=target.parent, prefix=".part-", delete=False) as out:
                temporary.append((out.name, target))
                out.write(data)
        for name, target in temporary:
            os.chmod(name, 0o644)
            os.replace(name, target)
        gone = tuple(sorted(before - set(contents)))
        _note(root, sorted(contents))
        for relative in gone:
            (root / relative).unlink(missing_ok=True)
            _drop_empty(root, (root / relative).parent)
    except OSError as error:
        raise Unwritable(f"cannot write to {error.filename or root}: {error.strerror or error}") from error
    finally:
        for name, _ in temporary:
            Path(name).unlink(missing_ok=True)
    return gone


def _inside(relative: str) -> None:
    path = PurePosixPath(relative)
    if path.is_absolute() or ".." in path.parts or not path.parts or "\\" in relative:
        raise Unwritable(f"'{relative}' is not a path inside the folder")


def _listed(root: Path) -> set[str]:
    """What the last run wrote, of that what is plainly inside the folder; nothing when the list cannot be read."""
    try:
        rows = json.loads((root / LIST_NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return set()
    found = set()
    for row in rows if isinstance(rows, list) else []:
        try:
            _inside(str(row))
        except Unwritable:
            continue
        target = root / str(row)
        if target.is_file() and not target.is_symlink() and target.resolve().is_relative_to(root.resolve()):
            found.add(str(row))
    return found


def _note(root: Path, names: list[str]) -> None:
    with NamedTemporaryFile("w", dir=root, prefix=".part-", delete=False, encoding="utf-8") as out:
        json.dump(names, out, indent=1)
    os.chmod(out.name, 0o644)
    os.replace(out.name, root / LIST_NAME)


def _drop_empty(root: Path, folder: Path) -> None:
    while folder != root and folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()
        folder = folder.parent
