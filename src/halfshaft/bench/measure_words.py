"""What the measure page says: values, units on show and names in, short text out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from halfshaft.build.readings import KINDS, Known
from halfshaft.build.units import format_angle, format_length
from halfshaft.build.value import UnitSystem
from halfshaft.measure.slips import value_words


def told(kind: str, value: float, units: UnitSystem) -> str:
    """One value of a reading as it is read: '412.0 mm left', '31.50 deg'."""
    if kind == "mirror":
        return ""
    return format_angle(value) if KINDS[kind].unit == "deg" else value_words(kind, (value,), units)


def signed(value: float, unit: str, units: UnitSystem) -> str:
    """'+1.20 mm', '-0.3°'."""
    text = format_angle(value) if unit == "deg" else format_length(value, units)
    return text if text.startswith("-") else f"+{text}"


def size(value: float, unit: str, units: UnitSystem) -> str:
    if not math.isfinite(value):
        return "none"
    return format_angle(value, 1) if unit == "deg" else format_length(value, units)


def names_for(known: Known, kind: str, place: int) -> list[str]:
    """Names that may stand at `place` (from 0) of the points of a reading, as the builder writes them.

    While the kind is not one that is known, points and faces may both stand there.
    """
    wants = KINDS.get(kind)
    if wants is None:
        return sorted({*_names(known.points), *_names(known.faces)}, key=natural)
    faces = place >= wants.points and wants.faces > 0
    return sorted(_names(known.faces if faces else known.points), key=natural)


def _names(among: Mapping[str, Iterable[str]]) -> list[str]:
    root = next(iter(among), "")
    every = [(body, name) for body, names in among.items() for name in names]
    alone = {name for _, name in every if sum(other == name for _, other in every) == 1}
    return [name if body == root or name in alone else f"{body}.{name}" for body, name in every]


def natural(name: str) -> tuple[str, int, str]:
    """Order in which RL2 comes before RL10."""
    head = name.rstrip("0123456789")
    tail = name[len(head) :]
    return head.lower(), int(tail) if tail else -1, name


def matches(names: Iterable[str], typed: str) -> list[str]:
    """Names that begin with what is typed, whatever the case; those that hold it come after."""
    low = typed.lower()
    names = list(names)
    first = [n for n in names if n.lower().startswith(low)]
    return first + [n for n in names if low in n.lower() and n not in first]


def in_case(words: Sequence[str], names: Iterable[str]) -> list[str]:
    """Words as the build writes them: 'rl3' becomes 'RL3' where no other name is that but for its case."""
    by_low: dict[str, set[str]] = {}
    for name in names:
        by_low.setdefault(name.lower(), set()).add(name)
    out = []
    for word in words:
        like = by_low.get(word.lower(), set())
        out.append(next(iter(like)) if len(like) == 1 else word)
    return out
