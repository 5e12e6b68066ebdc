"""The flat pattern: panels and folds of one sheet in, what is cut out. Lengths are kept exactly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from halfshaft.fold.lay import laid
from halfshaft.fold.model import FlatPart, Fold, Hole, Panel
from halfshaft.fold.slab import figure, flat_move, tree
from halfshaft.geometry.arcs import contours_of

Array = NDArray[np.float64]
Move = tuple[Array, Array]  # rotation (2, 2), shift (2,)

_GRID_MM = 1e-6  # figures that share a fold line are joined on this grid


def moves_of(names: Sequence[str], panels: Mapping[str, Panel], folds: Sequence[Fold]) -> dict[str, Move]:
    """Rotation (2, 2) and shift (2,) of each panel of one part into the axes of its first panel, all flat."""
    beside = tree(names, folds)
    out: dict[str, Move] = {names[0]: (np.eye(2), np.zeros(2))}
    queue = [names[0]]
    while queue:
        name = queue.pop(0)
        for fold, other in beside[name]:
            if other in out:
                continue
            rotation, shift = flat_move(fold, figure(panels[fold.a]))
            if fold.b == name:  # the move is told from b into a: go back along it
                rotation, shift = rotation.T, -rotation.T @ shift
            out[other] = _after(out[name], (rotation, shift))
            queue.append(other)
    return out


def _after(last: Move, first: Move) -> Move:
    return last[0] @ first[0], last[0] @ first[1] + last[1]


def moved(shape: Polygon | MultiPolygon, move: Move) -> Polygon | MultiPolygon:
    return shapely.transform(shape, lambda xy: xy @ move[0].T + move[1])


def strip_of(fold: Fold, moves: Mapping[str, Move]) -> Polygon | None:
    """The metal of a brake bend between its two lines, flat; None for a slit fold."""
    if fold.allowance_mm <= 0.0:
        return None
    a = fold.line_a_mm @ moves[fold.a][0].T + moves[fold.a][1]
    b = fold.line_b_mm @ moves[fold.b][0].T + moves[fold.b][1]
    return Polygon([a[0], a[1], b[1], b[0]])


def flat_figure(
    names: Sequence[str], panels: Mapping[str, Panel], folds: Sequence[Fold], moves: Mapping[str, Move]
) -> Polygon:
    """The part's flat metal without bolt holes."""
    pieces = [moved(figure(panels[name]), moves[name]) for name in names]
    pieces += [strip for fold in folds if (strip := strip_of(fold, moves)) is not None]
    whole = shapely.union_all(pieces, grid_size=_GRID_MM)
    # parts of a figure that touch along a fold line only within rounding are closed up
    if whole.geom_type != "Polygon":
        whole = shapely.union_all([p.buffer(10 * _GRID_MM, join_style="mitre") for p in pieces], grid_size=_GRID_MM)
    return whole


def flat_part(
    name: str,
    sheet: str,
    names: Sequence[str],
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
) -> FlatPart:
    """The flat pattern of the panels `names`, laid against fence and stop as lay.py says.

    Raises ValueError where the panels do not hang together in the flat.
    """
    own = [f for f in folds if f.a in names and f.b in names]
    moves = moves_of(names, panels, own)
    whole = flat_figure(names, panels, own, moves)
    if whole.geom_type != "Polygon":
        raise ValueError("in the flat the panels hang together in no more than a point")
    outline, openings = contours_of(whole)[0]
    slits, lines = [], {}
    for fold in own:
        a, b = (line @ moves[p][0].T + moves[p][1] for line, p in ((fold.line_a_mm, fold.a), (fold.line_b_mm, fold.b)))
        lines[fold.name] = a if fold.kind == "slit" else np.vstack([a, b])
        if fold.kind == "slit":
            slits += slits_of(fold, a)
    part = FlatPart(
        name=name,
        sheet=sheet,
        thickness_mm=panels[names[0]].thickness_mm,
        outline=outline,
        openings=openings,
        bores=tuple(_bore(hole, moves[key]) for key in names for hole in panels[key].holes),
        slits_mm=tuple(slits),
        slit_width_mm=max((f.slit_width_mm for f in own), default=0.0),
        fold_lines_mm=lines,
        marks=(),
        placed=moves,
    )
    return laid(part)


def slits_of(fold: Fold, line_mm: Array) -> list[Array]:
    """The slits (2, 2) between the bridges of a fold along its line."""
    way = (line_mm[1] - line_mm[0]) / fold.length_mm
    at, out = 0.0, []
    for bridge in sorted(fold.bridges, key=lambda b: b.start_mm):
        if bridge.start_mm - at > 1e-6:
            out.append(np.vstack([line_mm[0] + way * at, line_mm[0] + way * bridge.start_mm]))
        at = bridge.end_mm
    if fold.length_mm - at > 1e-6:
        out.append(np.vstack([line_mm[0] + way * at, line_mm[1]]))
    return out


def _bore(hole: Hole, move: Move) -> Hole:
    return replace(hole, centre_mm=move[0] @ hole.centre_mm + move[1], slot_way=move[0] @ hole.slot_way)
