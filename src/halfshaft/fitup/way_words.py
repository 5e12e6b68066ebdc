"""A move in a builder's words: shift and turn in; 'left side down 8 degrees, up 120 mm, 35 mm to the right' out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from halfshaft.build.units import format_angle, format_length
from halfshaft.fitup.model import WayIn

_SHIFTS = (("{} forward", "{} to the rear"), ("{} to the left", "{} to the right"), ("up {}", "down {}"))
_TURNS = (
    ("right side down {}", "left side down {}"),
    ("nose down {}", "nose up {}"),
    ("nose to the left {}", "nose to the right {}"),
)
_WAYS = ("the front", "the rear", "the left", "the right", "above", "below")
_NONE_MM, _NONE_DEG = 5e-3, 5e-3
_MOSTLY = 0.8


def move_words(shift_mm: ArrayLike, turn_deg: ArrayLike, units: str = "metric") -> str:
    """Words of one move: the middle shifts by (3,) while the unit turns by the rotation vector (3,), root axes.

    Axes after ISO 8855: x forward, y left, z up; a turn about +x puts the right side down, about +y the nose down,
    about +z the nose to the left. What goes on together is joined by 'together with'.
    """
    shift, turned = np.asarray(shift_mm, dtype=float), np.asarray(turn_deg, dtype=float)
    shifts = [
        words[int(value < 0.0)].format(plain(format_length(abs(float(value)), units)))
        for value, words in sorted(zip(shift, _SHIFTS, strict=True), key=lambda pair: -abs(pair[0]))
        if abs(value) > _NONE_MM
    ]
    turns = [
        words[int(value < 0.0)].format(_degrees(abs(float(value))))
        for value, words in zip(turned, _TURNS, strict=True)
        if abs(value) > _NONE_DEG
    ]
    return " together with ".join(part for part in (", ".join(turns), ", ".join(shifts)) if part) or "stay"


def bolt_on_words(names: Iterable[str], ways: Iterable[ArrayLike]) -> str:
    """Words for putting pieces back on: each with the way (3,), root axes, in which it comes to its place."""
    told = []
    for name, way in zip(names, ways, strict=True):
        side = side_of(-np.asarray(way, dtype=float))
        told.append(f"bolt on the {thing(name)}" + (f" from {side}" if side else ""))
    return ", ".join(told)


def side_of(way: ArrayLike) -> str:
    """The side a direction (3,) points to, root axes: 'the left'; empty where it points between two."""
    unit = np.asarray(way, dtype=float) / np.linalg.norm(np.asarray(way, dtype=float))
    axis = int(np.argmax(np.abs(unit)))
    return _WAYS[2 * axis + int(unit[axis] < 0.0)] if abs(unit[axis]) >= _MOSTLY else ""


def thing(name: str) -> str:
    return name.replace("_", " ").replace("car.", "")


def plain(text: str) -> str:
    """A length's words: '120.0 mm' as '120 mm': a round number is told round."""
    return re.sub(r"\.0+(?= )", "", text)


def _degrees(angle_deg: float) -> str:
    number = format_angle(angle_deg).rstrip("°").rstrip("0").rstrip(".")
    return f"{number} degree" + ("" if number == "1" else "s")


def lift_words(shift_mm: ArrayLike, turn_deg: ArrayLike, units: str = "metric") -> str:
    """Words of one move with its rise and fall given to the car: the unit up is the car down."""
    shift = np.asarray(shift_mm, dtype=float)
    level, rise = shift * np.array([1.0, 1.0, 0.0]), float(shift[2])
    parts = []
    if abs(rise) > _NONE_MM:
        parts.append(f"car {'down' if rise > 0.0 else 'up'} {plain(format_length(abs(rise), units))}")
    own = move_words(level, turn_deg, units)
    if own != "stay":
        parts.append(own)
    return " together with ".join(parts) or "stay"


def way_text(way: WayIn, on_lift: Sequence[str] = ()) -> str:
    """The steps of a way in as lines of text, numbered, with the pieces that are on where that changes.

    `on_lift` has the words of the same steps with the car let down over the unit.
    """
    if not way.found:
        names = ", ".join(thing(name) for name in way.blocked_by) or "nothing by itself"
        return f"No way in was found. In the way: {names}.\n"
    lines, on = ["The unit raised on a jack, the car standing still:"], way.steps[0].pieces_on
    for number, step in enumerate(way.steps, 1):
        more = f" (on now: {', '.join(thing(name) for name in step.pieces_on)})" if step.pieces_on != on else ""
        lines.append(f"{number}. {step.words}{more}")
        on = step.pieces_on
    if on_lift:
        lines += ["", "The same with the car on a lift, let down over the unit on its table:"]
        lines += [f"{number}. {words}" for number, words in enumerate(on_lift, 1)]
    lines += ["", f"Least clearance on the way: {way.least_clearance_mm:.1f} mm."]
    lines += [f"{check.title}: {check.do}" for check in way.checks]
    return "\n".join(lines) + "\n"
