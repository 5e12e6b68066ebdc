"""A file written whole or not at all. A path and bytes in; the old file stays until the new one is safe on disk."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path

_passing: ContextVar[bool] = ContextVar("passing", default=False)


@contextlib.contextmanager
def passing() -> Iterator[None]:
    """What is written inside is thrown away soon, and need not be safe on disk: nobody waits for that."""
    before = _passing.set(True)
    try:
        yield
    finally:
        _passing.reset(before)


def write_whole(path: Path, data: bytes) -> None:
    """Write `data` beside the file, flush it to disk, then put it in the file's place in one move.

    A link is followed, so that the file it points to is replaced and the link stays. Raises OSError; the old
    file is then as it was and nothing is left beside it.
    """
    target = Path(os.path.realpath(path))
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".new")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            if not _passing.get():
                os.fsync(file.fileno())
        with contextlib.suppress(FileNotFoundError):
            os.chmod(name, stat.S_IMODE(target.stat().st_mode))
        if not target.exists():
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(name, 0o666 & ~umask)
        os.replace(name, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    if _passing.get():
        return
    # the name itself must reach the disk too; not every system lets a folder be opened
    with contextlib.suppress(OSError):
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
