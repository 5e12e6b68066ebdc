"""Openings to cut for a place, each as a picture in its wall with what is left of the section: windows in, SVG out."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.telling import Mood
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.cut.svg import contour_data

if TYPE_CHECKING:
    from halfshaft.fitup.window import Window

_AROUND_MM = 70.0  # of the wall, shown beyond the opening
_SMALL_MM = 0.5
_ORDER: tuple[Mood, ...] = ("bad", "care", "note", "good")


def draw_windows(windows: Sequence[Window], units: UnitSystem) -> None:
    if not windows:
        ui.label("Nothing has to be cut from the frame for this place.").classes("hs-text")
        return
    ui.label(
        "A frame carries people: have an opening judged and its reinforcement welded by someone licensed for it."
    ).classes("hs-faint hs-small hs-text")
    with ui.element("div").classes("hp-windows"):
        for window in windows:
            with look.panel(f"{window.wall.called}, for {window.piece}", edge=_edge(window)):
                ui.html(window_svg(window, units), sanitize=False).classes("hp-window")
                section = window.section
                ui.label(
                    f"{window.removed_mm3 / 1000.0:.1f} cm³ out; of the section stay {100 * section.area_kept:.0f} % "
                    f"of the area, {100 * section.bending_kept:.0f} % in bending, "
                    f"{100 * section.torsion_kept:.0f} % in twist"
                ).classes("hs-num hs-text")
                for check in window.checks:
                    if not check.ok:
                        with look.row().classes("hs-row-tight"):
                            look.mark(look.mood_of(check))
                            ui.label(check.title).classes("hs-text")


def _edge(window: Window) -> Mood | None:
    moods = [look.mood_of(check) for check in window.checks if not check.ok]
    return min(moods, key=lambda mood: _ORDER.index(mood)) if moods else None


def window_svg(window: Window, units: UnitSystem) -> str:
    """The wall seen from outside with the opening in it, its size, and how far it is from the edges."""
    flat = window.contour.flattened_mm()
    x0, y0 = flat.min(axis=0)
    x1, y1 = flat.max(axis=0)
    left, low, right, high = window.wall.outline.bounds
    left, right = max(left, x0 - _AROUND_MM), min(right, x1 + _AROUND_MM)
    left, right = min(left, x0 - 8.0), max(right, x1 + 8.0)
    low, high = min(low, y0 - 8.0), max(high, y1 + 8.0)
    tall, wide = high - low, right - left
    unit = max(tall, wide) / 100.0
    pad = 12.0 * unit
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left - pad:.1f} {-high - pad:.1f} {wide + 2 * pad:.1f} '
        f'{tall + 2 * pad:.1f}" role="img" aria-label="{escape(window.wall.called, quote=True)}">'
    )
    wl, wy0, wr, wy1 = window.wall.outline.bounds
    text += (
        f'<rect x="{max(wl, left):.2f}" y="{-wy1:.2f}" width="{min(wr, right) - max(wl, left):.2f}" '
        f'height="{wy1 - wy0:.2f}" fill="#dfe6ea" stroke="#24323d" stroke-width="{0.5 * unit:.2f}"/>'
    )
    text += (
        f'<path d="{contour_data(window.contour)}" fill="#ffffff" stroke="{look.VERMILLION}" '
        f'stroke-width="{0.9 * unit:.2f}"/>'
    )
    text += _across(x0, x1, -(low - 5.0 * unit), unit, format_length(float(x1 - x0), units))
    text += _up(y0, y1, right + 4.0 * unit, unit, format_length(float(y1 - y0), units))
    middle_x = (x0 + x1) / 2.0
    for y, edge in ((y1, wy1), (y0, wy0)):
        # told only of what the wall still has
        if (edge - y) * (1.0 if edge == wy1 else -1.0) > _SMALL_MM and wy0 < y < wy1:
            text += _words(middle_x, -(y + edge) / 2.0 + 1.5 * unit, unit, format_length(abs(float(edge - y)), units))
    return text + "</svg>"


def _words(x: float, y: float, unit: float, words: str, turned: bool = False) -> str:
    turn = f' transform="rotate(-90 {x:.2f} {y:.2f})"' if turned else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{4.2 * unit:.2f}" text-anchor="middle" font-family="sans-serif" '
        f'fill="#101010"{turn}>{escape(words)}</text>'
    )


def _line(x0: float, y0: float, x1: float, y1: float, unit: float) -> str:
    return (
        f'<line x1="{x0:.2f}" y1="{y0:.2f}" x2="{x1:.2f}" y2="{y1:.2f}" stroke="#101010" '
        f'stroke-width="{0.35 * unit:.2f}"/>'
    )


def _across(x0: float, x1: float, y: float, unit: float, words: str) -> str:
    ticks = "".join(_line(x, y - unit, x, y + unit, unit) for x in (x0, x1))
    return _line(x0, y, x1, y, unit) + ticks + _words((x0 + x1) / 2.0, y + 5.0 * unit, unit, words)


def _up(y0: float, y1: float, x: float, unit: float, words: str) -> str:
    ticks = "".join(_line(x - unit, -y, x + unit, -y, unit) for y in (y0, y1))
    return _line(x, -y0, x, -y1, unit) + ticks + _words(x + 5.0 * unit, -(y0 + y1) / 2.0, unit, words, True)
