"""A box of a page that is drawn again only when what it shows is another: a key and a drawing in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui


class Region:
    """A box that is drawn again only when what it shows is another."""

    def __init__(self, box: ui.element, key: Callable[[], Any], draw: Callable[[], None]) -> None:
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
