"""Wheels through their travel: a measured table or arm points in; places of the outer joint and the hub's axis out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from halfshaft.fitup.model import SideName, Wheel
from halfshaft.geometry.pose import turn

Array = NDArray[np.float64]
Knuckle = tuple[Array, Array]  # rotation (3, 3) and shift (3,) from ride height to where it is now

_STEP_RAD = np.radians(0.25)
_FARTHEST_RAD = np.radians(80.0)
_LEAST_MM = 1.0


@dataclass(frozen=True, eq=False)
class Corner:
    """What the knuckle carries, at ride height: the wheel's middle, the outer joint's middle, the hub's axis (3,)."""

    side: SideName
    wheel_mm: Array
    joint_mm: Array
    axis: Array  # out of the car


@dataclass(frozen=True, eq=False)
class Arm:
    """A wishbone at ride height: two spots on its inner axis and its outer ball joint, each (3,)."""

    inner_a_mm: Array
    inner_b_mm: Array
    ball_mm: Array


@dataclass(frozen=True, eq=False)
class ToeLink:
    inner_mm: Array
    outer_mm: Array


@dataclass(frozen=True, eq=False)
class DoubleWishbone:
    """Without a toe link the wheel is taken to keep the toe it has at ride height."""

    lower: Arm
    upper: Arm
    toe: ToeLink | None = None


@dataclass(frozen=True, eq=False)
class TrailingArm:
    """Trailing or semi-trailing: the wheel turns about one axis through two spots (3,)."""

    pivot_a_mm: Array
    pivot_b_mm: Array


def wheel_of_table(side: SideName, travel_mm: ArrayLike, joint_mm: ArrayLike, axis: ArrayLike) -> Wheel:
    """A wheel measured at several heights: travel (n,), the outer joint's places (n, 3), the hub's axes (n, 3).

    Rows may come in any order; where none is at ride height, one is put between its neighbours.
    Raises ValueError where heights repeat, or ride height is not between the lowest and the highest.
    """
    travel, joint, ways = (np.asarray(x, dtype=float) for x in (travel_mm, joint_mm, axis))
    if travel.ndim != 1 or len(travel) < 2 or joint.shape != (len(travel), 3) or ways.shape != (len(travel), 3):
        raise ValueError(f"{side} wheel: its table wants two rows or more, each travel, joint x y z and axis x y z")
    if not all(np.all(np.isfinite(x)) for x in (travel, joint, ways)):
        raise ValueError(f"{side} wheel: its table holds something that is no number")
    order = np.argsort(travel)
    travel, joint, ways = travel[order], joint[order], ways[order]
    if np.any(np.diff(travel) < 1e-6):
        again = travel[int(np.argmin(np.diff(travel)))]
        raise ValueError(f"{side} wheel: its table holds travel {again:g} mm twice, keep one row")
    if travel[0] > 0.0 or travel[-1] < 0.0:
        raise ValueError(
            f"{side} wheel: its table runs from {travel[0]:g} to {travel[-1]:g} mm: measure it at ride height, 0, too"
        )
    sizes = np.linalg.norm(ways, axis=1)
    if np.any(sizes < 1e-9):
        raise ValueError(f"{side} wheel: the hub's axis at travel {travel[int(np.argmin(sizes))]:g} mm has no length")
    ways = ways / sizes[:, None]
    if not np.any(np.abs(travel) < 1e-9):
        at = int(np.searchsorted(travel, 0.0))
        share = -travel[at - 1] / (travel[at] - travel[at - 1])
        middle = (1.0 - share) * ways[at - 1] + share * ways[at]
        joint = np.insert(joint, at, (1.0 - share) * joint[at - 1] + share * joint[at], axis=0)
        ways = np.insert(ways, at, middle / np.linalg.norm(middle), axis=0)
        travel = np.insert(travel, at, 0.0)
    return Wheel(side, travel, joint, ways)


