"""Buttons that move the unit by steps, so that nothing on the page needs a mouse: a hand in, drawn buttons out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.place_hand import Hand
from halfshaft.build.units import MM_PER_INCH
from halfshaft.build.value import UnitSystem

STEPS: dict[UnitSystem, tuple[tuple[str, float, float], ...]] = {
    "metric": (("1 mm, 0.1°", 1.0, 0.1), ("5 mm, 0.5°", 5.0, 0.5), ("20 mm, 2°", 20.0, 2.0)),
    "inch": (
        ('1/16", 0.1°', MM_PER_INCH / 16.0, 0.1), ('1/4", 0.5°', MM_PER_INCH / 4.0, 0.5), ('1", 2°', MM_PER_INCH, 2.0),
    ),
}  # fmt: skip
_SHIFTS = (("forward", 0, 1), ("rearward", 0, -1), ("left", 1, 1), ("right", 1, -1), ("up", 2, 1), ("down", 2, -1))
_TURNS = (
    ("nose up", 1, -1), ("nose down", 1, 1), ("nose left", 2, 1), ("nose right", 2, -1),
    ("left side down", 0, -1), ("right side down", 0, 1),
)  # fmt: skip


class Moves:
    """`size` is the step in use, 0 the finest."""

    def __init__(self, hand: Hand, moved: Callable[[], None]) -> None:
        self.size = 1
        self._hand, self._moved = hand, moved

    def draw(self, units: UnitSystem) -> None:
        with ui.element("div").classes("hp-steps").props('role="radiogroup" aria-label="size of a step"'):
            for number, (words, _, _) in enumerate(STEPS[units]):
                button = look.button(words, lambda n=number: self._take(n)).props('role="radio"')
                look.press(button, number == self.size, "aria-checked")
        with ui.element("div").classes("hp-moves"):
            for words, axis, way in _SHIFTS:
                look.button(words, lambda a=axis, w=way: self._step(units, a, w, False))
            for words, axis, way in _TURNS:
                look.button(words, lambda a=axis, w=way: self._step(units, a, w, True))

    def _take(self, number: int) -> None:
        self.size = number
        self._moved()

    def _step(self, units: UnitSystem, axis: int, way: int, turned: bool) -> None:
        _, shift_mm, turn_deg = STEPS[units][self.size]
        move = np.eye(3)[axis] * way
        if turned:
            self._hand.by(turn_deg=move * turn_deg)
        else:
            self._hand.by(shift_mm=move * shift_mm)
        self._moved()
