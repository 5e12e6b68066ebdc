"""What a section holds before and after an opening: a figure in; area, bending and twist stiffness out.

Only door to the section library.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Severity
from halfshaft.fitup.member import frame_at, metal_of, outside_of
from halfshaft.fitup.model import Member, Section
from halfshaft.geometry.mesh import MeshSolid, slice_of

WallName = Literal["left", "right", "up", "down"]

_DUST_MM2 = 0.01
_TRUE_MM = 1e-3
_ACROSS = {"left": ((1.0, 0.0), 1), "right": ((-1.0, 0.0), 1), "up": ((0.0, 1.0), 0), "down": ((0.0, -1.0), 0)}
_HURT = "A frame carries people: have the change judged and welded by someone licensed for it, as local rules ask."


@dataclass(frozen=True, slots=True)
class SectionNumbers:
    """Of one section in its member's u, v axes, mm: `iu` resists bending up and down, `iv` bending sideways.

    About the centroid. Of a section in several pieces `j` is their sum, and the shear centre (Trefftz's) that of
    pieces held to bend alike.
    """

    area_mm2: float
    centroid_mm: tuple[float, float]
    iu_mm4: float
    iv_mm4: float
    iuv_mm4: float
    j_mm4: float
    shear_centre_mm: tuple[float, float]
    pieces: int = 1

    @property
    def weak_mm4(self) -> float:
        """The lesser principal second moment."""
        half = (self.iu_mm4 - self.iv_mm4) / 2.0
        return (self.iu_mm4 + self.iv_mm4) / 2.0 - float(np.hypot(half, self.iuv_mm4))


NO_METAL = SectionNumbers(0.0, (0.0, 0.0), 0.0, 0.0, 0.0, 0.0, (0.0, 0.0), 0)


@dataclass(frozen=True, slots=True)
class SectionChange:
    """A member's section with and without an opening, at one station along it."""

    along_mm: float
    before: SectionNumbers
    after: SectionNumbers

    @property
    def area_kept(self) -> float:
        return self.after.area_mm2 / self.before.area_mm2

    @property
    def bending_kept(self) -> float:
        """The worse share of stiffness left of bending up and down, sideways, and about the weakest axis."""
        one, other = self.before, self.after
        return min(
            other.iu_mm4 / one.iu_mm4, other.iv_mm4 / one.iv_mm4, other.weak_mm4 / one.weak_mm4,
        )  # fmt: skip

    @property
    def torsion_kept(self) -> float:
        return self.after.j_mm4 / self.before.j_mm4


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of one wall taken out: from `low` to `high`, along u of an upper or lower wall, v of a side wall."""

    wall: WallName
    low_mm: float
    high_mm: float


def numbers_of(figure: Polygon | MultiPolygon) -> SectionNumbers:
    """Numbers of any plane figure of metal, of one material.

    Raises ValueError where there is no metal.
    Source: finite elements of Saint-Venant's torsion by `sectionproperties`; its shear centre is Trefftz's.
    """
    pieces = _pieces(figure)
    if not pieces:
        raise ValueError("the section holds no metal")
    each = [_numbers_of_one(piece) for piece in pieces]
    if len(each) == 1:
        return each[0]
    area = sum(n.area_mm2 for n in each)
    cu = sum(n.area_mm2 * n.centroid_mm[0] for n in each) / area
    cv = sum(n.area_mm2 * n.centroid_mm[1] for n in each) / area
    iu = sum(n.iu_mm4 + n.area_mm2 * (n.centroid_mm[1] - cv) ** 2 for n in each)
    iv = sum(n.iv_mm4 + n.area_mm2 * (n.centroid_mm[0] - cu) ** 2 for n in each)
    iuv = sum(n.iuv_mm4 + n.area_mm2 * (n.centroid_mm[0] - cu) * (n.centroid_mm[1] - cv) for n in each)
    # pieces held to one deflection share the load as they are stiff: up and down by their iu, sideways by their iv
    su = sum(n.iu_mm4 * n.shear_centre_mm[0] for n in each) / sum(n.iu_mm4 for n in each)
    sv = sum(n.iv_mm4 * n.shear_centre_mm[1] for n in each) / sum(n.iv_mm4 for n in each)
    return SectionNumbers(area, (cu, cv), iu, iv, iuv, sum(n.j_mm4 for n in each), (su, sv), len(each))


def opened(section: Section, gaps: Sequence[Gap]) -> Polygon | MultiPolygon:
    """A member's section in u, v with stretches of its walls taken out, square through the wall.

    Raises ValueError where a wall that opens already is named, a stretch is empty, or no metal is left.
    """
    metal = metal_of(section)
    for gap in gaps:
        if section.shape == "channel" and gap.wall == section.opens:
            raise ValueError(f"the channel opens to the {gap.wall}: there is no wall to cut")
        if gap.low_mm >= gap.high_mm:
            raise ValueError(f"the opening in the {gap.wall} wall runs from {gap.low_mm:g} to {gap.high_mm:g} mm")
        metal = metal.difference(_through(section, gap))
    if metal.area < _DUST_MM2:
        raise ValueError("the openings leave no metal of the section")
    return metal


def section_at(member: Member, along_mm: float, solid: MeshSolid | None = None) -> Polygon | MultiPolygon:
    """The figure of metal at a station, in the member's u, v: of its own solid, or of `solid`, a part of it cut."""
    whole = member.solid if solid is None else solid
    figure = slice_of(whole, frame_at(member, along_mm))
    # a bent member's other runs may cross the same plane
    about = outside_of(member.section).buffer(max(member.section.wall_mm, 1.0))
    return figure.intersection(about)


def change_at(member: Member, along_mm: float, cut: MeshSolid) -> SectionChange:
    """Numbers at a station with the member whole and cut; `NO_METAL` where it is cut through.

    Raises ValueError where the station is off the member.
    """
    whole = section_at(member, along_mm)
    if not _pieces(whole):
        raise ValueError(f"member {member.name} has no metal {along_mm:.0f} mm along it")
    left = section_at(member, along_mm, cut)
    return SectionChange(along_mm, numbers_of(whole), numbers_of(left) if _pieces(left) else NO_METAL)


def change_checks(about: str, change: SectionChange) -> tuple[Check, ...]:
    """Whether what an opening leaves calls for reinforcement, in bending and in twist."""
    bending, torsion = default("fitup.bending_kept"), default("fitup.torsion_kept")
    at = f"{change.along_mm:.0f} mm along"
    through = Check(
        "fitup", about, f"Member is cut through, {at}", bending.source, Severity.STOP,
        f"Move the unit: nothing of the member is left there. {_HURT}", failed_outright=True,
    )  # fmt: skip
    return (
        *((through,) if change.after.pieces == 0 else ()),
        Check(
            "fitup", about, f"Stiffness in bending left, {at}", bending.source, Severity.CAUTION,
            f"Plate the opening round, or put a doubler on the wall opposite, until the share is back. {_HURT}",
            100.0 * change.bending_kept, 100.0 * float(bending.value), "%", Good.AT_LEAST,
        ),
        Check(
            "fitup", about, f"Stiffness in twist left, {at}", torsion.source, Severity.CAUTION,
            f"Close the section again: weld a trough or a sleeve into the opening, all round. {_HURT}",
            100.0 * change.torsion_kept, 100.0 * float(torsion.value), "%", Good.AT_LEAST,
        ),
    )  # fmt: skip


def _numbers_of_one(piece: Polygon) -> SectionNumbers:
    # the whole section comes again at every window of a member
    return _analysed(shapely.to_wkb(shapely.set_precision(piece.normalize(), _TRUE_MM)))


@lru_cache(maxsize=256)
def _analysed(figure: bytes) -> SectionNumbers:
    from sectionproperties.analysis import Section as Analysis  # slow to load, and asked for seldom
    from sectionproperties.pre import Geometry

    piece = shapely.from_wkb(figure)
    geometry = Geometry(piece)
    geometry.create_mesh(mesh_sizes=[_element_mm2(piece)])
    analysis = Analysis(geometry)
    analysis.calculate_geometric_properties()
    analysis.calculate_warping_properties()
    iu, iv, iuv = (float(x) for x in analysis.get_ic())
    cu, cv = (float(x) for x in analysis.get_c())
    su, sv = (float(x) for x in analysis.get_sc_t())
    return SectionNumbers(float(analysis.get_area()), (cu, cv), iu, iv, iuv, float(analysis.get_j()), (su, sv))


def _element_mm2(piece: Polygon) -> float:
    """Elements about half a wall wide: quadratic ones follow the linear shear across a thin wall."""
    wall = 2.0 * piece.area / piece.length
    return float(max(0.25 * wall**2, piece.area / 2000.0))


def _pieces(figure: Polygon | MultiPolygon) -> list[Polygon]:
    # corners a hair apart make slivers of elements
    clean = shapely.simplify(shapely.make_valid(figure), _TRUE_MM)
    return [p for p in shapely.get_parts(clean) if p.geom_type == "Polygon" and p.area > _DUST_MM2]


def _through(section: Section, gap: Gap) -> Polygon:
    (u, v), along = _ACROSS[gap.wall]
    half = section.width_mm / 2.0 if along == 1 or section.shape == "tube" else section.height_mm / 2.0
    far = 2.0 * half
    near = 0.0 if section.shape == "tube" else half - section.wall_mm
    if section.shape == "flat":
        near = -half
    side = u + v
    one, other = sorted((side * near, side * far))
    low, high = gap.low_mm, gap.high_mm
    return shapely.box(one, low, other, high) if along == 1 else shapely.box(low, one, high, other)
