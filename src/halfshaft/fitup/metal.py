"""Metal a place costs: members and a unit in; volume and share of section each loses out, estimated or exact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.build.catalogue import default
from halfshaft.fitup.balls import balls
from halfshaft.fitup.edges import beside, crowding
from halfshaft.fitup.loops import lost, winding
from halfshaft.fitup.model import Array, Cut, Fixed, Member
from halfshaft.fitup.screen import Probe
from halfshaft.fitup.walls import Wall
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, box, mean_width_mm, moved, overlap, union

_CELL_MM = 8.0
_SOFT_MM = 8.0
_THIN_MM = 12.0
_MOST_NODES = 2e7
_STATIONS = 48
_SMALLEST_MM2 = 1e-3
_FEW_TRIANGLES = 800
_FINE_BALL, _COARSE_BALL = 32, 12


@dataclass(frozen=True, eq=False)
class Metal:
    """Members' metal as weighted points in trees laid end to end, for `estimate`."""

    names: tuple[str, ...]
    centre_mm: Array
    radius_mm: Array
    skip: NDArray[np.int64]
    weight_mm3: Array
    crowded: Array  # 0 to 1, how near an edge or weld
    bin_of: NDArray[np.int64]
    start: NDArray[np.int64]
    clearance_mm: Array
    bin_mm3: Array


def line_of(fixed: Fixed, members: Mapping[str, Member]) -> Array:
    """The line (n, 3) along which a member is looked at; of one without a line, its longest direction."""
    member = members.get(fixed.name)
    if member is not None:
        return np.asarray(member.line_mm, dtype=float)
    corners, _ = fixed.solid.triangles
    middle = corners.mean(axis=0)
    way = np.linalg.svd(corners - middle, full_matrices=False)[2][0]
    along = (corners - middle) @ way
    return np.array([middle + way * along.min(), middle + way * along.max()])


def metal_of(
    fixed: Sequence[Fixed],
    members: Mapping[str, Member],
    low_mm: Array,
    high_mm: Array,
    walls: Mapping[str, Sequence[Wall]] = MappingProxyType({}),
) -> Metal:
    """Points in the members' metal inside a box from low to high corner (3,): one a cell, its metal the weight."""
    to_edge, to_weld = (float(default(row).value) for row in ("fitup.window_edge", "fitup.window_weld"))
    parts, start, totals, names, asked = [], [0], [], [], []
    bins = 0
    for one in fixed:
        near = overlap(one.solid, box(low_mm, high_mm))
        if near.empty or near.volume_mm3 <= 0.0:
            continue
        line = line_of(one, members)
        spots, weight, station = _cells(near, line)
        tree = balls(spots)
        leaf = tree.point >= 0
        own_bin = np.zeros(len(leaf), dtype=np.int64)
        own_weight, own_crowded = np.zeros(len(leaf)), np.zeros(len(leaf))
        own_bin[leaf] = bins + station[tree.point[leaf]]
        own_weight[leaf] = weight[tree.point[leaf]]
        if one.name in walls:
            near_edge = crowding(spots, walls[one.name], members[one.name].welds_mm, to_edge, to_weld)
            own_crowded[leaf] = near_edge[tree.point[leaf]]
        offset = start[-1]
        parts.append((tree.centre_mm, tree.radius_mm, tree.skip + offset, own_weight, own_crowded, own_bin))
        start.append(offset + len(leaf))
        totals.append(np.bincount(station, weight))
        bins += len(totals[-1])
        names.append(one.name)
        asked.append(one.clearance_mm)
    if not parts:
        nothing = np.zeros(0, dtype=np.int64)
        none = np.zeros(0)
        return Metal((), np.zeros((0, 3)), none, nothing, none, none, nothing, np.zeros(1, np.int64), none, none)
    centre, radius, skip, all_weight, crowded, bin_of = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Metal(
        tuple(names),
        np.ascontiguousarray(centre),
        radius,
        skip,
        all_weight,
        crowded,
        bin_of,
        np.array(start, dtype=np.int64),
        np.array(asked, dtype=float),
        np.concatenate(totals),
    )


