"""A bracket as it comes off the table and out of the hands, held to the frame as it truly is: does it bolt up?

Independent of the program's own geometry of folds and of its chance of fit: the cut file's holes and fold lines are
moved by the shop's errors, folded up plate by plate, and the part is placed by scipy so that the worst bolt or gap is
as good as it can be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation
from shop_frames import Truth

from halfshaft.build import catalogue
from halfshaft.build.schema import Build
from halfshaft.fold.model import Bracket

Array = NDArray[np.float64]

_ROUND = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False)


@dataclass(frozen=True, eq=False)
class Made:
    """Holes of a folded part in the part's own axes, and rings of spots where its panels press on faces."""

    points: tuple[str, ...]
    centres: Array  # (h, 3)
    along: Array  # (h, 3) slot direction
    across: Array  # (h, 3)
    clear_mm: Array  # (h,)
    half_slot_mm: Array  # (h,)
    seats: Array  # (g, 3)
    seat_faces: tuple[str, ...]  # (g,)


def made(build: Build, bracket: Bracket, rng: np.random.Generator, errors: float = 1.0) -> Made:
    """The bracket cut and folded with the shop's errors, `errors` times as large as the shop says."""
    part = bracket.parts[0]
    thickness = part.thickness_mm
    cut, fold_deg = errors * build.shop.cut_spread_mm, errors * build.shop.fold_spread_deg
    known = build.sheet[bracket.sheet].pivot_depth_mm is not None
    share = catalogue.default("fit.pivot_spread_coupon" if known else "fit.pivot_spread").value
    place: dict[str, tuple[Array, Array]] = {}
    carried = {fold.b for fold in bracket.folds}
    for name in bracket.panels:
        if name not in carried:
            place[name] = (np.eye(3), np.zeros(3))
    waiting = list(bracket.folds)
    while waiting:
        fold = next(f for f in waiting if f.a in place)
        waiting.remove(fold)
        line = np.asarray(part.fold_lines_mm[fold.name], dtype=float)
        middle = _flat_middle(bracket, part.placed[fold.b], fold.b)
        way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        out = middle - line[0] - ((middle - line[0]) @ way) * way
        out = out / np.linalg.norm(out)
        line = line + np.outer(rng.normal(size=2) * cut, out)
        depth = fold.pivot_depth_mm + errors * rng.normal() * share * thickness
        height = thickness - depth if fold.up else depth
        start, end = (np.append(p, height) for p in line)
        along = (end - start) / np.linalg.norm(end - start)
        up = np.array([0.0, 0.0, 1.0 if fold.up else -1.0])
        # turning about out x up brings the panel toward `up`
        sense = 1.0 if float(np.cross(np.append(out, 0.0), up) @ along) > 0.0 else -1.0
        angle = np.radians(fold.angle_deg + rng.normal() * fold_deg)
        rotation = Rotation.from_rotvec(sense * angle * along).as_matrix()
        shift = start - rotation @ start
        above_rotation, above_shift = place[fold.a]
        place[fold.b] = (above_rotation @ rotation, above_rotation @ shift + above_shift)
    names, centres, along_all, across_all, clear, half, seats, seat_faces = [], [], [], [], [], [], [], []
    for panel in bracket.panels.values():
        if panel.name not in part.placed:
            continue  # a gusset, or a plate that comes off
        turn2, shift2 = part.placed[panel.name]
        rotation, shift = place[panel.name]
        side = thickness if panel.contact == "upper" else 0.0
        for hole in panel.holes:
            if not hole.point or hole.use == "join":
                continue
            flat = turn2 @ hole.centre_mm + shift2 + rng.normal(size=2) * cut
            slot = turn2 @ (np.asarray(hole.slot_way) / np.linalg.norm(hole.slot_way))
            spot = np.append(flat, side)
            names.append(hole.point)
            centres.append(rotation @ spot + shift)
            along_all.append(rotation @ np.append(slot, 0.0))
            across_all.append(rotation @ np.array([-slot[1], slot[0], 0.0]))
            clear.append((hole.diameter_mm - hole.bolt_mm) / 2.0 + max(hole.frame_hole_mm - hole.bolt_mm, 0.0) / 2.0)
            half.append(hole.slot_mm / 2.0)
            if panel.face and panel.contact != "none":
                radius = max(hole.washer_mm, hole.diameter_mm) / 2.0
                ring = spot + radius * np.column_stack([np.cos(_ROUND), np.sin(_ROUND), np.zeros(8)])
                seats.extend(ring @ rotation.T + shift)
                seat_faces.extend([panel.face] * 8)
    return Made(
        tuple(names), np.array(centres), np.array(along_all), np.array(across_all), np.array(clear), np.array(half),
        np.array(seats).reshape(-1, 3), tuple(seat_faces),
    )  # fmt: skip


