"""Weights as plain values for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from halfshaft.weights.model import State, Weights
from halfshaft.plain import judged, numbers


def weights(one: Weights) -> dict[str, Any]:
    """Ledger, the car in its states, springs, brakes, park brake, moves and checks."""
    agreed, parked = one.agreed, one.parked
    return {
        "ledger": [
            {
                "table": line.table,
                "name": line.name,
                "mass_kg": line.mass_kg,
                "spread_kg": line.spread_kg,
                "at_mm": numbers(line.at_mm),
                "place": line.place,
                "sprung": line.sprung,
            }
            for line in one.ledger
        ],
        "states": [_state(state) for state in one.states],
        "scales_less_ledger": None
        if agreed is None
        else {
            "total_front_rear_kg": numbers(agreed.missing_kg),
            "spread_kg": numbers(agreed.missing_spread_kg),
            "chance": agreed.chance,
        },
        "springs": [{name: numbers(getattr(s, name)) for name in s.__slots__} for s in one.springs],
        "brakes": [
            {
                "state": b.state,
                "regeneration": b.regeneration,
                "dry": {"friction": b.dry.friction, "first": b.dry.first, "at_g": b.dry.at_g},
                "slippery": {"friction": b.slippery.friction, "first": b.slippery.first, "at_g": b.slippery.at_g},
                "balanced_g": list(b.balanced_g),
                "deceleration_g": numbers(b.z_g),
                "front_uses": numbers(b.front_used),
                "rear_uses": numbers(b.rear_used),
                "ideal_front_share": numbers(b.ideal_front),
            }
            for b in one.braking
        ],
        "park_brake": None if parked is None else {name: numbers(getattr(parked, name)) for name in parked.__slots__},
        "wanted_front": one.wanted_front,
        "moves": [
            {"to": dict(m.to), "front_share": m.front_share, "side_mm": m.side_mm, "words": m.words} for m in one.moves
        ],
        **judged(one),
    }


def _state(one: State) -> dict[str, Any]:
    return {
        "name": one.name,
        "mass_kg": one.mass_kg,
        "mass_spread_kg": one.mass_spread_kg,
        "centre_mm": numbers(one.centre_mm),
        "centre_covariance_mm2": numbers(one.centre_covariance_mm2),
        "height_mm": one.height_mm,
        "front_share": one.front_share,
        "front_share_spread": one.front_share_spread,
        "axles_kg": numbers(one.axles_kg),
        "axle_spread_kg": numbers(one.axle_spread_kg),
        "corners_kg": numbers(one.corners_kg),
        "corner_spread_kg": numbers(one.corner_spread_kg),
        "stability_factor": one.stability,
        "stability_factor_spread": one.stability_spread,
    }
