"""Who is told what happens at the bench: pages subscribe, the desk tells them in the event loop's thread."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

Unsubscribe = Callable[[], None]
Topic = Literal["change", "progress", "word"]
Mood = Literal["good", "note", "care", "bad"]

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Word:
    """A sentence for everyone at the bench."""

    words: str
    mood: Mood


class Telling:
    """`loop` is where the pages live; without one they are told at once."""

    def __init__(self) -> None:
        self.loop: asyncio.AbstractEventLoop | None = None
        self._calls: dict[Topic, list[Callable[..., None]]] = {"change": [], "progress": [], "word": []}

    def subscribe(self, callback: Callable[..., None], topic: Topic) -> Unsubscribe:
        """Be called without arguments after any change or progress, with a Word for 'word'."""
        self._calls[topic].append(callback)

        def unsubscribe() -> None:
            if callback in self._calls[topic]:
                self._calls[topic].remove(callback)

        return unsubscribe

    def tell(self, topic: Topic, *told: object) -> None:
        """Called in the loop's thread. One page's fault is logged and keeps nothing from the others."""
        for call in list(self._calls[topic]):
            try:
                call(*told)
            except Exception:
                log.exception("telling a page about a %s", topic)

    def post(self, call: Callable[[], None]) -> None:
        """Have something called in the loop's thread, from any other."""
        if self.loop is not None and not self.loop.is_closed():
            self.loop.call_soon_threadsafe(call)
        else:
            call()
