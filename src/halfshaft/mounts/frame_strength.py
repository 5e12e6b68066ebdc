"""What a section of a frame member bears: a figure of metal in; moduli for bending, shear and twist out.

Moments by the figure's own edges, exact; twist by finite elements, with the stress of a closed cell by Bredt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from halfshaft.fitup.sections import numbers_of

Array = NDArray[np.float64]
Figure: TypeAlias = Polygon | MultiPolygon

_LEVELS = 161
_DUST_MM2 = 0.01


@dataclass(frozen=True, slots=True)
class SectionStrength:
    """Of one figure in a member's u, v: stress is moment over modulus, shear over area.

    `wu_mm3` for bending up and down, `wv_mm3` sideways (elastic, at the fibre farthest off); `shear_v_mm2` and
    `shear_u_mm2` are areas over which a shear gives its greatest stress; `j_mm4` stiffness and `wt_mm3` strength in
    twist; `closed` whether a cell carries it.
    """

    area_mm2: float
    iu_mm4: float
    iv_mm4: float
    wu_mm3: float
    wv_mm3: float
    shear_u_mm2: float
    shear_v_mm2: float
    j_mm4: float
    wt_mm3: float
    closed: bool


@dataclass(frozen=True, slots=True)
class Kept:
    """What one section bears as a share of another: 1 is all of it."""

    bending_up: float
    bending_sideways: float
    shear_up: float
    shear_sideways: float
    twist_stiffness: float
    twist_strength: float

    @property
    def bending(self) -> float:
        return min(self.bending_up, self.bending_sideways)

    @property
    def shear(self) -> float:
        return min(self.shear_up, self.shear_sideways)

    @property
    def twist(self) -> float:
        return min(self.twist_stiffness, self.twist_strength)


def moments_of(figure: Figure) -> tuple[float, tuple[float, float], float, float, float]:
    """Area, centroid (u, v), iu, iv and iuv of a figure about its centroid, mm.

    Raises ValueError where there is no metal. Source: Green's theorem on the figure's edges.
    """
    area = first_u = first_v = uu = vv = uv = 0.0
    for part in _parts(figure):
        for number, ring in enumerate((part.exterior, *part.interiors)):
            points = np.asarray(ring.coords)[:-1, :2]
            if ring.is_ccw == (number > 0):
                points = points[::-1]
            x, y = points.T
            x2, y2 = np.roll(x, -1), np.roll(y, -1)
            cross = x * y2 - x2 * y
            area += float(cross.sum()) / 2.0
            first_u += float(((x + x2) * cross).sum()) / 6.0
            first_v += float(((y + y2) * cross).sum()) / 6.0
            uu += float(((x * x + x * x2 + x2 * x2) * cross).sum()) / 12.0
            vv += float(((y * y + y * y2 + y2 * y2) * cross).sum()) / 12.0
            uv += float(((x * y2 + 2.0 * x * y + 2.0 * x2 * y2 + x2 * y) * cross).sum()) / 24.0
    if area < _DUST_MM2:
        raise ValueError("the section holds no metal")
    cu, cv = first_u / area, first_v / area
    return area, (cu, cv), vv - area * cv * cv, uu - area * cu * cu, uv - area * cu * cv


def strength_of(figure: Figure, loose: tuple[Figure, ...] = ()) -> SectionStrength:
    """Moduli of a figure; `loose` are figures that bend with it but close no cell with it, as bolted plates do.

    Raises ValueError where there is no metal.
    Source: bending M / W, shear V Q / (I b) (D. J. Jourawski; Gere, Mechanics of Materials); twist of a closed cell
    2 A t by R. Bredt, 1896, of an open figure J / t.
    """
    whole = shapely.MultiPolygon([*_parts(figure), *(p for other in loose for p in _parts(other))])
    area, (cu, cv), iu, iv, _ = moments_of(whole)
    low_u, low_v, high_u, high_v = whole.bounds
    wu = iu / max(high_v - cv, cv - low_v)
    wv = iv / max(high_u - cu, cu - low_u)
    pieces = _parts(figure)
    j = sum(numbers_of(piece).j_mm4 for piece in [*pieces, *(p for other in loose for p in _parts(other))])
    strengths = [_twist_strength(piece) for piece in pieces]
    stiffest = max(range(len(pieces)), key=lambda k: numbers_of(pieces[k]).j_mm4)
    # pieces twist alike: the one of the worst stress for its stiffness rules
    own = numbers_of(pieces[stiffest]).j_mm4
    return SectionStrength(
        area, iu, iv, wu, wv, _shear_areas(whole, 0), _shear_areas(whole, 1), j,
        strengths[stiffest][0] * j / own, strengths[stiffest][1],
    )  # fmt: skip


def kept_of(after: SectionStrength, before: SectionStrength) -> Kept:
    return Kept(
        after.wu_mm3 / before.wu_mm3, after.wv_mm3 / before.wv_mm3, after.shear_v_mm2 / before.shear_v_mm2,
        after.shear_u_mm2 / before.shear_u_mm2, after.j_mm4 / before.j_mm4, after.wt_mm3 / before.wt_mm3,
    )  # fmt: skip


def roughly_j_mm4(figure: Figure) -> float:
    """Twist stiffness by thin walls: Bredt's cell where there is one, else the sum of l t^3 / 3."""
    total = 0.0
    for piece in _parts(figure):
        if len(piece.interiors) == 1:
            total += bredt_j_mm4(piece)
        else:
            wall = 2.0 * piece.area / piece.length
            total += piece.area * wall**2 / 3.0
    return total


