"""One sheet filled: room, gap and pieces in; what lies where out, and what found no place.

A plain rectangle is packed as a strip of its height. Any other room (an offcut's outline, clamps, holes of parts, parts
that lie there already) is packed with a frame: all that is not room, as one piece as high as the strip, beside which
the library lays the parts. What comes to lie inside the frame is on the sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon, box

from halfshaft.cut.nest.settle import settled
from halfshaft.cut.nest.shape import Area, grown, joined, one_ring, without_small_openings
from halfshaft.cut.nest.strip import Packed, Piece, Put, pack

Array = NDArray[np.float64]

_FRAME = "frame"
_WALL_MM = 20.0
_LOOSE_MM = 0.2  # play of the frame in its strip
_TRIES = (6, 16)  # seeds of a quick search: fewer the more pieces there are, and where there is little to choose
_WORK = 360  # pieces laid in all tries of a pass
_TRIES_A_PIECE = 4
_TIGHTENED = 2  # of the best layouts are pushed together
_FAR_MM = 500.0
_PASSES = 6
_LEAST_MM2 = 25.0
_ROUGH_MM = 0.5
_SINGLE_MM = 0.004  # single precision; parts have been grown by more than that


@dataclass(frozen=True, eq=False)
class Want:
    """A part to lay: its true shape with openings, and the turns allowed on this sheet."""

    name: str  # names one copy
    shape: Polygon
    turns_deg: tuple[float, ...]
    priority: int = 1


def fill(room: Area, gap_mm: float, wants: Sequence[Want], seed: int, thorough: bool = False) -> tuple[Put, ...]:
    """Places of the parts that find one in `room`, gaps kept; those of the lower priority number come first.

    Nothing is laid where the room's edge is nearer than the room says: margins are its own matter.
    """
    if room.is_empty or not wants:
        return ()
    x0, y0, x1, y1 = room.bounds
    turned = 90.0 if y1 - y0 > x1 - x0 else 0.0
    own: Area = affinity.rotate(room, -turned, origin=(0.0, 0.0))
    ask = _Ask(
        own,
        {w.name: w.shape for w in wants},
        {w.name: grown(w.shape, gap_mm / 2.0) for w in wants},
        {w.name: tuple((t - turned) % 360.0 for t in w.turns_deg) for w in wants},
        seed,
        thorough,
    )
    # in a rectangle a part lies inside just when the grown part lies inside the grown rectangle; at a corner that
    # reaches into the room the two differ, by nothing at a right angle when it is grown by so much less
    by = gap_mm / 2.0 * (1.0 if _is_rectangle(own) else np.sqrt(0.5))
    found = _filled(ask, own.buffer(by, join_style="mitre", mitre_limit=5.0), wants)
    return tuple(_back(put, turned) for put in found)


@dataclass(frozen=True, eq=False)
class _Ask:
    """What is the same for every pass over one sheet; `grown` are the shapes with half the gap round them."""

    room: Area
    true: dict[str, Polygon]
    grown: dict[str, Polygon]
    turns_deg: dict[str, tuple[float, ...]]
    seed: int
    thorough: bool


def _filled(ask: _Ask, free: Area, wants: Sequence[Want]) -> list[Put]:
    """Everything at once where all of it fits; else what has the first claim first, the rest round about it."""
    best = _pass(ask, free, [w.name for w in wants])
    claims = sorted({w.priority for w in wants})
    if len(best) == len(wants):
        return best
    found = best if len(claims) == 1 else []
    for claim in claims:
        for number in range(_PASSES):
            have = {put.name for put in found}
            rest = [w.name for w in wants if w.priority <= claim and w.name not in have]
            taken = [placed(ask.grown[put.name], put).buffer(_ROUGH_MM, join_style="mitre") for put in found]
            left = free.difference(shapely.union_all([t.simplify(_ROUGH_MM) for t in taken])) if taken else free
            more = _pass(ask, left, rest, bool(number or found)) if rest else []
            if not more:
                break
            found += more
    return found


def _pass(ask: _Ask, free: Area, names: Sequence[str], again: bool = False) -> list[Put]:
    """The best of a few seeds: most area laid, then the shortest strip. One alone where it is done `again`."""
    free = _worth(free)
    if free.is_empty:
        return []
    x0, y0, x1, y1 = free.bounds
    plain = _is_rectangle(free)
    height = y1 - y0 + (0.0 if plain else 2.0 * _WALL_MM + _LOOSE_MM)
    widest = float(shapely.maximum_inscribed_circle(free, tolerance=1.0).length)
    asked = [
        Piece(n, one_ring(without_small_openings(ask.grown[n])), ask.turns_deg[n])
        for n in names
        if _may_fit(ask.grown[n], ask.turns_deg[n], x1 - x0, y1 - y0, widest)
    ]
    if not asked:
        return []
    frame = () if plain else (Piece(_FRAME, one_ring(_frame(free)), (0.0,)),)
    tries = min(int(np.clip(_WORK // len(asked), *_TRIES)), _TRIES_A_PIECE * len(asked)) // (1 if plain else 5)
    tries = 1 if again else max(1, tries)
    efforts = [(number, False) for number in range(tries)] + ([(0, True)] if ask.thorough else [])
    found = []
    for number, thorough in efforts:
        told = pack((*frame, *asked), height, ask.seed + number, thorough)
        inside = _inside(ask, told, free)
        found.append((*_worth_of(ask, inside), inside))
    best = sorted(found, key=lambda one: one[:2], reverse=True)[:_TIGHTENED]
    barred = box(x0 - _FAR_MM, y0 - _FAR_MM, x1 + _FAR_MM, y1 + _FAR_MM).difference(free.buffer(_SINGLE_MM))
    for one in best:
        tight = settled(ask.room, ask.true, ask.grown, one[2], barred)
        found.append((*_worth_of(ask, tight), tight))
    return max(found, key=lambda one: one[:2])[2]


def _worth_of(ask: _Ask, puts: Sequence[Put]) -> tuple[float, float]:
    """Area laid, then how little of the strip it takes."""
    area = round(sum(ask.grown[put.name].area for put in puts), 3)
    return area, -max((placed(ask.grown[put.name], put).bounds[2] for put in puts), default=0.0)


def _inside(ask: _Ask, told: Packed, free: Area) -> list[Put]:
    """Puts in the room's axes of those pieces that lie wholly in it, the grown ones in what is free."""
    frame = next((put for put in told.puts if put.name == _FRAME), None)
    shift = -np.asarray(frame.shift_mm) if frame else np.asarray(free.bounds[:2])
    found = []
    near = free.buffer(_SINGLE_MM)
    for put in told.puts:
        at = (put.shift_mm[0] + float(shift[0]), put.shift_mm[1] + float(shift[1]))
        own = Put(put.name, put.turn_deg, at)
        if put is frame or not ask.room.contains(placed(ask.true[put.name], own)):
            continue
        if near.contains(placed(ask.grown[put.name], own)):
            found.append(own)
    return found


