"""Text files of a build folder. A path in, its text out, or a problem that says why it cannot be read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from halfshaft.build.problems import Problem

LARGEST_BYTES = 8_000_000  # a build written by hand is a thousandth of this
BOM = "\ufeff"


@dataclass(frozen=True, slots=True)
class Text:
    """Text without byte order mark, line ends as they stand in the file."""

    text: str
    bom: bool


def read_text(path: Path, name: str) -> Text | Problem:
    """The file as UTF-8 text, or the problem told under `name`."""
    try:
        if path.is_file() and path.stat().st_size > LARGEST_BYTES:
            return Problem(
                name,
                0,
                f"the file is larger than {LARGEST_BYTES // 1_000_000} MB",
                "Keep it to what is written by hand",
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        return Problem(
            name, 0, "there is no such file", "Write one; 'halfshaft new DIR' makes a commented pair to start from"
        )
    except IsADirectoryError:
        return Problem(name, 0, "it is a folder, not a file", "Move the folder away and write the file")
    except OSError as error:
        return Problem(name, 0, f"it cannot be read ({error.strerror or 'no reason given'})", "Make the file readable")
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff") or raw[:4] == b"\x00\x00\xfe\xff":
        return Problem(name, 1, "the file is UTF-16 or UTF-32 text", "Save it as UTF-8")
    if b"\x00" in raw:
        line = raw[: raw.index(b"\x00")].count(b"\n") + 1
        return Problem(name, line, "a NUL byte, which no text has", "Save the file as plain text in UTF-8")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        return Problem(name, line, f"the byte 0x{raw[error.start]:02x}, which is not UTF-8", "Save the file as UTF-8")
    return Text(text.removeprefix(BOM), text.startswith(BOM))
