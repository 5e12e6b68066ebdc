"""Folds and holes of a bracket as tables that can be tapped: a bracket in, rows out."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_words import fold_rows, hole_rows
from halfshaft.build.value import UnitSystem
from halfshaft.fold.model import Bracket

Pick = Callable[[str, str], None]


def draw_numbers(bracket: Bracket, units: UnitSystem, at: str, pick: Pick) -> None:
    """Both tables; `at` as 'fold:web-ear' is lit, and `pick` is told the kind and name of a row that is tapped."""
    with look.panel("Folds, in the order to fold them"):
        heads = ["", "fold", "kind", "way", "turn", "length", "bridges", "hand force", "weld"]
        rows = fold_rows(bracket, units)
        _table(heads, rows, [f"fold:{row[1]}" for row in rows], at, pick)
    for part in bracket.parts:
        with look.panel(f"Holes of {part.name}"):
            heads = ["", "hole", "bolt", "size", "shape", "passes", "spoils"]
            rows = hole_rows(bracket, part, units)
            _table(heads, rows, [f"hole:{row[1]}" for row in rows], at, pick)


def _table(heads: list[str], rows: list[tuple[str, ...]], keys: list[str], at: str, pick: Pick) -> None:
    with ui.element("div").classes("hb-scroll"), ui.element("table").classes("hs-table"):
        with ui.element("thead"), ui.element("tr"):
            for head in heads:
                with ui.element("th"):
                    ui.label(head)
        with ui.element("tbody"):
            for row, key in zip(rows, keys, strict=True):
                kind, _, name = key.partition(":")
                line = ui.element("tr").props("tabindex=0").classes("hb-lit" if key == at else "")
                line.on("click", lambda k=kind, n=name: pick(k, n))
                line.on("keydown.enter", lambda k=kind, n=name: pick(k, n))
                with line:
                    for text in row:
                        with ui.element("td"):
                            ui.label(text)
