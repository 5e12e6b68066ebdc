"""The way in as it is told and played: steps in words, a slider through all of it, a button that lets it run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from nicegui import ui

from halfshaft.bench import look
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.geometry import Pose

if TYPE_CHECKING:
    from halfshaft.fitup.model import WayIn

_TICK_SECONDS = 0.08
_STAND_TICKS = 8  # a step without a move, a piece bolted on say, is shown so long
CAUTION = (
    "Lift by the maker's points, on stands that carry it, nobody under a load that hangs; a second person at the lift. "
    "Local rules for lifting come first."
)


class WayPlayer:
    """`show` is told a pose and the pieces that are on."""

    def __init__(self, show: Callable[[Pose, tuple[str, ...]], None]) -> None:
        self._show = show
        self._frames: list[tuple[int, Pose, tuple[str, ...]]] = []
        self._rows: list[ui.element] = []
        self._slider: ui.slider | None = None
        self._timer = ui.timer(_TICK_SECONDS, self._tick, active=False)
        self._run: ui.button | None = None
        self._lift = False  # told with the car let down, not the unit raised
        self._words: list[tuple[ui.button, str, str]] = []
        self._ways: list[ui.button] = []

    def draw(self, way: WayIn, on_lift: Sequence[str], units: UnitSystem) -> None:
        """`on_lift` has the words of the same steps with the car let down over the unit."""
        self._timer.deactivate()
        self._frames, self._rows, self._words = [], [], []
        for number, step in enumerate(way.steps):
            poses = step.poses if len(step.poses) > 1 else step.poses * _STAND_TICKS
            self._frames += [(number, pose, step.pieces_on) for pose in poses]
        if not self._frames:
            words = "No way in was found" + (f"; in the way: {', '.join(way.blocked_by)}" if way.blocked_by else "")
            look.mark("bad", words)
            for check in way.checks:
                if not check.ok:
                    ui.label(check.do).classes("hs-text")
            return
        ui.label(CAUTION).classes("hs-faint hs-small hs-text")
        with ui.element("div").classes("hs-slider-row"):
            self._run = look.button("Play it", self._start, "main")
            self._slider = ui.slider(
                min=0, max=len(self._frames) - 1, step=1, value=0, on_change=lambda e: self._to(int(e.value))
            )
            self._slider.props["aria-label"] = "from outside to the place"
        with ui.element("div").classes("hp-steps").props('role="radiogroup" aria-label="what is moved"'):
            self._ways = [
                look.button(words, lambda lift=lift: self._tell(lift)).props('role="radio"')
                for words, lift in (("unit on a jack", False), ("car on a lift", True))
            ]
        with ui.element("ol").classes("hp-way"):
            for number, (step, other) in enumerate(zip(way.steps, on_lift, strict=True)):
                with ui.element("li").classes("hs-text") as row:
                    button = look.button("", lambda n=number: self._to_step(n), "plain")
                self._words.append((button, step.words, other))
                self._rows.append(row)
        self._tell(self._lift)
        ui.label(f"least room on the way: {format_length(way.least_clearance_mm, units)}").classes("hs-num hs-faint")

    def _tell(self, lift: bool) -> None:
        """The steps in words, of the unit raised or of the car let down."""
        self._lift = lift
        for way, on in zip(self._ways, (not lift, lift), strict=True):
            way.props["aria-checked"] = "true" if on else "false"
            way.classes(add="hp-on" if on else "", remove="" if on else "hp-on")
        for number, (button, raised, let_down) in enumerate(self._words, 1):
            button.set_text(f"{number}. {let_down if lift else raised}")

    def stop(self) -> None:
        self._timer.deactivate()

    def _to(self, at: int) -> None:
        number, pose, on = self._frames[min(at, len(self._frames) - 1)]
        for row in self._rows:
            row.classes(remove="hp-here")
        self._rows[number].classes("hp-here")
        self._show(pose, on)

    def _to_step(self, number: int) -> None:
        last = max(at for at, frame in enumerate(self._frames) if frame[0] == number)
        if self._slider is not None:
            if self._slider.value == last:
                self._to(last)
            self._slider.set_value(last)

    def _start(self) -> None:
        if self._slider is None:
            return
        if self._timer.active:
            self._timer.deactivate()
            return
        if self._slider.value >= len(self._frames) - 1:
            self._slider.set_value(0)
        self._timer.activate()

    def _tick(self) -> None:
        if self._slider is None or self._slider.value >= len(self._frames) - 1:
            self._timer.deactivate()
            return
        self._slider.set_value(int(self._slider.value) + 1)
