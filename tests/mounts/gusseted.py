"""The plain angle of `brackets.py` with plates welded into its corner."""

from __future__ import annotations

from dataclasses import replace

from halfshaft.build.schema import BracketInput, Sheet
from halfshaft.fold.gusset import add_gussets
from halfshaft.fold.model import Bracket
from tests.mounts.brackets import angle


def gusseted(thickness: float = 6.0, fold_deg: float = 90.0, wide: float = 100.0, **told: object) -> Bracket:
    """Holes stand 30 mm from the fold, near the ends; a plate in the middle unless told otherwise."""
    bare = angle(thickness, wide, fold_deg)
    wish = {"between": ["web", "ear"], "reach": 48, **told}
    return welded_in(bare, wish)


def welded_in(bare: Bracket, *wishes: dict[str, object]) -> Bracket:
    thickness = bare.thickness_mm
    build = BracketInput.model_validate({"sheet": "plate", "panel": {"web": {}, "ear": {}}, "gusset": wishes})
    made = add_gussets(bare.panels, bare.folds, build, {"plate": Sheet(thickness=thickness)}, "piece")
    return replace(bare, panels=made.panels, gussets=made.gussets)