def _flat_middle(bracket: Bracket, placed: tuple[Array, Array], panel: str) -> Array:
    rotation, shift = placed
    return np.asarray(rotation @ bracket.panels[panel].outline.points_mm.mean(axis=0) + shift)


def best_excess_mm(build: Build, part: Made, truth: Truth) -> float:
    """By how much the worst bolt or gap is out where the part is placed best; nought or less when it bolts up."""
    holes = np.array([truth.in_car_mm(n) for n in part.points])
    planes = [truth.face_in_car(f) for f in part.seat_faces]
    normals = np.array([n for n, _ in planes]).reshape(-1, 3)
    distances = np.array([d for _, d in planes])
    pull = build.shop.pull_up_mm
    middle_part, middle_true = part.centres.mean(axis=0), holes.mean(axis=0)
    first, _ = Rotation.align_vectors(holes - middle_true, part.centres - middle_part)
    count = len(holes)
    size = float(np.sqrt(np.mean(np.sum((part.centres - middle_part) ** 2, axis=1))))

    def moved(x: Array) -> tuple[Array, Array, Array, Array]:
        rotation = (Rotation.from_rotvec(x[:3] / size) * first).as_matrix()
        shift = middle_true + x[3:6] - rotation @ middle_part
        return (
            part.centres @ rotation.T + shift, part.along @ rotation.T, part.across @ rotation.T,
            part.seats @ rotation.T + shift,
        )  # fmt: skip

    def room(x: Array) -> Array:
        """All must be nought or more: x is six of place, the slots' own h, and the excess."""
        centres, along, across, seats = moved(x)
        off = holes - centres
        slot, excess = x[6 : 6 + count], x[-1]
        u = np.sum(off * along, axis=1) - slot
        v = np.sum(off * across, axis=1)
        gap = np.sum(seats * normals, axis=1) - distances
        reach = part.clear_mm + excess
        return np.concatenate(
            [reach - np.sqrt(u**2 + v**2 + 1e-12), gap + excess, pull - gap + excess, part.half_slot_mm - np.abs(slot)]
        )

    def out_by(x: Array) -> float:
        """Told by the place found, not by the solver's own word."""
        y = x.copy()
        y[6 : 6 + count] = np.clip(y[6 : 6 + count], -part.half_slot_mm, part.half_slot_mm)
        y[-1] = 0.0
        return -float(room(y)[: count + 2 * len(part.seats)].min())

    start = np.zeros(7 + count)
    best = out_by(start)
    nudges = np.random.default_rng(0)
    for attempt in range(4):
        at = start.copy()
        at[:6] = nudges.normal(size=6) * (0.0 if attempt == 0 else 0.3)
        at[-1] = max(0.0, out_by(at)) + 0.1
        found = minimize(
            lambda x: x[-1], at, jac=lambda x: np.eye(len(x))[-1], method="SLSQP",
            constraints=[{"type": "ineq", "fun": room}], options={"maxiter": 200, "ftol": 1e-7},
        )  # fmt: skip
        if np.all(np.isfinite(found.x)):
            best = min(best, out_by(found.x))
        if best <= 0.0 or (found.success and attempt >= 1):
            break
    return best
