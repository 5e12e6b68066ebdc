"""Fields that follow the build: what to read and what to save in, drop-downs and cells that keep what is typed out."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from nicegui import background_tasks, ui

from halfshaft.bench.bracket_edit import Keys, foresee, save
from halfshaft.bench.desk import Desk
from halfshaft.build import Build

PAUSE_SECONDS = 0.12  # without a key: what stands in the field may be what is meant


class Form:
    """Fields that follow the build without being drawn anew, so that what is being typed is never lost."""

    def __init__(self) -> None:
        self._calls: list[Callable[[], None]] = []

    def refresh(self) -> None:
        """Show what the build says now in every field that is not being typed in."""
        for call in self._calls:
            call()

    def choice(
        self, label: str, options: Mapping[str, str], read: Callable[[], str], set_to: Callable[[str], object]
    ) -> None:
        made = choice(label, options, read, set_to)

        def refresh() -> None:
            if made.value != read():
                made.set_value(read())

        self._calls.append(refresh)

    def cell(
        self, label: str, read: Callable[[], str], set_to: Callable[[str], bool], hint: str = "", lines: bool = False
    ) -> None:
        """A field that tells of its text when it is left or Enter is pressed, if that is another text.

        With `lines` it has room for several, and Enter begins the next one.
        """
        made: ui.input | ui.textarea
        if lines:
            made = ui.textarea(label, value=read()).props("outlined autogrow").classes("hb-field hb-lines")
        else:
            made = ui.input(label, value=read()).props("outlined").classes("hb-field")
        if hint:
            made.props["hint"] = hint
        stands = [read()]  # what the field showed when nobody had typed in it

        def leave() -> None:
            text = str(made.value or "").strip()
            if text == stands[0]:
                return
            before, stands[0] = stands[0], text
            if not set_to(text):
                stands[0] = before
                made.set_value(before)

        def refresh() -> None:
            if made.value == stands[0] and read() != stands[0]:
                stands[0] = read()
                made.set_value(stands[0])

        if isinstance(set_to, Saver):
            _foreseeing(made, stands, set_to)
        made.on("blur", leave)
        if not lines:
            made.on("keydown.enter", leave)
        self._calls.append(refresh)


def _foreseeing(made: ui.input | ui.textarea, stands: list[str], saver: Saver) -> None:
    """Tell of a text that stays for a moment while it is typed."""
    typed = [0]

    async def pause(number: int) -> None:
        await asyncio.sleep(PAUSE_SECONDS)
        text = str(made.value or "").strip()
        if number == typed[0] and text and text != stands[0] and not made.is_deleted:
            saver.foresee(text)

    def wait() -> None:
        typed[0] += 1
        background_tasks.create(pause(typed[0]), name="a pause in typing")

    made.on_value_change(wait)


def choice(
    label: str, options: Mapping[str, str], read: Callable[[], str | None], set_to: Callable[[str], object]
) -> ui.select:
    """A drop-down that tells of a choice other than the one that stands."""
    value = read()
    known = dict(options) if value is None or value in options else {value: value, **options}

    def changed(event: Any) -> None:
        if event.value is not None and event.value != read():
            set_to(str(event.value))

    return ui.select(known, value=value, label=label, on_change=changed).props("outlined").classes("hb-field")


def build_now(desk: Desk) -> Build:
    """The build as it stands, which may be newer than the fields."""
    assert desk.study is not None
    return desk.study.build


@dataclass(frozen=True)
class Saver:
    """Saves a text as it is typed, at one key of the build; an empty one takes the key away."""

    desk: Desk
    title: str
    at: Keys

    def __call__(self, text: str) -> bool:
        return save(self.desk, self.title, {self.at: text or None})

    def foresee(self, text: str) -> None:
        """The text may be saved soon."""
        foresee(self.desk, {self.at: text or None})
