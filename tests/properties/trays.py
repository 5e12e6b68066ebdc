"""Random trays for property tests: a base with flanges on some of its sides, some with a further flange."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour
from tests.fold.builders import brake, hole, hung, plate, slit

SIDES = ([(100, 0), (0, 0)], [(100, 60), (100, 0)], [(0, 60), (100, 60)], [(0, 0), (0, 60)])


@st.composite
def trays(draw, least_mm: float = 15.0, bored: bool = False, kinds=(slit,)):
    """Panels and folds; heights from `least_mm` to 90, angles from 30 to 150 degrees, up and down."""
    base = plate("base", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("B1", 50, 30)] if bored else ())
    panels, folds = {"base": base}, []
    kind = draw(st.sampled_from(kinds))
    for place, line in enumerate(SIDES):
        if not draw(st.booleans()):
            continue
        name, length = f"side{place}", float(np.hypot(*np.subtract(*line)))
        high, angle = draw(st.floats(least_mm, 90)), draw(st.floats(30, 150))
        fold = kind("base", name, line, [(0, 0), (length, 0)], angle, draw(st.booleans()))
        holes = [hole(f"S{place}", length / 2, high / 2, 11.0, washer_mm=20.0)] if bored and high > 40 else ()
        panel = hung(plate(name, [(0, 0), (length, 0), (length, high), (0, high)], holes=holes), fold, base)
        panels[name] = panel
        folds.append(fold)
        if draw(st.booleans()):
            tip, deep = f"tip{place}", draw(st.floats(least_mm, 60))
            edge = kind(name, tip, [(0, high), (length, high)], [(0, 0), (length, 0)], draw(st.floats(30, 120)))
            folds.append(edge)
            panels[tip] = hung(plate(tip, [(0, 0), (length, 0), (length, deep), (0, deep)]), edge, panel)
    return panels, tuple(folds)


def part_of(names) -> FlatPart:
    still = (np.eye(2), np.zeros(2))
    empty = Contour.of_points(np.zeros((0, 2)))
    return FlatPart("part", "s", 5.0, empty, (), (), (), 2.0, {}, (), dict.fromkeys(names, still))


BOTH = (slit, brake)
