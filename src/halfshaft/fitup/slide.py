"""One place made better nearby: a move and what counts in, the move where nothing near is better out.

Step by step the costs and the rooms to all that is near are taken as straight lines, the best step within reach is
that of a linear programme, and the reach shrinks where the straight lines mislead.
Source: Fletcher and Sainz de la Maza, Mathematical Programming 43 (1989), p. 235: successive linear programming with an
exact penalty and a trust region.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from halfshaft.fitup.exact import least_apart_mm
from halfshaft.fitup.loops import pressed
from halfshaft.fitup.model import Array
from halfshaft.fitup.ready import JointsAt, Ready, joint_numbers
from halfshaft.geometry import Pose
from halfshaft.geometry.nearest import gap, inside, skin_feet
from halfshaft.geometry.pose import turn

_MOST_ROWS = 400
_MOST_POINTS = 240
_REACHES = 5.0  # a spot of the unit moves by less when each of the six numbers moves by one reach
_BIG = 1e3
_JOINTS_OUT_MM = 5.0  # joints out of their limits weigh as much as so many mm too little room


@dataclass(frozen=True, slots=True)
class Weights:
    """What one unit of each thing costs; room and height count up to their caps only. The catalogue has each wish's."""

    metal_per_cm3: float
    share: float
    edge_per_cm3: float  # of metal upon an edge of its wall or a weld, less the farther from it
    room_per_mm: float
    angle_per_deg: float
    centre_per_mm: float
    ground_per_mm: float
    room_cap_mm: float = 25.0
    ground_cap_mm: float = 60.0


@dataclass(frozen=True, eq=False)
class Rows:
    """Rooms (n,) near a move and how they change with the six numbers (n, 6)."""

    room_mm: Array
    slope: Array


def cost(
    ready: Ready, moves: Array, weights: Weights, joints: JointsAt | None = None, with_room: bool = True
) -> tuple[Array, Array, Array]:
    """Cost, room and how far joints and ground are out of limits (a penalty) at moves (n, 6)."""
    turns, shifts = ready.poses(moves)
    room = ready.room_mm(turns, shifts, cap_mm=max(weights.room_cap_mm, 1.0)) if with_room else np.zeros(len(moves))
    volume, share, crowded = ready.metal_lost(turns, shifts)
    height = ready.ground_mm(turns, shifts) - ready.scene.ground_clearance_mm
    middle = shifts + turns @ ready.middle_mm
    out = weights.metal_per_cm3 * volume.sum(axis=1) / 1000.0 + weights.centre_per_mm * np.abs(middle[:, 1])
    out += weights.edge_per_cm3 * crowded.sum(axis=1) / 1000.0
    if share.shape[1]:
        out += weights.share * share.max(axis=1)
    out -= weights.ground_per_mm * np.minimum(height, weights.ground_cap_mm)
    wrong = np.maximum(-height, 0.0)
    angle, fine = joint_numbers(joints, turns, shifts)
    out += weights.angle_per_deg * angle
    wrong += np.where(fine, 0.0, _JOINTS_OUT_MM)
    return out, room, wrong


def field_rows(ready: Ready, move: Array, below_mm: float) -> Rows:
    """Rooms of the unit's points as the field tells them."""
    pose = ready.pose(move)
    middle = pose.apply(ready.middle_mm)
    unit, field = ready.probe, ready.kept_field
    which = np.empty(len(unit.points_mm), dtype=np.int64)
    value, slope = np.empty(len(which)), np.empty((len(which), 3))
    count = pressed(
        pose.rotation,
        pose.shift_mm,
        unit.centre_mm,
        unit.radius_mm,
        unit.grow_mm,
        unit.skip,
        field.values,
        field.origin_mm,
        field.step_mm,
        field.ratio,
        field.coarse,
        float(below_mm),
        which,
        value,
        slope,
    )
    spots = pose.apply(unit.centre_mm[which[:count]])
    few = _thinned(value[:count], unit.point[which[:count]], _MOST_ROWS)
    return _rows(value[:count][few], (spots - middle)[few], slope[:count][few])


