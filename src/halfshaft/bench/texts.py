"""The builder's own text files as they stand: a folder in, bytes by relative name out, and back."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from pathlib import Path

from halfshaft.build.text import LARGEST_BYTES
from halfshaft.build.whole import write_whole

Texts = dict[str, bytes]
MESHES = (".stl", ".step", ".stp")


def read_texts(folder: Path) -> Texts:
    """build.toml, readings.csv and parts/*.toml; a file that is missing, too large or unreadable is left out."""
    found: Texts = {}
    for path in (folder / "build.toml", folder / "readings.csv", *sorted((folder / "parts").glob("*.toml"))):
        with contextlib.suppress(OSError):
            if path.is_file() and path.stat().st_size <= LARGEST_BYTES:
                found[path.relative_to(folder).as_posix()] = path.read_bytes()
    return found


def read_meshes(folder: Path) -> dict[str, tuple[int, int]]:
    """Time and size of the meshes that a build may name."""
    return _beside(folder, MESHES)


def read_others(folder: Path) -> dict[str, tuple[int, int]]:
    """Time and size of every other file that a build may lean on: meshes, a motor's map, a way driven."""
    return {name: told for name, told in _beside(folder, (*MESHES, ".csv", ".gpx")).items() if name != "readings.csv"}


def _beside(folder: Path, ends: tuple[str, ...]) -> dict[str, tuple[int, int]]:
    found: dict[str, tuple[int, int]] = {}
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            if entry.name.lower().endswith(ends) and entry.is_file():
                told = entry.stat()
                found[entry.name] = (told.st_mtime_ns, told.st_size)
    return found


def different(before: Mapping[str, object], after: Mapping[str, object]) -> list[str]:
    """Names that differ, are new, or are gone."""
    return sorted(name for name in {*before, *after} if before.get(name) != after.get(name))


def put_texts(folder: Path, now: Texts, wanted: Texts) -> list[str]:
    """Bring the files from `now` to `wanted`, each whole or not at all; names of those written.

    Raises OSError. A file that is no longer as `now` says is somebody else's work: FileExistsError, nothing written.
    """
    names = different(now, wanted)
    if different({n: now.get(n) for n in names}, {n: read_texts(folder).get(n) for n in names}):
        raise FileExistsError("a file was changed outside meanwhile")
    for name in names:
        if name in wanted:
            (folder / name).parent.mkdir(exist_ok=True)
            write_whole(folder / name, wanted[name])
        else:
            (folder / name).unlink()
    return names
