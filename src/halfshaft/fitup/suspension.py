"""What the suspension sweeps: arms and tyres and their travel in; the room they take, as solids, out."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from halfshaft.fitup.model import Array, Wheel
from halfshaft.fitup.travel import Corner, DoubleWishbone, TrailingArm, knuckle_moves
from halfshaft.geometry.mesh import MeshSolid, hull, rod_hull, union
from halfshaft.geometry.pose import turn

_TYRE_SIDES = 48
_STEER_STEP_DEG = 6.0
_UP = np.array([0.0, 0.0, 1.0])


def arm_rods(corner: Corner, arms: DoubleWishbone | TrailingArm, travel_mm: ArrayLike) -> Mapping[str, Array]:
    """Each arm by name as straight rods: ends (n, k, 2, 3) at each height, on the car's side first.

    Raises ValueError as `wheel_of_arms` does.
    """
    _, moves = knuckle_moves(corner, arms, travel_mm)
    return {
        name: np.array([[(inner, turned @ outer + shift) for inner, outer in rods] for turned, shift in moves])
        for name, rods in _rods(corner, arms).items()
    }


def swept_arms(
    corner: Corner, arms: DoubleWishbone | TrailingArm, travel_mm: ArrayLike, thick_mm: float
) -> Mapping[str, MeshSolid]:
    """Each arm as round rods of `thick_mm` from its pivots to the knuckle, from full droop to full bump, by name.

    Between two heights of `travel_mm` the room is the convex hull of the rod at both, so give heights close together.
    Raises ValueError as `wheel_of_arms` does, and where `thick_mm` is not above 0.
    """
    if not thick_mm > 0.0:
        raise ValueError(f"{corner.side} wheel: write how thick its arms are, more than 0, not {thick_mm:g} mm")
    out: dict[str, MeshSolid] = {}
    for name, rods in arm_rods(corner, arms, travel_mm).items():
        ways = np.moveaxis(rods, 1, 0)  # each rod through the travel
        parts = [rod_hull([tuple(a), tuple(b)], thick_mm / 2.0) for rod in ways for a, b in pairwise(rod)]
        out[f"{corner.side} {name} through its travel"] = union(parts)
    return out


def swept_tyre(
    wheel: Wheel, middle_off_mm: float, diameter_mm: float, width_mm: float, steer_deg: float = 0.0
) -> MeshSolid:
    """The room of a tyre from full droop to full bump, steered so far to each side: a cylinder about the hub's axis.

    Its middle stands `middle_off_mm` out from the outer joint along the hub. It steers about the upright through the
    joint. Between two heights, and two steps of steering, the room is the convex hull of all, never too small.
    """
    axis = wheel.axis / np.linalg.norm(wheel.axis, axis=1, keepdims=True)
    steps = max(int(np.ceil(2.0 * steer_deg / _STEER_STEP_DEG)), 1) if steer_deg > 0.0 else 0
    turns = [turn(_UP * np.radians(angle)) for angle in np.linspace(-steer_deg, steer_deg, steps + 1)]
    if len(turns) == 1:
        turns = [np.eye(3)]
    # a chord between two steps falls short of the arc by this share of the reach
    short = 1.0 / np.cos(np.radians(steer_deg) / max(steps, 1))
    rings = [
        [joint + (_ring(out, diameter_mm, width_mm) + middle_off_mm * out) @ turned.T * short for turned in turns]
        for joint, out in zip(wheel.centre_mm, axis, strict=True)
    ]
    parts = []
    for low, high in pairwise(rings) if len(rings) > 1 else [(rings[0], rings[0])]:
        spans = list(zip(pairwise(low), pairwise(high), strict=True)) if steps else [((low[0],), (high[0],))]
        parts += [hull(np.vstack([*below, *above])) for below, above in spans]
    return union(parts)


def _ring(axis: Array, diameter_mm: float, width_mm: float) -> Array:
    """Corners (n, 3) of a cylinder's two ends about an axis, its middle at nought; sides stand about the circle."""
    across = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    across /= np.linalg.norm(across)
    angle = np.arange(_TYRE_SIDES) * 2.0 * np.pi / _TYRE_SIDES
    radius = diameter_mm / 2.0 / np.cos(np.pi / _TYRE_SIDES)
    round_ = radius * (np.cos(angle)[:, None] * across + np.sin(angle)[:, None] * np.cross(axis, across))
    return np.vstack([round_ - width_mm / 2.0 * axis, round_ + width_mm / 2.0 * axis])


def _rods(corner: Corner, arms: DoubleWishbone | TrailingArm) -> dict[str, list[tuple[Array, Array]]]:
    """Fixed inner ends, and outer ends at ride height that the knuckle carries."""
    if isinstance(arms, TrailingArm):
        return {"trailing arm": [(arms.pivot_a_mm, corner.wheel_mm), (arms.pivot_b_mm, corner.wheel_mm)]}
    out = {
        f"{word} arm": [(arm.inner_a_mm, arm.ball_mm), (arm.inner_b_mm, arm.ball_mm)]
        for word, arm in (("lower", arms.lower), ("upper", arms.upper))
    }
    if arms.toe is not None:
        out["toe link"] = [(arms.toe.inner_mm, arms.toe.outer_mm)]
    return out
