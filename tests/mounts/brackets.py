"""Brackets for tests of stress: a web bolted to a frame, an ear folded off it that a unit hangs on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfshaft.fold.model import Bracket
from halfshaft.mounts.held_part import Case, Push
from tests.fold.builders import hole, plate, slit
from tests.fold.test_fit import bracket_of, hung

WEB, EAR = ("web.1", "web.2"), ("ear.1", "ear.2")


def angle(thickness: float = 6.0, wide: float = 100.0, fold_deg: float = 90.0) -> Bracket:
    """Web and ear, each 60 mm deep and `wide`, two M12 holes each 30 mm from the fold."""
    half, side = wide / 2.0, wide / 2.0 - 22.0
    holes = [hole("web.1", 0.0, -side), hole("web.2", 0.0, side)]
    web = plate("web", [(-30, -half), (30, -half), (30, half), (-30, half)], thickness, holes=holes)
    holes = [hole("ear.1", 30.0, -side), hole("ear.2", 30.0, side)]
    ear = plate("ear", [(0, -half), (60, -half), (60, half), (0, half)], thickness, holes=holes, contact="none")
    fold = slit("web", "ear", [(30, -half), (30, half)], [(0, -half), (0, half)], fold_deg, thickness=thickness)
    return bracket_of([web, hung(ear, fold, web)], [fold])


def loaded(
    bracket: Bracket, name: str, force_n: Sequence[float], moment_nmm: Sequence[float] = (0.0, 0.0, 0.0)
) -> Case:
    """A load at the middle of the ear's holes."""
    ear = bracket.panels["ear"]
    middle = ear.pose.apply([30.0, 0.0, ear.thickness_mm / 2.0])
    return Case(name, (Push(EAR, np.array(force_n, float), np.array(moment_nmm, float), middle),))
