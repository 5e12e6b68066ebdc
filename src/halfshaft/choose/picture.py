"""The trade as a picture: two aims across and up, a third by shade. A choice in, an SVG out.

Small grey dots are what another beats; the rest are shaded by a third aim. Letters are the picks, named beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from itertools import pairwise

import numpy as np

from halfshaft.build.choose import Aim
from halfshaft.build.value import UnitSystem
from halfshaft.choose.model import Choice, Driven
from halfshaft.choose.said import number_of, title_of, words_of

WIDE, HIGH = 1000.0, 620.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 74.0, 330.0, 46.0, 60.0
_DARK, _LIGHT = (24, 60, 84), (226, 180, 92)
_ORDER: tuple[Aim, ...] = ("cost", "range", "hundred", "weight", "top", "charge")
MOST_DOTS = 4000  # of those that are beaten: more are a grey cloud


def scatter(choice: Choice, units: UnitSystem) -> str:
    """The picture's text. Empty where fewer than two aims differ, or nothing can be built."""
    aims = [aim for aim in _ORDER if aim in choice.aims]
    can = [n for n, row in enumerate(choice.rows) if not row.why]
    if len(aims) < 2 or not can:
        return ""
    x_aim, y_aim, shade = aims[0], aims[1], aims[2] if len(aims) > 2 else None
    drawn = [n for n in can if _bounded(choice.rows[n], (x_aim, y_aim), units)]
    if not drawn:
        return ""
    across = _Axis([number_of(choice.rows[n], x_aim, units) for n in drawn], _LEFT, WIDE - _RIGHT)
    up = _Axis([number_of(choice.rows[n], y_aim, units) for n in drawn], HIGH - _BOTTOM, _TOP)
    money = choice.sweep.told.money

    def spot(n: int) -> tuple[float, float]:
        row = choice.rows[n]
        return across.at(number_of(row, x_aim, units)), up.at(number_of(row, y_aim, units))

    kept = [n for n in drawn if choice.kept[n]]
    names, ends = _legend(choice, kept, shade, units)
    high = max(HIGH, ends + 12.0)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:.0f} {high:.0f}" '
        f'width="{WIDE:.0f}" height="{high:.0f}" font-family="sans-serif" font-size="13" fill="#20282c">',
        f'<rect width="{WIDE:.0f}" height="{high:.0f}" fill="#ffffff"/>',
        f'<text x="{_LEFT:.0f}" y="26" font-size="16" font-weight="bold">What is given up for what: {len(can)} cars '
        f"that can be built, {int(choice.kept.sum())} that no other beats</text>",
        *_grid(across, up, title_of(x_aim, units, money), title_of(y_aim, units, money)),
    ]
    beaten = [n for n in drawn if not choice.kept[n]]
    step = max(1, math.ceil(len(beaten) / MOST_DOTS))
    out += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2" fill="#c3cacd"/>' for x, y in map(spot, beaten[::step])]
    tint = _shades(choice, kept, shade, units)
    for n in kept:
        x, y = spot(n)
        out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{tint[n]}" stroke="#ffffff" stroke-width="0.8"/>')
    out += _letters([(spot(pick.variant), chr(65 + i)) for i, pick in enumerate(choice.picks) if pick.variant in kept])
    return "\n".join([*out, *names, "</svg>", ""])


class _Axis:
    """Numbers to places on the sheet, with room at both ends; `ticks` are round numbers within."""

    def __init__(self, values: Sequence[float], begin: float, end: float) -> None:
        low, high = min(values), max(values)
        room = 0.06 * (high - low) or 0.06 * abs(high) or 1.0
        self.low, self.high, self.begin, self.end = low - room, high + room, begin, end

    def at(self, value: float) -> float:
        return self.begin + (value - self.low) / (self.high - self.low) * (self.end - self.begin)

    @property
    def ticks(self) -> list[float]:
        span = self.high - self.low
        size = 10.0 ** math.floor(math.log10(span / 4.0))
        step = next(size * k for k in (1.0, 2.0, 5.0, 10.0) if span / (size * k) <= 7.0)
        first = math.ceil(self.low / step)
        return [n * step for n in range(first, math.floor(self.high / step) + 1)]


def _bounded(row: Driven, aims: Sequence[Aim], units: UnitSystem) -> bool:
    return all(math.isfinite(number_of(row, aim, units)) for aim in aims)