def _frame(free: Area) -> Polygon:
    """All that is not room, in one piece: a wall round about, islands tied to it."""
    x0, y0, x1, y1 = free.bounds
    solid = box(x0 - _WALL_MM, y0 - _WALL_MM, x1 + _WALL_MM, y1 + _WALL_MM).difference(free)
    pieces = list(solid.geoms) if isinstance(solid, shapely.MultiPolygon) else [solid]
    return joined([p for p in pieces if p.area > 1e-3])


def _worth(free: Area) -> Area:
    """The room without slivers and crumbs."""
    pieces = list(free.geoms) if hasattr(free, "geoms") else [free]
    kept = [p for p in pieces if isinstance(p, Polygon) and p.area > _LEAST_MM2 and not p.buffer(-1.0).is_empty]
    return shapely.union_all(kept) if kept else Polygon()


def _may_fit(ring: Polygon, turns_deg: Sequence[float], length: float, height: float, widest: float) -> bool:
    """Whether its bounds go into the room's at some turn, and its greatest circle into the room's."""
    if float(shapely.maximum_inscribed_circle(ring, tolerance=1.0).length) > widest + 2.0:
        return False
    for turn in turns_deg:
        x0, y0, x1, y1 = affinity.rotate(ring, turn, origin=(0.0, 0.0)).bounds
        if x1 - x0 <= length and y1 - y0 <= height:
            return True
    return False


def _is_rectangle(area: Area) -> bool:
    x0, y0, x1, y1 = area.bounds
    return bool(area.area > 0.999999 * (x1 - x0) * (y1 - y0))


def placed(shape: Polygon, put: Put) -> Polygon:
    there = affinity.rotate(shape, put.turn_deg, origin=(0.0, 0.0))
    return affinity.translate(there, put.shift_mm[0], put.shift_mm[1])


def _back(put: Put, turned: float) -> Put:
    c, s = np.cos(np.radians(turned)), np.sin(np.radians(turned))
    x, y = put.shift_mm
    turn = round((put.turn_deg + turned) % 360.0, 6) % 360.0
    return Put(put.name, turn, (float(c * x - s * y), float(s * x + c * y)))