def _frame(line: Array) -> Pose:
    """A pose whose x axis runs from the line's first point to its last."""
    way = line[-1] - line[0]
    way = way / np.linalg.norm(way)
    side = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    side /= np.linalg.norm(side)
    return Pose(np.column_stack([way, side, np.cross(way, side)]), line[0])


def _cells(solid: MeshSolid, line: Array) -> tuple[Array, Array, NDArray[np.int64]]:
    frame = _frame(line)
    local = moved(solid, frame.inverse())
    spots, share = _skin_points(local) if mean_width_mm(solid) < _THIN_MM else _node_points(local)
    cell = np.floor((spots - local.bounds_mm[0]) / _CELL_MM).astype(np.int64)
    span = cell.max(axis=0) + 1
    _, which = np.unique((cell[:, 0] * span[1] + cell[:, 1]) * span[2] + cell[:, 2], return_inverse=True)
    held = np.bincount(which, share)
    centre = np.column_stack([np.bincount(which, share * spots[:, k]) for k in range(3)]) / held[:, None]
    centre = frame.apply(centre)
    weight = held * (solid.volume_mm3 / share.sum())
    station = np.floor(_along(line, centre) / _CELL_MM).astype(np.int64)
    return np.asarray(centre), np.asarray(weight, dtype=float), np.asarray(station - station.min())


def _skin_points(solid: MeshSolid) -> tuple[Array, Array]:
    """Of a thin wall: the middles of small faces, set into the wall by a quarter of it, and their areas."""
    corners, triangles = MeshSolid(solid.kernel.refine_to_length(_CELL_MM / 2.0)).triangles
    a, b, c = np.moveaxis(corners[triangles], 1, 0)
    square = np.cross(b - a, c - a)
    twice = np.linalg.norm(square, axis=1)
    real = twice > 0.0
    inward = square[real] / twice[real, None]
    return (a + b + c)[real] / 3.0 - inward * (mean_width_mm(solid) / 4.0), twice[real] / 2.0


def _node_points(solid: MeshSolid) -> tuple[Array, Array]:
    """Of a thick solid: the nodes of a lattice that it fills, alike in weight."""
    low, high = solid.bounds_mm
    step = float(np.clip(mean_width_mm(solid) / 8.0, 1.5, 4.0))
    step = max(step, float(np.cbrt(np.prod(high - low + step) / _MOST_NODES)))
    origin = low + step / 2.0
    turns = np.zeros(tuple(np.maximum(np.ceil((high - low) / step).astype(int), 1)), dtype=np.int16)
    corners, triangles = solid.triangles
    winding(np.ascontiguousarray(corners[triangles]), origin, step, turns)
    spots = origin + np.argwhere(turns > 0) * step
    return (spots, np.ones(len(spots))) if len(spots) else (corners, np.ones(len(corners)))


def _along(line: Array, spots: Array) -> Array:
    """How far along the line the foot of each spot lies."""
    best, out, done = np.full(len(spots), np.inf), np.zeros(len(spots)), 0.0
    last = len(line) - 2
    for at, (a, b) in enumerate(pairwise(line)):
        length = float(np.linalg.norm(b - a))
        way = (b - a) / length
        run = np.clip((spots - a) @ way, 0.0 if at else -np.inf, length if at < last else np.inf)
        away = np.linalg.norm(spots - a - run[:, None] * way, axis=1)
        nearer = away < best
        best[nearer], out[nearer] = away[nearer], done + run[nearer]
        done += length
    return out


def estimate(metal: Metal, unit: Probe, turns: Array, shifts_mm: Array) -> tuple[Array, Array, Array]:
    """Metal within the unit grown by sway and each member's clearance, at poses (n, 3, 3) and (n, 3).

    Returns volume in mm3 (n, members), the share lost of the worst 8 mm of each member's length (n, members), and the
    volume with each bit counted by how near an edge or weld it lies (n, members): all of it upon the edge.
    """
    volume = np.zeros((len(turns), len(metal.names)))
    share = np.zeros((len(turns), len(metal.names)))
    crowded = np.zeros((len(turns), len(metal.names)))
    if metal.names:
        lost(
            np.ascontiguousarray(turns, dtype=float),
            np.ascontiguousarray(shifts_mm, dtype=float),
            metal.centre_mm,
            metal.radius_mm,
            metal.skip,
            metal.weight_mm3,
            metal.crowded,
            metal.bin_of,
            metal.start,
            metal.clearance_mm,
            _SOFT_MM,
            metal.bin_mm3,
            unit.own.values,
            unit.own.origin_mm,
            unit.own.step_mm,
            volume,
            share,
            crowded,
        )
    return volume, share, crowded


