"""What is left of a cut sheet and worth keeping. Sheet and laid parts in, new offcuts out.

The cut takes a kerf round each part; what is narrower than a strip worth having goes with the scrap. The pieces kept
lie wholly in the metal that is left, so that areas add up: parts, offcuts kept, scrap.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from halfshaft.build.catalogue import default
from halfshaft.cut.nest.clear import lies
from halfshaft.cut.nest.model import Blank, Leftover
from halfshaft.cut.part import Laid

_SIMPLE_MM = 0.5
_LONGEST = 40  # of a name in a build


def leftovers(blank: Blank, laid: Sequence[Laid], kerf_mm: float, others: Collection[str] = ()) -> tuple[Leftover, ...]:
    """Pieces worth keeping, the largest first, in the sheet's axes; named as none of the `others` is."""
    if not laid:
        return ()
    width = float(default("sheets.keep_width").value)
    least = float(default("sheets.keep_area").value) * 1e6
    gone = [lies(one, 0.05).buffer(kerf_mm + _SIMPLE_MM, quad_segs=4) for one in laid]
    left = blank.metal.difference(shapely.union_all([_filled(shape, least) for shape in gone]))
    # arms narrower than the least width go: shrunk until they vanish, then grown back inside what is left
    core = left.buffer(-width / 2.0, join_style="mitre", mitre_limit=2.0)
    back = core.buffer(width / 2.0, join_style="mitre", mitre_limit=2.0).intersection(left)
    pieces = [p for p in getattr(back, "geoms", [back]) if isinstance(p, Polygon) and p.area >= least]
    out: list[Leftover] = []
    for piece in sorted(pieces, key=lambda p: -p.area):
        simple = _inside(piece)
        if simple.area < least:
            continue
        rings = [np.asarray(r.coords)[:-1] for r in (simple.exterior, *simple.interiors)]
        name = _name(blank, {*others, *(left.name for left in out)})
        out.append(Leftover(name, rings[0], tuple(rings[1:])))
    return tuple(out)


def _filled(shape: Polygon, least: float) -> Polygon:
    """A part as it is lifted out: what falls out of small openings is scrap, too small to keep."""
    return Polygon(shape.exterior, [ring for ring in shape.interiors if Polygon(ring).area >= least])


def _inside(piece: Polygon) -> Polygon:
    """The piece with few corners, wholly inside itself."""
    simple = piece.simplify(_SIMPLE_MM)
    kept = simple.intersection(piece)
    parts = [p for p in getattr(kept, "geoms", [kept]) if isinstance(p, Polygon)]
    best = max(parts, key=lambda p: p.area)
    if len(best.exterior.coords) > len(piece.exterior.coords):
        best = piece
    return orient(best)


def _name(blank: Blank, taken: Collection[str]) -> str:
    base = blank.table.partition(".")[2]
    stem = f"{base}_left" if blank.is_offcut else f"{base}_{blank.number}_left"
    name, number = stem[:_LONGEST], 1
    while name in taken:
        number += 1
        name = f"{stem[: _LONGEST - 3]}{number}"
    return name
