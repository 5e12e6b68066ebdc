"""Whether a part goes on a sheet, and how large one it needs. Part and blank in, turns and sizes out."""

from __future__ import annotations

from shapely import affinity

from halfshaft.cut.nest.model import Blank
from halfshaft.cut.nest.shape import true_shape
from halfshaft.cut.part import SheetPart

STEP_DEG = 15.0


def turns_on(part: SheetPart, blank: Blank) -> tuple[float, ...]:
    """Turns allowed on a sheet: by the folds where its rolling direction is told, else any of even steps."""
    if part.grain is None or blank.rolling_deg is None:
        return tuple(STEP_DEG * k for k in range(int(360.0 / STEP_DEG)))
    return tuple((turn + blank.rolling_deg) % 360.0 for turn in part.grain)


def least_size_mm(part: SheetPart, blank: Blank) -> tuple[float, float]:
    """Length and width of the smallest upright rectangle that holds the part at a turn allowed on that sheet."""
    shape = true_shape(part, 0.1)
    boxes = [affinity.rotate(shape, turn, origin=(0.0, 0.0)).bounds for turn in turns_on(part, blank)]
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes]
    length, width = min(sizes, key=lambda size: size[0] * size[1])
    return float(length), float(width)


def goes_on(part: SheetPart, blank: Blank) -> bool:
    """Whether its bounds fit in the sheet's room at a turn allowed there."""
    room = blank.room
    if room.is_empty:
        return False
    x0, y0, x1, y1 = room.bounds
    shape = true_shape(part, 0.1)
    for turn in turns_on(part, blank):
        a0, b0, a1, b1 = affinity.rotate(shape, turn, origin=(0.0, 0.0)).bounds
        if a1 - a0 <= x1 - x0 and b1 - b0 <= y1 - y0:
            return True
    return False
