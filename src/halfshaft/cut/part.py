"""What is cut out of sheet, and where it lies. Worked-out brackets, coupons, plates in; parts to nest out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build
from halfshaft.checks import Severity
from halfshaft.cut.grain import allowed_turns
from halfshaft.cut.layers import Disc, Figure, Path, Shape, figures_of
from halfshaft.fold.coupon import Coupon, coupon
from halfshaft.fold.lay import laid, turned
from halfshaft.fold.model import Bracket, FlatPart, Hole, Mark
from halfshaft.geometry import Contour
from halfshaft.pack.box import Box

Array = NDArray[np.float64]

_SAME_MM = 0.01  # sheets of one material this near in thickness are one
# what is needed first is cut first: a coupon tells the pivot that the brackets are drawn again with
FIRST: Mapping[str, int] = {"coupon": 0, "bracket": 1, "frame plate": 2, "box": 3, "template": 4}


@dataclass(frozen=True, slots=True, order=True)
class SheetKey:
    """Sheets that a part may be cut from: all of this material and thickness."""

    material: str
    thickness_mm: float

    def __str__(self) -> str:
        return f"{self.material}, {self.thickness_mm:.4g} mm"

    def fits(self, other: SheetKey) -> bool:
        return self.material == other.material and abs(self.thickness_mm - other.thickness_mm) < _SAME_MM


@dataclass(frozen=True, eq=False)
class SheetPart:
    """One part to cut, in its own axes, upper side up. `figures` are its shapes on their layers, in cutting order.

    `grain`: turns in degrees that are allowed where the rolling direction lies along x; None for any turn.
    `priority`: the lower, the earlier it gets a sheet. It is never laid upside down: its marks are on the upper side.
    """

    name: str
    station: str  # a key of FIRST
    why: str
    key: SheetKey
    quantity: int
    flat: FlatPart
    figures: tuple[Figure, ...]
    grain: tuple[float, ...] | None = None
    priority: int = 1

    @property
    def thickness_mm(self) -> float:
        return self.key.thickness_mm

    @property
    def outline(self) -> Contour:
        return self.flat.outline

    @property
    def openings(self) -> tuple[Contour, ...]:
        return self.flat.openings

    @property
    def bores(self) -> tuple[Hole, ...]:
        return self.flat.bores

    @property
    def slits_mm(self) -> tuple[Array, ...]:
        """Middle lines of the fold slits, each (2, 2)."""
        return self.flat.slits_mm

    @property
    def marks(self) -> tuple[Mark, ...]:
        return self.flat.marks

    @property
    def area_mm2(self) -> float:
        """Metal of one part: outline less openings and bores; slits are left in."""
        bores = sum(
            np.pi * h.diameter_mm**2 / 4.0 + h.slot_mm * h.diameter_mm for h in self.bores
        )  # a slot is a round hole drawn out
        return abs(self.outline.area_mm2) - sum(abs(o.area_mm2) for o in self.openings) - float(bores)


@dataclass(frozen=True, eq=False)
class Laid:
    """A part on a sheet: turned about its own origin, counter-clockwise, then shifted into the sheet's axes."""

    part: SheetPart
    sheet: int  # index among the sheets that are cut
    rotation_deg: float
    shift_mm: tuple[float, float]
    copy: int = 1  # of the part's quantity, from 1
    mirrored: bool = False  # kept for parts without an upper side; none is laid so

    @property
    def matrix(self) -> Array:
        """The turn as (2, 2)."""
        c, s = np.cos(np.radians(self.rotation_deg)), np.sin(np.radians(self.rotation_deg))
        return np.array([[c, -s], [s, c]])

    @property
    def flat(self) -> FlatPart:
        """The flat part in the sheet's axes."""
        return turned(self.part.flat, self.matrix, np.asarray(self.shift_mm, dtype=float))

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The part's shapes in the sheet's axes, in cutting order."""
        matrix, shift = self.matrix, np.asarray(self.shift_mm, dtype=float)
        return tuple(Figure(figure.layer, _moved(figure.shape, matrix, shift)) for figure in self.part.figures)


def sheet_key(build: Build, name: str, thickness_mm: float | None = None) -> SheetKey:
    """Key of the build's sheet of that name; of another thickness where one is given.

    Raises KeyError where the build has no such sheet.
    """
    told = build.sheet[name]
    return SheetKey(told.material, told.thickness_mm if thickness_mm is None else thickness_mm)


def sheet_part(
    flat: FlatPart,
    station: str,
    why: str,
    key: SheetKey,
    kerf_mm: float,
    quantity: int = 1,
    priority: int | None = None,
) -> SheetPart:
    """A flat part as one to nest. Raises ValueError where its outline encloses nothing."""
    figures = figures_of(flat, kerf_mm)
    rank = FIRST[station] if priority is None else priority
    return SheetPart(flat.name, station, why, key, quantity, flat, figures, allowed_turns(flat), rank)


def parts_of(
    build: Build,
    brackets: Iterable[Bracket],
    frame_plates: Iterable[Bracket] = (),
    templates: Iterable[FlatPart] = (),
    templates_from: str | None = None,
    boxes: Iterable[Box] = (),
) -> tuple[SheetPart, ...]:
    """Every part of the build to cut from sheet: brackets with twins, covers and gussets, coupons, plates, templates.

    A bracket that is refused gives none. A coupon is cut for each sheet that is slit and folded without a known pivot.
    `boxes` are battery boxes, so many of each kind of part; `frame_plates` are the plates that give a cut frame its
    strength back; `templates` are cut from the build's sheet `templates_from`, and left to paper where that is None.
    Order: what is needed first comes first.
    """
    kerf = build.shop.kerf_mm
    told, boxes = tuple(brackets), tuple(boxes)
    found: list[SheetPart] = []
    of_sheet = [*told, *(piece.bracket for box in boxes for piece in box.pieces)]
    for made in coupons_of(build, of_sheet):
        key = sheet_key(build, made.part.sheet)
        found.append(sheet_part(laid(made.part), "coupon", "fold it to find the pivot", key, kerf))
    for bracket in told:
        if refused(bracket):
            continue
        for part in bracket.parts:
            why = _role(bracket, part)
            found.append(sheet_part(laid(part), "bracket", why, sheet_key(build, part.sheet), kerf))
    for bracket in frame_plates:
        for part in bracket.parts:
            key = _plate_key(build, part)
            found.append(sheet_part(laid(part), "frame plate", "gives the cut frame its strength back", key, kerf))
    for box in boxes:
        for piece in box.pieces:
            if not refused(piece.bracket):
                for part in piece.bracket.parts:
                    key = sheet_key(build, part.sheet)
                    found.append(
                        sheet_part(laid(part), "box", f"{piece.what} of the {box.bay}", key, kerf, piece.count)
                    )
    if templates_from is not None:
        key = sheet_key(build, templates_from)
        found += [sheet_part(laid(part), "template", "to mark an opening", key, kerf) for part in templates]
    return tuple(sorted(found, key=lambda part: part.priority))


def refused(bracket: Bracket) -> bool:
    """No parts, or a check that says stop: nothing of it may be cut."""
    return not bracket.parts or any(not c.ok and c.severity is Severity.STOP for c in bracket.checks)


def coupons_of(build: Build, brackets: Sequence[Bracket]) -> tuple[Coupon, ...]:
    """A test coupon for each sheet that is slit and folded without a known pivot depth."""
    wanted = dict.fromkeys(b.sheet for b in brackets if any(f.kind == "slit" for f in b.folds))
    sheets = [(name, build.sheet[name]) for name in wanted if name in build.sheet]
    return tuple(
        coupon(name, sheet, build.shop, units=build.build.units)
        for name, sheet in sheets
        if sheet.pivot_depth_mm is None
    )


def _role(bracket: Bracket, part: FlatPart) -> str:
    if part.mirrored:
        return "the other side's"
    if any(part.name.endswith(f".{gusset.panel}") for gusset in bracket.gussets):
        return "gusset"
    return "bracket" if part.name == bracket.name else "cover" if not part.fold_lines_mm else "bracket"


def _plate_key(build: Build, part: FlatPart) -> SheetKey:
    """The builder's sheet of that thickness; the plate's own name may be that of another one."""
    like = [s for s in build.sheet.values() if abs(s.thickness_mm - part.thickness_mm) < _SAME_MM]
    own = build.sheet.get(part.sheet)
    material = like[0].material if like else own.material if own else "mild steel S275"
    return SheetKey(material, part.thickness_mm)


def _moved(shape: Shape, matrix: Array, shift: Array) -> Shape:
    if isinstance(shape, Disc):
        return Disc(shape.centre_mm @ matrix.T + shift, shape.radius_mm)
    if isinstance(shape, Path):
        return Path(shape.points_mm @ matrix.T + shift)
    return shape.moved(matrix, shift)
