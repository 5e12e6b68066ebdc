"""A part of a page that is drawn once it is opened: a title and a drawing in."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from halfshaft.bench import look


def fold_out(title: str, draw: Callable[[], object]) -> None:
    """Shut at first: what is in it costs nothing until then."""
    with ui.expansion(title).classes("hs-fold-out") as opened, look.column() as inside:
        pass

    def fill() -> None:
        if opened.value and not inside.default_slot.children:
            with inside:
                draw()

    opened.on_value_change(fill)