def heights_mm(droop_mm: float, bump_mm: float, count: int = 9) -> Array:
    """Travel from droop (below ride, written above 0) to bump, `count` steps or so, ride height among them.

    Raises ValueError where one is below 0 or both are 0.
    """
    if droop_mm < 0.0 or bump_mm < 0.0 or droop_mm + bump_mm <= 0.0:
        raise ValueError("write bump and droop as lengths from ride height, 0 or more, not both 0")
    down = max(1, round((count - 1) * droop_mm / (droop_mm + bump_mm))) if droop_mm else 0
    up = max(1, count - 1 - down) if bump_mm else 0
    return np.concatenate([np.linspace(-droop_mm, 0.0, down + 1)[:-1], np.linspace(0.0, bump_mm, up + 1)])


def wheel_of_arms(corner: Corner, arms: DoubleWishbone | TrailingArm, travel_mm: ArrayLike) -> Wheel:
    """A wheel on its arms at each height (n,) of the wheel's middle over ride height.

    Turning the arm is the one unknown at each height. What the knuckle then does is closed form: arm circle, upper ball
    by the meeting of a circle and a sphere (Freudenstein's equation where all lies in one plane), toe link's end by the
    meeting of three spheres.
    Raises ValueError, told for a builder, where arms are degenerate or do not reach a height.
    Source: derived here, docs/fitup.md, wheel travel.
    """
    axis = np.asarray(corner.axis, dtype=float)
    travel, moves = knuckle_moves(corner, arms, travel_mm)
    joint = np.array([r @ corner.joint_mm + s for r, s in moves])
    hub = np.array([r @ (axis / np.linalg.norm(axis)) for r, _ in moves])
    return Wheel(corner.side, travel, joint, hub)


def knuckle_moves(
    corner: Corner, arms: DoubleWishbone | TrailingArm, travel_mm: ArrayLike
) -> tuple[Array, list[Knuckle]]:
    """Travel (n,), sorted and with ride height in it, and the knuckle's move from ride height to each: turn, shift.

    Raises ValueError as `wheel_of_arms` does.
    """
    travel = np.unique(np.append(np.asarray(travel_mm, dtype=float), 0.0))
    if not np.all(np.isfinite(travel)):
        raise ValueError(f"{corner.side} wheel: its travel holds something that is no number")
    if np.linalg.norm(np.asarray(corner.axis, dtype=float)) < 1e-9:
        raise ValueError(f"{corner.side} wheel: the hub's axis has no length")
    knuckle = _on_one_axis(corner, arms) if isinstance(arms, TrailingArm) else _on_two_arms(corner, arms)
    angles = _turned(corner, knuckle, travel)
    places = [knuckle(float(angle)) for angle in angles]
    return travel, [place for place in places if place is not None]


def _turned(corner: Corner, knuckle: Callable[[float], Knuckle | None], travel: Array) -> Array:
    """Arm angles (n,) in radians at which the wheel's middle stands at each height, on the branch through ride."""

    def rise(angle: float) -> float | None:
        place = knuckle(angle)
        return None if place is None else float((place[0] @ corner.wheel_mm + place[1] - corner.wheel_mm)[2])

    small = 1e-4
    up, down = rise(small), rise(-small)
    if up is None or down is None or abs(up - down) < 1e-4 * small:
        raise ValueError(
            f"{corner.side} wheel: at ride height its arms neither lift nor lower it: check the arms' points"
        )
    sense = 1.0 if up > down else -1.0
    out = np.zeros(len(travel))
    for way in (1.0, -1.0):
        asked = [i for i in np.argsort(np.abs(travel)) if travel[i] * way > 0.0]
        at, here, farthest = 0.0, 0.0, 0.0
        for i in asked:
            goal = float(travel[i])
            while (goal - here) * way > 0.0:
                ahead = at + sense * way * _STEP_RAD
                there = rise(ahead) if abs(ahead) <= _FARTHEST_RAD else None
                if there is None or (there - here) * way <= 0.0:
                    raise ValueError(_unreached(corner.side, goal, farthest))
                if (goal - there) * way <= 0.0:
                    out[i] = _root(rise, goal, at, ahead)
                    break
                at, here, farthest = ahead, there, there
    return out


def _root(rise: Callable[[float], float | None], goal: float, low: float, high: float) -> float:
    def miss(angle: float) -> float:
        height = rise(angle)
        return np.inf if height is None else height - goal

    return float(brentq(miss, low, high, xtol=1e-13, rtol=1e-14))


