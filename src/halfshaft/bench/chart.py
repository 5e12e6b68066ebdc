"""Charts as SVG text: lines with a band round them, each named where it ends; bars. Arrays and words in, markup out.

Colours come from the style sheet, so that a chart is right by day and by night; lines differ in their dashes too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

import numpy as np
from nicegui import ui
from numpy.typing import ArrayLike, NDArray

from halfshaft.bench import look

Array = NDArray[np.float64]

WIDE, HIGH = 640.0, 320.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 58.0, 148.0, 12.0, 44.0
_APART = 17.0  # between the names of two lines
_DASHES = ("", "9 5", "2 5", "12 4 2 4", "5 3")


@dataclass(frozen=True, slots=True)
class Axis:
    """What is shown along it, from where to where, and how a tick is written."""

    words: str
    low: float
    high: float
    tick: Callable[[float], str] = "{:g}".format

    @property
    def ticks(self) -> list[float]:
        """Five or so round numbers from end to end."""
        step = round_step((self.high - self.low) / 5.0)
        first = np.ceil(self.low / step - 1e-9)
        return [float(n * step) + 0.0 for n in np.arange(first, np.floor(self.high / step + 1e-9) + 1.0)]


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """Places (n,) along both axes; `band` are low and high (n,) round it, at `band_x` (m,) where these are others."""

    words: str
    x: Array
    y: Array
    band: tuple[Array, Array] | None = None
    band_x: Array | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """One marked place, named beside it."""

    words: str
    x: float
    y: float


@dataclass(frozen=True, eq=False, slots=True)
class Dots:
    """Many places (n,) alike; `rings` are drawn larger and over the others."""

    x: Array
    y: Array
    rings: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Chart:
    """`about` says in a sentence what is seen, for who does not see it."""

    about: str
    x: Axis
    y: Axis
    lines: Sequence[Line] = ()
    spots: Sequence[Spot] = ()
    high_px: float = HIGH
    names: bool = True  # room for names at the right; else the one line needs none
    dots: Sequence[Dots] = ()


def draw(chart: Chart) -> ui.html:
    """The chart as one element of the page."""
    return ui.html(svg(chart), sanitize=False).classes("hc-chart")


def add_style() -> None:
    look.add_sheet("chart")


def round_step(rough: float) -> float:
    """1, 2 or 5 times a power of ten, not under a length."""
    if not rough > 0.0:
        return 1.0
    size = 10.0 ** np.floor(np.log10(rough))
    return float(next(size * k for k in (1.0, 2.0, 5.0, 10.0) if size * k >= rough * (1.0 - 1e-9)))


def reach_to(values: ArrayLike) -> float:
    """A round number over the largest of the finite values; 1 where there is none."""
    told = np.asarray(values, dtype=float)
    told = told[np.isfinite(told)]
    most = float(told.max()) if len(told) else 0.0
    step = round_step(most / 8.0) if most > 0.0 else 1.0
    return max(step * float(np.ceil(most / step - 1e-9)), step)


def svg(chart: Chart) -> str:
    """The chart's markup. Text in it is escaped."""
    right = WIDE - (_RIGHT if chart.names else 16.0)
    bottom = chart.high_px - _BOTTOM

    def x(value: float) -> float:
        return _LEFT + (value - chart.x.low) / (chart.x.high - chart.x.low) * (right - _LEFT)

    def y(value: float) -> float:
        return bottom - (value - chart.y.low) / (chart.y.high - chart.y.low) * (bottom - _TOP)

    out = [f'<svg viewBox="0 0 {WIDE:g} {chart.high_px:g}" role="img" aria-label="{escape(chart.about, quote=True)}">']
    for tick in chart.y.ticks:
        out.append(f'<path class="hc-grid" d="M{_LEFT:g} {y(tick):.1f} H{right:.1f}"/>')
        out.append(_text(chart.y.tick(tick), _LEFT - 8, y(tick) + 5, "hc-tick hc-end"))
    for tick in chart.x.ticks:
        out.append(f'<path class="hc-grid" d="M{x(tick):.1f} {_TOP:g} V{bottom:g}"/>')
        out.append(_text(chart.x.tick(tick), x(tick), bottom + 18, "hc-tick hc-mid"))
    out.append(f'<path class="hc-axis" d="M{_LEFT:g} {_TOP:g} V{bottom:g} H{right:.1f}"/>')
    out.append(_text(chart.x.words, (_LEFT + right) / 2, chart.high_px - 6, "hc-word hc-mid"))
    middle = (_TOP + bottom) / 2
    out.append(
        f'<text class="hc-word hc-mid" transform="translate(13 {middle:.1f}) rotate(-90)">'
        f"{escape(chart.y.words)}</text>"
    )
    for some in chart.dots:
        kind, radius = ("hc-ring", 5.5) if some.rings else ("hc-dot", 2.4)
        spots = (f'<circle cx="{x(a):.1f}" cy="{y(b):.1f}" r="{radius}"/>' for a, b in zip(some.x, some.y, strict=True))
        out.append(f'<g class="{kind}">{"".join(spots)}</g>')
    for number, line in enumerate(chart.lines):
        if line.band is not None:
            along = line.x if line.band_x is None else line.band_x
            low, high = line.band
            there = [f"{x(a):.1f} {y(b):.1f}" for a, b in zip(along, high, strict=True)]
            back = [f"{x(a):.1f} {y(b):.1f}" for a, b in zip(along[::-1], low[::-1], strict=True)]
            out.append(f'<path class="hc-band hc-{number % 4}" d="M{" L".join([*there, *back])} Z"/>')
    for number, line in enumerate(chart.lines):
        seen = np.isfinite(line.y)
        way = " L".join(f"{x(a):.1f} {y(b):.1f}" for a, b in zip(line.x[seen], line.y[seen], strict=True))
        dash = f' stroke-dasharray="{_DASHES[number % len(_DASHES)]}"' if number else ""
        out.append(f'<path class="hc-line hc-{number % 4}"{dash} d="M{way}"/>')
    if chart.names:
        out += _names(chart, right, y, bottom)
    out += _spots(chart, x, y, bottom)
    return "".join(out) + "</svg>"