def exact_rows(ready: Ready, move: Array, below_mm: float) -> Rows:
    """Rooms of the unit's points, and of each pair's nearest spots, as exact distances tell them."""
    pose = ready.pose(move)
    middle = pose.apply(ready.middle_mm)
    rooms, arms, ways = [np.zeros(0)], [np.zeros((0, 3))], [np.zeros((0, 3))]
    near, sway = near_points(ready, pose, below_mm)
    for thing in ready.kept:
        touched = False
        for part in ready.parts:
            asked = thing.clearance_mm + part.sway_mm
            if least_apart_mm(part.body, pose, thing.body) - asked > below_mm:
                continue
            found = gap(part.body, pose, thing.body, Pose.identity())
            touched |= found.distance_mm <= 0.0
            if found.distance_mm > 0.0 and found.distance_mm - asked < below_mm:
                rooms.append(np.array([found.distance_mm - asked]))
                arms.append((found.spot_mm - middle)[None])
                ways.append(((found.spot_mm - found.other_spot_mm) / found.distance_mm)[None])
        low, high = thing.body.solid.bounds_mm
        reach = below_mm + thing.clearance_mm + sway[:, None]
        close = np.all((near > low - reach) & (near < high + reach), axis=1)
        if not close.any():
            continue
        spots, asked_here = near[close], thing.clearance_mm + sway[close]
        distance, feet = skin_feet(thing.body, spots)
        sign = np.where(inside(thing.body, spots), -1.0, 1.0) if touched else np.ones(len(spots))
        room = sign * distance - asked_here
        useful = (room < below_mm) & (distance > 1e-9)
        rooms.append(room[useful])
        arms.append(spots[useful] - middle)
        ways.append((spots - feet)[useful] * (sign / np.maximum(distance, 1e-9))[useful, None])
    return _rows(np.concatenate(rooms), np.vstack(arms), np.vstack(ways))


def near_points(ready: Ready, pose: Pose, below_mm: float) -> tuple[Array, Array]:
    """The unit's points in root axes (n, 3) that may have less room than `below_mm`, and their sway (n,)."""
    if not ready.kept:
        return np.zeros((0, 3)), np.zeros(0)
    spots = pose.apply(ready.probe.points_mm)
    room = ready.kept_field.at(spots) - ready.probe.sway_mm
    order = np.flatnonzero(room < below_mm + 0.6 * ready.kept_field.step_mm)
    order = order[_thinned(room[order], order, _MOST_POINTS)]
    return spots[order], ready.probe.sway_mm[order]


