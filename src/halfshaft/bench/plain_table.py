"""A table of `halfshaft.tables` on a page: rows in, one piece of markup out. Every text in it is escaped."""

from __future__ import annotations

from html import escape

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.telling import Mood
from halfshaft.tables import Table

_MOODS: tuple[Mood, ...] = ("bad", "care", "note", "good")


def draw_table(table: Table, classes: str = "hs-rows") -> None:
    """As one element: hundreds of cells cost no more than one. The mood of a row is its shape before the first cell."""
    if not table.rows:
        ui.label(table.empty).classes("hs-faint")
        return
    ui.html(_markup(table), sanitize=False).classes(classes)


def _markup(table: Table) -> str:
    right = set(table.right)

    def cell(tag: str, at: int, text: str, before: str = "") -> str:
        return f"<{tag}{' class=hs-right' if at in right else ''}>{before}{escape(text)}</{tag}>"

    heads = "".join(cell("th", at, text) for at, text in enumerate(table.columns))
    rows = []
    for number, row in enumerate(table.rows):
        mood = next((m for m in _MOODS if table.mood and table.mood[number] == m), None)
        shape = look.shape(mood) if mood else ""
        rows.append(
            "<tr>" + "".join(cell("td", at, text, "" if at else shape) for at, text in enumerate(row)) + "</tr>"
        )
    head = f"<thead><tr>{heads}</tr></thead>" if any(table.columns) else ""
    return f'<table class="hs-table">{head}<tbody>{"".join(rows)}</tbody></table>'
