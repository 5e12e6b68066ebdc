"""The tool path as code for the table's control. Cuts in order and the dialect in; text of the file out.

Words and modal groups as in T. Kramer, F. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR
6556, 2000: absolute lengths (G90), arc centres told from the arc's start (I, J), no cutter compensation (G40). The
control's own kerf compensation stays off: the path lies half a kerf beside the drawn edge already.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from math import pi

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.cutter import CodeInput
from halfshaft.build.units import MM_PER_INCH
from halfshaft.cut.path.curve import Curve
from halfshaft.cut.path.model import Cut, Setup
from halfshaft.cut.path.program import lift_mm
from halfshaft.geometry.contour import arc_of

Array = NDArray[np.float64]

_STRAIGHT_MM = 4e-4  # an arc that rises less over its chord is run straight
_CHORD_MM = 0.004  # deviation of straight runs, for a control without arcs


def code_text(
    cuts: Sequence[Cut], setup: Setup, code: CodeInput, units: str, zero_mm: Array, head: Sequence[str] = ()
) -> str:
    """The whole file. `zero_mm` (2,): the sheet's place that the machine counts from; `head`: lines of comment.

    `units`: 'metric' or 'inch', where the dialect does not say.
    """
    page = _Page(code, code.units or units, np.asarray(zero_mm, dtype=float))
    for words in head:
        page.note(words)
    page.line("G20" if page.inch else "G21")
    page.line("G90")
    page.line("G17")
    page.line("G40")
    page.line("G94")
    for words in code.first:
        page.line(words)
    if code.heights:
        page.line(f"G0 Z{page.length(setup.travel_height_mm)}")
    for number, cut in enumerate(cuts, start=1):
        slow = ", slow" if cut.slow else ""
        page.note(f"{number} of {len(cuts)}: {cut.kind}{f' of {cut.part}' if cut.part else ''}{slow}")
        _cut(page, cut, setup, lift_mm(cuts, number - 1, setup))
    page.note("home")
    page.line("G0 X0 Y0")
    for words in code.last:
        page.line(words)
    page.line(code.end)
    return "\n".join(page.lines) + "\n"


class _Page:
    """Lines so far, and where the torch is in the rounded lengths that the control reads."""

    def __init__(self, code: CodeInput, units: str, zero_mm: Array) -> None:
        self.code, self.inch, self.zero = code, units == "inch", zero_mm
        self.places = 5 if self.inch else 4
        self.scale = 1.0 / MM_PER_INCH if self.inch else 1.0
        self.lines: list[str] = []
        self.feed = ""
        self.here = np.zeros(2)  # rounded, in the file's units
        self.moved = False

    def line(self, words: str) -> None:
        self.lines.append(f"N{len(self.lines) * 10 + 10} {words}" if self.code.numbered else words)

    def note(self, words: str) -> None:
        plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode()
        plain = "".join(c if c.isprintable() and c not in "();%" else " " for c in plain)[:200]
        if self.code.comments == "brackets":
            self.lines.append(f"({plain})")
        elif self.code.comments == "semicolon":
            self.lines.append(f"; {plain}")

    def number(self, value: float, places: int) -> str:
        text = f"{value:.{places}f}"
        text = text.rstrip("0").rstrip(".") if places else text
        return "0" if text in ("-0", "") else text

    def length(self, value_mm: float) -> str:
        return self.number(value_mm * self.scale, self.places)

    def spot(self, point_mm: Array) -> Array:
        """In the file's units, rounded as it will be read."""
        return np.asarray(np.round((point_mm - self.zero) * self.scale, self.places))

    def feed_word(self, feed_mm_min: float) -> str:
        word = f" F{self.number(feed_mm_min * self.scale, 3 if self.inch else 2)}"
        if word == self.feed:
            return ""
        self.feed = word
        return word

    def to(self, words: str, spot: Array, more: str = "") -> None:
        x, y = (self.number(float(v), self.places) for v in spot)
        self.line(f"{words} X{x} Y{y}{more}")
        self.here, self.moved = spot, True


def _cut(page: _Page, cut: Cut, setup: Setup, lift_mm: float) -> None:
    code = page.code
    start = page.spot(cut.whole.start_mm)
    if np.any(start != page.here) or not page.moved:
        page.to("G0", start)
    low = setup.mark_height_mm if cut.marks else setup.pierce_height_mm
    if code.heights:
        page.line(f"G0 Z{page.length(low)}")
    page.line(code.marker_on if cut.marks else code.torch_on)
    if not cut.marks:
        wait = setup.pierce_s * (1000.0 if code.dwell == "ms" else 1.0)
        if wait > 0.0:
            page.line(f"G4 P{page.number(wait, 0 if code.dwell == 'ms' else 3)}")
        if code.heights and abs(setup.cut_height_mm - setup.pierce_height_mm) > 1e-6:
            page.line(f"G1 Z{page.length(setup.cut_height_mm)}{page.feed_word(cut.feed_mm_min)}")
    _run(page, cut.whole, cut.feed_mm_min)
    page.line(code.marker_off if cut.marks else code.torch_off)
    if code.heights:
        page.line(f"G0 Z{page.length(lift_mm)}")


def _run(page: _Page, curve: Curve, feed_mm_min: float) -> None:
    for start, end, bulge in zip(curve.points_mm[:-1], curve.points_mm[1:], curve.bulge, strict=True):
        chord = float(np.linalg.norm(end - start))
        rise = abs(bulge) * chord / 2.0
        spot = page.spot(end)
        if rise < _STRAIGHT_MM:
            if np.any(spot != page.here):
                page.to("G1", spot, page.feed_word(feed_mm_min))
            continue
        centre, _, first, sweep = arc_of(start, end, float(bulge))
        if not page.code.arcs:
            radius = float(np.linalg.norm(start - centre))
            step = 2.0 * np.arccos(max(1.0 - _CHORD_MM / radius, 0.5))
            count = max(2, int(np.ceil(abs(sweep) / step)))
            for angle in first + sweep * np.arange(1, count + 1) / count:
                on_rim = centre + radius * np.array([np.cos(angle), np.sin(angle)])
                page.to("G1", page.spot(on_rim), page.feed_word(feed_mm_min))
            continue
        halves = 2 if abs(sweep) > pi + 1e-9 else 1
        radius = float(np.linalg.norm(start - centre))
        for half in range(1, halves + 1):
            angle = first + sweep * half / halves
            to = end if half == halves else centre + radius * np.array([np.cos(angle), np.sin(angle)])
            spot = page.spot(to)
            if np.any(spot != page.here):
                i, j = (page.number(float(v), page.places) for v in (centre - page.zero) * page.scale - page.here)
                page.to("G3" if sweep > 0 else "G2", spot, f" I{i} J{j}{page.feed_word(feed_mm_min)}")
