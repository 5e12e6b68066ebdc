"""Many poses at once: a unit's points and a field in, the least clearance at each pose out, to a stated bound."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.fitup.balls import balls
from halfshaft.fitup.field import Field, field_of, step_for
from halfshaft.fitup.loops import sweep
from halfshaft.fitup.model import Array, Piece
from halfshaft.geometry.mesh import MeshSolid
from halfshaft.progress import Progress, silent

POINTS = 2000
_CHUNK = 8192
_INNER_BALLS = 48
_EDGE_STEPS = 3


@dataclass(frozen=True, eq=False)
class Probe:
    """A unit made ready for screening, in its own axes.

    `points_mm` (n, 3) on its skin, any first ones of them spread evenly, `sway_mm` (n,) of the piece each is on; the
    tree over them with each ball's greatest sway, and the point that a leaf is; `inner` (b, 4): balls inside it, sway
    in their radius. No spot of the skin is farther from a point than `cover_mm`. `own` is the unit's own field, of
    which sway is taken off.
    """

    points_mm: Array
    sway_mm: Array
    centre_mm: Array
    radius_mm: Array
    grow_mm: Array
    skip: NDArray[np.int64]
    point: NDArray[np.int64]
    inner: Array
    cover_mm: float
    own: Field
    middle_mm: Array
    reach_mm: float  # from the middle to the farthest corner
    corners_mm: Array  # the corners of its hull

    @property
    def sizes(self) -> tuple[int, int]:
        """How many points, and how many balls over them."""
        return len(self.points_mm), len(self.centre_mm)


def spread_points(solid: MeshSolid, wanted: int) -> tuple[Array, float]:
    """Points (n, 3) spread evenly over a solid's skin, its outer corners first, and how far any spot is from one, mm.

    Each next point is the candidate farthest from all before: Gonzalez, Theoretical Computer Science 38 (1985), p. 293.
    """
    # a triangle of sides s has no spot farther than s / sqrt(3) from its corners
    side = float(np.sqrt(solid.kernel.surface_area() / wanted)) / 2.0
    spots, _ = MeshSolid(solid.kernel.refine_to_length(side)).triangles
    spots = np.unique(np.round(spots, 6), axis=0)
    corners, _ = MeshSolid(solid.kernel.hull()).triangles
    chosen = [corners[i] for i in _farthest(corners, min(len(corners), max(wanted // 4, 8)))[0]]
    away = np.full(len(spots), np.inf)
    for corner in chosen:
        np.minimum(away, ((spots - corner) ** 2).sum(axis=1), out=away)
    picked, left = _farthest(spots, wanted - len(chosen), away)
    points = np.vstack([np.array(chosen), spots[picked]])
    return points, left + side / float(np.sqrt(3.0))


def _farthest(spots: Array, wanted: int, away: Array | None = None) -> tuple[list[int], float]:
    picked: list[int] = []
    if away is None:
        picked = [int(np.argmax(((spots - spots.mean(axis=0)) ** 2).sum(axis=1)))]
        away = ((spots - spots[picked[0]]) ** 2).sum(axis=1)
    while len(picked) < wanted:
        at = int(np.argmax(away))
        if away[at] <= 0.0:
            break
        picked.append(at)
        np.minimum(away, ((spots - spots[at]) ** 2).sum(axis=1), out=away)
    return picked, float(np.sqrt(away.max()))


def probe(pieces: Sequence[Piece], points: int = POINTS, grow_mm: float = 40.0, step_mm: float | None = None) -> Probe:
    """A unit of several pieces made ready; its own field reaches `grow_mm` past its skin.

    Raises ValueError where the unit has no piece.
    """
    solids = [p for p in pieces if not p.solid.empty]
    if not solids:
        raise ValueError("the unit has no piece")
    low = np.min([p.solid.bounds_mm[0] for p in solids], axis=0)
    high = np.max([p.solid.bounds_mm[1] for p in solids], axis=0)
    areas = np.array([p.solid.kernel.surface_area() for p in solids])
    shares = np.maximum((points * areas / areas.sum()).astype(int), 24)
    spots, sways, cover = [], [], 0.0
    for piece, share in zip(solids, shares, strict=True):
        own_points, own_cover = spread_points(piece.solid, int(share))
        spots.append(own_points)
        sways.append(np.full(len(own_points), piece.sway_mm))
        cover = max(cover, own_cover)
    # pieces are mixed, each in its own order, so that the first ones of all stand for every piece
    turn_of = np.argsort(np.concatenate([np.arange(len(s)) / len(s) for s in spots]), kind="stable")
    all_points, all_sways = np.vstack(spots)[turn_of], np.concatenate(sways)[turn_of]
    tree = balls(all_points)
    grow = np.empty(len(tree.skip))
    for at in range(len(grow)):
        held = tree.point[at : tree.skip[at]]
        grow[at] = all_sways[held[held >= 0]].max()
    most = max(p.sway_mm for p in solids)
    step = step_mm or float(np.clip(step_for(low, high, 8e5), 2.0, 6.0))
    edge = most + grow_mm + _EDGE_STEPS * step
    own = field_of([(p.solid, p.sway_mm) for p in solids], low - edge, high + edge, step)
    corners = np.vstack([MeshSolid(p.solid.kernel.hull()).triangles[0] for p in solids])
    middle = (low + high) / 2.0
    return Probe(
        all_points,
        all_sways,
        tree.centre_mm,
        tree.radius_mm,
        grow,
        tree.skip,
        tree.point,
        _inner(own),
        cover,
        own,
        middle,
        float(np.linalg.norm(corners - middle, axis=1).max()),
        corners,
    )


def _inner(own: Field) -> Array:
    """Balls inside the grown skin, the deepest first: each the deepest node that those before leave uncovered."""
    nodes = np.argwhere(own.values < -own.step_mm)
    if not len(nodes):
        return np.zeros((0, 4))
    depth = -own.values[tuple(nodes.T)].astype(float)
    order = np.argsort(-depth, kind="stable")[:200_000]
    spots, depth = own.origin_mm + nodes[order] * own.step_mm, depth[order]
    free = np.ones(len(spots), dtype=bool)
    out: list[list[float]] = []
    while len(out) < _INNER_BALLS and free.any():
        at = int(np.argmax(free))
        out.append([*spots[at], depth[at] - own.error_mm])
        free &= ((spots - spots[at]) ** 2).sum(axis=1) > (0.8 * depth[at]) ** 2
    return np.array([ball for ball in out if ball[3] > 0.0]).reshape(-1, 4)


def screen(
    field: Field,
    unit: Probe,
    turns: Array,
    shifts_mm: Array,
    floor_mm: float = -1e9,
    cap_mm: float = 1e9,
    workers: int = 2,
    progress: Progress = silent,
) -> Array:
    """Least field value over the unit's skin, sway off, at poses of turns (n, 3, 3) and shifts (n, 3).

    A pose under `floor_mm` is left as soon as that is sure: its value is under the floor, how far is not told; one over
    `cap_mm` tells the cap. Between, the true clearance lies from `value - cover_mm - bound` to `value + bound`, the
    bound that of the field. A thing wholly inside the unit is told where it meets one of the inner balls, and only with
    a floor of nought or more.
    """
    turns = np.ascontiguousarray(turns, dtype=float)
    shifts = np.ascontiguousarray(shifts_mm, dtype=float)
    out = np.empty(len(turns))

    def work(start: int) -> None:
        part = slice(start, start + _CHUNK)
        sweep(
            turns[part],
            shifts[part],
            unit.centre_mm,
            unit.radius_mm,
            unit.grow_mm,
            unit.skip,
            unit.inner,
            field.values,
            field.coarse,
            field.origin_mm,
            field.step_mm,
            field.ratio,
            float(floor_mm),
            float(cap_mm),
            out[part],
        )

    starts = range(0, len(turns), _CHUNK)
    with ThreadPoolExecutor(workers) as pool:
        for done, _ in enumerate(pool.map(work, starts)):
            progress((done + 1) / len(starts), "poses screened")
    return out
