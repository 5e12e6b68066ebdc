"""Picking a face, a point, a panel, a hole or a fold of a bracket: what is told of it and what can be done with it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_change import add_panel
from halfshaft.bench.bracket_holes import add_hole, usual_bolt
from halfshaft.bench.bracket_looked import Looked
from halfshaft.bench.bracket_picked import pickable, picked_lines
from halfshaft.fold.scenery import near_face
from halfshaft.study import Study


class Picking:
    """The list that stands for the 3D view and the flat pattern, and what is told of the thing picked.

    `show` brings the page up to what is picked, `change` opens the section in which the bracket is changed.
    """

    def __init__(self, looked: Looked, show: Callable[[], None], change: Callable[[], None]) -> None:
        self._looked, self._show, self._change = looked, show, change
        self._list: ui.select | None = None

    def pick(self, kind: str, name: str) -> None:
        """Something was tapped; while a bracket is put together a face is taken or left at once."""
        looked = self._looked
        looked.at = f"{kind}:{name}"
        draft = looked.draft
        if draft is not None and kind == "face":
            draft.toggle_face(name)
        elif draft is not None and kind == "point" and looked.study is not None:
            on = [p for p in draft.panels if any(name == n for n, _ in near_face(looked.study.measured, p.face))]
            if len(on) == 1:
                self._hole(on[0].name, name)
                return
        self._show()

    def follow(self) -> None:
        """The list stands at what is picked."""
        looked = self._looked
        if self._list is not None and looked.at in pickable(looked.study, looked.bracket()):
            self._list.set_value(looked.at)

    def draw_list(self) -> None:
        looked = self._looked

        def taken(event: Any) -> None:
            if event.value and event.value != looked.at:
                kind, _, name = str(event.value).partition(":")
                self.pick(kind, name)

        options = pickable(looked.study, looked.bracket())
        self._list = ui.select(
            options, value=looked.at if looked.at in options else None, label="or from the list",
            with_input=True, on_change=taken,
        ).props("outlined")  # fmt: skip

    def draw_told(self) -> None:
        looked, study = self._looked, self._looked.study
        if study is None:
            return
        kind, _, name = looked.at.partition(":")
        with look.column().style("gap: 2px"):
            if not name:
                ui.label("Tap a face, a point, a panel, a hole or a fold; or take it from the list.").classes(
                    "hs-faint"
                )
            else:
                ui.label(f"{kind} {name}").classes("hs-title hs-text")
                for line in picked_lines(study, looked.bracket(), kind, name, looked.desk.units):
                    ui.label(line).classes("hs-text hs-num hs-small")
        with ui.element("div").classes("hb-pick"):
            self._acts(study, kind, name)

    def _acts(self, study: Study, kind: str, name: str) -> None:
        """What can be done with the thing that is picked."""
        looked, desk = self._looked, self._looked.desk
        draft, told = looked.draft, study.build.bracket.get(looked.name)
        if draft is not None:
            if kind == "face":
                on = any(panel.face == name for panel in draft.panels)
                look.button("Leave this face out" if on else "Take this face", lambda: self._face(name), "main")
            if kind == "point":
                for panel in draft.panels:
                    words = "No hole here in" if name in panel.holes else "A hole here in"
                    look.button(f"{words} {panel.name}", lambda p=panel.name: self._hole(p, name))
            return
        if told is None or looked.section != "change":
            if kind in ("face", "panel", "hole", "point") and told is not None:
                look.button("Change the bracket", self._change)
            return
        if kind == "face" and all(panel.face != name for panel in told.panel.values()):
            look.button("A panel on this face", lambda: add_panel(desk, looked.name, name), "main")
        if kind == "point":
            for key, wish in told.panel.items():
                near = not wish.face or wish.face not in study.measured.faces
                near = near or any(name == point for point, _ in near_face(study.measured, wish.face or ""))
                if near and all(hole.at != name for hole in wish.holes):
                    look.button(
                        f"A hole here in {key}",
                        lambda p=key: add_hole(desk, looked.name, p, name, usual_bolt(told)),
                    )  # fmt: skip

    def _face(self, name: str) -> None:
        assert self._looked.draft is not None
        self._looked.draft.toggle_face(name)
        self._show()

    def _hole(self, panel: str, point: str) -> None:
        draft = self._looked.draft
        assert draft is not None
        used = [bolt for own in draft.panels for bolt in own.holes.values()]
        draft.toggle_hole(panel, point, used[-1] if used else "M10")
        self._show()