def _grid(across: _Axis, up: _Axis, x_words: str, y_words: str) -> list[str]:
    left, right, top, bottom = _LEFT, WIDE - _RIGHT, _TOP, HIGH - _BOTTOM
    out = []
    for value in across.ticks:
        x = across.at(value)
        out.append(f'<path d="M{x:.1f} {top}V{bottom}" stroke="#e4e8ea"/>')
        out.append(f'<text x="{x:.1f}" y="{bottom + 18}" text-anchor="middle">{value:,.10g}</text>')
    for value in up.ticks:
        y = up.at(value)
        out.append(f'<path d="M{left} {y:.1f}H{right}" stroke="#e4e8ea"/>')
        out.append(f'<text x="{left - 8}" y="{y + 4:.1f}" text-anchor="end">{value:,.10g}</text>')
    out.append(f'<path d="M{left} {top}V{bottom}H{right}" fill="none" stroke="#7a868b"/>')
    out.append(f'<text x="{(left + right) / 2}" y="{HIGH - 16}" text-anchor="middle">{escape(x_words)}</text>')
    middle = (top + bottom) / 2
    out.append(f'<text transform="translate(18 {middle}) rotate(-90)" text-anchor="middle">{escape(y_words)}</text>')
    return out


def _tint(share: float) -> str:
    r, g, b = (round(a + (z - a) * share) for a, z in zip(_DARK, _LIGHT, strict=True))
    return f"#{r:02x}{g:02x}{b:02x}"


def _shades(choice: Choice, kept: Sequence[int], aim: Aim | None, units: UnitSystem) -> dict[int, str]:
    """A tint for each of those kept: dark is little."""
    if aim is None:
        return dict.fromkeys(kept, _tint(0.0))
    values = {n: number_of(choice.rows[n], aim, units) for n in kept}
    some = [v for v in values.values() if math.isfinite(v)]
    low, high = (min(some), max(some)) if some else (0.0, 0.0)
    span = (high - low) or 1.0
    return {n: _tint(min((v - low) / span, 1.0)) if math.isfinite(v) else _tint(1.0) for n, v in values.items()}


def _letters(spots: Sequence[tuple[tuple[float, float], str]]) -> list[str]:
    """Letters beside their dots, each on the side that lies farthest from those before; with a ring about the dot."""
    ways = [(14.0, -10.0), (-14.0, -10.0), (14.0, 16.0), (-14.0, 16.0), (0.0, -18.0), (0.0, 24.0)]
    taken: list[tuple[float, float]] = []
    out = []
    for (x, y), letter in spots:
        places = [(x + dx, y + dy) for dx, dy in ways]
        others = [*taken, *(spot for spot, _ in spots if spot != (x, y))]
        best = max(places, key=lambda p: min([math.dist(p, o) for o in others], default=1e9))
        taken.append(best)
        out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="none" stroke="#20282c" stroke-width="1.3"/>')
        out.append(
            f'<text x="{best[0]:.1f}" y="{best[1]:.1f}" text-anchor="middle" font-weight="bold" stroke="#ffffff" '
            f'stroke-width="3" paint-order="stroke">{letter}</text>'
        )
    return out


def _legend(choice: Choice, kept: Sequence[int], shade: Aim | None, units: UnitSystem) -> tuple[list[str], float]:
    """What stands beside the picture, and how far down it goes."""
    left, y = WIDE - _RIGHT + 28.0, _TOP + 8.0
    money = choice.sweep.told.money
    out: list[str] = []
    if shade is not None:
        some = [v for n in kept if math.isfinite(v := number_of(choice.rows[n], shade, units))]
        out.append(f'<text x="{left}" y="{y}">{escape(title_of(shade, units, money))}</text>')
        stops = np.linspace(0.0, 1.0, 13)
        out += [
            f'<rect x="{left + 200.0 * a:.1f}" y="{y + 8}" width="{200.0 * (b - a) + 0.5:.1f}" height="10" '
            f'fill="{_tint((a + b) / 2)}"/>'
            for a, b in pairwise(stops.tolist())
        ]
        low, high = (min(some), max(some)) if some else (0.0, 0.0)
        out.append(f'<text x="{left}" y="{y + 34}" font-size="12">{low:,.3g}</text>')
        out.append(f'<text x="{left + 200}" y="{y + 34}" font-size="12" text-anchor="end">{high:,.3g}</text>')
        y += 62.0
    for i, pick in enumerate(choice.picks):
        row = choice.rows[pick.variant]
        out.append(f'<text x="{left}" y="{y}" font-weight="bold">{chr(65 + i)}  {escape(pick.words)}</text>')
        lines = [f"{part}: {name}" for part, name in choice.named(pick.variant).items()]
        told = [words_of(row, aim, units, money) for aim in choice.aims if aim in ("range", "hundred", "cost")]
        for line in (*_two_a_line(lines), ", ".join(told)):
            y += 15.0
            out.append(f'<text x="{left + 18}" y="{y}" font-size="11.5" fill="#4a555a">{escape(_cut(line))}</text>')
        y += 21.0
    return out, y


def _two_a_line(words: Sequence[str]) -> list[str]:
    """Short pairs on a line, what is long by itself."""
    lines: list[str] = []
    for one in words:
        if lines and len(lines[-1]) + len(one) < 42:
            lines[-1] = f"{lines[-1]}; {one}"
        else:
            lines.append(one)
    return lines


def _cut(line: str) -> str:
    return line if len(line) <= 48 else f"{line[:47]}…"