def _unreached(side: str, goal: float, farthest: float) -> str:
    word = "bump" if goal > 0.0 else "droop"
    return (
        f"{side} wheel: its arms reach {abs(farthest):.0f} mm {word}, not {abs(goal):g} mm: write less {word}, "
        f"or check the arms' points"
    )


def _about(point: Array, axis: Array, angle: float) -> Knuckle:
    rotation = turn(axis * angle)
    return rotation, point - rotation @ point


def _axis(a_mm: Array, b_mm: Array, what: str) -> Array:
    run = np.asarray(b_mm, dtype=float) - np.asarray(a_mm, dtype=float)
    size = float(np.linalg.norm(run))
    if size < _LEAST_MM:
        raise ValueError(f"{what}: its two pivot points lie less than 1 mm apart")
    return np.asarray(run / size)


def _on_one_axis(corner: Corner, arm: TrailingArm) -> Callable[[float], Knuckle | None]:
    axis = _axis(arm.pivot_a_mm, arm.pivot_b_mm, f"{corner.side} trailing arm")
    return lambda angle: _about(np.asarray(arm.pivot_a_mm, dtype=float), axis, angle)


def _on_two_arms(corner: Corner, arms: DoubleWishbone) -> Callable[[float], Knuckle | None]:
    side = corner.side
    low_axis = _axis(arms.lower.inner_a_mm, arms.lower.inner_b_mm, f"{side} lower arm")
    up_axis = _axis(arms.upper.inner_a_mm, arms.upper.inner_b_mm, f"{side} upper arm")
    low_pivot, low_ball = np.asarray(arms.lower.inner_a_mm, dtype=float), np.asarray(arms.lower.ball_mm, dtype=float)
    up_pivot, up_ball = np.asarray(arms.upper.inner_a_mm, dtype=float), np.asarray(arms.upper.ball_mm, dtype=float)
    for word, axis, pivot, ball in (("lower", low_axis, low_pivot, low_ball), ("upper", up_axis, up_pivot, up_ball)):
        if np.linalg.norm(np.cross(axis, ball - pivot)) < _LEAST_MM:
            raise ValueError(f"{side} {word} arm: its ball joint lies on its inner axis")
    if np.linalg.norm(up_ball - low_ball) < _LEAST_MM:
        raise ValueError(f"{side} wheel: upper and lower ball joint lie less than 1 mm apart")
    upper = _circle_meets_sphere(up_pivot, up_axis, up_ball, low_ball)
    link = None if arms.toe is None else _Link(side, arms.toe, low_ball, up_ball)

    def knuckle(angle: float) -> Knuckle | None:
        rotation, shift = _about(low_pivot, low_axis, angle)
        low = rotation @ low_ball + shift
        up = upper(low)
        if up is None:
            return None
        if link is not None:
            end = link(low, up)
            return None if end is None else _move((low_ball, up_ball, link.at), (low, up, end))
        return _keeping_toe(low_ball, up_ball, low, up, np.asarray(corner.axis, dtype=float))

    return knuckle


def _circle_meets_sphere(pivot: Array, axis: Array, ball: Array, about: Array) -> Callable[[Array], Array | None]:
    """The upper ball for a place of the lower one: on its arm's circle, the knuckle's length away, on ride's side.

    With e, f across and square to the arm at ride: A cos b + B sin b = C, Freudenstein's form.
    """
    foot = pivot + ((ball - pivot) @ axis) * axis
    e = ball - foot
    f = np.cross(axis, e)
    reach, knuckle = float(e @ e), float((ball - about) @ (ball - about))

    def angles(low: Array) -> tuple[float, float] | None:
        to = foot - low
        a, b = 2.0 * float(e @ to), 2.0 * float(f @ to)
        c = knuckle - reach - float(to @ to)
        size = float(np.hypot(a, b))
        if size < 1e-12 or abs(c) > size:
            return None
        middle, half = float(np.arctan2(b, a)), float(np.arccos(c / size))
        return middle + half, middle - half

    ride = angles(about)
    if ride is None:
        # a knuckle at its dead point at ride rounds to just out of reach
        raise ValueError("upper and lower arm stand at their dead point at ride height: check the arms' points")
    wrapped = [abs((x + np.pi) % (2.0 * np.pi) - np.pi) for x in ride]
    branch = int(np.argmin(wrapped))
    if abs(wrapped[0] - wrapped[1]) < 1e-6:
        raise ValueError("upper and lower arm stand at their dead point at ride height: check the arms' points")

    def place(low: Array) -> Array | None:
        both = angles(low)
        return None if both is None else np.asarray(foot + np.cos(both[branch]) * e + np.sin(both[branch]) * f)

    return place


