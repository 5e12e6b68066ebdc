"""What other stations take from the weights. A Weights in, the car as weighed out."""

from __future__ import annotations

from halfshaft.build.weighed import Standing, Weighed
from halfshaft.weights.model import State, Weights


def weighed_of(found: Weights | None) -> Weighed | None:
    """The finished car empty and laden; None where nothing could be weighed."""
    if found is None or found.stance is None or found.empty is None:
        return None
    laden = None if found.laden is None else _standing(found.laden)
    return Weighed(found.stance.wheelbase_mm, _standing(found.empty), laden)


def _standing(state: State) -> Standing:
    return Standing(state.mass_kg, state.mass_spread_kg, state.front_share, state.height_mm)
