"""Boxes of a page that are drawn by themselves: what they show is another, and nothing else is drawn again.

In the browser a change of any element draws every element of the page anew in its memory before it finds what differs:
a tenth of a second on a page of a thousand. A box that stands apart is spared that, and spares the others.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui


class _Apart(ui.element, component="apart.js"):
    """Holds one element; not to be seen itself."""


def apart(classes: str = "hs-column", tag: str = "div") -> ui.element:
    """A box that the browser draws by itself, as a context."""
    with _Apart():
        return ui.element(tag).classes(classes)


class Region:
    """A box that is drawn again only when what it shows is another: what decides that, and a drawing, in."""

    def __init__(self, box: ui.element, key: Callable[[], Any], draw: Callable[[], object]) -> None:
        self._box, self._key, self._draw = box, key, draw
        self._last: Any = object()

    def show(self) -> None:
        key = self._key()
        if key == self._last:
            return
        self._last = key
        self._box.clear()
        with self._box:
            self._draw()


def put(element: ui.element, key: str, value: Any) -> None:
    """Set a property of an element where it is not so already: to set one is to draw the element again."""
    if element.props.get(key) != value:
        element.props[key] = value