class _Link:
    """Where a toe link's outer end goes: the meeting of three spheres, on ride's side of the three middles."""

    def __init__(self, side: str, toe: ToeLink, low: Array, up: Array) -> None:
        self.inner, self.at = np.asarray(toe.inner_mm, dtype=float), np.asarray(toe.outer_mm, dtype=float)
        middles = (low, up, self.inner)
        self.squares = [float((self.at - m) @ (self.at - m)) for m in middles]
        if np.linalg.norm(np.cross(up - low, self.at - low)) < _LEAST_MM * np.linalg.norm(up - low):
            raise ValueError(f"{side} toe link: its outer end lies on the line of the ball joints and cannot steer")
        height = float(np.cross(up - low, self.inner - low) @ (self.at - low))
        self.sense = 1.0 if height >= 0.0 else -1.0
        if abs(height) < 1e-6 * np.linalg.norm(np.cross(up - low, self.inner - low)):
            raise ValueError(f"{side} toe link: it stands at its dead point at ride height: check its points")

    def __call__(self, low: Array, up: Array) -> Array | None:
        x = (up - low) / np.linalg.norm(up - low)
        i = float(x @ (self.inner - low))
        y = self.inner - low - i * x
        j = float(np.linalg.norm(y))
        if j < 1e-9:
            return None
        y = y / j
        d = float(np.linalg.norm(up - low))
        a, b, c = self.squares
        along = (a - b + d * d) / (2.0 * d)
        across = (a - c + i * i + j * j) / (2.0 * j) - i / j * along
        left = a - along**2 - across**2
        return None if left < 0.0 else low + along * x + across * y + self.sense * np.sqrt(left) * np.cross(x, y)


def _triad(a: Array, b: Array, c: Array) -> Array:
    x = (b - a) / np.linalg.norm(b - a)
    z = np.cross(x, c - a)
    z = z / np.linalg.norm(z)
    return np.column_stack([x, np.cross(z, x), z])


def _move(ride: tuple[Array, Array, Array], now: tuple[Array, Array, Array]) -> Knuckle:
    rotation = _triad(*now) @ _triad(*ride).T
    return rotation, now[0] - rotation @ ride[0]


def _keeping_toe(low_ride: Array, up_ride: Array, low: Array, up: Array, hub: Array) -> Knuckle:
    """The knuckle's line carried by the least turn, then turned about itself until the hub heads as at ride."""
    before, after = up_ride - low_ride, up - low
    before, after = before / np.linalg.norm(before), after / np.linalg.norm(after)
    half = before + after
    half = half / np.linalg.norm(half)
    least = (np.eye(3) - 2.0 * np.outer(half, half)) @ (np.eye(3) - 2.0 * np.outer(before, before))
    carried = least @ hub
    # heading kept: the level part of the turned hub stays square to this direction
    square = np.array([-hub[1], hub[0], 0.0])
    along = float(after @ carried) * after
    a = float(square @ (carried - along))
    b = float(square @ np.cross(after, carried))
    c = -float(square @ along)
    size = float(np.hypot(a, b))
    angle = 0.0
    if size > 1e-12 and abs(c) <= size:
        middle, swing = float(np.arctan2(b, a)), float(np.arccos(c / size))
        both = [(middle + s * swing + np.pi) % (2.0 * np.pi) - np.pi for s in (1.0, -1.0)]
        angle = min(both, key=abs)
    rotation = turn(after * angle) @ least
    return rotation, low - rotation @ low_ride