def _thinned(room: Array, point: NDArray[np.int64], most: int) -> NDArray[np.int64]:
    """Which rows stand for all: a third those with the least room, the rest spread evenly over the unit.

    The nearest alone would all lie on one face, and a step would run into the others unseen.
    """
    if len(room) <= most:
        return np.arange(len(room))
    nearest = np.argsort(room, kind="stable")[: most // 3]
    spread = np.argsort(point, kind="stable")[: most - most // 3]
    return np.unique(np.concatenate([nearest, spread]))


def _rows(room: Array, arm: Array, way: Array) -> Rows:
    """A turn is in degrees about the unit's middle."""
    return Rows(room, np.hstack([way, np.radians(np.cross(arm, way))]))


def push_out(ready: Ready, move: Array, rounds: int = 40) -> Array:
    """The move with all that is hit pushed out, as far as it goes: damped least squares over hit points and the ground.

    Source: Marquardt, Journal of the Society for Industrial and Applied Mathematics 11 (1963), p. 431.
    """
    scale = np.concatenate([np.ones(3), np.full(3, np.degrees(1.0 / ready.probe.reach_mm))])
    damp, last = 1e-3, np.inf
    here, best = move, move
    for _ in range(rounds):
        rows = field_rows(ready, here, 0.0) if ready.kept else Rows(np.zeros(0), np.zeros((0, 6)))
        low = ground_rows(ready, here, 0.0)
        room = np.concatenate([rows.room_mm, low.room_mm])
        slope = np.vstack([rows.slope, low.slope]) * scale
        size = float(room @ room)
        if size < last:
            best, last, damp = here, size, damp * 0.3
        else:
            damp *= 6.0
            here = best
            if damp > 1e3:
                break
            continue
        if not len(room):
            break
        square = slope.T @ slope
        try_step = np.linalg.solve(square + damp * (np.trace(square) / 6.0 + 1e-9) * np.eye(6), -slope.T @ room)
        here = np.clip(composed(ready, best, try_step * scale), -ready.limits, ready.limits)
    return best


def composed(ready: Ready, move: Array, step: Array) -> Array:
    """A move with a small shift and a small turn done after it."""
    pose = ready.pose(move)
    size = np.linalg.norm(step[3:])
    if size < 1e-12:
        return np.asarray(move + step)
    turned = Pose(turn(np.radians(step[3:])) @ pose.rotation, np.zeros(3))
    middle = pose.apply(ready.middle_mm) + step[:3]
    return ready.move(Pose(turned.rotation, middle - turned.rotation @ ready.middle_mm))


def ground_rows(ready: Ready, move: Array, below_mm: float) -> Rows:
    """Heights of the unit's corners over the least they may have."""
    pose = ready.pose(move)
    corners = pose.apply(ready.probe.corners_mm)
    most = max(p.sway_mm for p in ready.parts)
    room = corners[:, 2] - ready.scene.ground_clearance_mm - most
    low = np.flatnonzero(room < below_mm)
    low = low[np.argsort(room[low], kind="stable")[:60]]
    way = np.tile([0.0, 0.0, 1.0], (len(low), 1))
    return _rows(room[low], corners[low] - pose.apply(ready.middle_mm), way)


def slide(
    ready: Ready,
    move: Array,
    weights: Weights,
    joints: JointsAt | None = None,
    reach_mm: float = 20.0,
    least_mm: float = 0.5,
    exact: bool = False,
    spare_mm: float = 0.0,
    rounds: int = 40,
) -> Array:
    """The best move that steps from `move` come to; `spare_mm` is kept of every room.

    With `exact` rooms are exact distances, else the field's. Ends when the reach is under `least_mm`.
    """
    scale = np.concatenate([np.ones(3), np.full(3, np.degrees(1.0 / ready.probe.reach_mm))])
    rows_of = exact_rows if exact else field_rows
    here = np.clip(move, -ready.limits, ready.limits)

    def judged(at: Array, rows: Rows) -> float:
        value, _, wrong = cost(ready, at[None], weights, joints, with_room=False)
        room = float(rows.room_mm.min(initial=np.inf)) - spare_mm
        short = max(-room, 0.0) + float(wrong[0])
        return float(value[0]) - weights.room_per_mm * float(np.clip(room, 0.0, weights.room_cap_mm)) + _BIG * short

    def looked(at: Array) -> Rows:
        if not ready.kept:
            return Rows(np.zeros(0), np.zeros((0, 6)))
        turns, shifts = ready.poses(at[None])
        room = float(ready.room_mm(turns, shifts, cap_mm=weights.room_cap_mm + 1.0)[0]) if weights.room_per_mm else 0.0
        return rows_of(ready, at, spare_mm + max(room, 0.0) + _REACHES * reach_mm)

    rows = looked(here)
    value = judged(here, rows)
    for _ in range(rounds):
        if reach_mm < least_mm:
            break
        probe_step = np.maximum(min(0.5 * reach_mm, 1.0), 0.05) * scale
        around = np.vstack([here + np.diag(probe_step), here - np.diag(probe_step)])
        costs, _, _ = cost(ready, around, weights, joints, with_room=False)
        slope = (costs[:6] - costs[6:]) / (2.0 * probe_step)
        low = ground_rows(ready, here, 2.5 * reach_mm)
        # unknowns: six numbers in reaches, room won, room missing
        matrix = np.vstack(
            [
                np.hstack([-rows.slope * scale, np.ones((len(rows.room_mm), 1)), -np.ones((len(rows.room_mm), 1))]),
                np.hstack([-low.slope * scale, np.zeros((len(low.room_mm), 1)), -np.ones((len(low.room_mm), 1))]),
            ]
        )
        right = np.concatenate([rows.room_mm - spare_mm, low.room_mm])
        ends = np.column_stack(
            [np.maximum(-reach_mm, (-ready.limits - here) / scale), np.minimum(reach_mm, (ready.limits - here) / scale)]
        )
        ends = np.vstack([ends, [0.0, weights.room_cap_mm], [0.0, np.inf]])
        answer = linprog(
            np.concatenate([slope * scale, [-weights.room_per_mm, _BIG]]), A_ub=matrix, b_ub=right, bounds=ends
        )
        if not answer.success:
            reach_mm *= 0.5
            continue
        there = np.clip(composed(ready, here, answer.x[:6] * scale), -ready.limits, ready.limits)
        rows_there = looked(there)
        value_there = judged(there, rows_there)
        if value_there < value - 1e-9:
            full = float(np.max(np.abs(answer.x[:6]))) > 0.9 * reach_mm
            here, rows, value = there, rows_there, value_there
            reach_mm *= 1.4 if full else 0.7
        else:
            reach_mm *= 0.4
            rows = looked(here)
    return here
