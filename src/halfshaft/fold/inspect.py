"""What of a bracket is measured as made, and how far it may be off. A bracket and the shop's spreads in, sizes out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Shop
from halfshaft.fold.lay import laid
from halfshaft.fold.model import Bracket, Hole, Panel

Array = NDArray[np.float64]

HOLDS = 2.0  # spreads that a shop holds: 95 in 100 and a little more, as JCGM 100:2008 (GUM) 6.3.3 takes it
_PAIRS = 6  # distances hole to hole that are asked of a bracket


@dataclass(frozen=True, slots=True)
class FlatSize:
    """A flat part over all, laid as drawn; `play_mm` of each of the two."""

    part: str
    across_mm: float
    up_mm: float
    play_mm: float


@dataclass(frozen=True, slots=True)
class Apart:
    """Two holes of a welded bracket, middle to middle on the side that lies on."""

    one: str
    other: str
    apart_mm: float
    play_mm: float  # what both bolts can give in their holes together, radius by radius


@dataclass(frozen=True, slots=True)
class Inspection:
    """What is measured of a bracket; `fold_play_deg` of the angle of each fold."""

    flats: tuple[FlatSize, ...]
    fold_play_deg: float
    pairs: tuple[Apart, ...]


def inspection_of(bracket: Bracket, shop: Shop) -> Inspection:
    """Sizes with their plays: of a cut size both its edges stray, of a hole its bolt has room."""
    flats = []
    for part in bracket.parts:
        x0, y0, x1, y1 = laid(part).outline.polygon(1e-3).bounds
        flats.append(FlatSize(part.name, float(x1 - x0), float(y1 - y0), 2.0 * HOLDS * shop.cut_spread_mm))
    return Inspection(tuple(flats), HOLDS * shop.fold_spread_deg, hole_pairs(bracket))


def hole_pairs(bracket: Bracket) -> tuple[Apart, ...]:
    """The pairs that tell most: between panels first, the longest first."""
    spots = [
        (hole, panel, seat_spot(panel, hole))
        for panel in bracket.panels.values()
        for hole in panel.holes
        if hole.use == "bolt"
    ]
    rows = []
    for number, (hole, panel, spot) in enumerate(spots):
        for other, other_panel, other_spot in spots[number + 1 :]:
            apart = float(np.linalg.norm(spot - other_spot))
            rows.append((panel.name == other_panel.name, -apart, hole, other))
    rows.sort(key=lambda row: (row[0], row[1]))
    return tuple(Apart(_short(a), _short(b), -far, a.room_mm + b.room_mm) for _, far, a, b in rows[:_PAIRS])


def seat_spot(panel: Panel, hole: Hole) -> Array:
    """Middle (3,) of a hole on the side of the sheet that lies on, in root axes."""
    height = panel.thickness_mm if panel.contact == "upper" else 0.0
    return np.asarray(panel.pose.apply(np.array([*hole.centre_mm, height])))


def _short(hole: Hole) -> str:
    return hole.point.rpartition(".")[2] or hole.name
