"""Shapes into a strip of fixed height, as short as can be. Only door to the packing library.

The library is a guided local search over overlapping layouts (Gardeyn, Vanden Berghe, Wauters, arXiv 2509.13329). Its
first layout is built without a clock and repeats exactly; what it betters afterwards ends when tries fail, with a clock
so long that it never ends a search on a shop's parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.cut.nest.shape import corners

Array = NDArray[np.float64]

_LONGEST_S = 1200


@dataclass(frozen=True, eq=False)
class Piece:
    """One ring to lay `count` times, at any of `turns_deg`."""

    name: str
    ring: Polygon
    turns_deg: tuple[float, ...]
    count: int = 1


@dataclass(frozen=True, slots=True)
class Put:
    """Where a piece lies: turned about its origin, then shifted."""

    name: str
    turn_deg: float
    shift_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Packed:
    length_mm: float
    puts: tuple[Put, ...]


def pack(pieces: Sequence[Piece], height_mm: float, seed: int, thorough: bool = False) -> Packed:
    """Every piece in a strip of that height, from x = 0 on. The same seed gives the same strip.

    `thorough` betters the first layout until tries fail, which takes seconds to minutes.
    Raises ValueError where a piece is higher than the strip at every turn.
    """
    import spyrrow

    if not pieces:
        return Packed(0.0, ())
    for piece in pieces:
        if min(_height(piece.ring, turn) for turn in piece.turns_deg) > height_mm:
            raise ValueError(f"'{piece.name}' is higher than the strip of {height_mm:.6g} at every turn")
    items = [spyrrow.Item(p.name, corners(p.ring), p.count, [t % 360.0 for t in p.turns_deg]) for p in pieces]
    config = spyrrow.StripPackingConfig(
        early_termination=True,
        total_computation_time=None,
        exploration_time=1,
        compression_time=1,
        num_workers=1,
        seed=seed % 2**32,
    )
    clock = timedelta(seconds=_LONGEST_S if thorough else 0)
    config.exploration_time = config.compression_time = clock
    found = spyrrow.StripPackingInstance("parts", height_mm, items).solve(config)
    puts = tuple(
        Put(p.id, float(p.rotation), (float(p.translation[0]), float(p.translation[1]))) for p in found.placed_items
    )
    return Packed(float(found.width), puts)


def _height(ring: Polygon, turn_deg: float) -> float:
    points = np.asarray(ring.exterior.coords)
    angle = np.radians(turn_deg)
    across = points[:, 0] * np.sin(angle) + points[:, 1] * np.cos(angle)
    return float(np.ptp(across))
