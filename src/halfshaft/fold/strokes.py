"""Single-line letters for etching. Text and height in; strokes out. Only door to the stroke font."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

import numpy as np
from HersheyFonts import HersheyFonts
from numpy.typing import NDArray

Array = NDArray[np.float64]

_CAP_UNITS = 21.0  # from baseline to the top of a capital in the font's own units
_BASE_UNITS = 9.0
_RING_UNITS = 3.0  # radius of the degree sign, which the font lacks


@lru_cache(maxsize=1)
def _font() -> HersheyFonts:
    font = HersheyFonts()
    font.load_default_font("futural")
    return font


@lru_cache(maxsize=256)
def _glyph(letter: str) -> tuple[tuple[Array, ...], float]:
    """Strokes (n, 2) and width of one letter in font units, y up from the baseline, x from zero."""
    if letter == "°":
        angle = np.linspace(0.0, 2.0 * np.pi, 13)
        middle = np.array([_RING_UNITS + 2.0, _CAP_UNITS - _RING_UNITS])
        return (middle + _RING_UNITS * np.column_stack([np.cos(angle), np.sin(angle)]),), 2.0 * _RING_UNITS + 4.0
    (glyph,) = _font().glyphs_for_text(letter)
    strokes = tuple(
        np.array([(x - glyph.left_offset, _BASE_UNITS - y) for x, y in stroke], dtype=float)
        for stroke in glyph.strokes
        if len(stroke) > 1
    )
    if letter == ".":  # the font's full stop floats
        strokes = tuple(stroke - [0.0, min(s[:, 1].min() for s in strokes)] for stroke in strokes)
    return strokes, float(glyph.char_width)


def plain(text: str) -> str:
    """Text with accents taken off and letters that the font lacks turned to '?'."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return "".join(c if c == "°" or " " <= c <= "~" else "?" for c in bare)


def strokes_of(text: str, height_mm: float) -> tuple[tuple[Array, ...], float]:
    """Strokes (n, 2) of a line of text, baseline on y = 0 from x = 0, capitals `height_mm` high; and its width in mm.

    The letters are the public-domain vector letters of A. V. Hershey, 1967 (NBS publication of 1976).
    Raises ValueError for empty text or a height that is not positive.
    """
    if not text.strip() or height_mm <= 0.0:
        raise ValueError("a mark wants some text and a height over zero")
    scale, at = height_mm / _CAP_UNITS, 0.0
    out: list[Array] = []
    for letter in plain(text):
        strokes, width = _glyph(letter)
        out.extend((stroke + np.array([at, 0.0])) * scale for stroke in strokes)
        at += width
    return tuple(out), at * scale