def grown(solid: MeshSolid, by_mm: float) -> MeshSolid:
    """All within a distance of the solid, its roundings of flats from edge to edge of a ball of 32 sides about.

    A solid with hollows and many triangles is smoothed to 800 first, and grown by as much more as that moved its skin.
    """
    if by_mm <= 0.0:
        return solid
    kernel = solid.kernel
    whole = kernel.hull()
    if whole.volume() <= kernel.volume() * (1.0 + 1e-6):
        return MeshSolid(whole.minkowski_sum(type(kernel).sphere(by_mm, _FINE_BALL)))
    moved_mm = 0.0
    while kernel.num_tri() > _FEW_TRIANGLES and moved_mm < 4.0:
        moved_mm = max(2.0 * moved_mm, 0.125)
        kernel = solid.kernel.simplify(moved_mm)
    sides = _FINE_BALL if kernel.num_tri() < 100 else _COARSE_BALL
    return MeshSolid(kernel.minkowski_sum(type(kernel).sphere(by_mm + moved_mm, sides)))


def cut(
    name: str,
    metal: MeshSolid,
    line_mm: Array,
    pieces: Sequence[MeshSolid],
    walls: Sequence[Wall] = (),
    welds_mm: Sequence[ArrayLike] = (),
) -> Cut:
    """What a member's metal loses to grown pieces, already at their pose: exact volume, and the worst section's share.

    Sections stand square to the line (n, 3): at the corners of what is lost and between them. Of `walls` it is told
    what metal stays beside the cut.
    """
    taken = [shared for piece in pieces if not (shared := overlap(metal, piece)).empty]
    gone = union(taken) if len(taken) > 1 else (taken[0] if taken else None)
    if gone is None or gone.volume_mm3 <= 0.0:
        return Cut(name, 0.0, 0.0)
    worst = 0.0
    runs = list(pairwise(np.asarray(line_mm, dtype=float)))
    for at, (a, b) in enumerate(runs):
        frame = _frame(np.array([a, b]))
        upright = Pose(np.roll(frame.rotation, -1, axis=1), a)  # its z axis along the run
        corners = upright.inverse().apply(gone.triangles[0])
        length = float(np.linalg.norm(b - a))
        levels = np.unique(np.round(corners[:, 2], 3))
        levels = levels[(levels >= (0.0 if at else -np.inf)) & (levels <= (length if at < len(runs) - 1 else np.inf))]
        if not len(levels):
            continue
        stations = np.concatenate([levels - 0.002, levels + 0.002, (levels[:-1] + levels[1:]) / 2.0])
        stations = np.sort(stations)[:: len(stations) // _STATIONS + 1]
        # other runs of a bent member must not show in this run's sections
        margin = 2.0 * float(np.ptp(corners[:, :2], axis=0).max()) + 200.0
        own = moved(metal, upright.inverse())
        middle = corners[:, :2].mean(axis=0)
        own = overlap(
            own,
            box(
                [*(middle - margin), float(stations.min()) - 1.0],
                [*(middle + margin), float(stations.max()) + 1.0],
            ),
        )
        lost_here = moved(gone, upright.inverse())
        for station in stations:
            whole = float(own.kernel.slice(float(station)).area())
            if whole > _SMALLEST_MM2:
                worst = max(worst, float(lost_here.kernel.slice(float(station)).area()) / whole)
    left = beside(gone, walls, welds_mm)
    return Cut(name, gone.volume_mm3, min(worst, 1.0), left.edge_mm, left.edge, left.weld_mm)
