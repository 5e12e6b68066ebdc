"""Folded brackets on measured faces: panels, folds, flat patterns, solids and the chance of fit."""

from halfshaft.fold.model import Bracket, FitChance, FlatPart, Fold, Hole, Panel
from halfshaft.fold.station import fold, in_units, judged, shaped

__all__ = ["Bracket", "FitChance", "FlatPart", "Fold", "Hole", "Panel", "fold", "in_units", "judged", "shaped"]
