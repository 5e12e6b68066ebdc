"""Packs, ratios, tyres and motors weighed against each other: every combination driven, and what none beats."""
