"""A tyre's marking in, its free size out."""

from __future__ import annotations

import re

_METRIC = re.compile(r"(\d{3})\s*/\s*(\d{2,3})?\s*-?\s*Z?R?\s*(\d{2}(?:[.,]5)?)", re.IGNORECASE)
_FULL_PER_CENT = "82"  # height over width where the marking does not tell it


def free_size_mm(marking: str) -> tuple[float, float]:
    """Free diameter and section width of a tyre marked '165/80R15' (82 % high where not told, '165 R15').

    Diameter is rim + 2 width x height, ISO 4000-1. Raises ValueError with what to write.
    """
    text = marking.strip().upper().removeprefix("P")
    if match := _METRIC.match(text):
        width, height, rim = match.groups()
    elif match := re.match(r"(\d{3})\s*-?\s*S?R?\s*(1\d)\b", text):
        (width, rim), height = match.groups(), _FULL_PER_CENT
    else:
        raise ValueError(f"'{marking}' is no tyre's marking: write for example '165/80R15'")
    wide_mm = float(width)
    return float(rim.replace(",", ".")) * 25.4 + 2.0 * wide_mm * float(height or _FULL_PER_CENT) / 100.0, wide_mm
