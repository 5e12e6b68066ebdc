"""The tool path of a sheet as it runs, as path_play.js draws it. A sheet's path in, the player on the page out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui
from numpy.typing import NDArray

from halfshaft.bench import look

if TYPE_CHECKING:
    from halfshaft.cut.path.model import Cut, SheetPath

Array = NDArray[np.float64]

_FLAT_MM = 0.15  # less than a pixel
_PAD_MM = 20.0
_ROOMY = 0.6  # of the sheet: when more is used there is nothing to come closer to
_KIND = {
    "mark": "mark",
    "spot": "centre to drill",
    "slit": "slit",
    "bore": "hole",
    "opening": "opening",
    "outline": "outline",
}
_STEP = {
    "travel": "on the way, torch off",
    "down": "torch comes down",
    "wait": "piercing",
    "sink": "to cutting height",
    "lead": "lead-in or lead-out",
    "cut": "cutting",
    "mark": "marking",
    "up": "torch goes up",
}


class PathPlay(ui.element, component="path_play.js"):
    """Plays a sheet's path: a drawing of the sheet, a slider, and keys to play, stop and go cut by cut."""

    def __init__(self, view: dict[str, Any]) -> None:
        super().__init__()
        self._props["view"] = view

    def show(self, view: dict[str, Any]) -> None:
        """Another sheet, or the same one worked anew."""
        if view != self._props["view"]:
            self._props["view"] = view
            self.update()


def path_view(path: SheetPath) -> PathPlay:
    """Puts the player on the page, at rest before the first cut."""
    look.add_sheet("path")
    return PathPlay(view_of_path(path))


def view_of_path(path: SheetPath) -> dict[str, Any]:
    """All that is drawn: lengths in mm from the sheet's lower left corner, rings and lines flat as x, y, x, y ..."""
    x0, y0, x1, y1 = path.stock.outline.bounds
    zero = np.array([x0, y0])
    begun = 0.0
    steps, starts = [], [0.0] * len(path.cuts)
    seen: set[int] = set()
    for number, move in enumerate(path.moves):
        if move.cut >= 0 and move.cut not in seen:
            seen.add(move.cut)
            starts[move.cut] = begun
        step: dict[str, Any] = {"k": move.kind, "t": round(begun, 4), "s": round(move.seconds, 4), "c": move.cut}
        if move.curve is not None:
            step["p"] = _flat(move.curve.flattened_mm(_FLAT_MM) - zero)
        later = path.moves[number + 1].cut if number + 1 < len(path.moves) else -2
        if move.cut >= 0 and later != move.cut:
            step["done"] = True
        steps.append(step)
        begun += move.seconds
    cuts = [
        {
            "line": _flat(cut.path.flattened_mm(_FLAT_MM) - zero),
            "words": _words(cut, number + 1, len(path.cuts)),
            "area": cut.kind in ("bore", "opening", "outline") and cut.path.closed,
            "t": round(start, 4),
        }
        for number, (cut, start) in enumerate(zip(path.cuts, starts, strict=True))
    ]
    used = _used(path, x1 - x0, y1 - y0)
    rings = [path.stock.outline.exterior, *path.stock.outline.interiors]
    return {
        "size": [x1 - x0, y1 - y0],
        "used": used,
        "roomy": (used[2] - used[0]) * (used[3] - used[1]) < _ROOMY * (x1 - x0) * (y1 - y0),
        "sheet": [_flat(np.asarray(ring.coords)[:, :2] - zero) for ring in rings],
        "kerf": path.setup.kerf_mm,
        "seconds": round(begun, 4),
        "steps": steps,
        "cuts": cuts,
        "kinds": _STEP,
        "begin": "at the sheet's corner",
        "home": "back to the corner",
        "done": f"done: {len(path.cuts)} cuts, {path.estimate.pierces} pierces",
        "label": f"Sheet {path.stock.name} as the torch runs over it; tap a cut to go to it",
        "slider": "time since the start",
        "play": "Play",
        "stop": "Stop",
        "back": "Cut before",
        "on": "Next cut",
        "real": "as in the shop",
        "times": " times as fast",
        "whole": "Whole sheet",
        "near": "Up close",
    }


def _used(path: SheetPath, wide: float, high: float) -> list[float]:
    """Box about all cuts, some way out of it, no further than the sheet's edge."""
    if not path.cuts:
        return [0.0, 0.0, wide, high]
    x0, y0 = path.stock.outline.bounds[:2]
    points = np.vstack([cut.whole.flattened_mm(1.0) for cut in path.cuts]) - [x0, y0]
    low = np.maximum(points.min(axis=0) - _PAD_MM, 0.0)
    top = np.minimum(points.max(axis=0) + _PAD_MM, [wide, high])
    return [float(low[0]), float(low[1]), float(top[0]), float(top[1])]


def _words(cut: Cut, number: int, count: int) -> str:
    of = f" of {cut.part}" if cut.part else ""
    return f"{number} of {count}, {_KIND[cut.kind]}{of}{', slow' if cut.slow else ''}"


def _flat(points: Array) -> list[float]:
    return [round(float(v), 2) for v in points.ravel()]
