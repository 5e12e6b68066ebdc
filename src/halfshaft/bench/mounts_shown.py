"""The 3D view of the mounts and what it shows: forces as the torque grows, the stress of one, how the unit shakes."""

from __future__ import annotations

from collections.abc import Callable
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
from halfshaft.bench.mounts_chart import stiffness_chart
from halfshaft.bench.mounts_scene import PAST, SCALE, MountsScene
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart, put
from halfshaft.build.units import format_force, format_length

if TYPE_CHECKING:
    from halfshaft.mounts.bracket_stress import BracketStress
    from halfshaft.mounts.model import Mount, Mounts
    from halfshaft.mounts.surface_field import SurfaceField

VIEWS = {"push": "Forces", "stress": "Stress", "shake": "Shaking"}
MOST_TIMES = 200  # a bracket that holds moves by hundredths of a millimetre
DRAWN_SHARE = 0.1  # of its size a bracket is drawn moved at first


class MountsShown:
    """`found` gives the mounts as last worked, where the unit is held; `one` the mount that is looked at."""

    def __init__(self, desk: Desk, found: Callable[[], Mounts | None], one: Callable[[], Mount | None]) -> None:
        self.desk = desk
        self._found, self._one = found, one
        self.view = "push"
        self.case = ""
        self.mode = 0
        self.at: int | None = None  # step of the sweep; the last one when None
        self.times = 20
        self.swinging = False
        self._drawn: Any = None
        self._shown: Any = None
        self._view_buttons: dict[str, ui.button] = {}
        self._mode_buttons: list[ui.button] = []
        self._swing_words: ui.label | None = None
        ui.add_head_html(
            f"<script>{files('halfshaft.bench').joinpath('shake.js').read_text(encoding='utf-8')}</script>"
        )
        self.scene = MountsScene()
        views = apart("hs-row").props('role="tablist" aria-label="what the 3D view shows"')
        self.regions = [
            Region(views, lambda: self.found is None, self._views),
            Region(apart(), self._controls_key, self._controls),
        ]

    @property
    def found(self) -> Mounts | None:
        return self._found()

    def field(self) -> SurfaceField | None:
        stress = self._stress()
        if stress is None or not stress.fields:
            return None
        return next((field for field in stress.fields if field.case == self.case), stress.fields[0])

    def _stress(self) -> BracketStress | None:
        one = self._one()
        return one.stress if one is not None else None

    def _controls_key(self) -> Any:
        one = self._one()
        shown = {"push": (), "stress": (one and one.name, self.case), "shake": ()}[self.view]
        return (self.found, self.view, shown, self.desk.units)

    def show(self) -> None:
        """Bring the view and its controls up to what stands on the desk."""
        for region in self.regions:
            region.show()
        for key, button in self._view_buttons.items():
            look.press(button, key == self.view, "aria-selected")
        for number, button in enumerate(self._mode_buttons):
            look.press(button, number == self.mode, "aria-checked")
        if self._swing_words is not None:
            self._swing_words.set_text("Hold it still" if self.swinging else "Swing it")
        self._draw()

    def turn(self) -> None:
        """Another mount is looked at."""
        self.case = ""
        self._seen_moved()

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
            one = self._one()
            name = one.name if one is not None else "it"
            words = f"No stress is worked for {name}: work the mounts, or it has no bracket."
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


def _directions(force: Any, units: Any) -> tuple[str, ...]:
    """A force by the words of its ways."""
    ways = (("forward", "rearward"), ("left", "right"), ("up", "down"))
    return tuple(
        f"{format_force(abs(float(value)), units)} {plus if value >= 0.0 else minus}" if abs(value) >= 0.5 else "none"
        for value, (plus, minus) in zip(force, ways, strict=True)
    )
