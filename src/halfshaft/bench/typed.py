"""What a builder types into a field, as it is written into build.toml: text in, a number or text out."""

from __future__ import annotations

import re

_WHOLE = re.compile(r"[+-]?\d{1,15}")
_NUMBER = re.compile(r"[+-]?\d+\.\d+")


def value_of(text: str) -> str | float | int | None:
    """A bare number as a number, anything else as text with its unit; None for an empty field."""
    bare = text.strip()
    if not bare:
        return None
    if _WHOLE.fullmatch(bare):
        return int(bare)
    return float(bare) if _NUMBER.fullmatch(bare) else bare


def names_of(text: str) -> list[str]:
    """Names told apart by spaces, commas or line ends, each once."""
    return list(dict.fromkeys(re.split(r"[\s,;]+", text.strip()))) if text.strip() else []
