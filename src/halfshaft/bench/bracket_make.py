"""Putting a new bracket together: a draft that is picked in the 3D view or in lists, saved in one step.

What can be tapped stays where it is while the draft grows, so that a second tap right after the first one counts.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_edit import FOLDS, Draft, DraftPanel, save
from halfshaft.bench.bracket_fields import choice
from halfshaft.bench.bracket_holes import hole_choices
from halfshaft.bench.desk import Desk
from halfshaft.bench.region import Region
from halfshaft.build.catalogue import bolts
from halfshaft.build.units import format_sheet
from halfshaft.study import Study

NEW_SHEET = "a new sheet"


def first_draft(study: Study) -> Draft:
    """An empty draft on the first sheet, or on one to be told."""
    sheet = next(iter(study.build.sheet), "plate")
    number = 1
    while f"bracket_{number}" in study.build.bracket:
        number += 1
    return Draft(f"bracket_{number}", sheet)


class Make:
    """The sheet on which a bracket is put together; `show` brings it up to the draft.

    `changed` is called after a pick, `left` gives the draft up, `made` is told the saved bracket's name.
    """

    def __init__(
        self, desk: Desk, study: Study, draft: Draft, changed: Callable[[], None], left: Callable[[], None],
        made: Callable[[str], None],
    ) -> None:  # fmt: skip
        self._desk, self._study, self._draft, self._changed = desk, study, draft, changed
        self._faces: dict[str, _Pick] = {}
        self._panels: dict[str, _Panel] = {}
        with look.panel("A new bracket"):
            head = ui.element("div")
        self._head = Region(head, lambda: draft.sheet in study.build.sheet, self._draw_head)
        with look.panel("1  Faces it lies on"):
            self._draw_faces()
        self._box = look.column()
        _done(desk, study, draft, left, made)
        self.show()

    def show(self) -> None:
        self._head.show()
        told = {panel.face: panel for panel in self._draft.panels}
        for face, pick in self._faces.items():
            pick.show(face in told)
        for face in [face for face in self._panels if face not in told]:
            self._panels.pop(face).box.delete()
        for face, panel in told.items():
            if face not in self._panels:
                with self._box:
                    self._panels[face] = _Panel(self._desk, self._study, self._draft, panel, self._changed)
            self._panels[face].show()

    def _draw_head(self) -> None:
        draft, study = self._draft, self._study
        rows = study.build.sheet.items()
        sheets = {key: f"{key}, {format_sheet(row.thickness_mm, self._desk.units)}" for key, row in rows}
        fresh = draft.sheet not in study.build.sheet

        def sheet(value: str) -> None:
            if value == NEW_SHEET:
                number = 1
                while f"sheet_{number}" in study.build.sheet:
                    number += 1
                draft.sheet = f"sheet_{number}"
            else:
                draft.sheet = value
            self._changed()

        def fold(value: str) -> None:
            draft.fold = value

        with look.row():
            _typed("name", draft.name, lambda text: setattr(draft, "name", text))
            choice("sheet", {**sheets, NEW_SHEET: NEW_SHEET}, lambda: NEW_SHEET if fresh else draft.sheet, sheet)
            if fresh:
                thick = _typed("its thickness", draft.thickness, lambda text: setattr(draft, "thickness", text))
                thick.props('hint="3/16 in, 4 mm, 8 ga"')
            choice("folds are", FOLDS, lambda: draft.fold, fold)
            _typed("what it is", draft.what, lambda text: setattr(draft, "what", text))

    def _draw_faces(self) -> None:
        names = [name for name, face in self._study.measured.faces.items() if face.tied]
        if not names:
            ui.label("No face is located yet: measure points on a flat face first.").classes("hs-text")
            look.link("To Measure", "/measure")
            return

        def toggle(face: str) -> None:
            self._draft.toggle_face(face)
            self._changed()

        ui.label("Tap them in the 3D view, or here. The first one carries the others.").classes("hs-faint")
        with ui.element("div").classes("hb-pick"):
            for name in names:
                self._faces[name] = _Pick(name, partial(toggle, name))


class _Pick:
    """A button that is on or off, the same one all the while."""

    def __init__(self, words: str, on_click: Callable[[], None]) -> None:
        self._words = words
        self._on: bool | None = None
        self._button = look.button(words, on_click)
        self._label = look.words_of(self._button)

    def show(self, on: bool) -> None:
        if on == self._on:
            return
        self._on = on
        self._label.set_text(("✓ " if on else "") + self._words)
        self._button.props["aria-pressed"] = "true" if on else "false"
        self._button.classes(add="hs-on" if on else "", remove="" if on else "hs-on")


class _Panel:
    """One panel of the draft: where it folds from, and its holes."""

    def __init__(self, desk: Desk, study: Study, draft: Draft, panel: DraftPanel, changed: Callable[[], None]) -> None:
        self._draft, self._panel, self._changed = draft, panel, changed
        self._options = hole_choices(study, desk.units, panel.face, [])
        near = {point: words for point, words in self._options.items() if words != point}
        self._picks: dict[str, _Pick] = {}
        self._rows: dict[str, ui.element] = {}
        with look.panel(f"2  Panel {panel.name} on {panel.face}") as self.box:
            folds_from = ui.element("div")
            ui.label("Holes: tap points in the 3D view, or here.").classes("hs-faint")
            with ui.element("div").classes("hb-pick"):
                for point, words in near.items():
                    self._picks[point] = _Pick(words, partial(self._toggle, point))
            self._holes = look.column()
            far = ui.element("div")
        self._regions = [
            Region(folds_from, lambda: (self._others(), panel.folds_from), self._draw_folds_from),
            Region(far, lambda: tuple(self._far()), self._draw_far),
        ]

    def show(self) -> None:
        for region in self._regions:
            region.show()
        for point, pick in self._picks.items():
            pick.show(point in self._panel.holes)
        for point in [point for point in self._rows if point not in self._panel.holes]:
            self._rows.pop(point).delete()
        for point in self._panel.holes:
            if point not in self._rows:
                with self._holes, ui.element("div").classes("hb-hole") as self._rows[point]:
                    self._draw_hole(point)

    def _toggle(self, point: str) -> None:
        self._draft.toggle_hole(self._panel.name, point, _last_bolt(self._draft))
        self._changed()

    def _others(self) -> tuple[str, ...]:
        if self._panel is self._draft.panels[0]:
            return ()
        return tuple(other.name for other in self._draft.panels if other is not self._panel)

    def _draw_folds_from(self) -> None:
        others = self._others()
        if not others:
            return

        def fold_from(value: str) -> None:
            self._panel.folds_from = value
            self._changed()

        options = {"": "nothing", **{name: name for name in others}}
        choice(f"{self._panel.name} folds from", options, lambda: self._panel.folds_from, fold_from)

    def _draw_hole(self, point: str) -> None:
        short = point.split(".", 1)[-1]

        def bolt(value: str) -> None:
            self._panel.holes[point] = value

        ui.label(short).classes("hb-point")
        choice(f"bolt at {short}", {b: b for b in bolts()}, partial(self._panel.holes.get, point), bolt)
        look.button("Leave out", partial(self._toggle, point), say=f"no hole at {point}")

    def _far(self) -> dict[str, str]:
        holes = self._panel.holes
        return {p: words for p, words in self._options.items() if p not in self._picks and p not in holes}

    def _draw_far(self) -> None:
        if self._far():
            choice(f"another point for {self._panel.name}", self._far(), lambda: None, self._toggle)


def _typed(label: str, value: str, put: Callable[[str], None]) -> ui.input:
    made = ui.input(label, value=value, on_change=lambda e: put(str(e.value or "")))
    return made.props("outlined").classes("hb-field")


def _last_bolt(draft: Draft) -> str:
    used = [bolt for panel in draft.panels for bolt in panel.holes.values()]
    return used[-1] if used else "M10"


def _done(desk: Desk, study: Study, draft: Draft, left: Callable[[], None], made: Callable[[str], None]) -> None:
    with look.panel("3  Make it"):
        lacking = ui.column().classes("hs-column")

        def make() -> None:
            missing = draft.lacks(study.build)
            lacking.clear()
            with lacking:
                for words in missing:
                    look.mark("care", words)
            name = draft.name.strip()
            if not missing and save(desk, f"bracket {name}", draft.values(study.build)):
                made(name)

        with look.row():
            look.button("Make the bracket", make, "main")
            look.button("Give it up", left)
