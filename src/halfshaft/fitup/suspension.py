"""What the suspension sweeps: arms at ride height and their travel in; the room they take, as solids, out."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from halfshaft.fitup.model import Array
from halfshaft.fitup.travel import Corner, DoubleWishbone, TrailingArm, knuckle_moves
from halfshaft.geometry.mesh import MeshSolid, rod_hull, union


def swept_arms(
    corner: Corner, arms: DoubleWishbone | TrailingArm, travel_mm: ArrayLike, thick_mm: float
) -> Mapping[str, MeshSolid]:
    """Each arm as round rods of `thick_mm` from its pivots to the knuckle, from full droop to full bump, by name.

    Between two heights of `travel_mm` the room is the convex hull of the rod at both, so give heights close together.
    Raises ValueError as `wheel_of_arms` does, and where `thick_mm` is not above 0.
    """
    if not thick_mm > 0.0:
        raise ValueError(f"{corner.side} wheel: write how thick its arms are, more than 0, not {thick_mm:g} mm")
    _, moves = knuckle_moves(corner, arms, travel_mm)
    out: dict[str, MeshSolid] = {}
    for name, rods in _rods(corner, arms).items():
        parts = []
        for inner, outer in rods:
            ends = np.array([turn @ outer + shift for turn, shift in moves])
            parts += [rod_hull([(inner, a), (inner, b)], thick_mm / 2.0) for a, b in pairwise(ends)]
        out[f"{corner.side} {name} through its travel"] = union(parts)
    return out


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
