"""Bolt holes of brackets on one body: brackets in, the measured points with the hole and the bracket of each out."""

from __future__ import annotations

from collections.abc import Iterable

from halfshaft.cut.station import is_refused
from halfshaft.fold.model import Bracket, Hole


def bolt_holes(brackets: Iterable[Bracket], body: str) -> dict[str, tuple[Hole, str]]:
    """Hole and bracket's name by the measured point on `body`, the first bracket's where two share one."""
    found: dict[str, tuple[Hole, str]] = {}
    for bracket in brackets:
        if is_refused(bracket):
            continue
        for panel in bracket.panels.values():
            for hole in panel.holes:
                if hole.use == "bolt" and hole.point.partition(".")[0] == body:
                    found.setdefault(hole.point, (hole, bracket.name))
    return found
