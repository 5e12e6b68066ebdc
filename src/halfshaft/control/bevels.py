"""The angle between two faces of the car that one bracket lies on: brackets in, bevel readings with tolerances out."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

import numpy as np

from halfshaft.build.schema import Build, Reading
from halfshaft.control.model import Control
from halfshaft.cut.station import is_refused
from halfshaft.fold.model import Bracket, Panel
from halfshaft.measure.model import Measured
from halfshaft.measure.network import spread_of


def bevels(build: Build, measured: Measured, brackets: Iterable[Bracket], before: int) -> list[Control]:
    """A bevel of each two faces, numbered after `before`: what the bolts pull up over the smaller panel's reach."""
    out: list[Control] = []
    told: set[frozenset[str]] = set()
    for bracket in brackets:
        if is_refused(bracket):
            continue
        own = [p for p in bracket.panels.values() if p.face.partition(".")[0] == build.root]
        for one, other in combinations(own, 2):
            pair = frozenset((one.face, other.face))
            if pair in told or len(pair) < 2 or not {one.face, other.face} <= measured.faces.keys():
                continue
            told.add(pair)
            a, b = (measured.faces[p.face].plane.normal for p in (one, other))
            between = 180.0 - float(np.degrees(np.arccos(np.clip(a @ b, -1.0, 1.0))))
            reach = min(reach_mm(bracket, one), reach_mm(bracket, other))
            most = float(np.degrees(np.arctan2(build.shop.pull_up_mm, reach)))
            names = (one.face, other.face)
            spread = spread_of(build, Reading(kind="bevel", names=names), between).sigma
            number = before + len(out) + 1
            out.append(Control(number, "bevel", names, between, most, spread, "bevel gauge", "deg", (bracket.name,)))
    return out


def reach_mm(bracket: Bracket, panel: Panel) -> float:
    """How far a panel stands from its nearest fold, at its farthest hole; of one without, its own size."""
    lines = [fold.line_a_mm for fold in bracket.folds if fold.a == panel.name]
    lines += [fold.line_b_mm for fold in bracket.folds if fold.b == panel.name]
    spots = [np.asarray(hole.centre_mm) for hole in panel.holes] or list(panel.outline.points_mm)
    if not lines:
        return float(np.ptp(panel.outline.points_mm, axis=0).max())
    reach = 1.0
    for spot in spots:
        apart = []
        for line in lines:
            way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
            apart.append(abs(float(way[0] * (spot - line[0])[1] - way[1] * (spot - line[0])[0])))
        reach = max(reach, min(apart))
    return reach
