"""What the builder sees by eye, as signs of coordinates: a build in, one half-space a hint and its cost out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build, PointHint, Side
from halfshaft.measure.system import Equation, Network
from halfshaft.measure.together import turns_of

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

_MARGIN_MM = 10.0
_AXIS_OF = {"station": 0, "offset": 1, "height": 2}


@dataclass(frozen=True, eq=False)
class Hints:
    """sign * (x[point, axis] - start) should not be negative; `soft` (h,) below 1 where the start is a guess.

    Where no reading says where an axis begins and all its hints say the same, a shift of the body would please them
    all: such a hint, marked in `of_middle`, is said of the middle of the body's points, `mates`. So is one of height
    where few heights are read, all on one side of the level plane: their own middle is not the body's.
    """

    point: Ints
    axis: Ints
    sign: Array
    start: Array
    soft: Array
    of_middle: NDArray[np.bool_]
    mates: Ints

    def starts(self, points_mm: Array) -> Array:
        """Where each hint (h,) begins with the points (P, 3) as they are."""
        if not self.of_middle.any():
            return self.start
        middle = points_mm[self.mates].mean(axis=0)
        return np.where(self.of_middle, middle[self.axis], self.start)

    def broken_by(self, points_mm: Array) -> Array:
        """Cost (h,) of each hint: nought where it holds, rising to `soft` 30 mm beyond."""
        short = -self.sign * (points_mm[self.point, self.axis] - self.starts(points_mm))
        return np.asarray(self.soft * np.clip((short - 5.0) / 30.0, 0.0, 1.0))

    def of(self, points_mm: Array) -> float:
        return float(self.broken_by(points_mm).sum())


def anchors(network: Network, equations: list[Equation], body: int) -> dict[int, list[float]]:
    """Values said along each axis of a body, by axis; an axis that is missing has no origin of its own."""
    out: dict[int, list[float]] = {}
    for eq in equations:
        if eq.frame != body:
            continue
        if eq.kind in _AXIS_OF:
            out.setdefault(_AXIS_OF[eq.kind], []).append(eq.value)
        elif eq.kind == "given":
            out.setdefault(eq.part, []).append(eq.value)
        elif eq.kind == "mirror" and eq.part == 1:
            out.setdefault(1, []).append(0.0)
    return out


def hints_of(network: Network, build: Build, body: int, anchored: dict[int, list[float]]) -> Hints:
    """Hints of one body's points, in its own axes."""
    told = build.body.get(network.body_names[body])
    rows: list[tuple[int, int, float, float, float]] = []
    if told is not None:
        index = {n: i for i, n in enumerate(network.point_names)}
        starts, soft = _starts(told.point, anchored)
        for name, hint in told.point.items():
            at = index.get(name if "." in name else f"{network.body_names[body]}.{name}")
            if at is None:
                continue
            for axis, sign in _signs(hint, told.point):
                rows.append((at, axis, sign, starts[axis], soft[axis]))
    table = np.array(rows, dtype=float).reshape(-1, 5)
    axes, signs = table[:, 1].astype(np.intp), table[:, 2]
    alike = [a for a in range(3) if a not in anchored and len(set(signs[axes == a])) == 1]
    mates = np.flatnonzero(network.point_body == body)
    heights = anchored.get(2, [])
    if _one_sided(heights) and 2 * len(heights) < len(mates):
        alike.append(2)
    return Hints(
        table[:, 0].astype(np.intp),
        axes,
        signs,
        table[:, 3],
        table[:, 4],
        np.isin(axes, alike),
        mates,
    )


def _one_sided(heights: list[float]) -> bool:
    return bool(heights) and (min(heights) >= 0.0 or max(heights) <= 0.0)


def moved_by_hints(hints: Hints, anchored: Collection[int], index: Ints, places_mm: Array) -> Array:
    """Layouts (k, n, 3) of the points `index` (n,), each moved as a whole until it breaks its hints least.

    Only moves that the readings cannot notice: shifts along axes without an anchor, and the turn about an axis when
    neither of the other two has one.
    """
    order = {int(p): i for i, p in enumerate(index)}
    rows = np.array([h for h, p in enumerate(hints.point) if int(p) in order], dtype=np.intp)
    shifts = [a for a in range(3) if a not in anchored]
    spins = [a for a in range(3) if all(b not in anchored for b in range(3) if b != a)]
    if len(rows) == 0 or not shifts:
        return places_mm
    at = np.array([order[int(p)] for p in hints.point[rows]])
    axis, sign, soft = hints.axis[rows], hints.sign[rows], hints.soft[rows]
    of_middle = hints.of_middle[rows]
    out = np.array(places_mm)
    arm = float(np.sqrt(np.mean(np.sum((out - out.mean(axis=1, keepdims=True)) ** 2, axis=2)))) + 1.0
    eye = np.eye(3)
    for _ in range(20):
        middle = out.mean(axis=1, keepdims=True)
        start = np.where(of_middle, middle[:, 0][:, axis], hints.start[rows])
        short = np.minimum(sign * (out[:, at, axis] - start) - _MARGIN_MM, 0.0)
        weight = np.where(short < 0.0, soft, 0.0) / (1.0 + (short / 60.0) ** 2)
        ways = [np.broadcast_to(np.where(of_middle, 0.0, sign * eye[a, axis]), short.shape) for a in shifts]
        away = (out - middle)[:, at] / arm
        ways += [sign * np.cross(eye[a], away)[:, np.arange(len(at)), axis] for a in spins]
        slopes = np.stack(ways, axis=2)
        matrix = np.einsum("kh,khi,khj->kij", weight, slopes, slopes) + 1e-3 * np.eye(len(ways))
        step = np.linalg.solve(matrix, -np.einsum("kh,kh,khi->ki", weight, short, slopes)[..., None])[..., 0]
        step *= np.minimum(1.0, 0.3 * arm / np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-9))
        shift, spin = np.zeros((len(out), 3)), np.zeros((len(out), 3))
        shift[:, shifts], spin[:, spins] = step[:, : len(shifts)], step[:, len(shifts) :] / arm
        out = np.einsum("kij,knj->kni", turns_of(spin), out - middle) + middle + shift[:, None]
    return out


def _signs(hint: PointHint, all_hints: dict[str, PointHint]) -> list[tuple[int, float]]:
    out = []
    side = hint.side
    if side == Side.ANY and hint.twin is not None:
        other = all_hints.get(hint.twin.partition(".")[2] or hint.twin)
        if other is not None and other.side in (Side.LEFT, Side.RIGHT):
            side = Side.RIGHT if other.side == Side.LEFT else Side.LEFT
    if side in (Side.LEFT, Side.RIGHT):
        out.append((1, 1.0 if side == Side.LEFT else -1.0))
    if hint.height != "any":
        out.append((2, 1.0 if hint.height == "up" else -1.0))
    if hint.end != "any":
        out.append((0, 1.0 if hint.end == "front" else -1.0))
    return out


def _starts(told: dict[str, PointHint], anchored: dict[int, list[float]]) -> tuple[list[float], list[float]]:
    """Where 'over' and 'in front' begin: the origin where the readings know it, the middle otherwise.

    Up and down are said of the level plane or of the middle of the body: where all heights lie on one side of the
    plane, the middle is meant, and held to more gently.
    """
    starts, soft = [0.0, 0.0, 0.0], [0.6, 1.0, 0.6]
    heights = anchored.get(2, [])
    if _one_sided(heights):
        starts[2], soft[2] = float(np.median(heights)), 0.3
    return starts, soft
