"""What clashes among the parts on sheets, in words: clashes in, a sheet of the page out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from nicegui import ui

from halfshaft.bench import look
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem

if TYPE_CHECKING:
    from halfshaft.cut.nest.clear import Clash

_MOST = 8


def draw_clashes(told: Sequence[Clash], units: UnitSystem) -> None:
    if not told:
        look.mark("good", "nothing clashes")
        return
    with look.panel(edge="bad"):
        look.mark("bad", f"{len(told)} clash{'es' if len(told) > 1 else ''}")
        for clash in told[:_MOST]:
            ui.label(_words(clash, units)).classes("hs-text hs-num")


def _words(clash: Clash, units: UnitSystem) -> str:
    other = {"edge": "the edge", "clamp": "a clamp"}.get(clash.other, clash.other)
    least = format_length(clash.least_mm, units)
    if clash.apart_mm <= 0.0:
        deep = "over the edge" if clash.other == "edge" else f"over {other}"
        return f"{clash.name} lies {format_length(-clash.apart_mm, units)} {deep}"
    return f"{clash.name} is {format_length(clash.apart_mm, units)} from {other}, {least} is the least"
