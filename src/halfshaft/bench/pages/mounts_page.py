"""Mounts: what each carries as the torque grows, what gives way first and what to change; its stress; how it shakes."""

from __future__ import annotations

from functools import partial
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui

from halfshaft import tables, tables_mounts
from halfshaft.bench import look
from halfshaft.bench.chart import draw as draw_chart
from halfshaft.bench.desk import Desk
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.head import Asked, unsaid, worked
from halfshaft.bench.mounts_chart import stiffness_chart
from halfshaft.bench.mounts_scene import PAST, SCALE, MountsScene
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart, put
from halfshaft.bench.telling import Mood
from halfshaft.build.units import format_force, format_length
from halfshaft.cut.cautions import FRAME
from halfshaft.mounts.verdict import CARE
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.mounts.bracket_stress import BracketStress
    from halfshaft.mounts.model import Mount, Mounts
    from halfshaft.mounts.surface_field import SurfaceField

VIEWS = {"push": "Forces", "stress": "Stress", "shake": "Shaking"}
MOST_TIMES = 200  # a bracket that holds moves by hundredths of a millimetre
DRAWN_SHARE = 0.1  # of its size a bracket is drawn moved at first
MOST_CHECKS = 12
ASKED = Asked(
    "Mounts, their brackets and the frame",
    "Forces, joints, stress of the brackets and the room left as the unit moves. It takes a minute or two; the bench "
    "can be used meanwhile.",
    "Work the mounts",
    "Work them again",
    CARE,
)


class MountsPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.view = "push"
        self.mount = ""
        self.case = ""
        self.mode = 0
        self.at: int | None = None  # step of the sweep; the last one when None
        self.times = 20
        self.swinging = False
        self._about = asked_of_page().get("about", "")
        self._drawn: Any = None
        self._shown: Any = None
        look.add_sheet("mounts", "chart")
        ui.add_head_html(
            f"<script>{files('halfshaft.bench').joinpath('shake.js').read_text(encoding='utf-8')}</script>"
        )
        top = apart()
        self.whole = ui.element("div").classes("hs-pair")
        with self.whole:
            with ui.element("div").classes("hs-left"):
                self.scene = MountsScene()
                views = apart("hs-row").props('role="tablist" aria-label="what the 3D view shows"')
                controls = apart()
            with look.column():
                cards = apart()
                checks = apart()
        thinnest = apart()
        more = apart()
        self.regions = [
            Region(top, self._top_key, self._top),
            Region(views, lambda: self.found is None, self._views),
            Region(controls, self._controls_key, self._controls),
            Region(cards, lambda: (self.found, desk.units), self._cards),
            Region(checks, lambda: (self.found, self.mount, desk.units), self._checks),
            Region(thinnest, lambda: (self.found, desk.units), self._thinnest),
            Region(more, lambda: (self.found, desk.units), self._more),
        ]
        self._view_buttons: dict[str, ui.button] = {}
        self._card_buttons: dict[str, ui.button] = {}
        self._mode_buttons: list[ui.button] = []
        self._swing_words: ui.label | None = None
        self.show()
        look.follow(desk, self.show)

    # what stands

    @property
    def found(self) -> Mounts | None:
        """As last worked, where the unit is held."""
        found = self.desk.study.mounts if self.desk.study else None
        return found if found is not None and found.held else None

    def one(self) -> Mount | None:
        """The mount that is looked at."""
        return self.found.by_name.get(self.mount) if self.found else None

    def field(self) -> SurfaceField | None:
        stress = self._stress()
        if stress is None or not stress.fields:
            return None
        return next((field for field in stress.fields if field.case == self.case), stress.fields[0])

    def _stress(self) -> BracketStress | None:
        one = self.one()
        return one.stress if one is not None else None

    def _top_key(self) -> Any:
        study = self.desk.study
        found = study.mounts if study else None
        return (
            study is None,
            bool(study and study.build.mounts),
            found,
            self.desk.standing.mounts_behind,
            self.desk.units,
        )

    def _controls_key(self) -> Any:
        shown = {"push": (), "stress": (self.mount, self.case), "shake": ()}[self.view]
        return (self.found, self.view, shown, self.desk.units)

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk."""
        found = self.found
        self.whole.set_visibility(found is not None)
        if found is not None and self.mount not in found.by_name:
            self.mount = self._asked(found)
        for region in self.regions:
            region.show()
        for key, button in self._view_buttons.items():
            look.press(button, key == self.view, "aria-selected")
        for name, button in self._card_buttons.items():
            look.press(button, name == self.mount, "aria-pressed", "hs-here")
        for number, button in enumerate(self._mode_buttons):
            look.press(button, number == self.mode, "aria-checked")
        if self._swing_words is not None:
            self._swing_words.set_text("Hold it still" if self.swinging else "Swing it")
        self._draw()

    def _asked(self, found: Mounts) -> str:
        """The mount that a check is about, else the one that stands worst."""
        about, self._about = self._about, ""
        words = about.replace(",", " ").split()
        named = next((name for name in found.by_name if name in words), "")
        return named or (_worst_first(found)[0].name if found.mounts else "")

    def _draw(self) -> None:
        found, study = self.found, self.desk.study
        if found is None or study is None:
            return
        if found is not self._drawn:
            self._drawn, self._shown = found, None
            self.scene.show(found, study.brackets)
        field = self.field() if self.view == "stress" else None
        shown = (self.view, field, self.mode if self.view == "shake" else 0, self.swinging)
        if shown == self._shown:
            return
        self._shown = shown
        self.scene.stress(self._stress() if field is not None else None, field, self.times)
        self.scene.push(self._forces() if self.view == "push" else None)
        self.scene.shake(found.modes if self.view == "shake" and self.swinging else None, self.mode)

    def _top(self) -> None:
        study = worked(self.desk)
        if study is None:
            return
        if study.build.mounts is None:
            unsaid(
                "Nothing says yet how the unit is held",
                "Write [mounts] in build.toml: the torque, and each mount with its rubber and its bracket. "
                "docs/mounts.md shows each.",
                "mounts",
            )
            return
        ASKED.draw(
            self.desk.hold, study.mounts is not None, self.desk.standing.mounts_behind, self._why_not, self._thinner
        )

    def _why_not(self) -> None:
        """Why nothing is held."""
        found = self.desk.study.mounts if self.desk.study else None
        for check in found.checks if found is not None and not found.held else ():
            if not check.ok:
                look.mark(look.mood_of(check), f"{check.about}: {check.title}")
                ui.label(check.do).classes("hs-text")

    def _thinner(self) -> None:
        if self.found is not None:
            look.button("Find the thinnest sheet", self.desk.thin_down)

    def _views(self) -> None:
        self._view_buttons = {}
        if self.found is not None:
            for key, words in VIEWS.items():
                self._view_buttons[key] = look.button(words, lambda k=key: self._look_at(k)).props('role="tab"')

    def _controls(self) -> None:
        self._mode_buttons, self._swing_words = [], None
        if self.found is None:
            return
        {"push": self._push_controls, "stress": self._stress_controls, "shake": self._shake_controls}[self.view]()

    def _push_controls(self) -> None:
        found, units = self.found, self.desk.units
        assert found is not None
        sweep = found.sweep
        if sweep is None:
            ui.label("No torque is told to sweep through.").classes("hs-faint")
            return
        last = len(sweep.torque_nm) - 1
        rows: list[list[ui.label]] = []

        def put_words() -> None:
            at = self._step()
            torque = sweep.torque_nm[at]
            way = "forward" if torque > 0.0 else "backward" if torque < 0.0 else "at rest"
            told.set_text(f"{abs(torque):.0f} N m about the axle, {way}")
            for cells, force in zip(rows, sweep.force_n[at], strict=True):
                for cell, words in zip(cells, _directions(force, units), strict=True):
                    cell.set_text(words)

        def moved(event: Any) -> None:
            self.at = int(event.value)
            put_words()
            self.scene.push(self._forces())

        told = ui.label().classes("hs-title hs-num").props('role="status"')
        with ui.element("div").classes("hs-slider-row"):
            look.button("At rest", lambda: slider.set_value(int(abs(sweep.torque_nm).argmin())))
            slider = ui.slider(min=0, max=last, step=1, value=self._step(), on_change=moved)
            put(slider, "aria-label", "torque, from backward to forward")
        with ui.element("table").classes("hs-table"):
            with ui.element("tr"):
                for head in ("puts on the frame", "along", "across", "up or down"):
                    with ui.element("th"):
                        ui.label(head)
            for mount in found.mounts:
                with ui.element("tr"):
                    cells = []
                    for text in (mount.name, "", "", ""):
                        with ui.element("td"):
                            cells.append(ui.label(text))
                    rows.append(cells[1:])
        put_words()

    def _stress_controls(self) -> None:
        stress, field, units = self._stress(), self.field(), self.desk.units
        if stress is None or field is None:
            words = f"No stress is worked for {self.mount}: work the mounts, or it has no bracket."
            ui.label(words).classes("hs-faint hs-text")
            return
        names = {one.case: one.case for one in stress.fields}
        ui.select(
            names,
            value=field.case,
            label=f"load case on {stress.bracket}",
            on_change=lambda e: self._take(str(e.value)),
        ).props("outlined")
        with ui.element("div").classes("hs-slider-row"):
            told = ui.label(f"moves drawn {self.times} ×").classes("hs-num")

            def bend(event: Any) -> None:
                self.times = int(event.value)
                told.set_text(f"moves drawn {self.times} ×")
                self.scene.bend(self.times)

            slider = ui.slider(min=0, max=MOST_TIMES, step=1, value=self.times, on_change=bend)
            put(slider, "aria-label", "how many times as far as it does the bracket is drawn moved")
        with ui.element("div").classes("hm-scale"):
            with ui.element("div"):
                ui.element("div").classes("hm-bar").style(f"background: linear-gradient(90deg, {', '.join(SCALE)})")
                with ui.element("div").classes("hm-ends hs-small hs-num"):
                    for share in (0.0, 0.5, 1.0):
                        words = tables.amount(share * stress.yield_mpa, "MPa", units)
                        ui.label(f"{words}, yields" if share == 1.0 else words)
            with ui.element("div"):
                ui.element("div").classes("hm-past").style(f"background: {PAST}")
                ui.label("past it").classes("hs-small")
        worked = next((case for case in stress.cases if case.case == field.case), None)
        if worked is not None:
            worst = worked.worst
            ui.label(
                f"Worst: {worst.place}, {tables.amount(worst.stress_mpa, 'MPa', units)}, {100.0 * worst.use:.0f} % of "
                f"what it may bear. Moves {format_length(worked.moved_mm, units)} at most."
            ).classes("hs-text hs-num")

    def _shake_controls(self) -> None:
        found = self.found
        assert found is not None
        modes = found.modes
        if modes is None:
            ui.label("How it shakes could not be worked: see the checks.").classes("hs-faint")
            return
        with ui.element("div").classes("hs-row").props('role="radiogroup" aria-label="mode"'):
            for number, (hz, name) in enumerate(zip(modes.frequency_hz, modes.names, strict=True)):
                button = look.button(f"{hz:.1f} Hz, {name}", lambda n=number: self._swing(n)).props('role="radio"')
                self._mode_buttons.append(button)
        self._swing_words = look.words_of(look.button("Swing it", lambda: self._swing(None), "main"))
        ui.label("Drawn slower and farther than it goes.").classes("hs-faint hs-small")
        draw_table(tables_mounts.modes_table(found))
        chart = stiffness_chart(found)
        if chart is not None:
            ui.label("Softer or stiffer").classes("hs-title")
            draw_chart(chart)
            fold_out(
                "The same in numbers, and the travel used", partial(draw_table, tables_mounts.stiffness_table(found))
            )

    def _cards(self) -> None:
        self._card_buttons = {}
        found = self.found
        if found is None:
            return
        table = tables_mounts.mounts_table(found, self.desk.units)
        told = {row[0]: (row, mood) for row, mood in zip(table.rows, table.mood, strict=True)}
        with ui.element("div").classes("hs-cards"):
            for mount in _worst_first(found):
                row, mood = told[mount.name]
                self._card_buttons[mount.name] = self._card(row, mood)

    def _card(self, row: tuple[str, ...], mood: str) -> ui.button:
        name, bracket, force, first, used, change = row
        button = ui.button(on_click=lambda: self._choose(name), color=None).props("unelevated no-caps")
        moods: dict[str, Mood] = {"bad": "bad", "care": "care", "good": "good"}
        words = {"bad": "gives way", "care": "take care", "good": "holds"}[mood]
        with button.classes("hs-card"):
            with look.row():
                ui.label(name).classes("hs-title")
                look.mark(moods[mood], words)
                ui.label(f"bracket {bracket}" if bracket else "no bracket").classes("hs-faint hs-small")
            ui.label(f"largest force {force}").classes("hs-small hs-num")
            if first:
                ui.label(f"first to give way{f', {used} used' if used else ''}: {first}").classes("hs-text hs-small")
            ui.label(change).classes("hs-text")
        return button

    def _checks(self) -> None:
        one = self.one()
        if one is None:
            return
        table = tables_mounts.mount_checks_table(one, self.desk.units, MOST_CHECKS)
        with look.panel(table.title):
            draw_table(table)
        if len(one.checks) > MOST_CHECKS:
            fold_out(
                f"all {len(one.checks)} checks of {one.name}",
                lambda: draw_table(tables_mounts.mount_checks_table(one, self.desk.units)),
            )

    def _thinnest(self) -> None:
        if self.found is None or self.found.thinnest is None:
            return
        with look.panel("Thinnest sheet that holds"):
            draw_table(tables_mounts.thinnest_table(self.found, self.desk.units))
            ui.label(CARE).classes("hs-faint hs-small hs-text")

    def _more(self) -> None:
        found, units = self.found, self.desk.units
        if found is None:
            return
        for title, table in (
            ("Load cases, and where each comes from", tables_mounts.load_cases_table(found, units)),
            ("Forces on the mounts in each case", tables_mounts.mount_forces_table(found, units)),
            ("How far the unit moves, and the room left", tables_mounts.motion_table(found, units)),
        ):
            fold_out(title, partial(draw_table, table))
        with look.panel():
            for words in FRAME:
                ui.label(words).classes("hs-faint hs-small hs-text")

    # acts

    def _step(self) -> int:
        sweep = self.found.sweep if self.found else None
        last = len(sweep.torque_nm) - 1 if sweep is not None else 0
        return last if self.at is None else min(self.at, last)

    def _forces(self) -> Any:
        sweep = self.found.sweep if self.found else None
        return sweep.force_n[self._step()] if sweep is not None else None

    def _look_at(self, view: str) -> None:
        self.view, self.swinging = view, False
        self._seen_moved()
        self.show()

    def _choose(self, name: str) -> None:
        self.mount, self.case = name, ""
        self._seen_moved()
        self.show()

    def _take(self, case: str) -> None:
        self.case = case
        self._seen_moved()
        self.show()

    def _seen_moved(self) -> None:
        """Drawn so many times as far as it moves that it is seen and not torn apart."""
        stress, field = self._stress(), self.field()
        if stress is not None and field is not None:
            size, moved = float(np.ptp(stress.skin.vertices_mm, axis=0).max()), float(np.abs(field.moved_mm).max())
            self.times = min(max(round(DRAWN_SHARE * size / max(moved, 1e-6)), 1), MOST_TIMES)

    def _swing(self, number: int | None) -> None:
        if number is None:
            self.swinging = not self.swinging
        else:
            self.mode, self.swinging = number, True
        self.show()


def _worst_first(found: Mounts) -> list[Mount]:
    from halfshaft.mounts.model import use_of

    def rank(mount: Mount) -> tuple[bool, float]:
        weakest = mount.weakest
        return (all(check.ok for check in mount.checks), -((use_of(weakest) or 0.0) if weakest is not None else 0.0))

    return sorted(found.mounts, key=rank)


def _directions(force: Any, units: Any) -> tuple[str, ...]:
    """A force by the words of its ways."""
    ways = (("forward", "rearward"), ("left", "right"), ("up", "down"))
    return tuple(
        f"{format_force(abs(float(value)), units)} {plus if value >= 0.0 else minus}" if abs(value) >= 0.5 else "none"
        for value, (plus, minus) in zip(force, ways, strict=True)
    )


def _told(study: Study) -> str:
    found = study.mounts
    if study.build.mounts is None:
        return ""
    if found is None:
        return "not worked"
    if not found.held:
        return "not held"
    failed = sum(any(not c.ok and c.severity == "stop" for c in mount.checks) for mount in found.mounts)
    return f"{len(found.mounts)}, {failed} give way" if failed else f"{len(found.mounts)} hold"


def _draw(desk: Desk) -> None:
    MountsPage(desk)


_SYMBOL = (
    "M4 20 H20 M7 20 V15 M17 20 V15 M5 15 H9 V11 H5 Z M15 15 H19 V11 H15 Z M7 11 V7 H17 V11 M12 7 V3 M10 5 L12 3 L14 5"
)
PAGE = Page("/mounts", "Mounts", _SYMBOL, _draw, _told, ("mounts", "brackets under load"))
