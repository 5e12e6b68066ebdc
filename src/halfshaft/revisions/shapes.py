"""The shape of a flat part as plain values, and how two shapes differ: not bytes of files, but metal.

Two drawings of one part may lie turned on their sheets: they are laid over each other by their holes of the same name,
else by their outlines, before they are compared.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from halfshaft.fold.model import FlatPart
from halfshaft.geometry import Contour

Array = NDArray[np.float64]

_STEP_MM = 2.0
SAME_MM = 0.05  # under what any cutter of a shop holds


def plain_part(part: FlatPart) -> dict[str, Any]:
    """What is cut of a part: outline, openings, holes, slits, lines to fold on; ready for JSON."""
    return {
        "name": part.name,
        "sheet": part.sheet,
        "thickness_mm": _n(part.thickness_mm),
        "outline": _contour(part.outline),
        "openings": [_contour(one) for one in part.openings],
        "holes": {
            hole.name: {
                "at": [_n(v) for v in hole.centre_mm],
                "diameter_mm": _n(hole.diameter_mm),
                "slot_mm": _n(hole.slot_mm),
                "slot_way": [_n(v) for v in hole.slot_way],
            }
            for hole in part.bores
        },
        "slits": [[[_n(v) for v in spot] for spot in line] for line in part.slits_mm],
        "folds": {name: [[_n(v) for v in spot] for spot in line] for name, line in part.fold_lines_mm.items()},
    }


def _contour(one: Contour) -> list[list[float]]:
    return [[_n(x), _n(y), _n(b)] for (x, y), b in zip(one.points_mm, one.bulge, strict=True)]


def _n(value: float) -> float:
    return round(float(value), 6) + 0.0


@dataclass(frozen=True, eq=False)
class Laid:
    """A part read back: its metal, its holes' middles and its slits, in one set of axes."""

    metal: Polygon | BaseGeometry
    holes: Mapping[str, Array]
    across: Mapping[str, float]
    slits: tuple[Array, ...]
    folds: Mapping[str, Array]


def laid_of(part: Mapping[str, Any], turn: Array | None = None, shift: Array | None = None) -> Laid:
    """The part turned by (2, 2) and shifted by (2,)."""
    turn = np.eye(2) if turn is None else turn
    shift = np.zeros(2) if shift is None else shift

    def ring(rows: list[list[float]]) -> Polygon:
        table = np.array(rows, dtype=float)
        return Contour(table[:, :2], table[:, 2]).moved(turn, shift).polygon(0.01)

    def spots(rows: Any) -> Array:
        return np.asarray(np.array(rows, dtype=float).reshape(-1, 2) @ turn.T + shift)

    holes = {name: spots([hole["at"]])[0] for name, hole in part["holes"].items()}
    cuts: list[BaseGeometry] = [ring(rows) for rows in part["openings"]]
    for name, hole in part["holes"].items():
        reach = turn @ np.array(hole["slot_way"], dtype=float) * hole["slot_mm"] / 2.0
        core = LineString([holes[name] - reach, holes[name] + reach]) if hole["slot_mm"] > 0 else Point(holes[name])
        cuts.append(core.buffer(hole["diameter_mm"] / 2.0, quad_segs=16))
    metal = ring(part["outline"]).difference(shapely.union_all(cuts)) if cuts else ring(part["outline"])
    across = {name: hole["diameter_mm"] + hole["slot_mm"] for name, hole in part["holes"].items()}
    return Laid(
        metal, holes, across, tuple(spots(line) for line in part["slits"]),
        {name: spots(line) for name, line in part["folds"].items()},
    )  # fmt: skip


def moved_onto(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Array, Array]:
    """Turn (2, 2) and shift (2,) that lay the old part on the new one, never turned over."""
    shared = [name for name in old["holes"] if name in new["holes"]]
    a = np.array([old["holes"][name]["at"] for name in shared], dtype=float).reshape(-1, 2)
    b = np.array([new["holes"][name]["at"] for name in shared], dtype=float).reshape(-1, 2)
    if len(a) >= 2:  # the ends of a fold move with the outline: they serve only where holes do not
        return _fitted(a, b)
    for name in old["folds"]:
        if name in new["folds"] and len(old["folds"][name]) == len(new["folds"][name]):
            a = np.vstack([a, np.array(old["folds"][name], dtype=float)])
            b = np.vstack([b, np.array(new["folds"][name], dtype=float)])
    if len(a) >= 2:
        return _fitted(a, b)
    return _by_outline(old, new)


