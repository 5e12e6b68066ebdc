"""The folded part with its weld metal, as it carries load: a bracket and a throat in, an exact solid out.

A seam is filled from the outside of the fold as deep along both end faces as the throat says, no deeper: what the
torch does not reach stays a slit.
"""

from __future__ import annotations

from dataclasses import replace

from halfshaft.fold.model import Bracket
from halfshaft.fold.slab import parts_of
from halfshaft.fold.solid import bend_solids, panel_solid, seam_profile
from halfshaft.geometry import solids

_OPEN_MM = 0.1  # a slit that is not filled is drawn this much wider: its closed inside edges must not be one


def welded_solid(bracket: Bracket, throat_mm: float | None = None, first: str = "") -> solids.Solid:
    """Solid in root axes of the part that holds panel `first`, its slits welded along their whole length.

    `throat_mm` is the depth of weld metal from the outside; None, or the sheet's thickness and more, fills the seam.
    Raises ValueError for a throat that is not above 0, and where no solid can be made.
    """
    if throat_mm is not None and throat_mm <= 0.0:
        raise ValueError(f"a weld of {throat_mm:g} mm joins nothing: write a throat above 0")
    group = next(
        (names for names in parts_of(tuple(bracket.panels), bracket.folds) if not first or first in names), None
    )
    if group is None:
        raise ValueError(f"bracket '{bracket.name}' has no panel '{first}'")
    open_fold = throat_mm is not None and throat_mm < bracket.thickness_mm - 1e-6
    own = [
        replace(f, slit_width_mm=f.slit_width_mm + _OPEN_MM) if open_fold and f.kind == "slit" else f
        for f in bracket.folds
        if f.a in group and f.b in group
    ]
    shapes = [panel_solid(bracket.panels[name], [f for f in own if name in (f.a, f.b)]) for name in group]
    plates = [g.panel for g in bracket.gussets if g.a in group and g.b in group]
    shapes += [panel_solid(bracket.panels[name], ()) for name in plates]
    for fold in own:
        if fold.kind == "slit":
            corners, way = seam_profile(fold, bracket.panels[fold.a], bracket.panels[fold.b], 0.0, throat_mm)
            shapes.append(solids.prism(corners, way * fold.length_mm))
        shapes += bend_solids(fold, bracket.panels) if fold.kind == "brake" or open_fold else []
    return solids.joined(shapes)