def bredt_j_mm4(piece: Polygon) -> float:
    """Twist stiffness of a thin closed cell, 4 A^2 / (ring of ds / t), with one wall thickness all round.

    Raises ValueError where it has no cell, or more than one. Source: R. Bredt, 1896; Gere, Mechanics of Materials.
    """
    if len(piece.interiors) != 1:
        raise ValueError("Bredt's formula here is for one cell")
    cell, outer = Polygon(piece.interiors[0]), Polygon(piece.exterior)
    middle = (cell.length + outer.length) / 2.0
    return float(4.0 * _middle_area(piece) ** 2 * (piece.area / middle) / middle)


def _middle_area(piece: Polygon) -> float:
    cells = sum(Polygon(ring).area for ring in piece.interiors)
    return float(cells + Polygon(piece.exterior).area) / 2.0


def _twist_strength(piece: Polygon) -> tuple[float, bool]:
    """Moment over greatest stress, mm3, and whether a cell carries it."""
    cells = [ring for ring in piece.interiors if Polygon(ring).area > 0.1 * Polygon(piece.exterior).area]
    if cells:
        thinnest = min(float(piece.exterior.distance(ring)) for ring in cells)
        return 2.0 * _middle_area(piece) * thinnest, True
    return numbers_of(piece).j_mm4 / _thickest(piece), False


def _thickest(piece: Polygon) -> float:
    """The width of the largest disc within an open thin figure."""
    return 2.0 * float(shapely.maximum_inscribed_circle(piece).length)


def _shear_areas(figure: Figure, axis: int) -> float:
    """Pieces that do not hang together pass no shear to one another: each bears by its own section."""
    total = 0.0
    for piece in _parts(figure):
        _, centre, iu, iv, _ = moments_of(piece)
        total += _shear_area(piece, (iv, iu)[axis], centre[axis], axis)
    return total


def _shear_area(figure: Figure, second: float, centre: float, axis: int) -> float:
    """Least of I b / Q over levels square to the shear, which runs along u (0) or v (1)."""
    low, high = figure.bounds[axis], figure.bounds[axis + 2]
    other_low, other_high = figure.bounds[1 - axis] - 1.0, figure.bounds[3 - axis] + 1.0
    best = np.inf
    for level in np.linspace(low, high, _LEVELS)[1:-1]:
        if axis == 1:
            above = shapely.box(other_low, level, other_high, high + 1.0)
            line = shapely.LineString([(other_low, level), (other_high, level)])
        else:
            above = shapely.box(level, other_low, high + 1.0, other_high)
            line = shapely.LineString([(level, other_low), (level, other_high)])
        part = figure.intersection(above)
        if part.is_empty:
            continue
        moment = part.area * ((part.centroid.x, part.centroid.y)[axis] - centre)
        wide = float(figure.intersection(line).length)
        if wide > 1e-6 and moment > 1e-6:
            best = min(best, second * wide / moment)
    return float(best)


def _parts(figure: Figure) -> list[Polygon]:
    clean = shapely.make_valid(figure)
    return [p for p in shapely.get_parts(clean) if p.geom_type == "Polygon" and p.area > _DUST_MM2]