def _fitted(a: Array, b: Array) -> tuple[Array, Array]:
    """Least squares of a turn and a shift (Kabsch 1976, in the plane)."""
    middle_a, middle_b = a.mean(axis=0), b.mean(axis=0)
    u, _, vt = np.linalg.svd((a - middle_a).T @ (b - middle_b))
    keep = np.diag([1.0, np.sign(np.linalg.det(vt.T @ u.T)) or 1.0])
    turn = vt.T @ keep @ u.T
    return turn, middle_b - turn @ middle_a


def _by_outline(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Array, Array]:
    """Middles together, turned so that least metal differs: about a plate that has no two holes."""
    other = laid_of(new).metal
    plain = laid_of(old).metal
    middle = np.array([plain.centroid.x, plain.centroid.y])
    there = np.array([other.centroid.x, other.centroid.y])
    best: tuple[float, Array, Array] | None = None
    for degrees in (0.0, 90.0, 180.0, 270.0, *_long_way(plain, other)):
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        turn = np.array([[c, -s], [s, c]])
        shift = there - turn @ middle
        differs = float(laid_of(old, turn, shift).metal.symmetric_difference(other).area)
        if best is None or differs < best[0] - 1e-9:
            best = (differs, turn, shift)
    assert best is not None
    return best[1], best[2]


def _long_way(a: BaseGeometry, b: BaseGeometry) -> list[float]:
    """Turns, degrees, that bring the long side of one rectangle round a shape along the other's, both ways."""
    ways = []
    for shape in (a, b):
        ring = np.asarray(shape.minimum_rotated_rectangle.exterior.coords)
        runs = np.diff(ring, axis=0)[:2]
        long = runs[int(np.argmax(np.linalg.norm(runs, axis=1)))]
        ways.append(float(np.degrees(np.arctan2(long[1], long[0]))))
    return [ways[1] - ways[0], ways[1] - ways[0] + 180.0]


@dataclass(frozen=True, eq=False)
class Differs:
    """How far apart two parts lie once one is on the other: mm; `added_mm2` of metal that only the new one has."""

    edge_mm: float
    holes_mm: Mapping[str, float]
    wider_mm: Mapping[str, float]  # new less old, across
    lost: tuple[str, ...]
    gained: tuple[str, ...]
    slits_mm: float
    added_mm2: float
    removed_mm2: float
    thickness_mm: float
    sheet: tuple[str, str]
    old: Laid
    new: Laid

    @property
    def same(self) -> bool:
        worst = max([self.edge_mm, self.slits_mm, *self.holes_mm.values(), *map(abs, self.wider_mm.values())])
        kept = not self.lost and not self.gained and abs(self.thickness_mm) < 1e-6
        return bool(kept and worst <= SAME_MM and self.sheet[0] == self.sheet[1])


def differs(old: Mapping[str, Any], new: Mapping[str, Any]) -> Differs:
    """Two plain parts of the same name compared."""
    one, other = laid_of(old, *moved_onto(old, new)), laid_of(new)
    shared = [name for name in one.holes if name in other.holes]
    outer, inner = (shapely.unary_union(shape.metal).boundary for shape in (one, other))
    grown = SAME_MM
    return Differs(
        edge_mm=max(_farthest(outer, inner), _farthest(inner, outer)),
        holes_mm={name: float(np.linalg.norm(one.holes[name] - other.holes[name])) for name in shared},
        wider_mm={name: other.across[name] - one.across[name] for name in shared},
        lost=tuple(name for name in one.holes if name not in other.holes),
        gained=tuple(name for name in other.holes if name not in one.holes),
        slits_mm=_slits_apart(one.slits, other.slits),
        added_mm2=float(other.metal.difference(one.metal.buffer(grown)).area),
        removed_mm2=float(one.metal.difference(other.metal.buffer(grown)).area),
        thickness_mm=float(new["thickness_mm"]) - float(old["thickness_mm"]),
        sheet=(str(old["sheet"]), str(new["sheet"])),
        old=one,
        new=other,
    )


def _slits_apart(one: tuple[Array, ...], other: tuple[Array, ...]) -> float:
    if not one and not other:
        return 0.0
    if not one or not other:
        return float("inf")
    a = shapely.union_all([LineString(line) for line in one])
    b = shapely.union_all([LineString(line) for line in other])
    return max(_farthest(a, b), _farthest(b, a))


def _farthest(line: BaseGeometry, other: BaseGeometry) -> float:
    """How far any spot of a line, looked at every `_STEP_MM`, lies from the other."""
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(line, _STEP_MM)))
    shapely.prepare(other)
    return float(np.max(shapely.distance(spots, other), initial=0.0))