def _names(chart: Chart, right: float, y: Callable[[float], float], bottom: float) -> list[str]:
    """The lines' names beside their ends, no two on each other."""
    ends: list[list[float]] = []
    for number, line in enumerate(chart.lines):
        seen = np.flatnonzero(np.isfinite(line.y))
        if len(seen):
            ends.append([y(float(line.y[seen[-1]])), float(number)])
    ends.sort()
    for before, one in pairwise(ends):
        one[0] = max(one[0], before[0] + _APART)
    over = max(0.0, ends[-1][0] - bottom) if ends else 0.0
    out = []
    for at, which in ends:
        out.append(_text(chart.lines[int(which)].words, right + 8, at - over + 5, f"hc-name hc-{int(which) % 4}"))
    return out


def _spots(chart: Chart, x: Callable[[float], float], y: Callable[[float], float], bottom: float) -> list[str]:
    """Marked places, each name over or under its place where no other name is."""
    out: list[str] = []
    taken: list[tuple[float, float, float]] = []  # middle, line and half width of a name
    for spot in chart.spots:
        at, up, half = x(spot.x), y(spot.y), 4.1 * len(spot.words)
        ways = [line for line in (up - 10, up + 22, up - 27, up + 39, up - 44) if _TOP + 12 < line < bottom - 3]
        free = [
            line
            for line in ways
            if all(abs(at - m) > half + h or abs(line - other) > _APART - 2 for m, other, h in taken)
        ]
        line = next(iter([*free, *ways]), up - 10)
        taken.append((at, line, half))
        out.append(f'<circle class="hc-spot" cx="{at:.1f}" cy="{up:.1f}" r="5"/>')
        out.append(_text(spot.words, at, line, "hc-name hc-mid"))
    return out


def _text(words: str, x: float, y: float, classes: str) -> str:
    return f'<text class="{classes}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'
